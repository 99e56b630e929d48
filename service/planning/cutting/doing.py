"""A cut plan done cut by cut: each mark is a row of the ledger, in any order. Nothing here commits."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import exists, func, select
from sqlalchemy.orm import Session, aliased

from service.errors import NotFound, ReelTooShort, Refused, StepRefused
from service.planning.cutting.actions import CutAsk, ask_for_cut_plan, codes_of, find_cut_plan
from service.planning.cutting.reading import still_to_cut
from service.planning.cutting.records import CutPlan, CutPlanStatus, CutStep
from service.planning.cutting.stock import IS_DONE, IS_WAITING, PIECES_OFF
from service.shows.ledger import pieces
from service.shows.queries import PIECE_NUMBER
from service.shows.records import Element, ElementStatus, Piece, PieceCut, Run
from service.stock.ledger import acts
from service.stock.ledger.balance import pitches_of
from service.stock.ledger.reels import Entry, Held, held_by_id, held_reels
from service.stock.records import Cut, Reel, Tape
from service.store.audit import person

ALL_CUT = "every piece is cut"


@dataclass(frozen=True, slots=True)
class Marked:
    """The plan, the step and its element after a mark, and the offcut that was taken off."""

    plan: CutPlan
    position: int
    reel_id: int | None
    element: Element | None
    pieces_left: int
    offcut: str | None = None


def do_step(
    session: Session, number: str, position: int, reel: str | None, offcut_tag: str | None, entry: Entry
) -> Marked:
    """A cut made as planned: its ledger row is written, the reel is opened, the piece is linked. `reel`: the
    tag that a new one got when it came; `offcut_tag`: what is left is taken off its reel and gets this tag.

    Raises NotFound, StepRefused where it is done already, ReelTooShort, Refused.
    """
    plan = _at_work(session, number)
    step = _step(session, plan, position)
    _refuse_done(session, plan, step)
    if step.reel_id is None:
        _become(session, plan, step, reel)
    elif reel is not None:
        _refuse_other_reel(session, step, reel)
    (held,) = held_by_id(session, [step.reel_id or 0])
    if step.piece_id is None:
        taken, element = _scrap(session, held, step, entry), None
    else:
        want = _wanted(session, step)
        taken, element = _cut(session, held, want, step, entry), want.element
    step.cut_id = taken.cut.id
    session.flush()
    if element is not None:
        _follow(session, element)
    offcut = _take_off(session, plan, held, offcut_tag, entry) if offcut_tag else None
    return Marked(plan, position, step.reel_id, element, _settle(session, plan), offcut)


def undo_step(session: Session, number: str, position: int, entry: Entry) -> Marked:
    """A mark taken back: the tape lies on its reel again and the piece is to be cut. Only the last cut of a
    reel. Raises NotFound, StepRefused, Refused."""
    plan = _at_work(session, number)
    step = _step(session, plan, position)
    cut = None if step.cut_id is None else session.get(Cut, step.cut_id)
    if cut is None or not _is_done(session, step):
        raise StepRefused(f"step {position} of {plan.number} is not done", "There is nothing to take back.")
    (held,) = held_by_id(session, [cut.reel_id])
    last = _last_cut(session, held)
    if last is not None and last.id != cut.id:
        raise StepRefused(
            f"{cut.number} is not the last cut of {held.tag}: {last.number} is",
            f"Take {last.number} back first.",
        )
    pieces.take_back(session, cut.number or "", entry)
    step.cut_id = None
    session.flush()
    element = None
    if step.piece_id is not None:
        element = _wanted(session, step).element
        if element.status is ElementStatus.CUT and element.status_note == ALL_CUT:
            element.status, element.status_note = ElementStatus.DRAWN, ""
    return Marked(plan, position, step.reel_id, element, _settle(session, plan))


def report_short(
    session: Session, number: str, reel: str, found_um: int, entry: Entry, today: date
) -> CutPlan:
    """A reel holds less than its book says, or its book says by now that it holds less than the plan cuts off
    it: that is counted, and the rest of its tape is to be planned again from where it stands. The new plan
    comes back, to be worked out; once it is, it is kept in the place of this one. Raises NotFound, Refused,
    OffCutPitch."""
    plan = _at_work(session, number)
    (held,) = held_reels(session, [reel])
    waiting = session.scalars(
        select(CutStep).where(CutStep.cut_plan_id == plan.id, CutStep.reel_id == held.reel.id, ~IS_DONE)
    ).all()
    if not waiting:
        raise Refused(
            f"{plan.number} cuts nothing more off {held.tag}", "Enter a recount of the reel instead."
        )
    found = pitches_of(found_um, held.tape.pitch_um, held.tape.tag)
    needed = session.scalar(
        select(func.sum(CutStep.pitches)).where(
            CutStep.cut_plan_id == plan.id, CutStep.reel_id == held.reel.id, IS_WAITING
        )
    )
    if found > held.left or (found == held.left and (needed or 0) <= found):
        raise Refused(
            f"{held.tag} has {held.shown(held.left)} on its book; {held.shown(found)} is not short of that",
            "Go on as planned; if it is longer, enter a recount.",
        )
    acts.recount(session, held, found, entry)
    ask = CutAsk(
        codes_of(session, plan),
        [held.tape.tag],
        plan.found["ask"]["may_buy"],
        plan.found["ask"]["deadline_s"],
        f"{held.tag} was short: {held.shown(found)} found",
        keeps=True,
        supersedes_id=plan.id,
    )
    return ask_for_cut_plan(session, ask, entry.by, today)


def _at_work(session: Session, number: str) -> CutPlan:
    """A plan that is worked from, locked: marks of one plan are made one after the other."""
    plan = find_cut_plan(session, number, lock=True)
    if plan.status is CutPlanStatus.DRAFT:
        raise Refused(f"{plan.number} is a draft", "Keep it first.")
    if plan.status not in (CutPlanStatus.KEPT, CutPlanStatus.DONE):
        raise Refused(
            f"{plan.number} is {plan.status}", "Work from the plan that took its place, or make one."
        )
    return plan


def _step(session: Session, plan: CutPlan, position: int) -> CutStep:
    query = select(CutStep).where(CutStep.cut_plan_id == plan.id, CutStep.position == position)
    step = session.scalars(query.with_for_update().execution_options(populate_existing=True)).one_or_none()
    if step is None:
        raise NotFound(f"{plan.number} has no step {position}", "Read its steps again.")
    return step


def _is_done(session: Session, step: CutStep) -> bool:
    return bool(session.scalar(select(CutStep.id).where(CutStep.id == step.id, IS_DONE)))


def _refuse_done(session: Session, plan: CutPlan, step: CutStep) -> None:
    if step.cut_id is None or not _is_done(session, step):
        return
    cut = session.get_one(Cut, step.cut_id)
    reel = session.scalar(select(Reel.tag).where(Reel.id == cut.reel_id))
    raise StepRefused(
        f"step {step.position} of {plan.number} is done already: {cut.number} off {reel}, "
        f"by {person(cut.entered_by) or 'somebody'} on {cut.cut_on}",
        "Go on with the next one; take it back if it was a mistake.",
    )


def _refuse_other_reel(session: Session, step: CutStep, tag: str) -> None:
    reel = session.get_one(Reel, step.reel_id)
    if reel.tag_key != tag.strip().upper():
        raise Refused(
            f"step {step.position} is cut off {reel.tag}, not {tag}",
            f"Cut it off {reel.tag}; if that is not there or too short, say so and plan again.",
        )


def _wanted(session: Session, step: CutStep) -> pieces.Wanted:
    piece, run, element, number = session.execute(
        select(Piece, Run, Element, PIECE_NUMBER)
        .join(Run, Run.id == Piece.run_id)
        .join(Element, Element.id == Run.element_id)
        .where(Piece.id == step.piece_id)
    ).one()
    return pieces.Wanted(element, run, piece, number, step.part)


def _cut(session: Session, held: Held, want: pieces.Wanted, step: CutStep, entry: Entry) -> acts.Taken:
    if step.pitches > held.left:
        raise ReelTooShort(
            f"{held.tag} has {held.shown(held.left)} left and {held.shown(step.pitches)} is asked of it",
            f"Say how much is found on {held.tag} (short): what is left of the plan is worked out again.",
        )
    return pieces.cut_piece(session, held, want, step.pitches, entry)


def _scrap(session: Session, held: Held, step: CutStep, entry: Entry) -> acts.Taken:
    if held.left != step.pitches:
        raise Refused(
            f"{held.tag} has {held.shown(held.left)} left, not the {held.shown(step.pitches)} of this step",
            "Make the other cuts of the reel first; what is worth keeping is no scrap.",
        )
    return acts.scrap_rest(session, held, entry)


def _take_off(session: Session, plan: CutPlan, held: Held, tag: str, entry: Entry) -> str:
    """What is left becomes an offcut with a tag of its own; only once nothing more is cut off the reel."""
    waiting = select(CutStep.position).where(
        CutStep.cut_plan_id == plan.id,
        CutStep.reel_id == held.reel.id,
        IS_WAITING,
    )
    more = session.scalar(waiting.limit(1))
    if more is not None:
        raise Refused(
            f"step {more} is still to be cut off {held.tag}",
            "Take what is left off with the last of its cuts.",
        )
    if not held.left:
        raise Refused(f"nothing is left on {held.tag}", "Leave the tag out.")
    taken = acts.make_offcut(session, held, held.left, entry, tag)
    return "" if taken.onto is None else taken.onto.tag


def _follow(session: Session, element: Element) -> None:
    """An element that was drawn is cut once each of its pieces is."""
    if element.status is not ElementStatus.DRAWN or _pieces_left(session, element):
        return
    element.status, element.status_note = ElementStatus.CUT, ALL_CUT
    session.flush()


def _pieces_left(session: Session, element: Element) -> int:
    """Pieces of the element of which something is still to be cut."""
    own = select(Piece.id, Piece.cut_pitches).join(Run, Run.id == Piece.run_id)
    rows = session.execute(own.where(Run.element_id == element.id))
    wanted = {piece_id: pitches or 0 for piece_id, pitches in rows}
    cuts: dict[int, list[tuple[str, int]]] = {piece_id: [] for piece_id in wanted}
    for piece_id, part, pitches in session.execute(
        select(PieceCut.piece_id, PieceCut.part, -Cut.change_pitches)
        .join(Cut, Cut.id == PieceCut.cut_id)
        .where(PieceCut.piece_id.in_(wanted), *PIECES_OFF)
    ):
        cuts[piece_id].append((part, pitches))
    return sum(1 for piece_id, pitches in wanted.items() if still_to_cut(cuts[piece_id], pitches))


def _settle(session: Session, plan: CutPlan) -> int:
    """The plan is done once every piece of it is cut; how many are not."""
    left = session.scalar(select(func.count(CutStep.id)).where(CutStep.cut_plan_id == plan.id, IS_WAITING))
    plan.status = CutPlanStatus.KEPT if left else CutPlanStatus.DONE
    session.flush()
    return left or 0


def _last_cut(session: Session, held: Held) -> Cut | None:
    """The newest row of the reel that stands: neither taken back nor taking one back."""
    undo = aliased(Cut)
    return session.scalars(
        select(Cut)
        .where(
            Cut.reel_id == held.reel.id,
            Cut.is_disputed.is_(False),
            Cut.undoes_id.is_(None),
            ~exists().where(undo.undoes_id == Cut.id),
        )
        .order_by(Cut.id.desc())
        .limit(1)
    ).one_or_none()


def _become(session: Session, plan: CutPlan, step: CutStep, tag: str | None) -> None:
    """A new reel of the plan has come and got its tag: its cuts are of that reel from now on."""
    if tag is None:
        raise Refused(
            f"step {step.position} is cut off {step.new_reel}, which is still to come",
            "Receive the reel, then name it by its tag with the mark.",
        )
    (held,) = held_reels(session, [tag])
    if held.tape.id != step.tape_id:
        wanted = session.scalar(select(Tape.tag).where(Tape.id == step.tape_id))
        raise Refused(f"{held.tag} is {held.tape.tag}, not {wanted}", f"Name a reel of {wanted}.")
    own = session.scalars(
        select(CutStep).where(CutStep.cut_plan_id == plan.id, CutStep.new_reel == step.new_reel)
        .where(CutStep.tape_id == step.tape_id)
        .order_by(CutStep.position)
    ).all()  # fmt: skip
    needed = sum(each.pitches for each in own if each.piece_id is not None)
    free = held.left - _planned_on(session, held.reel)
    if free < needed:
        raise ReelTooShort(
            f"{held.tag} has {held.shown(max(0, free))} that no plan counts on, and {step.new_reel} "
            f"of {plan.number} needs {held.shown(needed)}",
            "Name a longer reel, or plan again now that it is here.",
        )
    _refuse_other_lot(session, held, own)
    for each in own:
        each.reel_id, each.new_reel = held.reel.id, None
    _rest_of_new(session, plan, own, held.left - needed)
    session.flush()


def _rest_of_new(session: Session, plan: CutPlan, own: Sequence[CutStep], rest: int) -> None:
    """The reel that came may be longer or shorter than the one planned: scrap is what is scrap of it."""
    for each in own:
        if each.piece_id is None and each.pitches != rest:
            tape = session.get_one(Tape, each.tape_id)
            if rest and rest * tape.pitch_um < plan.keep_um:
                each.pitches = rest
            else:
                session.delete(each)


def _planned_on(session: Session, reel: Reel) -> int:
    """Pitches that kept plans still cut off the reel."""
    query = (
        select(func.sum(CutStep.pitches))
        .join(CutPlan, CutPlan.id == CutStep.cut_plan_id)
        .where(
            CutPlan.status == CutPlanStatus.KEPT,
            CutStep.reel_id == reel.id,
            IS_WAITING,
        )
    )
    return int(session.scalar(query) or 0)


def _refuse_other_lot(session: Session, held: Held, own: Sequence[CutStep]) -> None:
    """Pieces seen together come from one lot: the lot of what is cut of them, or planned off another reel."""
    ids = [each.piece_id for each in own if each.piece_id is not None]
    groups = (
        select(Element.match_group_id)
        .join(Run, Run.element_id == Element.id)
        .join(Piece, Piece.run_id == Run.id)
        .where(Piece.id.in_(ids), Element.match_group_id.is_not(None))
    )
    mates = (
        select(Piece.id)
        .join(Run, Run.id == Piece.run_id)
        .join(Element, Element.id == Run.element_id)
        .where(Element.match_group_id.in_(groups), Element.tape_id == held.tape.id)
    )
    cut = (
        select(Reel.lot, Reel.tag)
        .join(Cut, Cut.reel_id == Reel.id)
        .join(PieceCut, PieceCut.cut_id == Cut.id)
        .where(PieceCut.piece_id.in_(mates), *PIECES_OFF)
    )
    plan_id = own[0].cut_plan_id
    planned = (
        select(Reel.lot, Reel.tag)
        .join(CutStep, CutStep.reel_id == Reel.id)
        .where(CutStep.cut_plan_id == plan_id, CutStep.piece_id.in_(mates), ~IS_DONE)
    )
    for lot, tag in (*session.execute(cut), *session.execute(planned)):
        if lot and lot != held.reel.lot:
            raise Refused(
                f"{held.tag} is of lot {held.reel.lot or 'not known'}, and pieces that it must match "
                f"come from {tag}, lot {lot}",
                f"Name a reel of lot {lot}, or plan again now that it is here.",
            )


def found_um(found_mm: float) -> int:
    """Millimetres as they are told, in whole micrometres.

    >>> found_um(1200.5)
    1200500
    """
    return round(found_mm * 1000)
