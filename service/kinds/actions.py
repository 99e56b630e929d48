"""Things made, changed and taken out of use, whatever kind they are. They take a session and never commit."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import AlreadyExists, BadRequest, BadValues, InUse, NotFound
from service.kinds.kind import Kind, Values
from service.kinds.row import Row
from service.kinds.steps.walking import Stepping, Walked, Words, allow, allow_change, walked
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known
from service.kinds.writing.references import references
from service.store import listing as lists
from service.store.base import TagEntry, Tagged, tag_key, with_article
from service.store.changing import refuse_stale

Key = str | int


@dataclass(frozen=True, slots=True)
class Hand:
    """Who does it, and what day it is."""

    by: str
    today: date


def make(session: Session, kind: Kind, values: Values, hand: Hand) -> tuple[lists.Row, int]:
    """The new thing as its list answers it, and its version. Raises AlreadyExists, BadValues."""
    values = {key: value for key, value in values.items() if value is not None}
    _refuse_used_tag(session, kind, values)
    return _store(session, kind, values, hand, None)


def change(
    session: Session, kind: Kind, key: Key, values: Values, expected: frozenset[int] | None, hand: Hand
) -> tuple[lists.Row, int]:
    """The thing with those values in place of its own; None empties one. `expected`: versions it may have.

    Raises NotFound, Stale, BadValues, InUse, StepRefused.
    """
    thing, row = _held(session, kind, key, expected)
    if kind.stepping is not None:
        values = allow_change(session, kind.stepping, thing, values, hand.today)
    before = kind.values_of(row)
    merged = before | values
    merged = {name: value for name, value in merged.items() if value is not None}
    kept = frozenset(name for name, value in merged.items() if before.get(name) == value)
    return _store(session, kind, merged, hand, thing.id, kept)


def step(
    session: Session,
    kind: Kind,
    taken: tuple[Key, str],
    words: Words,
    expected: frozenset[int] | None,
    hand: Hand,
) -> tuple[lists.Row, int]:
    """The thing after a step on its path; `taken`: the thing, and where it shall stand.

    Raises NotFound, Stale, BadRequest, BadValues, StepRefused, InUse.
    """
    stepping = stepping_of(kind)
    key, to = taken
    thing, _ = _held(session, kind, key, expected)
    stands = getattr(thing, stepping.path.column)
    try:
        there = type(stands)(to.strip().lower())
    except ValueError as error:
        steps = ", ".join(stepping.path.after)
        raise BadRequest(f"{to} is no step of {_listing(kind).one}", f"The steps are {steps}.") from error
    note = allow(session, stepping, thing, there, words, hand.today)
    setattr(thing, stepping.path.column, there)
    setattr(thing, stepping.path.note, note)
    for name, value in stepping.also(thing, there, hand.today).items():
        setattr(thing, name, value)
    session.flush()
    return lists.one(session, _listing(kind), thing.tag)


def path_so_far(session: Session, kind: Kind, key: Key) -> tuple[lists.Row, list[Walked]]:
    """The thing as its list answers it, and every step of it on record. Raises NotFound, BadRequest."""
    path, listing = stepping_of(kind).path, _listing(kind)
    row, _ = lists.one(session, listing, key)
    return row, list(walked(session, path, listing.audited_as, lists.id_of(session, listing, key)))


def stepping_of(kind: Kind) -> Stepping:
    """The path that things of the kind follow. Raises BadRequest where they follow none."""
    if kind.stepping is None:
        raise BadRequest(f"{_listing(kind).one} takes no steps", "Change it instead.")
    return kind.stepping


def retire(
    session: Session, kind: Kind, key: Key, expected: frozenset[int] | None, hand: Hand
) -> tuple[lists.Row, int]:
    """The thing as it was when it was taken out of use. A tag on it is never used again; what it did stays on
    record. Raises NotFound, Stale, InUse."""
    thing, row = _held(session, kind, key, expected)
    if kind.retire is not None:
        kind.retire(session, thing, hand.today)
    if isinstance(thing, Tagged):
        thing.retired_on = thing.retired_on or hand.today
        session.flush()
        return lists.one(session, _listing(kind), thing.tag)
    belonging = frozenset(_own_tables(kind))
    in_use = references(session, type(thing), [thing.id], belonging)
    if in_use:
        raise InUse(
            f"{_called(kind, row)} is referred to by {in_use}", "Change those first, or leave it as it is."
        )
    version = thing.version
    session.delete(thing)
    session.flush()
    return row, version


def restore(session: Session, kind: Kind, key: Key, expected: frozenset[int] | None) -> tuple[lists.Row, int]:
    """A retired thing back in use, as it was before. Raises NotFound, Stale, BadRequest."""
    thing, row = _held(session, kind, key, expected)
    if not isinstance(thing, Tagged) or thing.retired_on is None:
        raise BadRequest(f"{_called(kind, row)} is not retired", "There is nothing to bring back.")
    if kind.restore is not None:
        kind.restore(session, thing)
    thing.retired_on = None
    session.flush()
    return lists.one(session, _listing(kind), thing.tag)


def _listing(kind: Kind) -> lists.Listing:
    assert kind.listing is not None
    return kind.listing


def _called(kind: Kind, row: lists.Row) -> str:
    listing = _listing(kind)
    if listing.is_tagged:
        return str(row[listing.key_name])
    return f"{listing.one.partition(' ')[2]} {row.get('name') or row['id']}"


def _own_tables(kind: Kind) -> set[str]:
    return {str(child.id.expression.table.name) for child in _listing(kind).children}


def _held(session: Session, kind: Kind, key: Key, expected: frozenset[int] | None) -> tuple[Any, lists.Row]:
    """The record, locked, and what its list answers."""
    listing = _listing(kind)
    assert kind.record is not None
    record: Any = kind.record
    number = lists.id_of(session, listing, key)
    thing = session.scalars(select(record).where(record.id == number).with_for_update()).one_or_none()
    if thing is None:
        raise NotFound(f"{key} is not there any more", f"See the list at /api/v1/{listing.plural}.")
    row, _ = lists.one(session, listing, key)
    refuse_stale(_called(kind, row), thing.version, expected)
    return thing, row


def _refuse_used_tag(session: Session, kind: Kind, values: Values) -> None:
    if kind.record is None or not issubclass(kind.record, Tagged):
        return
    tag = str(values.get(kind.identity[0], ""))
    used = session.execute(select(TagEntry.kind).where(TagEntry.key == tag_key(tag))).scalar()
    if used is not None:
        raise AlreadyExists(
            f"{tag} is or was the tag of {with_article(used)}", "A tag is never used again: choose another."
        )


def _store(
    session: Session,
    kind: Kind,
    values: Values,
    hand: Hand,
    thing_id: int | None,
    kept: frozenset[str] = frozenset(),
) -> tuple[lists.Row, int]:
    listing = _listing(kind)
    heads = {c.key: c.part or c.api_name for c in kind.columns}
    row = Row(kind.name, None, values, heads, kind.index, kind.name_of(values), thing_id=thing_id, kept=kept)
    row.needed = frozenset(c.key for c in kind.columns if c.required)
    ctx = Context(session, hand.by, hand.today, may_make=False)
    kind.load([row], ctx, Known(ctx))
    if ctx.errors:
        raise BadValues(ctx.errors)
    session.flush()
    assert kind.record is not None
    number = thing_id or ctx.stored[kind.record][-1]
    (found,) = lists.of_ids(session, listing, [number])
    return found
