"""Tape that a cut plan may use: what is free of each reel, what is promised by name, what is on order."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import and_, exists, func, or_, select
from sqlalchemy.orm import Session, aliased

from service.planning.cutting.records import CutPlan, CutPlanStatus, CutStep
from service.season.records import Hold, OrderLine, Production, ProductionStatus
from service.shows.records import Element, ElementStatus, Piece, PieceCut, Run
from service.stock.ledger.balance import CLOSED
from service.stock.records import Cut, CutKind, Place, PlaceKind, Reel, ReelJoin, ReelState
from service.units import show_um

_undo = aliased(Cut)
# A step is done for as long as its row of the ledger stands.
IS_DONE = and_(CutStep.cut_id.is_not(None), ~exists().where(_undo.undoes_id == CutStep.cut_id))
_other = aliased(Cut)
# Its piece, or that part of it, was cut without this step.
IS_CUT_OTHERWISE = and_(
    ~IS_DONE,
    exists()
    .where(
        PieceCut.piece_id == CutStep.piece_id,
        PieceCut.cut_id == _other.id,
        _other.is_disputed.is_(False),
        _other.kind == CutKind.PIECE,
        or_(PieceCut.part == CutStep.part, PieceCut.part == "", CutStep.part == ""),
    )
    .correlate(CutStep),
)
TO_CUT = (ElementStatus.ASKED, ElementStatus.DRAWN)
# A piece that is still to be cut, and by this step.
IS_WAITING = and_(
    ~IS_DONE,
    ~IS_CUT_OTHERWISE,
    exists()
    .where(
        Piece.id == CutStep.piece_id,
        Run.id == Piece.run_id,
        Element.id == Run.element_id,
        Element.status.in_(TO_CUT),
        Element.retired_on.is_(None),
    )
    .correlate(CutStep),
)
# Rows by which a piece was cut; one that came back at strike has another row beside.
PIECES_OFF = (Cut.is_disputed.is_(False), Cut.kind == CutKind.PIECE)
OVER = (ProductionStatus.CLOSED, ProductionStatus.RETURNED, ProductionStatus.CANCELLED)


@dataclass(frozen=True, slots=True)
class FreeReel:
    """A reel or offcut. `free_pitches`: what neither others were promised by name nor another kept plan
    cuts; `joints`: in pitches from the inner end of that part, which is the outer one."""

    id: int
    tag: str
    tape_id: int
    lot: str
    left_pitches: int
    free_pitches: int
    is_sealed: bool
    joints: tuple[int, ...] = ()

    @property
    def is_whole(self) -> bool:
        """Whether nobody else is promised any of it."""
        return self.free_pitches == self.left_pitches


@dataclass(frozen=True, slots=True)
class Promise:
    """What is still to come off a reel for one show that it was promised to by name."""

    reel: str
    code: str
    production_id: int
    pitches: int


@dataclass(frozen=True, slots=True)
class OnOrder:
    """Reels of one order line that have not come. `free`: those that no other kept plan counts on."""

    name: str
    tape_id: int
    reels: int
    free: int
    reel_pitches: int | None
    due_on: date | None
    lot: str


@dataclass(frozen=True, slots=True)
class TapeStock:
    """`left_out`: reels that are not used, and why."""

    reels: tuple[FreeReel, ...]
    promises: tuple[Promise, ...]
    on_order: tuple[OnOrder, ...]
    left_out: tuple[tuple[int, str], ...]

    def reels_of(self, tape_id: int) -> list[FreeReel]:
        return [reel for reel in self.reels if reel.tape_id == tape_id]


def read_stock(
    session: Session, tape_ids: Sequence[int], production_ids: Sequence[int], piece_ids: Iterable[int]
) -> TapeStock:
    """Tape for those shows. `piece_ids`: what is to be planned; steps of kept plans for them are given up."""
    rows = session.execute(
        select(Reel, Place.kind)
        .outerjoin(Place, Place.id == Reel.place_id)
        .where(
            Reel.tape_id.in_(tape_ids),
            Reel.retired_on.is_(None),
            Reel.left_pitches > 0,
            Reel.state.not_in(CLOSED),
        )
        .order_by(Reel.tag_key)
    ).all()
    ids = [reel.id for reel, _ in rows]
    promises = _promises(session, ids)
    planned, counted_on = _planned(session, tape_ids, frozenset(piece_ids))
    joints = _joints(session, ids)
    own = {promise.reel for promise in promises if promise.production_id in production_ids}
    others = Counter[str]()
    for promise in promises:
        if promise.production_id not in production_ids:
            others[promise.reel] += promise.pitches
    found, left_out = list[FreeReel](), list[tuple[int, str]]()
    for reel, place in rows:
        why = _why_not(reel, place, reel.tag in own)
        taken = others[reel.tag] + planned[reel.id]
        free = reel.left_pitches - taken
        if why or free <= 0:
            left_out.append((reel.tape_id, f"{reel.tag} {why or 'is promised to others'}"))
            continue
        edge = reel.left_pitches - free
        found.append(
            FreeReel(
                reel.id,
                reel.tag,
                reel.tape_id,
                reel.lot,
                reel.left_pitches,
                free,
                # Where others cut of it too, it is opened anyway.
                reel.state is ReelState.SEALED and not taken,
                tuple(at - edge for at in joints[reel.id] if edge < at < reel.left_pitches),
            )
        )
    return TapeStock(
        tuple(found), tuple(promises), tuple(_on_order(session, tape_ids, counted_on)), tuple(left_out)
    )


def _why_not(reel: Reel, place: PlaceKind | None, is_own: bool) -> str:
    if reel.state is ReelState.HELD and not is_own:
        return "is set aside"
    return "is in quarantine" if place is PlaceKind.QUARANTINE else ""


def _promises(session: Session, reel_ids: Sequence[int]) -> list[Promise]:
    """Reels promised by name to shows that are not over, less what was cut off them for those since."""
    cut: dict[tuple[int, int], list[tuple[datetime, int]]] = defaultdict(list)
    for reel_id, production_id, at, pitches in session.execute(
        select(Cut.reel_id, Element.production_id, Cut.created_at, -Cut.change_pitches)
        .join(PieceCut, PieceCut.cut_id == Cut.id)
        .join(Piece, Piece.id == PieceCut.piece_id)
        .join(Run, Run.id == Piece.run_id)
        .join(Element, Element.id == Run.element_id)
        .where(Cut.reel_id.in_(reel_ids), *PIECES_OFF)
    ):
        cut[reel_id, production_id].append((at, pitches))
    rows = session.execute(
        select(
            Hold.reel_id,
            Reel.tag,
            Hold.production_id,
            Production.tag,
            func.sum(Hold.pitches),
            func.min(Hold.created_at),
        )
        .join(Reel, Reel.id == Hold.reel_id)
        .join(Production, Production.id == Hold.production_id)
        .where(
            Hold.reel_id.in_(reel_ids),
            Hold.pitches.is_not(None),
            Hold.returned_on.is_(None),
            Production.status.not_in(OVER),
            Production.retired_on.is_(None),
        )
        .group_by(Hold.reel_id, Reel.tag, Hold.production_id, Production.tag)
        .order_by(Reel.tag, Production.tag)
    ).all()
    found = []
    for held_id, tag, production_id, code, promised, since in rows:
        done = sum(length for at, length in cut[held_id or 0, production_id] if at > since)
        if (promised or 0) > done:
            found.append(Promise(tag, code, production_id, int(promised or 0) - done))
    return found


def _planned(
    session: Session, tape_ids: Sequence[int], piece_ids: frozenset[int]
) -> tuple[Counter[int], Counter[int]]:
    """Pitches by reel, and new reels by tape, that kept plans cut for other pieces."""
    pitches, fresh = Counter[int](), set[tuple[int, int, str]]()
    for plan_id, tape_id, reel_id, new_reel, piece_id, length in session.execute(
        select(
            CutStep.cut_plan_id,
            CutStep.tape_id,
            CutStep.reel_id,
            CutStep.new_reel,
            CutStep.piece_id,
            CutStep.pitches,
        )
        .join(CutPlan, CutPlan.id == CutStep.cut_plan_id)
        .where(
            CutPlan.status == CutPlanStatus.KEPT,
            IS_WAITING,
            CutStep.tape_id.in_(tape_ids),
        )
    ):
        if piece_id in piece_ids:
            continue
        if reel_id is None:
            fresh.add((tape_id, plan_id, new_reel or ""))
        else:
            pitches[reel_id] += length
    return pitches, Counter(tape_id for tape_id, _, _ in fresh)


def _joints(session: Session, reel_ids: Sequence[int]) -> Mapping[int, list[int]]:
    found: dict[int, list[int]] = defaultdict(list)
    query = select(ReelJoin.reel_id, ReelJoin.from_hub_pitches).where(ReelJoin.reel_id.in_(reel_ids))
    for reel_id, at in session.execute(query.order_by(ReelJoin.reel_id, ReelJoin.from_hub_pitches)):
        found[reel_id].append(at)
    return found


def _on_order(session: Session, tape_ids: Sequence[int], counted_on: Counter[int]) -> list[OnOrder]:
    """Open order lines, the earliest first; what other kept plans count on is taken off those."""
    rows = session.scalars(
        select(OrderLine)
        .where(OrderLine.tape_id.in_(tape_ids), OrderLine.received_on.is_(None), OrderLine.is_hire.is_(False))
        .order_by(func.coalesce(OrderLine.due_on, date.max), OrderLine.order_number, OrderLine.line)
    )
    taken, found = counted_on.copy(), list[OnOrder]()
    for line in rows:
        tape_id, reels = line.tape_id or 0, line.quantity - line.received_quantity
        others = min(reels, taken[tape_id])
        taken[tape_id] -= others
        if reels > 0:
            name = f"{line.order_number} line {line.line}"
            found.append(
                OnOrder(name, tape_id, reels, reels - others, line.reel_pitches, line.due_on, line.lot)
            )
    return found


def overpromised(stock: TapeStock, tape_id: int, pitch_um: int) -> list[str]:
    """Reels of which more is promised by name than there is, and the reels that could stand in."""
    said = []
    reels = {reel.tag: reel for reel in stock.reels_of(tape_id)}
    for tag, reel in reels.items():
        own = [promise for promise in stock.promises if promise.reel == tag]
        short = sum(promise.pitches for promise in own) - reel.left_pitches
        if short <= 0:
            continue
        shares = " and ".join(f"{p.code} {show_um(p.pitches * pitch_um)}" for p in own)
        text = f"{tag} is promised to {shares} and has {show_um(reel.left_pitches * pitch_um)} left: "
        text += f"{show_um(short * pitch_um)} short"
        for other in reels.values():
            if other.tag != tag and other.free_pitches >= short:
                lot = "the same lot" if other.lot == reel.lot else f"another lot ({other.lot or 'not known'})"
                text += f"; {other.tag} has {show_um(other.free_pitches * pitch_um)} and is of {lot}"
        said.append(f"{text}.")
    return said
