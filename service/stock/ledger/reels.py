"""Reels held for a change, and rows written to their ledger: balance, state and row together."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import NotFound, ReelTooShort, Refused
from service.stock.ledger.balance import CLOSED, state_after, too_short
from service.stock.ledger.joints import Joint
from service.stock.records import Cut, CutKind, Reel, ReelJoin, Tape
from service.store.base import tag_key
from service.store.changing import refuse_stale
from service.store.numbers import next_numbers
from service.units import show_um


@dataclass(frozen=True, slots=True)
class Entry:
    """How a row is entered: who, the day it was done, and anything to know."""

    by: str
    on: date
    note: str = ""

    def saying(self, text: str) -> "Entry":
        """The same, with the words of the act before what the person said."""
        return Entry(self.by, self.on, "; ".join(filter(None, (text, self.note)))[:400])


@dataclass(frozen=True, slots=True)
class Held:
    """A reel locked until the transaction ends, and its tape."""

    reel: Reel
    tape: Tape

    @property
    def tag(self) -> str:
        return self.reel.tag

    @property
    def left(self) -> int:
        """Whole cut pitches left."""
        return self.reel.left_pitches

    def shown(self, pitches: int) -> str:
        return show_um(pitches * self.tape.pitch_um)


def held_reels(
    session: Session, tags: Sequence[str], expected: frozenset[int] | None = None
) -> tuple[Held, ...]:
    """The reels of those tags, in their order, locked in the order of their ids so that two who want the same
    two cannot wait for each other. `expected`: versions the first may have. Raises NotFound, Stale."""
    keys = [tag_key(tag) for tag in tags]
    ids = session.scalars(select(Reel.id).where(Reel.tag_key.in_(keys))).all()
    by_key = {held.reel.tag_key: held for held in held_by_id(session, ids)}
    for tag, key in zip(tags, keys, strict=True):
        if key not in by_key:
            raise NotFound(f"there is no reel {tag}", "See the list at /api/v1/reels.")
    first = by_key[keys[0]].reel
    refuse_stale(first.tag, first.version, expected)
    return tuple(by_key[key] for key in keys)


def held_by_id(session: Session, ids: Iterable[int]) -> list[Held]:
    """The same by their numbers in the store, in the order of those."""
    query = select(Reel).where(Reel.id.in_(set(ids))).order_by(Reel.id).with_for_update()
    reels = session.scalars(query.execution_options(populate_existing=True)).all()
    tapes = {
        tape.id: tape for tape in session.scalars(select(Tape).where(Tape.id.in_({r.tape_id for r in reels})))
    }
    return [Held(reel, tapes[reel.tape_id]) for reel in reels]


def refuse_closed(held: Held) -> None:
    """Nothing is cut from or joined to a reel that is scrapped, used up, written off or retired."""
    reel = held.reel
    if reel.retired_on is not None:
        raise Refused(f"{reel.tag} was retired on {reel.retired_on}", "Bring it back first, or name another.")
    if reel.state in CLOSED:
        raise Refused(
            f"{reel.tag} is {reel.state.value}",
            "Name another reel; if tape is left on it after all, recount it.",
        )


def refuse_too_short(session: Session, held: Held, pitches: int) -> None:
    """Raises ReelTooShort, with the reel of the same tape that would lose least by it."""
    if pitches <= held.left:
        return
    others = (
        select(Reel.tag, Reel.lot, Reel.left_pitches)
        .where(
            Reel.tape_id == held.tape.id,
            Reel.id != held.reel.id,
            Reel.left_pitches >= pitches,
            Reel.retired_on.is_(None),
            Reel.state.not_in(CLOSED),
        )
        .order_by(Reel.lot != held.reel.lot, Reel.left_pitches, Reel.tag_key)
    )
    other = session.execute(others.limit(1)).first()
    mend = f"Recount {held.tag} if it looks longer; no other reel of {held.tape.tag} is long enough."
    if other is not None:
        lot = f", lot {other.lot}" if other.lot else ""
        there = f"{other.tag} ({held.shown(other.left_pitches)} left{lot})"
        mend = f"Take it from {there}, or recount {held.tag}."
    raise ReelTooShort(too_short(held.tag, held.left, pitches, held.tape.pitch_um), mend)


def write(
    session: Session, held: Held, kind: CutKind, change_pitches: int, entry: Entry, undoes: Cut | None = None
) -> Cut:
    """One row with the next number, the balance moved by it and the state that follows."""
    held.reel.left_pitches += change_pitches
    held.reel.state = state_after(held.reel.state, held.left, held.reel.parent_id is not None)
    return write_outside(session, held, kind, change_pitches, entry, undoes, is_disputed=False)


def write_outside(
    session: Session,
    held: Held,
    kind: CutKind,
    change_pitches: int,
    entry: Entry,
    undoes: Cut | None = None,
    is_disputed: bool = True,
) -> Cut:
    """One row that leaves the balance alone."""
    cut = Cut(
        reel_id=held.reel.id,
        number=next_numbers(session, Cut.number, "K")[0],
        kind=kind,
        change_pitches=change_pitches,
        cut_on=entry.on,
        entered_by=entry.by,
        is_disputed=is_disputed,
        undoes_id=None if undoes is None else undoes.id,
        note=entry.note,
    )
    session.add(cut)
    session.flush()
    return cut


def joints_of(session: Session, held: Held) -> list[Joint]:
    """Every joint on record of a reel, also those that the cuts have passed."""
    rows = session.scalars(select(ReelJoin).where(ReelJoin.reel_id == held.reel.id))
    return sorted(Joint(row.from_hub_pitches, row.kind, row.note) for row in rows)


def add_joints(session: Session, reel: Reel, joints: Iterable[Joint]) -> list[ReelJoin]:
    made = [
        ReelJoin(reel_id=reel.id, from_hub_pitches=j.from_hub_pitches, kind=j.kind, note=j.note)
        for j in joints
    ]
    session.add_all(made)
    session.flush()
    return made


def forget_passed(session: Session, held: Held) -> None:
    """Take out joints that the cuts have passed: tape that is added where they were does not have them."""
    passed = select(ReelJoin).where(ReelJoin.reel_id == held.reel.id, ReelJoin.from_hub_pitches >= held.left)
    for row in session.scalars(passed):
        session.delete(row)
    session.flush()
