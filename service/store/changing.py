"""A thing held for a change: found by its tag, locked until the transaction ends, at the version meant."""

from typing import TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import BadRequest, NotFound, Stale
from service.store.base import Tagged, tag_key
from service.store.types import utc_now

T = TypeVar("T", bound=Tagged)


def held(session: Session, record: type[T], tag: str, expected: frozenset[int] | None, *only: object) -> T:
    """The thing with that tag. `expected`: versions the caller may change (None: any); `only`: conditions."""
    query = select(record).where(record.tag_key == tag_key(tag), *only)  # type: ignore[arg-type]
    thing = session.scalars(query.with_for_update()).one_or_none()
    if thing is None:
        raise NotFound(
            f"nothing of that kind has the tag {tag}",
            "Look for it in the list of its kind, or look its tag up.",
        )
    refuse_stale(thing.tag, thing.version, expected)
    return thing


def refuse_stale(name: str, version: int, expected: frozenset[int] | None) -> None:
    """Refuse a change that was meant for another version of the thing."""
    if expected is not None and version not in expected:
        raise Stale(f"{name} was changed since you read it", "Read it again and repeat the change.")


def find(session: Session, record: type[T], tag: str, what: str) -> T:
    """A thing that a change points to."""
    thing = session.scalars(select(record).where(record.tag_key == tag_key(tag))).one_or_none()
    if thing is None or thing.retired_on is not None:
        raise BadRequest(f"there is no {what} {tag}", f"Name a {what} that is in the store.")
    return thing


def touch(thing: Tagged) -> None:
    """Its version grows although only a row that belongs to it changed."""
    thing.changed_at = utc_now()
