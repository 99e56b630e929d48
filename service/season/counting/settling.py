"""What differs from the book is accepted, and the book put right, or left to look for. What changed since it
was counted is counted again first: nothing is overwritten unseen. Takes a session and never commits."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import BookChanged, RefusedTags, RowError
from service.season.counting.records import Outcome, StocktakeLine
from service.season.counting.taking import BAD, Ground, Hand, moved, opened
from service.season.counting.things import Thing, read_places, things_named
from service.season.records import Hold
from service.stock.gear import Unit, UnitState
from service.stock.ledger.acts import recount
from service.stock.ledger.reels import Entry, Held, held_by_id
from service.stock.records import Reel, ReelState
from service.stock.wording import words_now
from service.store.audit import AuditEntry, person
from service.store.base import tag_key

UNSETTLED = (Outcome.DIFFERS, Outcome.TO_LOOK_FOR)
_SAID = {
    Outcome.TO_COUNT: "is still to count",
    Outcome.AGREES: "agrees with the book",
    Outcome.DIFFERS: "differs",
    Outcome.ACCEPTED: "is accepted already",
    Outcome.TO_LOOK_FOR: "is on the list of what to look for already",
}


@dataclass(frozen=True, slots=True)
class Settled:
    """Lines that were settled, and those that were left and why."""

    lines: tuple[StocktakeLine, ...]
    refused: tuple[RowError, ...]


def accept(session: Session, name: str, tags: Sequence[str], hand: Hand, each: bool = False) -> Settled:
    """The book is put right by what was counted: place, state, length (a recount in the ledger), out or back;
    what was not found is missing, a reel written off. All differences where no tag is given. All or none,
    unless `each`.

    Raises NotFound, StepRefused, RefusedTags, BookChanged: with what changed since the count, and by whom.
    """
    ground = opened(session, name)
    lines, errors = lines_named(session, ground, tags, UNSETTLED)
    keys = [line.thing_key for line in lines]
    units, reels = held_units_of(session, keys), held_reels_of(session, keys)
    things = things_named(session, keys, hand.day)
    sound = []
    changed: list[RowError] = []
    places = {tag_key(tag): n for n, tag in enumerate(tags)}
    for n, line in enumerate(lines):
        why = _changed_since(session, line, things[line.thing_key], hand.day)
        if why is None:
            sound.append(line)
        else:
            changed.append(RowError("", places.get(line.thing_key, n), "tags", *why))
    if changed and not each:
        raise BookChanged([*changed, *errors], "nothing was accepted")
    if errors and not each:
        raise RefusedTags(errors, "nothing was accepted")
    for line in sound:
        thing = things[line.thing_key]
        if thing.is_reel:
            _put_reel_right(session, reels[thing.id], line, ground, hand)
        else:
            _put_unit_right(session, units[thing.id], thing, line, ground, hand)
        line.outcome = Outcome.ACCEPTED
    moved(ground.stocktake)
    session.flush()
    return Settled(tuple(sound), tuple(changed + errors))


def look_for(session: Session, name: str, tags: Sequence[str], each: bool = False) -> Settled:
    """Differences that are not believed yet: the book stays, and they are on the list of what to look for.
    Raises NotFound, StepRefused, RefusedTags."""
    ground = opened(session, name)
    lines, errors = lines_named(session, ground, tags, (Outcome.DIFFERS,))
    if errors and not each:
        raise RefusedTags(errors, "nothing was changed")
    for line in lines:
        line.outcome = Outcome.TO_LOOK_FOR
    moved(ground.stocktake)
    session.flush()
    return Settled(tuple(lines), tuple(errors))


def lines_named(
    session: Session, ground: Ground, tags: Sequence[str], wanted: Sequence[Outcome]
) -> tuple[list[StocktakeLine], list[RowError]]:
    """The lines of those tags that stand at one of those outcomes; without tags every difference, of those
    that can differ. And why others are left out."""
    query = select(StocktakeLine).where(StocktakeLine.stocktake_id == ground.stocktake.id)
    if not tags and Outcome.DIFFERS in wanted:
        rows = query.where(StocktakeLine.outcome == Outcome.DIFFERS).order_by(StocktakeLine.id)
        return list(session.scalars(rows.with_for_update())), []
    keys = list(dict.fromkeys(tag_key(tag) for tag in tags))
    found = {
        line.thing_key: line
        for line in session.scalars(query.where(StocktakeLine.thing_key.in_(keys)).with_for_update())
    }
    lines, errors = [], []
    for n, key in enumerate(keys):
        line = found.get(key)
        if line is not None and line.outcome in wanted:
            lines.append(line)
            continue
        said = _SAID[line.outcome] if line is not None else f"is not in {ground.stocktake.number}"
        mend = "Count it first." if line is None or line.outcome is Outcome.TO_COUNT else "Leave it out."
        left = "take back" if Outcome.ACCEPTED in wanted else "settle"
        errors.append(RowError("", n, "tags", f"{tags[n].strip()} {said}: there is nothing to {left}", mend))
    return lines, errors


def held_units_of(session: Session, keys: Sequence[str]) -> dict[int, Unit]:
    """Held until the transaction ends, in the order of their numbers; reels are held by their ledger."""
    query = select(Unit).where(Unit.tag_key.in_(keys)).order_by(Unit.id).with_for_update()
    units = session.scalars(query.execution_options(populate_existing=True))
    return {unit.id: unit for unit in units}


def held_reels_of(session: Session, keys: Sequence[str]) -> dict[int, Held]:
    ids = session.scalars(select(Reel.id).where(Reel.tag_key.in_(keys))).all()
    return {held.reel.id: held for held in held_by_id(session, ids)} if ids else {}


def _changed_since(session: Session, line: StocktakeLine, thing: Thing, day: date) -> tuple[str, str] | None:
    """What the book says otherwise than when the line was counted, and who wrote it."""
    if not line.is_found and thing.is_away(day) and thing.out is not None:
        return f"{thing.tag} {thing.out.said(day)} by now", f"Count {thing.tag} again."
    if thing.version == line.book_version:
        return None
    kind = Reel.__tablename__ if thing.is_reel else Unit.__tablename__
    query = select(AuditEntry).where(AuditEntry.kind == kind, AuditEntry.thing_id == thing.id)
    if line.counted_at is not None:
        query = query.where(AuditEntry.at >= line.counted_at)
    entries = session.scalars(query.order_by(AuditEntry.id)).all()
    by = " and ".join(dict.fromkeys(person(entry.by) or "somebody" for entry in entries)) or "somebody"
    what: dict[str, Any] = {}
    for entry in entries:
        what |= entry.after or {}
    said = words_now(dict(sorted(what.items())), read_places(session).tags, thing.pitch_um)
    return (
        f"{thing.tag} was changed by {by} since it was counted" + (f": {said}" if said else ""),
        f"Count {thing.tag} again.",
    )


def _put_unit_right(
    session: Session, unit: Unit, thing: Thing, line: StocktakeLine, ground: Ground, hand: Hand
) -> None:
    number = ground.stocktake.number
    if not line.is_found:
        unit.state = UnitState.MISSING
        said = f"not found at {ground.place}, {number}"
        unit.state_note = "; ".join(filter(None, (said, line.note)))[:400]
        return
    if thing.is_away(hand.day) and thing.out is not None:
        hold = session.get_one(Hold, thing.out.hold_id)
        hold.returned_on, hold.returned_by = hand.day, hand.by
    if line.found_state != unit.state.value:
        unit.state = UnitState(line.found_state)
        unit.state_note = line.note if unit.state in BAD else ""
    if thing.place_id not in ground.inside:
        at_home = unit.home_id if unit.home_id in ground.inside else None
        unit.seen_place_id = at_home or ground.stocktake.place_id
    unit.seen_on, unit.where_note = hand.day, ""


def _put_reel_right(session: Session, held: Held, line: StocktakeLine, ground: Ground, hand: Hand) -> None:
    entry = Entry(hand.by, hand.day, "; ".join(filter(None, (str(ground.stocktake.number), line.note)))[:400])
    if not line.is_found:
        recount(session, held, 0, entry)
        held.reel.state = ReelState.WRITTEN_OFF
        return
    if line.found_pitches is not None:
        recount(session, held, line.found_pitches, entry)
    if held.left and line.found_state != line.book_state:
        held.reel.state = ReelState(line.found_state)
    if held.reel.place_id not in ground.inside:
        held.reel.place_id = ground.stocktake.place_id
