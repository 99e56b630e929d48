"""Tapes, lots and reels as items of the season: ledger, holds, what is drawn and orders, read in six selects.

Tape is used up: what a show wants of it is wanted from its first day on and never comes back, save the share
that the show says its strike recovers. What is cut already is off its reel and no longer wanted.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.planning.season.items import Item, Late, lot_key
from service.planning.snapshot.shelf import GONE, NOT_WANTED
from service.season.buying import Terms
from service.season.lines import FAR, Need, Stock
from service.season.records import Hold, OrderLine
from service.shows.records import Element, Piece, PieceCut, Run
from service.stock.records import Cut, CutKind, Reel, Tape

DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class TapeShow:
    """A production that tape may still be cut for, or come back from. `from_on`: its first day."""

    code: str
    from_on: date
    strike_end: date
    recovered_share: float
    is_live: bool


@dataclass(frozen=True, slots=True)
class _Reel:
    tag: str
    tape_id: int
    lot: str
    left_pitches: int


@dataclass(frozen=True, slots=True)
class _Hold:
    production_id: int
    tape_id: int
    reel_id: int | None
    pitches: int
    from_on: date
    made_at: datetime


@dataclass(slots=True)
class _Taken:
    """A length cut for a show: `spare` of it stands for no promise yet."""

    production_id: int
    tape_id: int
    reel_id: int
    at: datetime
    pitches: int
    spare: int


@dataclass(frozen=True, slots=True)
class TapeStock:
    items: dict[str, Item]
    late: tuple[Late, ...]


def read_tape(session: Session, day: date, today: date, shows: Mapping[int, TapeShow]) -> TapeStock:
    """Every tape, its lots and its reels by the end of `day`, as orders and shows are known `today`."""
    tapes = {
        row.id: row
        for row in session.execute(
            select(
                Tape.id, Tape.tag, Tape.pitch_um, Tape.lead_days, Tape.price, Tape.pack_quantity,
                Tape.least_quantity, Tape.reel_pitches,
            ).where(Tape.retired_on.is_(None))
        )
    }  # fmt: skip
    reels = _reels(session, day)
    taken = _taken(session)
    holds = _left(_holds(session, shows), taken)
    uncut = _uncut(session, shows)
    due, late = _due(session, {i: tape.tag for i, tape in tapes.items()}, today)
    items: dict[str, Item] = {}
    for i, tape in tapes.items():
        mine = [reel for reel in reels.values() if reel.tape_id == i]
        needs = _needs(i, shows, holds, uncut.get(i, {}))
        stocks = [
            Stock(date.min, owned=(left := sum(reel.left_pitches for reel in mine)), sound=left),
            *(Stock(due_on, due=pitches) for tape_id, due_on, pitches in due if tape_id == i),
            *_recovered(i, shows, needs, taken, today),
        ]
        lead_days, price, pack, least, reel_pitches = tape[3:]
        terms = Terms(lead_days, price, pack, least, reel_pitches=reel_pitches)
        items[tape.tag] = Item("tape", tape.tag, tuple(needs), tuple(stocks), "", tape.pitch_um, terms=terms)
        items.update(_lots(tape.tag, tape.pitch_um, mine, reels, shows, holds))
    return TapeStock(items, tuple(late))


def _reels(session: Session, day: date) -> dict[int, _Reel]:
    rows = session.execute(
        select(Reel.id, Reel.tag, Reel.tape_id, Reel.lot, func.sum(Cut.change_pitches))
        .join(Cut, Cut.reel_id == Reel.id)
        .where(
            Cut.is_disputed.is_(False), Cut.cut_on <= day, Reel.state.not_in(GONE), Reel.retired_on.is_(None)
        )
        .group_by(Reel.id, Reel.tag, Reel.tape_id, Reel.lot)
        .order_by(Reel.id)
    )
    return {i: _Reel(tag, tape_id, lot, int(left)) for i, tag, tape_id, lot, left in rows}


def _holds(session: Session, shows: Mapping[int, TapeShow]) -> list[_Hold]:
    """Promises of tape, and of lengths on a reel, to shows that are not over."""
    rows = session.execute(
        select(
            Hold.production_id, func.coalesce(Hold.tape_id, Reel.tape_id), Hold.reel_id, Hold.pitches,
            Hold.from_on, Hold.created_at,
        )
        .outerjoin(Reel, Reel.id == Hold.reel_id)
        .where(Hold.pitches.is_not(None), Hold.returned_on.is_(None))
        .order_by(Hold.from_on, Hold.id)
    )  # fmt: skip
    return [
        _Hold(show, tape_id or 0, reel_id, pitches or 0, from_on, made_at)
        for show, tape_id, reel_id, pitches, from_on, made_at in rows
        if show in shows and shows[show].is_live
    ]


def _taken(session: Session) -> list[_Taken]:
    """What was cut for each production, tape and reel, and when that was written down."""
    rows = session.execute(
        select(Element.production_id, Reel.tape_id, Reel.id, Cut.created_at, func.sum(-Cut.change_pitches))
        .join(Run, Run.element_id == Element.id)
        .join(Piece, Piece.run_id == Run.id)
        .join(PieceCut, PieceCut.piece_id == Piece.id)
        .join(Cut, Cut.id == PieceCut.cut_id)
        .join(Reel, Reel.id == Cut.reel_id)
        .where(Cut.is_disputed.is_(False), Cut.kind == CutKind.PIECE)
        .group_by(Element.production_id, Reel.tape_id, Reel.id, Cut.created_at)
    )
    return [_Taken(*row, spare=row[-1]) for row in rows]


def _uncut(session: Session, shows: Mapping[int, TapeShow]) -> dict[int, dict[int, int]]:
    """Pitches drawn and not cut, by tape and production."""
    is_cut = select(PieceCut.id).where(PieceCut.piece_id == Piece.id).exists()
    rows = session.execute(
        select(Element.tape_id, Element.production_id, func.sum(Piece.cut_pitches))
        .join(Run, Run.element_id == Element.id)
        .join(Piece, Piece.run_id == Run.id)
        .where(
            Element.tape_id.is_not(None), Element.status.not_in(NOT_WANTED), Element.retired_on.is_(None),
            ~is_cut,
        )
        .group_by(Element.tape_id, Element.production_id)
    )  # fmt: skip
    found: dict[int, dict[int, int]] = defaultdict(dict)
    for tape_id, production_id, pitches in rows:
        if production_id in shows and shows[production_id].is_live and pitches:
            found[tape_id or 0][production_id] = int(pitches)
    return found


def _left(holds: Iterable[_Hold], taken: Iterable[_Taken]) -> list[_Hold]:
    """What promises still stand for: less what was cut for the show since, off the reel that was promised or,
    where none was, off any reel of the tape. Nothing cut stands for two promises."""
    by_show: dict[tuple[int, int], list[_Taken]] = defaultdict(list)
    for one in taken:
        by_show[one.production_id, one.tape_id].append(one)
    found = []
    for hold in sorted(holds, key=lambda hold: (hold.reel_id is None, hold.from_on)):
        left = hold.pitches
        for one in by_show[hold.production_id, hold.tape_id]:
            if one.at > hold.made_at and hold.reel_id in (None, one.reel_id):
                used = min(left, one.spare)
                one.spare -= used
                left -= used
        if left:
            found.append(replace(hold, pitches=left))
    return found


def _needs(
    tape_id: int, shows: Mapping[int, TapeShow], holds: Iterable[_Hold], uncut: Mapping[int, int]
) -> list[Need]:
    needs = [
        Need(shows[hold.production_id].code, hold.from_on, FAR, promised=hold.pitches)
        for hold in holds
        if hold.tape_id == tape_id
    ]
    for production_id, pitches in uncut.items():
        show = shows[production_id]
        needs.append(Need(show.code, show.from_on, FAR, used=pitches))
    return needs


def _recovered(
    tape_id: int, shows: Mapping[int, TapeShow], needs: Iterable[Need], taken: Iterable[_Taken], today: date
) -> Iterable[Stock]:
    """What strikes still to come are expected to bring back, rounded down."""
    for i, show in shows.items():
        if show.recovered_share and show.strike_end >= today:
            cut = sum(one.pitches for one in taken if (one.production_id, one.tape_id) == (i, tape_id))
            back = int((cut + _most(show.code, needs)) * show.recovered_share)
            if back:
                yield Stock(show.strike_end + DAY, recovered=back)


def _most(code: str, needs: Iterable[Need]) -> int:
    """What a show still wants in all, the larger of promised and drawn."""
    mine = [need for need in needs if need.who == code]
    return max(sum(need.promised for need in mine), sum(need.used for need in mine))


def _lots(
    tape: str,
    pitch_um: int,
    mine: Iterable[_Reel],
    reels: Mapping[int, _Reel],
    shows: Mapping[int, TapeShow],
    holds: Iterable[_Hold],
) -> dict[str, Item]:
    """Each lot and each reel of the tape with what is held of it by name."""
    found: dict[str, Item] = {}
    by_reel: dict[str, list[Need]] = defaultdict(list)
    for hold in holds:
        if hold.reel_id is not None and hold.reel_id in reels:
            need = Need(shows[hold.production_id].code, hold.from_on, FAR, promised=hold.pitches)
            by_reel[reels[hold.reel_id].tag].append(need)
    by_lot: dict[str, list[_Reel]] = defaultdict(list)
    for reel in mine:
        by_lot[reel.lot].append(reel)
        stock = Stock(date.min, owned=reel.left_pitches, sound=reel.left_pitches)
        found[reel.tag] = Item("reel", reel.tag, tuple(by_reel[reel.tag]), (stock,), reel.lot, pitch_um, tape)
    for lot, of_it in by_lot.items():
        left = sum(reel.left_pitches for reel in of_it)
        needs = tuple(need for reel in of_it for need in by_reel[reel.tag])
        stock = Stock(date.min, owned=left, sound=left)
        found[lot_key(tape, lot)] = Item("lot", tape, needs, (stock,), lot, pitch_um, tape)
    return found


def _due(
    session: Session, tags: Mapping[int, str], today: date
) -> tuple[list[tuple[int, date, int]], list[Late]]:
    """Whole reels on order, from the day they are due; without a length of reel they count for nothing."""
    due: list[tuple[int, date, int]] = []
    late: list[Late] = []
    lines = select(
        OrderLine.order_number, OrderLine.line, OrderLine.tape_id, OrderLine.due_on,
        OrderLine.quantity - OrderLine.received_quantity,
        func.coalesce(OrderLine.reel_pitches, Tape.reel_pitches, 0),
    ).join(Tape, Tape.id == OrderLine.tape_id)  # fmt: skip
    for order, line, tape_id, due_on, left, reel_pitches in session.execute(
        lines.where(OrderLine.received_on.is_(None)).order_by(OrderLine.id)
    ):
        pitches = left * reel_pitches
        if tape_id is None or tape_id not in tags or pitches <= 0:
            continue
        if due_on is None or due_on < today:
            late.append(Late(order, line, tags[tape_id], pitches, due_on, left))
        else:
            due.append((tape_id, due_on, pitches))
    return due, late
