"""What is done with cut plans: ask for one, work it out, keep it, abandon it. Nothing here commits but
`work_out`, which holds no transaction while it solves."""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.cutting.lots import yields
from service.cutting.plan import CutPlan as Solved
from service.cutting.plan import Effort
from service.cutting.problem import Problem
from service.cutting.solve import plan_cuts
from service.cutting.verify import faults
from service.errors import NotFound, Refused, ServiceError, StaleSnapshot
from service.planning.cutting.answering import TapeAnswer, found_of, same_lot_offers, step_drafts
from service.planning.cutting.reading import (
    CutQuestion,
    TapeQuestion,
    find_productions,
    find_tapes,
    read_question,
)
from service.planning.cutting.records import CutPlan, CutPlanShow, CutPlanStatus, CutStep
from service.planning.cutting.stock import IS_DONE
from service.season.records import Production
from service.store.numbers import next_numbers
from service.store.types import utc_now
from service.store.work import Store

PREFIX = "CP"
TRIES = 3  # what changes under a plan that is to be kept at once is read again so often
SOLVER = "cut planner"
Tell = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class CutAsk:
    """`productions`, `tapes`: codes and tags, no tapes meaning all. `may_buy`: whether reels may be bought.
    `keeps`: keep the plan as soon as it is worked out, in the place of `supersedes_id`."""

    productions: Sequence[str]
    tapes: Sequence[str] = ()
    may_buy: bool = True
    deadline_s: float | None = None
    note: str = ""
    keeps: bool = False
    supersedes_id: int | None = None


def is_under_way(plan: CutPlan) -> bool:
    return plan.status is CutPlanStatus.DRAFT and plan.seconds is None


def under_way(session: Session) -> list[int]:
    """Plans that were asked for and have no answer yet, the first asked first."""
    query = select(CutPlan.id).where(CutPlan.status == CutPlanStatus.DRAFT, CutPlan.seconds.is_(None))
    return list(session.scalars(query.order_by(CutPlan.id)))


def ask_for_cut_plan(session: Session, ask: CutAsk, by: str, today: date) -> CutPlan:
    """A plan with the next number, to be worked out. Raises BadRequest, NotFound, Refused."""
    shows = find_productions(session, ask.productions)
    tapes = [tape.tag for tape in find_tapes(session, ask.tapes)] if ask.tapes else []
    plan = CutPlan(
        number=next_numbers(session, CutPlan.number, PREFIX)[0],
        status=CutPlanStatus.DRAFT,
        as_of=today,
        made_by=by,
        keep_um=0,
        fingerprint="",
        found={
            "ask": {
                "tapes": tapes,
                "may_buy": ask.may_buy,
                "deadline_s": ask.deadline_s,
                "keeps": ask.keeps,
            }
        },
        seconds=None,
        is_proven=False,
        supersedes_id=ask.supersedes_id,
        note=ask.note,
    )
    session.add(plan)
    session.flush()
    session.add_all(CutPlanShow(cut_plan_id=plan.id, production_id=show.id) for show in shows)
    session.flush()
    return plan


def find_cut_plan(session: Session, number: str, lock: bool = False) -> CutPlan:
    """By its number, CP-004 or plain 4, in any letter case. Raises NotFound."""
    wanted = f"{PREFIX}-{int(number):03}" if number.isdecimal() and len(number) < 10 else number
    query = select(CutPlan).where(func.upper(CutPlan.number) == wanted.strip().upper())
    if lock:
        query = query.with_for_update().execution_options(populate_existing=True)
    plan = session.scalars(query).one_or_none()
    if plan is None:
        raise NotFound(f"there is no cut plan {number}", "See the list at /api/v1/cut-plans.")
    return plan


def codes_of(session: Session, plan: CutPlan) -> list[str]:
    """The codes of the shows whose pieces it cuts."""
    query = select(Production.tag).join(CutPlanShow, CutPlanShow.production_id == Production.id)
    return list(session.scalars(query.where(CutPlanShow.cut_plan_id == plan.id).order_by(Production.tag_key)))


