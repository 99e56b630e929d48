"""What is done with plans: ask for one, work it out, keep it, cancel it. Nothing here commits but `work_out`,
which must not hold a transaction while it solves."""

import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from sqlalchemy import func, select, update
from sqlalchemy.orm import Session

from service.allocation.model import Progress, solve
from service.allocation.problem import Answer, Effort
from service.allocation.verify import faults
from service.errors import BadRequest, NotFound, Refused, ServiceError, StaleSnapshot
from service.limits.findings import Finding, Verdict
from service.limits.registry import findings
from service.planning.answering import draft_of, store_draft
from service.planning.asking import Question, question_for
from service.planning.records import Plan, PlanStatus
from service.planning.snapshot.facts import show_facts
from service.planning.snapshot.show import find_production, kept_plan, window_of
from service.season.records import Production, ProductionStatus
from service.store.types import utc_now
from service.store.work import Store

LOOK_S = 0.5  # how often a solve writes its progress and looks whether it was asked to stop
FINISHED = (ProductionStatus.CLOSED, ProductionStatus.RETURNED, ProductionStatus.CANCELLED)
OF_LEADS = frozenset({"lead-drop", "total-drop", "run-length", "lead-amps"})
UNDER_WAY = (PlanStatus.QUEUED, PlanStatus.WORKING)


@dataclass(frozen=True, slots=True)
class PlanAsk:
    """How a plan is wanted. `from_on`, `to_on`: inclusive days for which gear is wanted, where they differ
    from the production's own. `mend`: kept feeds that are over a limit may be moved too."""

    from_on: date | None = None
    to_on: date | None = None
    mend: bool = False
    effort: float = 1.0
    seed: int = 0
    deadline_s: float | None = None


def ask_for_plan(session: Session, code: str, ask: PlanAsk, by: str) -> Plan:
    """A queued plan of the production, with the next number."""
    production = find_production(session, code)
    if production.status in FINISHED:
        raise Refused(
            f"{production.tag} is {production.status}: there is nothing left to feed",
            "Its kept plan stays as the record of what was where.",
        )
    start, end = window_of(production)
    start = ask.from_on or start
    end = ask.to_on + timedelta(days=1) if ask.to_on else end
    if start >= end:
        raise BadRequest(
            f"the plan would end on {end - timedelta(days=1)} before it starts on {start}",
            "Give days in order.",
        )
    # The production's row is locked so that two who ask at once get two numbers.
    session.execute(select(Production.id).where(Production.id == production.id).with_for_update())
    last = session.scalar(select(func.max(Plan.number)).where(Plan.production_id == production.id))
    plan = Plan(
        production_id=production.id,
        number=(last or 0) + 1,
        status=PlanStatus.QUEUED,
        by=by,
        from_on=start,
        until_on=end,
        mend=ask.mend,
        effort=ask.effort,
        seed=ask.seed,
        deadline_s=ask.deadline_s,
    )
    session.add(plan)
    session.flush()
    return plan


def find_plan(session: Session, code: str, number: int, lock: bool = False) -> Plan:
    production = find_production(session, code)
    query = select(Plan).where(Plan.production_id == production.id, Plan.number == number)
    plan = session.scalars(query.with_for_update() if lock else query).one_or_none()
    if plan is None:
        raise no_plan(session, production, number)
    return plan


def no_plan(session: Session, production: Production, number: int) -> NotFound:
    """The refusal of a number that no plan of the show has; says which is its latest."""
    last = session.scalar(select(func.max(Plan.number)).where(Plan.production_id == production.id))
    mend = "No plan was ever worked out for it." if last is None else f"Its latest is plan {last}."
    return NotFound(f"{production.tag} has no plan {number}", mend)


def cancel_plan(session: Session, code: str, number: int) -> Plan:
    """A queued plan ends at once; one at work is asked to stop and ends at its next look."""
    plan = find_plan(session, code, number, lock=True)
    if plan.status not in UNDER_WAY:
        raise Refused(f"plan {number} is {plan.status}; there is nothing to cancel", "Read the plan again.")
    plan.cancel_asked = True
    if plan.status == PlanStatus.QUEUED:
        plan.status = PlanStatus.CANCELLED
        plan.finished_at = utc_now()
    session.flush()
    return plan


