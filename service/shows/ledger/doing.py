"""What people ask of the ledger, done and told: one function an act, for every door. Nothing here commits."""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import BadRequest, NotFound
from service.shows.ledger import pieces
from service.shows.ledger.schemas import (
    Act,
    BackAsk,
    CutAsk,
    DoneOut,
    JoinAsk,
    JointOut,
    LedgerRowOut,
    OffcutAsk,
    RecountAsk,
    RecoverAsk,
    ReelOut,
    ScrapAsk,
    SettleAsk,
    metres,
    micrometres,
)
from service.stock.ledger import acts
from service.stock.ledger.balance import pitches_of, whole_pitches
from service.stock.ledger.reels import Entry, Held, held_reels, joints_of
from service.stock.records import Cut, CutKind, Place, Reel, Tape
from service.store.base import tag_key
from service.store.changing import find


@dataclass(frozen=True, slots=True)
class Doer:
    """Who does it, what day it is, and the versions that the reel may have (None: any)."""

    by: str
    today: date
    expected: frozenset[int] | None = None

    def entry(self, ask: Act) -> Entry:
        """How the rows are entered. Raises BadRequest for a day to come."""
        if ask.on is not None and ask.on > self.today:
            raise BadRequest(f"{ask.on} is still to come", "Give the day on which it was done.")
        return Entry(self.by, ask.on or self.today, ask.note)


def open_reel(session: Session, tag: str, ask: Act, doer: Doer) -> DoneOut:
    """A sealed reel stands open."""
    doer.entry(ask)
    (held,) = held_reels(session, [tag], doer.expected)
    acts.open_reel(held)
    if ask.note:
        held.reel.note = "; ".join(filter(None, (held.reel.note, ask.note)))[:400]
    return _done(session, held, f"{held.tag} is open; {held.shown(held.left)} on it")


def cut(session: Session, tag: str, ask: CutAsk, doer: Doer) -> DoneOut:
    """A piece or scrap off a reel. Raises what `acts.take` and `pieces.cut_piece` refuse."""
    entry = doer.entry(ask)
    if ask.element is not None and ask.kind == "scrap":
        raise BadRequest("scrap goes into no element", "Leave the element out, or cut a piece.")
    want = None if ask.element is None else pieces.wanted(session, ask.element, ask.piece)
    (held,) = held_reels(session, [tag], doer.expected)
    length = None if ask.length_m is None else _pitches(held, ask.length_m)
    if want is not None:
        otherwise = pieces.cut_otherwise(session, held, want, length)
        taken = pieces.cut_piece(session, held, want, length, entry, otherwise)
        said = "; ".join((_cut_for(held, taken.cut, want.name), *otherwise))
        return _done(session, held, said, [taken.cut])
    if length is None:
        raise BadRequest("how much is cut is not said", "Give the length, or the element it is for.")
    taken = acts.take(session, held, CutKind(ask.kind or "scrap"), length, entry)
    return _done(session, held, _cut_for(held, taken.cut, taken.cut.kind.value), [taken.cut])


def _cut_for(held: Held, row: Cut, what: str) -> str:
    return f"{held.shown(-row.change_pitches)} off {held.tag} for {what} ({row.number}); {_rest(held)}"


def _rest(held: Held) -> str:
    return f"{held.shown(held.left)} left"


def scrap(session: Session, tag: str, ask: ScrapAsk, doer: Doer) -> DoneOut:
    """A length, or all that is left, thrown away; a reel that is all scrap is closed."""
    entry = doer.entry(ask)
    (held,) = held_reels(session, [tag], doer.expected)
    if ask.length_m is None:
        taken = acts.scrap_rest(session, held, entry)
    else:
        taken = acts.take(session, held, CutKind.SCRAP, _pitches(held, ask.length_m), entry)
    return _done(session, held, _cut_for(held, taken.cut, "scrap"), [taken.cut])


def make_offcut(session: Session, tag: str, ask: OffcutAsk, doer: Doer) -> DoneOut:
    """A length becomes a reel of its own."""
    entry = doer.entry(ask)
    (held,) = held_reels(session, [tag], doer.expected)
    length, place = _pitches(held, ask.length_m), _place(session, ask.place)
    taken = acts.make_offcut(session, held, length, entry, ask.tag or "", place)
    assert taken.onto is not None
    said = f"{held.shown(length)} off {held.tag} are {taken.onto.tag} ({taken.cut.number}); {_rest(held)}"
    return _done(session, held, said, [taken.cut], Held(taken.onto, held.tape))


def join(session: Session, tag: str, ask: JoinAsk, doer: Doer) -> DoneOut:
    """Two reels become one."""
    entry = doer.entry(ask)
    onto, other = held_reels(session, [tag, ask.other], doer.expected)
    before = onto.left
    acts.join(session, onto, other, entry)
    rows = select(Cut).where(Cut.reel_id.in_((onto.reel.id, other.reel.id)), Cut.kind == CutKind.JOINED)
    last = session.scalars(rows.order_by(Cut.id.desc()).limit(2)).all()[::-1]
    said = f"{other.tag} is joined on to {onto.tag}, {onto.shown(before)} from its hub; {_rest(onto)}"
    return _done(session, onto, said, list(last), other)


