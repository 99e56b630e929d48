"""What is done to reels, each act whole or not at all: opened, cut, joined, scrapped, counted, brought back.

Every act takes reels that are held (`held_reels`), refuses with the reason and the mend, and never commits.
"""

from dataclasses import dataclass

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session, aliased

from service.errors import BadQuantity, InUse, ReelTooShort, Refused, StepRefused
from service.stock.ledger.balance import too_short
from service.stock.ledger.joints import Joint, in_cut, joined, standing
from service.stock.ledger.reels import (
    Entry,
    Held,
    add_joints,
    forget_passed,
    joints_of,
    refuse_closed,
    refuse_too_short,
    write,
    write_outside,
)
from service.stock.records import Cut, CutKind, Reel, ReelJoin, ReelState
from service.store.numbers import next_tags, prefix_of
from service.units import show_um

TAKEN = frozenset({CutKind.PIECE, CutKind.SCRAP})


@dataclass(frozen=True, slots=True)
class Taken:
    """A length off a reel, and the joints inside it from its inner end; `onto`: the reel that it became."""

    cut: Cut
    joints: tuple[Joint, ...] = ()
    onto: Reel | None = None


def open_reel(held: Held) -> Reel:
    """A sealed reel stands open: tape of it is about to be cut, or was looked at."""
    if held.reel.state is not ReelState.SEALED:
        raise StepRefused(
            f"{held.tag} is {held.reel.state.value}, not sealed", "There is nothing to open; cut from it."
        )
    held.reel.state = ReelState.OPEN
    return held.reel


def take(session: Session, held: Held, kind: CutKind, pitches: int, entry: Entry) -> Taken:
    """A length off the outside, as a piece or as scrap; a sealed reel is opened by it. A joint inside is
    noted, not refused. Raises ReelTooShort, Refused, BadQuantity."""
    if kind not in TAKEN:
        raise Refused(f"nothing is taken off as {kind.value}", "Take a piece or scrap, or make an offcut.")
    came_on = held.reel.received_on
    if came_on is not None and entry.on < came_on:
        raise Refused(
            f"{held.tag} was received on {came_on}, so nothing was cut off it on {entry.on}",
            "Correct the day or the reel.",
        )
    joints = _off(session, held, pitches)
    return Taken(write(session, held, kind, -pitches, _noting(held, joints, entry)), joints)


def scrap_rest(session: Session, held: Held, entry: Entry) -> Taken:
    """What is left is scrap, and the reel with it."""
    refuse_closed(held)
    taken = take(session, held, CutKind.SCRAP, held.left, entry)
    held.reel.state = ReelState.SCRAP
    return taken


def make_offcut(
    session: Session, held: Held, pitches: int, entry: Entry, tag: str = "", place_id: int | None = None
) -> Taken:
    """A length becomes a reel of its own: same tape and lot, its joints with it, its inner end innermost. It
    lies where its parent lies unless a place is given; without a tag it takes the next free one."""
    joints = _off(session, held, pitches)
    own = tag or next_tags(session, prefix_of(held.tag))[0]
    cut = write(session, held, CutKind.OFFCUT, -pitches, _noting(held, joints, entry.saying(f"became {own}")))
    offcut = Reel(
        tag=own,
        tape_id=held.tape.id,
        lot=held.reel.lot,
        place_id=place_id or held.reel.place_id,
        state=ReelState.OFFCUT,
        left_pitches=pitches,
        parent_id=held.reel.id,
        note=entry.note,
    )
    session.add(offcut)
    session.flush()
    _open_with(session, offcut, pitches, entry)
    add_joints(session, offcut, joints)
    return Taken(cut, joints, offcut)


def join(session: Session, onto: Held, other: Held, entry: Entry) -> ReelJoin:
    """Two reels of one tape and lot become one: the other goes on outside, and is used up. The joint made and
    every joint of both are where they are from the hub. Raises Refused."""
    for held in (onto, other):
        refuse_closed(held)
        if held.reel.state is ReelState.SEALED:
            raise Refused(f"{held.tag} is sealed", "Open it first, or join another.")
    if onto.reel.id == other.reel.id:
        raise Refused(f"{onto.tag} cannot be joined to itself", "Name two reels.")
    _refuse_unlike(onto, other)
    moved, edge = other.left, onto.left
    forget_passed(session, onto)
    gained = joined(edge, standing(joints_of(session, other), moved), f"{other.tag} joined on")
    write(session, other, CutKind.JOINED, -moved, entry.saying(f"joined on to {onto.tag}"))
    write(session, onto, CutKind.JOINED, moved, entry.saying(f"{other.tag} joined on"))
    return add_joints(session, onto.reel, gained)[0]