def keep_plan(session: Session, code: str, number: int, today: date) -> Plan:
    """The draft becomes what the crew works from; the plan kept before is superseded.

    Refused when anything the draft rests on has changed since it was worked out.
    """
    plan = find_plan(session, code, number, lock=True)
    if plan.status != PlanStatus.DRAFT:
        raise Refused(f"plan {number} is {plan.status}; only a draft can be kept", "Work out a new plan.")
    production = session.get_one(Production, plan.production_id)
    question = question_for(session, production, (plan.from_on, plan.until_on), plan.mend, today)
    if question.fingerprint != plan.fingerprint:
        raise StaleSnapshot(
            f"stock, dates or feeds changed since plan {number} was worked out",
            "Work it out again, then keep it.",
        )
    before = kept_plan(session, production.id)
    if before is not None:
        before.status = PlanStatus.SUPERSEDED
        before.superseded_at = utc_now()
        session.flush()  # the database allows one kept plan: the old one must step down first
    plan.status = PlanStatus.KEPT
    plan.kept_at = utc_now()
    session.flush()
    return plan


def work_out(
    store: Store,
    plan_id: int,
    today: date,
    processes: int = 1,
    tell: Callable[[Progress], None] | None = None,
) -> PlanStatus:
    """Solve a queued plan and store its draft. Whatever happens is written on the plan; nothing half done."""
    started = time.monotonic()
    if not _start(store, plan_id):
        return PlanStatus.CANCELLED
    try:
        with store.reading() as session:
            plan = session.get_one(Plan, plan_id)
            effort = Effort(plan.effort, plan.seed, plan.deadline_s, processes)
            question = _question(session, plan, today)
        watch = _Watch(store, plan_id, tell)
        answer = solve(question.problem, effort, watch)
        if watch.cancelled:
            return _end(store, plan_id, PlanStatus.CANCELLED, {})
        over = over_as_drafted(question, answer)
        wrong = faults(question.problem, answer) or chosen_over(question, answer, over)
        if wrong:
            raise AssertionError(f"the allocator broke a rule: {wrong[:3]}")
        notes = [*answer.notes, *_remarks(question, answer), *_what_stays_over(over, plan.mend)]
        seconds = time.monotonic() - started
        return store.write(
            lambda s: _store(s, plan_id, question, replace(answer, notes=tuple(notes)), today, seconds),
            by="allocator",
        )
    except ServiceError as error:
        return _end(
            store,
            plan_id,
            PlanStatus.FAILED,
            {"error": ". ".join(filter(None, (str(error).rstrip("."), error.mend)))},
        )
    except Exception as error:
        _end(store, plan_id, PlanStatus.FAILED, {"error": f"{type(error).__name__}: {error}"})
        raise
    except (KeyboardInterrupt, SystemExit):
        _end(store, plan_id, PlanStatus.CANCELLED, {})
        raise


def _question(session: Session, plan: Plan, today: date) -> Question:
    production = session.get_one(Production, plan.production_id)
    return question_for(session, production, (plan.from_on, plan.until_on), plan.mend, today)


def _start(store: Store, plan_id: int) -> bool:
    def action(session: Session) -> bool:
        plan = session.get_one(Plan, plan_id, with_for_update=True)
        if plan.status not in UNDER_WAY:
            return False
        if plan.cancel_asked:
            plan.status = PlanStatus.CANCELLED
            plan.finished_at = utc_now()
            return False
        plan.status = PlanStatus.WORKING
        plan.started_at = utc_now()
        return True

    return store.write(action, by="allocator")


def _end(store: Store, plan_id: int, status: PlanStatus, values: dict[str, Any]) -> PlanStatus:
    def action(session: Session) -> None:
        plan = session.get_one(Plan, plan_id, with_for_update=True)
        if plan.status in UNDER_WAY:
            plan.status = status
            plan.finished_at = utc_now()
            for name, value in values.items():
                setattr(plan, name, value)

    store.write(action, by="allocator")
    return status


