"""The steps of a cut plan as they are marked on the tape and written on labels."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, cast

from sqlalchemy import ColumnElement, and_, case, func, or_, select
from sqlalchemy.orm import Session, aliased

from service.planning.cutting.records import CutPlan, CutPlanStatus, CutStep
from service.planning.cutting.schemas import CutStepOut
from service.planning.cutting.stock import IS_CUT_OTHERWISE, IS_DONE, IS_WAITING
from service.season.records import Production
from service.shows.queries import PIECE_NUMBER
from service.shows.records import Element, Piece, Run
from service.stock.records import Cut, Reel, ReelJoin, Tape
from service.units import show_um

_ledger = aliased(Cut)


@dataclass(frozen=True, slots=True)
class _Row:
    """A step with everything that is said of it."""

    id: int
    plan: str
    position: int
    tape: str
    pitch_um: int
    reel_id: int | None
    reel: str
    lot: str | None
    left_pitches: int | None
    pitches: int
    part: str
    drawn_um: int | None
    cut_pitches: int | None
    element: str | None
    name: str | None
    production: str | None
    run: int | None
    piece: int | None
    is_waiting: bool
    is_cut_otherwise: bool
    status: str | None
    cut_id: int | None
    cut: str | None
    cut_on: date | None
    cut_by: str | None
    note: str | None


def plan_steps(session: Session, plan: CutPlan) -> list[CutStepOut]:
    """Every step of one plan, in marking order."""
    return steps(session, CutPlan.id == plan.id)


def step_of(session: Session, plan: CutPlan, position: int, reel_id: int | None) -> CutStepOut:
    """One step of a plan; the others of its reel are read for where it is marked."""
    own = steps(session, CutPlan.id == plan.id, CutStep.reel_id == reel_id)
    return next(step for step in own if step.step == position)


def kept_steps(session: Session, code: str | None = None) -> list[CutStepOut]:
    """Every step that kept plans still have, of one show or all; what is left of their reels included."""
    chosen = CutPlan.status == CutPlanStatus.KEPT
    found = steps(session, chosen)
    if code is None:
        return found
    reels = {(step.plan, step.tape, step.reel) for step in found if step.production == code}
    return [
        step
        for step in found
        if step.production == code or (step.production is None and (step.plan, step.tape, step.reel) in reels)
    ]


def steps(session: Session, *chosen: ColumnElement[bool]) -> list[CutStepOut]:
    """The steps of the plans chosen. A number of statements that does not grow."""
    rows = _rows(session, chosen)
    reels = {row.reel_id for row in rows if row.reel_id is not None}
    joints, balances = _joints(session, reels), _balances(session, reels)
    found: dict[int, CutStepOut] = {}
    for own in _by_reel(rows).values():
        for row, step in _marked(own, joints, balances):
            found[row.id] = step
    return [found[row.id] for row in rows]


def _rows(session: Session, chosen: Sequence[ColumnElement[bool]]) -> list[_Row]:
    query = (
        select(
            CutStep.id,
            CutPlan.number,
            CutStep.position,
            Tape.tag,
            Tape.pitch_um,
            CutStep.reel_id,
            func.coalesce(Reel.tag, CutStep.new_reel),
            Reel.lot,
            Reel.left_pitches,
            CutStep.pitches,
            CutStep.part,
            Piece.drawn_um,
            Piece.cut_pitches,
            Element.tag,
            Element.name,
            Production.tag,
            Run.number,
            PIECE_NUMBER,
            or_(CutStep.piece_id.is_(None), IS_WAITING),
            IS_CUT_OTHERWISE,
            Element.status,
            case((IS_DONE, CutStep.cut_id)),
            Cut.number,
            Cut.cut_on,
            Cut.entered_by,
            Cut.note,
        )
        .join(CutPlan, CutPlan.id == CutStep.cut_plan_id)
        .join(Tape, Tape.id == CutStep.tape_id)
        .outerjoin(Reel, Reel.id == CutStep.reel_id)
        .outerjoin(Piece, Piece.id == CutStep.piece_id)
        .outerjoin(Run, Run.id == Piece.run_id)
        .outerjoin(Element, Element.id == Run.element_id)
        .outerjoin(Production, Production.id == Element.production_id)
        .outerjoin(Cut, and_(Cut.id == CutStep.cut_id, IS_DONE))
        .where(*chosen)
        .order_by(CutPlan.id, CutStep.position)
    )
    return [_Row(*cast(Any, row)) for row in session.execute(query)]


def _by_reel(rows: Iterable[_Row]) -> Mapping[Any, list[_Row]]:
    """Steps on one reel belong together, whichever plan they are of: they are cut off one outer end."""
    found: dict[Any, list[_Row]] = defaultdict(list)
    for row in rows:
        found[row.reel_id or (row.plan, row.tape, row.reel)].append(row)
    return found


def _marked(
    rows: Sequence[_Row], joints: Mapping[int, Sequence[int]], balances: Mapping[int, int]
) -> Iterator[tuple[_Row, CutStepOut]]:
    """Where each cut is marked if those before it are made first; what is done is told from the ledger."""
    at = 0
    for row in rows:
        if row.cut_id is not None:
            yield row, _step(row, None, balances.get(row.cut_id), None)
            continue
        if not row.is_waiting:
            yield row, _step(row, None, None, None)
            continue
        before, at = at, at + row.pitches
        left = None if row.left_pitches is None else row.left_pitches - at
        inside = None
        if row.left_pitches is not None and row.reel_id is not None:
            outer = row.left_pitches - before
            met = [joint for joint in joints.get(row.reel_id, ()) if outer - row.pitches < joint < outer]
            inside = outer - max(met) if met else None
        yield row, _step(row, at, left, inside)


def _step(row: _Row, at: int | None, left: int | None, inside: int | None) -> CutStepOut:
    cut_um = row.pitches * row.pitch_um
    piece = None if row.element is None else f"{row.piece}{row.part}"
    return CutStepOut(
        plan=row.plan,
        step=row.position,
        tape=row.tape,
        lot=row.lot or None,
        reel=row.reel,
        kind="scrap" if row.element is None else "piece",
        cut_mm=cut_um / 1000,
        drawn_mm=None if row.drawn_um is None else row.drawn_um / 1000,
        element=row.element,
        name=row.name,
        production=row.production,
        run=row.run,
        piece=piece,
        label=_label(row, piece, cut_um),
        mark_mm=None if at is None else at * row.pitch_um / 1000,
        left_mm=None if left is None else max(0, left) * row.pitch_um / 1000,
        joint_mm=None if inside is None else inside * row.pitch_um / 1000,
        warning=_warning(row, left, inside),
        is_done=row.cut_id is not None,
        cut=row.cut,
        done_on=row.cut_on,
        done_by=row.cut_by,
        note=row.note or None,
    )


def _label(row: _Row, piece: str | None, cut_um: int) -> str:
    """What is written on the piece: element, which piece, length, tape and lot."""
    if row.element is None:
        return f"scrap · {row.tape} · {show_um(cut_um)}"
    lot = f"lot {row.lot}" if row.lot else ""
    return " · ".join(filter(None, (f"{row.element}/{piece}", show_um(cut_um), row.tape, lot)))


def _warning(row: _Row, left: int | None, inside: int | None) -> str | None:
    if row.cut_id is not None:
        return None
    if row.is_cut_otherwise:
        return "cut already, without this plan: leave it out"
    if not row.is_waiting:
        return f"{row.element} is {row.status}: leave it out"
    if left is not None and left < 0:
        short = show_um(-left * row.pitch_um)
        return f"{row.reel} is {short} short of this and what stands before it: say how much is found on it"
    if inside is not None:
        return f"a factory joint falls {show_um(inside * row.pitch_um)} into this piece"
    return None


def _joints(session: Session, reel_ids: set[int]) -> Mapping[int, list[int]]:
    found: dict[int, list[int]] = defaultdict(list)
    query = select(ReelJoin.reel_id, ReelJoin.from_hub_pitches).where(ReelJoin.reel_id.in_(reel_ids))
    for reel_id, at in session.execute(query):
        found[reel_id].append(at)
    return found


def _balances(session: Session, reel_ids: set[int]) -> dict[int, int]:
    """What was left on its reel after each row of the ledger."""
    running: dict[int, int] = defaultdict(int)
    found: dict[int, int] = {}
    rows = session.execute(
        select(_ledger.id, _ledger.reel_id, _ledger.change_pitches)
        .where(_ledger.reel_id.in_(reel_ids), _ledger.is_disputed.is_(False))
        .order_by(_ledger.id)
    )
    for cut_id, reel_id, change in rows:
        running[reel_id] += change
        found[cut_id] = running[reel_id]
    return found