def _refuse_unlike(onto: Held, other: Held) -> None:
    if onto.tape.id != other.tape.id:
        raise Refused(
            f"{onto.tag} is {onto.tape.tag} and {other.tag} is {other.tape.tag}",
            "Join reels of one tape and one lot.",
        )
    if not onto.reel.lot and not other.reel.lot:
        raise Refused(
            f"the lots of {onto.tag} and {other.tag} are not known, so their colours may differ",
            "Write the lot down on both first.",
        )
    if onto.reel.lot != other.reel.lot:
        one, two = (held.reel.lot or "of no known lot" for held in (onto, other))
        raise Refused(
            f"{onto.tag} is {one} and {other.tag} is {two}: their colours differ",
            "Join reels of one lot; if a lot is written down wrongly, correct it first.",
        )


def recount(
    session: Session, held: Held, measured_pitches: int, entry: Entry, measured_um: int | None = None
) -> Cut | None:
    """The reel has the length measured; the row is the difference, and none where there is none.
    `measured_um`: the figure itself, kept with the row where it is no whole number of pitches. Raises Refused
    where more is found than there can be, unless the entry's note says why."""
    if held.reel.retired_on is not None:
        refuse_closed(held)
    change = measured_pitches - held.left
    if not change:
        return None
    if change > 0 and not entry.note:
        _refuse_more_than_came(session, held, measured_pitches)
    if change > 0:
        forget_passed(session, held)
    if held.reel.state in (ReelState.SCRAP, ReelState.WRITTEN_OFF):
        held.reel.state = ReelState.USED_UP  # it is found again, and stands as its length says
    before, after = held.shown(held.left), held.shown(measured_pitches)
    found = f"{before} on the book, {after} found"
    if measured_um is not None and measured_um % held.tape.pitch_um:
        found += f", {show_um(measured_um)} measured"
    return write(session, held, CutKind.RECOUNT, change, entry.saying(found))


def _refuse_more_than_came(session: Session, held: Held, measured_pitches: int) -> None:
    of_reel = (Cut.reel_id == held.reel.id, Cut.is_disputed.is_(False))
    began = Cut.kind.in_((CutKind.OPENING, CutKind.RECEIVED))
    came = session.scalar(select(func.sum(Cut.change_pitches)).where(*of_reel, began)) or 0
    counted = session.scalar(select(func.sum(Cut.change_pitches)).where(*of_reel, *_stands_counted()))
    # A reel that came into use with less than it was received with may hold what it was received with.
    most = held.left - (counted or 0) + max(0, (held.reel.received_pitches or 0) - came)
    if measured_pitches > most:
        raise Refused(
            f"{held.shown(measured_pitches)} is more than {held.tag} can have: what came of it less what was "
            f"cut is {held.shown(most)}",
            "Measure again; if it is so, say why in a note.",
        )


def _stands_counted() -> tuple[ColumnElement[bool], ...]:
    """Of a recount that was not taken back."""
    undoing = aliased(Cut)
    is_undone = select(undoing.id).where(undoing.undoes_id == Cut.id).exists()
    return Cut.kind == CutKind.RECOUNT, Cut.undoes_id.is_(None), ~is_undone


def counted_since(session: Session, cut: Cut) -> str | None:
    """Number of the last recount of its reel that was entered after a row and stands."""
    rows = select(Cut.number).where(
        Cut.reel_id == cut.reel_id, Cut.id > cut.id, Cut.is_disputed.is_(False), *_stands_counted()
    )
    return session.scalar(rows.order_by(Cut.id.desc()).limit(1))


def counted_after(reel: str, cut: Cut, counted: str) -> tuple[str, str]:
    """Why a row cannot be taken back, with the mend: the reel was measured since, as it then was."""
    return (
        f"{reel} was counted after {cut.number}, in {counted}, so what is left of it is known",
        f"Take the recount {counted} back first.",
    )


def take_back(session: Session, held: Held, cut: Cut, entry: Entry) -> Cut:
    """A row taken back by another: what was cut lies on its reel again, as if it had never been cut. Raises
    Refused, InUse, ReelTooShort."""
    _refuse_back(session, held, cut)
    later = select(Cut.id).where(Cut.reel_id == cut.reel_id, Cut.id > cut.id, Cut.is_disputed.is_(False))
    if session.scalar(later.limit(1)) is not None:
        forget_passed(session, held)  # the tape on the outside is no longer what was cut then
    if held.reel.state in (ReelState.SCRAP, ReelState.WRITTEN_OFF):
        held.reel.state = ReelState.USED_UP
    kind = CutKind.RETURNED if cut.change_pitches < 0 else CutKind.RECOUNT
    if cut.change_pitches > held.left:
        raise ReelTooShort(
            too_short(held.tag, held.left, cut.change_pitches, held.tape.pitch_um),
            f"Take back first what was cut off {held.tag} since {cut.number}.",
        )
    return write(session, held, kind, -cut.change_pitches, entry, undoes=cut)