def _store(
    session: Session, plan_id: int, question: Question, answer: Answer, today: date, seconds: float
) -> PlanStatus:
    plan = session.get_one(Plan, plan_id, with_for_update=True)
    if plan.cancel_asked:
        plan.status = PlanStatus.CANCELLED
        plan.finished_at = utc_now()
        return PlanStatus.CANCELLED
    if _question(session, plan, today).problem != question.problem:
        raise StaleSnapshot(
            "stock, dates or feeds changed while it was worked out.", "Ask for the plan again."
        )
    store_draft(session, plan, draft_of(question, answer))
    plan.status = PlanStatus.DRAFT
    plan.fingerprint = question.fingerprint
    plan.cost, plan.bound = answer.cost, answer.bound
    plan.unfed_w = sum(answer.unfed_uw.values()) / 1e6
    plan.unfed_bound_w = sum(answer.unfed_bound_uw.values()) / 1e6
    plan.moved, plan.refed = len(answer.moved), len(answer.refed)
    plan.is_proven, plan.stopped_early = answer.proven, answer.stopped_early
    plan.notes = list(answer.notes)
    plan.seconds = seconds
    plan.progress = None
    plan.finished_at = utc_now()
    return PlanStatus.DRAFT


def over_as_drafted(question: Question, answer: Answer) -> list[Finding]:
    """What the limits of the house call over in the show as this answer would have it."""
    draft = draft_of(question, answer)
    rows = replace(
        question.rows,
        allotments={row.run_id: row for row in draft.allotments},
        placings={row.unit_id: row for row in draft.placings},
        patches=tuple(draft.patches),
    )
    facts = show_facts(question.house, rows, question.claims)
    return [f for f in findings(facts, question.house.policy) if f.verdict is Verdict.OVER]


def chosen_over(question: Question, answer: Answer, over: Iterable[Finding]) -> list[str]:
    """Leads and lengths of runs that are over though they are fed anew; what stays as it was is reported."""
    stood = {(w.run, w.supply, w.output, w.decoder, w.first_channel) for w in question.problem.installed}
    anew = {
        f.run for f in answer.feeds if (f.run, f.supply, f.output, f.decoder, f.first_channel) not in stood
    }
    return [f"{f.code}: {f.message}" for f in over if f.code in OF_LEADS and f.subject in anew]


def _what_stays_over(over: Sequence[Finding], mend: bool) -> list[str]:
    """A plan that feeds everything may keep feeds that are over: it says so itself."""
    if not over:
        return []
    what = "1 thing stays" if len(over) == 1 else f"{len(over)} things stay"
    how = "moving feeds alone does not mend it" if mend else "a plan with mend may move kept feeds"
    return [f"{what} over a limit with this plan: read the over-limit report once it is kept; {how}."]


def _remarks(question: Question, answer: Answer) -> list[str]:
    remarks = [f"{tag}: amps or watts force it onto more than one row of channels." for tag in answer.split]
    lit = {f"{e.tag}/{r.number}" for e, r in question.runs.values() if r.id in question.rows.allotments}
    lost = dict.fromkeys(one.block for one in answer.unfed if one.run in lit)
    remarks += [f"{tag}: fed until now; this plan gives its feed up, and says why below." for tag in lost]
    remarks += [f"{tag}: no tape or no length yet, so nothing was worked out." for tag in question.undecided]
    return remarks


class _Watch:
    """Writes progress on the plan now and then, and hears when it is asked to stop."""

    def __init__(self, store: Store, plan_id: int, tell: Callable[[Progress], None] | None) -> None:
        self.store, self.plan_id, self.tell = store, plan_id, tell
        self.cancelled = False
        self.next_look = time.monotonic() + LOOK_S

    def __call__(self, progress: Progress) -> bool:
        if self.tell is not None:
            self.tell(progress)
        if time.monotonic() >= self.next_look:
            self.next_look = time.monotonic() + LOOK_S
            self.cancelled = self.store.write(lambda s: self._look(s, progress), by="allocator")
        return not self.cancelled

    def _look(self, session: Session, progress: Progress) -> bool:
        # A plain update: progress is no change worth an audit row.
        session.execute(update(Plan).where(Plan.id == self.plan_id).values(progress=progress_row(progress)))
        return bool(session.scalar(select(Plan.cancel_asked).where(Plan.id == self.plan_id)))


def progress_row(progress: Progress) -> dict[str, Any]:
    return {
        "parts_done": progress.parts_done,
        "parts": progress.parts,
        "cost": progress.cost,
        "bound": progress.bound,
        "unfed": progress.unfed,
        "seconds": round(progress.seconds, 3),
    }