def recount(session: Session, tag: str, ask: RecountAsk, doer: Doer) -> DoneOut:
    """A reel has the length that was measured."""
    entry = doer.entry(ask)
    (held,) = held_reels(session, [tag], doer.expected)
    before, measured_um = held.left, micrometres(ask.length_m)
    found = whole_pitches(measured_um, held.tape.pitch_um)
    row = acts.recount(session, held, found, entry, measured_um)
    said = f"{held.tag} has {held.shown(found)} as the book says"
    if row is not None:
        said = f"{held.tag} had {held.shown(before)} on the book and has {held.shown(found)} ({row.number})"
    return _done(session, held, said, [] if row is None else [row])


def take_back(session: Session, number: str, ask: BackAsk, doer: Doer) -> DoneOut:
    """A row taken back by another."""
    number = number.strip().upper()
    held, row = pieces.take_back(session, number, doer.entry(ask))
    return _done(
        session, held, f"{number} is taken back by {row.number}; {held.tag} has {_rest(held)}", [row]
    )


def settle(session: Session, number: str, ask: SettleAsk, doer: Doer) -> DoneOut:
    """A disputed row counted, or void for good."""
    number = number.strip().upper()
    held, row = pieces.settle(session, number, ask.counts, doer.entry(ask))
    how = f"is counted, as {row.number}" if ask.counts else f"is void, by {row.number}"
    return _done(session, held, f"{number} {how}; {held.tag} has {_rest(held)}", [row])


def recover(session: Session, element: str, ask: RecoverAsk, doer: Doer) -> DoneOut:
    """A struck piece back on the shelf as an offcut."""
    entry = doer.entry(ask)
    want = pieces.wanted(session, element, ask.piece)
    length = None
    if ask.length_m is not None:
        tape = pieces.tape_of(session, want)
        length = pitches_of(micrometres(ask.length_m), tape.pitch_um, tape.tag)
    offcut = pieces.Offcut(ask.tag or "", _place(session, ask.place))
    held, row = pieces.recover(session, want, length, offcut, entry)
    said = f"{want.name} is back as {held.tag}, {_rest(held)} ({row.number})"
    return _done(session, held, said, [row])


def _pitches(held: Held, length_m: float) -> int:
    return pitches_of(micrometres(length_m), held.tape.pitch_um, held.tape.tag)


def _place(session: Session, tag: str | None) -> int | None:
    return None if tag is None else find(session, Place, tag, "place").id


def reel_out(session: Session, held: Held) -> ReelOut:
    reel, tape = held.reel, held.tape
    place = None if reel.place_id is None else session.get_one(Place, reel.place_id).tag
    return ReelOut(
        tag=reel.tag,
        tape=tape.tag,
        lot=reel.lot,
        place=place,
        state=reel.state.value,
        left_pitches=reel.left_pitches,
        left_m=metres(reel.left_pitches, tape.pitch_um),
        version=reel.version,
    )


def joints_out(session: Session, held: Held) -> list[JointOut]:
    return [
        JointOut(
            from_hub_pitches=joint.from_hub_pitches,
            from_hub_m=metres(joint.from_hub_pitches, held.tape.pitch_um),
            kind=joint.kind.value,
            is_there=joint.from_hub_pitches < held.left,
            note=joint.note,
        )
        for joint in joints_of(session, held)
    ]


def _done(
    session: Session, held: Held, said: str, rows: list[Cut] | None = None, other: Held | None = None
) -> DoneOut:
    session.flush()
    of = {one.reel.id: one.tag for one in (held, other) if one is not None}
    return DoneOut(
        said=said,
        reel=reel_out(session, held),
        other=None if other is None else reel_out(session, other),
        rows=[_row(row, of[row.reel_id], held.tape.pitch_um) for row in rows or ()],
        joints=joints_out(session, held),
    )


def _row(row: Cut, reel: str, pitch_um: int) -> LedgerRowOut:
    return LedgerRowOut(
        number=row.number or "",
        reel=reel,
        kind=row.kind.value,
        change_pitches=row.change_pitches,
        change_m=metres(row.change_pitches, pitch_um),
        cut_on=row.cut_on,
        entered_by=row.entered_by,
        is_disputed=row.is_disputed,
        note=row.note,
    )


def reel_of(session: Session, tag: str) -> Held:
    """A reel to be read, not changed. Raises NotFound."""
    reel = session.scalars(select(Reel).where(Reel.tag_key == tag_key(tag))).one_or_none()
    if reel is None:
        raise NotFound(f"there is no reel {tag}", "See the list at /api/v1/reels.")
    return Held(reel, session.get_one(Tape, reel.tape_id))