def _refuse_back(session: Session, held: Held, cut: Cut) -> None:
    name = cut.number or "that row"
    if held.reel.retired_on is not None:
        refuse_closed(held)
    by = undone_by(session, cut)
    if by is not None:
        raise Refused(f"{name} is taken back already, by {by}", "There is nothing left to take back.")
    if cut.is_disputed:
        raise Refused(f"{name} is disputed: nothing was taken off for it", "Settle it: void it, or count it.")
    if cut.number is None:
        raise InUse(f"it is the row that {held.tag} came with", "Undo its delivery, or recount the reel.")
    if cut.undoes_id is not None:
        raise Refused(f"{name} took another row back", "Enter the cut again instead.")
    if cut.kind is CutKind.OFFCUT:
        raise InUse(f"{name} made an offcut, which is a reel of its own", "Join the offcut back on instead.")
    if cut.kind is CutKind.JOINED:
        raise InUse(f"{name} joined two reels", "Cut them apart again: make an offcut.")
    counted = counted_since(session, cut)
    if counted is not None:
        raise Refused(*counted_after(held.tag, cut, counted))


def undone_by(session: Session, cut: Cut) -> str | None:
    """Number of the row that takes one back."""
    return session.scalar(select(Cut.number).where(Cut.undoes_id == cut.id).limit(1))


def void(session: Session, held: Held, cut: Cut, entry: Entry) -> Cut:
    """A disputed row is void for good: a row outside the balance, too, takes it back and says why."""
    refuse_settled(session, cut)
    if not entry.note:
        raise BadQuantity(f"why {cut.number} is void is not said", "Say why in a few words.")
    kind = CutKind.RETURNED if cut.change_pitches < 0 else CutKind.RECOUNT
    return write_outside(session, held, kind, -cut.change_pitches, entry.saying("void"), undoes=cut)


def count(session: Session, held: Held, cut: Cut, entry: Entry, twin: str | None = None) -> Cut:
    """A disputed row is counted after all: it is voided, and stands again inside the balance with the day it
    was done. `twin`: the row that it repeats, named in the mend. Raises ReelTooShort."""
    refuse_settled(session, cut)
    left = held.left + cut.change_pitches
    if left < 0:
        also = f" if it is a second entry of {twin}, or take {twin} back" if twin else ", or recount the reel"
        raise ReelTooShort(
            f"counted, {cut.number} would leave {held.tag} at {held.shown(left)}: it has "
            f"{held.shown(held.left)} left and {cut.number} takes {held.shown(-cut.change_pitches)}",
            f"Void {cut.number}{also}.",
        )
    if twin is not None:
        raise Refused(
            f"{cut.number} and {twin} are both for one piece",
            f"Void {cut.number}, or take {twin} back first.",
        )
    kind = CutKind.RETURNED if cut.change_pitches < 0 else CutKind.RECOUNT
    write_outside(session, held, kind, -cut.change_pitches, entry.saying("counted after all"), undoes=cut)
    done = Entry(cut.entered_by, cut.cut_on, f"was {cut.number}, disputed; counted by {entry.by}")
    return write(session, held, cut.kind, cut.change_pitches, done)


def refuse_settled(session: Session, cut: Cut) -> None:
    if not cut.is_disputed:
        raise Refused(f"{cut.number or 'that row'} is not disputed", "There is nothing to settle.")
    if cut.undoes_id is not None or (by := undone_by(session, cut)) is not None:
        by = cut.number if cut.undoes_id is not None else by
        raise Refused(f"{cut.number} was settled already, by {by}", "There is nothing left to settle.")


def _off(session: Session, held: Held, pitches: int) -> tuple[Joint, ...]:
    """The joints inside a length that can be cut off the reel."""
    refuse_closed(held)
    if pitches < 1:
        raise BadQuantity("it says nothing was cut", "Give the length.")
    refuse_too_short(session, held, pitches)
    return tuple(in_cut(joints_of(session, held), held.left, pitches))


def _noting(held: Held, joints: tuple[Joint, ...], entry: Entry) -> Entry:
    if not joints:
        return entry
    where = ", ".join(held.shown(joint.from_hub_pitches) for joint in joints)
    return entry.saying(f"a joint inside, {where} from its inner end")


def _open_with(session: Session, reel: Reel, pitches: int, entry: Entry) -> None:
    """The row that a new reel comes with; it has no number."""
    opening = CutKind.OPENING
    session.add(
        Cut(
            reel_id=reel.id, kind=opening, change_pitches=pitches, cut_on=entry.on, entered_by=entry.by
        )
    )  # fmt: skip
    session.flush()