def question_of(session: Session, plan: CutPlan, today: date) -> CutQuestion:
    """What the plan is asked, as things stand now."""
    ask = plan.found["ask"]
    return read_question(session, codes_of(session, plan), today, ask["tapes"], ask["may_buy"])


def work_out_cuts(store: Store, plan_id: int, today: date, tell: Tell | None = None) -> CutPlanStatus:
    """Solve a plan that was asked for and store it. Whatever happens is written on the plan; nothing half
    done. `tell(done, tapes)`: is told how many tapes are worked out."""
    try:
        for attempt in range(TRIES):
            try:
                return _work_out(store, plan_id, today, tell)
            except StaleSnapshot:
                if attempt == TRIES - 1 or not _keeps(store, plan_id):
                    raise
        raise AssertionError("unreachable")
    except ServiceError as error:
        return give_up(store, plan_id, ". ".join(filter(None, (str(error).rstrip("."), error.mend))))
    except Exception as error:
        give_up(store, plan_id, f"{type(error).__name__}: {error}")
        raise
    except (KeyboardInterrupt, SystemExit):
        give_up(store, plan_id, "it was interrupted")
        raise


def _work_out(store: Store, plan_id: int, today: date, tell: Tell | None) -> CutPlanStatus:
    started = time.monotonic()
    with store.reading() as session:
        plan = session.get_one(CutPlan, plan_id)
        if not is_under_way(plan):
            return plan.status
        deadline_s = plan.found["ask"]["deadline_s"]
        question = question_of(session, plan, today)
    answers = solved(question, deadline_s, tell)
    seconds = time.monotonic() - started
    return store.write(lambda s: _store(s, plan_id, question, answers, today, seconds), SOLVER)


def _keeps(store: Store, plan_id: int) -> bool:
    with store.reading() as session:
        return bool(session.get_one(CutPlan, plan_id).found["ask"]["keeps"])


def solved(
    question: CutQuestion, deadline_s: float | None = None, tell: Tell | None = None
) -> list[TapeAnswer]:
    """Every tape worked out, and judged by rules that share nothing with the solver."""
    end = None if deadline_s is None else time.monotonic() + deadline_s
    answers = list[TapeAnswer]()
    for tape in question.tapes:
        answers.append(_solved_tape(tape, end))
        if tell is not None:
            tell(len(answers), len(question.tapes))
    return answers


def _solved_tape(tape: TapeQuestion, end: float | None) -> TapeAnswer:
    def solve(problem: Problem) -> Solved:
        left_s = None if end is None else max(0.1, end - time.monotonic())
        return plan_cuts(problem, Effort(deadline_s=left_s))

    plan = solve(tape.problem)
    wrong = faults(tape.problem, plan)
    if wrong:
        raise AssertionError(f"the cut planner broke a rule: {wrong[:3]}")
    return TapeAnswer(tape, plan, yields(tape.problem), same_lot_offers(tape, plan, solve))


def _store(
    session: Session,
    plan_id: int,
    question: CutQuestion,
    answers: Sequence[TapeAnswer],
    today: date,
    seconds: float,
) -> CutPlanStatus:
    plan = session.get_one(CutPlan, plan_id, with_for_update=True)
    if not is_under_way(plan):
        return plan.status
    now = question_of(session, plan, today)
    if now.fingerprint() != question.fingerprint():
        raise StaleSnapshot(
            "pieces, reels or promises changed while it was worked out", "Ask for the plan again."
        )
    plan.fingerprint = question.fingerprint()
    plan.keep_um = round(question.policy.keep_offcut_m * 1e6)
    plan.found = {**plan.found, **found_of(question, answers)}
    plan.seconds = seconds
    plan.is_proven = all(answer.plan.is_proven for answer in answers)
    plan.stopped_early = any(answer.plan.stopped_early for answer in answers)
    session.add_all(
        CutStep(
            cut_plan_id=plan.id,
            position=position,
            tape_id=step.tape_id,
            reel_id=step.reel_id,
            new_reel=step.new_reel,
            piece_id=step.piece_id,
            part=step.part,
            pitches=step.pitches,
        )
        for position, step in enumerate(step_drafts(answers), start=1)
    )
    session.flush()
    if plan.found["ask"]["keeps"]:
        take_over(session, plan, question.piece_ids)
    return plan.status


