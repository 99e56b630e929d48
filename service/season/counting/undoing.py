"""Differences that were accepted taken back: the book is as it was before, and they differ again. By the
record of what that one act changed; a row of the ledger is taken back by a row. Takes a session and never
commits."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import RefusedTags, RowError, ServiceError
from service.season.counting.records import Outcome, Stocktake, StocktakeLine
from service.season.counting.settling import Settled, held_reels_of, held_units_of, lines_named
from service.season.counting.taking import Hand, moved, opened
from service.season.counting.things import things_named
from service.season.issuing.standing import holds_standing, out_with
from service.season.records import Hold
from service.stock.gear import Unit, UnitState
from service.stock.ledger.acts import take_back
from service.stock.ledger.reels import Entry, Held
from service.stock.records import Cut, Reel, ReelState
from service.stock.wording import words
from service.store.audit import AuditEntry, person, plain
from service.store.base import tag_key

Thing = Unit | Reel
# What accepting a difference writes of a thing itself.
OF_UNIT = ("state", "state_note", "seen_place_id", "seen_on", "where_note")
OF_REEL = ("state", "place_id", "left_pitches")


@dataclass(frozen=True, slots=True)
class _Act:
    """A difference accepted, by the record: what the line was before, and the thing before and after."""

    outcome: Outcome
    before: dict[str, Any]
    after: dict[str, Any]
    hold: Hold | None
    cut: Cut | None


def undo(session: Session, name: str, tags: Sequence[str], hand: Hand, each: bool = False) -> Settled:
    """As it was before those differences were accepted, by tag: place, state, length, out or back. All or
    none, unless `each`. Raises NotFound, StepRefused, RefusedTags: nothing to take back, or changed by
    somebody since."""
    ground = opened(session, name)
    lines, errors = lines_named(session, ground, tags, (Outcome.ACCEPTED,))
    keys = [line.thing_key for line in lines]
    units = {unit.tag_key: unit for unit in held_units_of(session, keys).values()}
    reels = {held.reel.tag_key: held for held in held_reels_of(session, keys).values()}
    places = {tag_key(tag): n for n, tag in enumerate(tags)}
    done = []
    for line in lines:
        held = reels.get(line.thing_key)
        thing: Thing = units[line.thing_key] if held is None else held.reel
        act = _act(session, line, thing)
        why = _why_not(session, thing, act)
        if why is None and act is not None:
            why = _put_back(session, thing, held, act, ground.stocktake, hand)
        if why is not None or act is None:
            errors.append(RowError("", places.get(line.thing_key, 0), "tags", *(why or _unknown(thing))))
            continue
        line.outcome = act.outcome
        done.append(line)
    if errors and not each:
        raise RefusedTags(errors, "nothing was taken back")
    moved(ground.stocktake)
    session.flush()
    things = things_named(session, [line.thing_key for line in done], hand.day)
    for line in done:  # the book stands again as it was counted against
        line.book_version = things[line.thing_key].version
    session.flush()
    return Settled(tuple(done), tuple(errors))


def _act(session: Session, line: StocktakeLine, thing: Thing) -> _Act | None:
    settled = [
        entry
        for entry in _entries(session, StocktakeLine.__tablename__, line.id)
        if (entry.after or {}).get("outcome") == Outcome.ACCEPTED.value and entry.before
    ]
    if not settled:
        return None
    last = settled[-1]
    before: dict[str, Any] = {}
    after: dict[str, Any] = {}
    for entry in _entries(session, type(thing).__tablename__, thing.id):
        if entry.at == last.at and entry.what == "changed":
            before = (entry.before or {}) | before
            after |= entry.after or {}
    assert last.before is not None
    outcome = Outcome(last.before["outcome"])
    if isinstance(thing, Unit):
        return _Act(outcome, before, after, _hold(session, thing, last), None)
    return _Act(outcome, before, after, None, _cut(session, thing, last))


def _entries(session: Session, kind: str, thing_id: int) -> list[AuditEntry]:
    """What is on record of it, oldest first."""
    query = select(AuditEntry).where(AuditEntry.kind == kind, AuditEntry.thing_id == thing_id)
    return list(session.scalars(query.order_by(AuditEntry.id)))


def _hold(session: Session, unit: Unit, of_line: AuditEntry) -> Hold | None:
    """The hold that was ended with it."""
    query = select(Hold).where(Hold.unit_id == unit.id, Hold.returned_on.is_not(None)).with_for_update()
    for hold in session.scalars(query):
        for entry in _entries(session, Hold.__tablename__, hold.id):
            if entry.at == of_line.at and "returned_on" in (entry.after or {}):
                return hold
    return None


def _cut(session: Session, reel: Reel, of_line: AuditEntry) -> Cut | None:
    """The recount that was entered with it."""
    query = select(AuditEntry.thing_id).where(
        AuditEntry.kind == Cut.__tablename__, AuditEntry.at == of_line.at, AuditEntry.what == "made"
    )
    return session.scalars(select(Cut).where(Cut.id.in_(query), Cut.reel_id == reel.id)).first()


def _why_not(session: Session, thing: Thing, act: _Act | None) -> tuple[str, str] | None:
    """Why it cannot be taken back, and what to do instead."""
    if act is None:
        return _unknown(thing)
    names = OF_UNIT if isinstance(thing, Unit) else OF_REEL
    since = [n for n in names if n in act.after and not _same(plain(getattr(thing, n)), act.after[n])]
    if since:
        last = _entries(session, type(thing).__tablename__, thing.id)[-1]
        by = f" by {who}" if (who := person(last.by)) else ""
        return f"{thing.tag} was changed{by} since: {words(since)}", f"Count {thing.tag} again."
    if act.hold is not None:
        out = out_with(holds_standing(session, [thing.id]).get(thing.id, []), date.max)
        if out is not None and out.issued_on is not None:
            return f"{thing.tag} went out to {out.code} since, on {out.issued_on}", "Take that back first."
    return None


def _unknown(thing: Thing) -> tuple[str, str]:
    return f"nothing on record says what {thing.tag} was before", f"Count {thing.tag} again."


def _same(now: Any, then: Any) -> bool:
    return str(now.value if isinstance(now, StrEnum) else now) == str(then)


def _put_back(
    session: Session, thing: Thing, held: Held | None, act: _Act, stocktake: Stocktake, hand: Hand
) -> tuple[str, str] | None:
    """The thing as it was; why not, where the ledger refuses."""
    if act.cut is not None and held is not None:
        note = f"{stocktake.number}, taken back"
        try:
            take_back(session, held, act.cut, Entry(hand.by, hand.day, note))
        except ServiceError as error:
            return error.message, error.mend
    names = OF_UNIT if isinstance(thing, Unit) else ("state", "place_id")
    for name in names:
        if name in act.before:
            setattr(thing, name, _stored(thing, name, act.before[name]))
    if act.hold is not None:
        act.hold.returned_on, act.hold.returned_by = None, ""
    return None


def _stored(thing: Thing, name: str, value: Any) -> Any:
    """A value as it was before it went on record."""
    if value is None:
        return None
    if name == "state":
        return UnitState(value) if isinstance(thing, Unit) else ReelState(value)
    return date.fromisoformat(value) if name == "seen_on" else value