def give_up(store: Store, plan_id: int, why: str) -> CutPlanStatus:
    """The plan ends without an answer, and says why."""

    def action(session: Session) -> CutPlanStatus:
        plan = session.get_one(CutPlan, plan_id, with_for_update=True)
        if is_under_way(plan):
            plan.status = CutPlanStatus.ABANDONED
            plan.found = {**plan.found, "error": why}
        return plan.status

    return store.write(action, SOLVER)


def keep_cut_plan(session: Session, number: str, today: date) -> CutPlan:
    """The draft becomes what the bench works from; steps of other kept plans for its pieces are given up.

    Raises NotFound, Refused, StaleSnapshot when what it rests on has changed since it was worked out.
    """
    plan = find_cut_plan(session, number, lock=True)
    if is_under_way(plan):
        raise Refused(f"{plan.number} is still being worked out", "Wait until it is a draft.")
    if plan.status is not CutPlanStatus.DRAFT:
        raise Refused(f"{plan.number} is {plan.status}; only a draft can be kept", "Work out a new plan.")
    question = question_of(session, plan, today)
    if not question.piece_ids:
        raise Refused(f"{plan.number} has nothing to cut", "Draw the pieces first, or abandon the plan.")
    if question.fingerprint() != plan.fingerprint:
        raise StaleSnapshot(
            f"pieces, reels or promises changed since {plan.number} was worked out",
            "Work it out again, then keep it.",
        )
    take_over(session, plan, question.piece_ids)
    return plan


def take_over(session: Session, plan: CutPlan, piece_ids: frozenset[int]) -> None:
    """Keep the plan in the place of every other one for those pieces. One that loses all it had to do is
    superseded as it stands; one that cuts other pieces too goes on with those."""
    steps = session.execute(
        select(CutStep, CutPlan)
        .join(CutPlan, CutPlan.id == CutStep.cut_plan_id)
        .where(
            CutPlan.status == CutPlanStatus.KEPT,
            CutPlan.id != plan.id,
            ~IS_DONE,
        )
        .order_by(CutPlan.id, CutStep.position)
        .with_for_update()
    ).all()
    for other in {other.id: other for _, other in steps}.values():
        own = [step for step, of in steps if of.id == other.id]
        lost = [step for step in own if step.piece_id in piece_ids]
        kept = [step for step in own if step.piece_id is not None and step.piece_id not in piece_ids]
        if not lost and other.id != plan.supersedes_id:
            continue
        if not kept:
            other.status = CutPlanStatus.SUPERSEDED
            continue
        reels = {_reel_of(step) for step in lost}
        for step in own:
            if step in lost or (step.piece_id is None and _reel_of(step) in reels):
                session.delete(step)
        said = f"{plan.number} took over {len(lost)} of its cuts"
        other.note = "; ".join(filter(None, (other.note, said)))[:400]
    plan.status = CutPlanStatus.KEPT if piece_ids else CutPlanStatus.DONE
    plan.kept_at = utc_now()
    session.flush()


def _reel_of(step: CutStep) -> tuple[int, int | None, str | None]:
    return step.tape_id, step.reel_id, step.new_reel


def abandon_cut_plan(session: Session, number: str) -> CutPlan:
    """A plan that nobody will work from: its reels are free again, what it cut stays cut. Raises NotFound,
    Refused."""
    plan = find_cut_plan(session, number, lock=True)
    if plan.status not in (CutPlanStatus.DRAFT, CutPlanStatus.KEPT):
        raise Refused(f"{plan.number} is {plan.status} already", "There is nothing to abandon.")
    plan.status = CutPlanStatus.ABANDONED
    session.flush()
    return plan
