"""Every change leaves a row: who, when, what, before, after. Written by the session itself, so no action
can forget it. Tags of new things are entered in the tag register at the same moment."""

from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, Index, String, insert, inspect, select
from sqlalchemy.orm import Mapped, Session, mapped_column
from sqlalchemy.orm.attributes import instance_state

from service.store.base import Base, Stored, TagEntry, Tagged, tag_key
from service.store.types import UtcDateTime, utc_now

SILENT = frozenset({"version", "created_at", "changed_at", "tag_key"})
NOBODY = "page"  # whose name stands on what was done on a page by somebody who gave none
TOUCHED = "touched"  # only its version grew, because a row that belongs to it changed; no change of its own


class AuditEntry(Base):
    """One change of one stored thing."""

    __tablename__ = "audit"
    __table_args__ = (Index("ix_audit_kind_thing_id", "kind", "thing_id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[datetime] = mapped_column(UtcDateTime, default=utc_now, index=True)
    by: Mapped[str] = mapped_column(String(80))
    what: Mapped[str] = mapped_column(String(12))  # made, changed, removed, touched
    kind: Mapped[str] = mapped_column(String(40))
    thing_id: Mapped[int | None]
    tag: Mapped[str | None] = mapped_column(String(80))
    before: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    after: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))


def person(by: str | None) -> str:
    """Who did something, for people to read; nothing where nobody gave a name.

    >>> person("A. Electrician"), person("page")
    ('A. Electrician', '')
    """
    return "" if by is None or by == NOBODY else by


def plain(value: Any) -> Any:
    """A value as JSON can hold it."""
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, date):  # datetime too
        return value.isoformat()
    return value


def register_tags(session: Session, things: Iterable[tuple[str, str]]) -> None:
    """Enter (tag, kind) pairs in the register; the database refuses a tag used before."""
    rows = [{"key": tag_key(tag), "tag": tag, "kind": kind} for tag, kind in things]
    if rows:
        session.connection().execute(insert(TagEntry), rows)


def record(session: Session, what: str, kind: str, rows: Iterable[dict[str, Any]]) -> None:
    """Audit rows for a bulk write that the session did not see: each row has thing_id, tag, before, after."""
    by, at = session.info.get("by", ""), utc_now()
    entries = [
        {"at": at, "by": by, "what": what, "kind": kind, "thing_id": None, "tag": None, "before": None,
         "after": None} | {k: _plain_dict(v) if isinstance(v, dict) else v for k, v in row.items()}
        for row in rows
    ]  # fmt: skip
    if entries:
        session.connection().execute(insert(AuditEntry), entries)


def _plain_dict(values: dict[str, Any]) -> dict[str, Any]:
    return {k: plain(v) for k, v in values.items()}


def _columns(thing: Any) -> dict[str, Any]:
    return {
        attr.key: plain(getattr(thing, attr.key))
        for attr in inspect(type(thing)).column_attrs
        if attr.key not in SILENT
    }


def _changes(session: Session, thing: Any) -> tuple[dict[str, Any], dict[str, Any]]:
    before: dict[str, Any] = {}
    after: dict[str, Any] = {}
    unread = []
    for attr in inspect(type(thing)).column_attrs:
        if attr.key in SILENT:
            continue
        history = instance_state(thing).attrs[attr.key].history
        if history.has_changes():
            before[attr.key] = plain(history.deleted[0]) if history.deleted else None
            after[attr.key] = plain(history.added[0]) if history.added else None
            if not history.deleted:
                unread.append(attr)
    if unread:  # set without having been read: what it was is only in the database
        record: Any = type(thing)
        # A kind of gear keeps its figures in two tables, which belong together row by row.
        rows = inspect(record).selectable
        own = select(*(attr.expression.label(attr.key) for attr in unread)).select_from(rows)
        was = session.connection().execute(own.where(record.id == thing.id)).one()
        before.update(_plain_dict(dict(was._mapping)))
    return before, after


def before_flush(session: Session, _context: Any, _instances: Any) -> None:
    """Register new tags and note what is about to change, while the old values are still known."""
    fresh: list[tuple[str, str]] = []
    for thing in session.new:
        if isinstance(thing, Tagged):
            thing.tag = thing.tag.strip()
            thing.tag_key = tag_key(thing.tag)
            fresh.append((thing.tag, thing.KIND))
    register_tags(session, fresh)
    notes = session.info.setdefault("audit", [])
    for thing in session.dirty:
        if isinstance(thing, Stored) and session.is_modified(thing):
            before, after = _changes(session, thing)
            notes.append((thing, "changed", before, after) if after else (thing, TOUCHED, None, None))
    notes.extend(
        (thing, "removed", _columns(thing), None) for thing in session.deleted if isinstance(thing, Stored)
    )
    notes.extend((thing, "made", None, None) for thing in session.new if isinstance(thing, Stored))


def after_flush(session: Session, _context: Any) -> None:
    """Write the audit rows of this flush; new things have their ids by now."""
    notes = session.info.pop("audit", [])
    by, at = session.info.get("by", ""), utc_now()
    rows = [
        {
            "at": at,
            "by": by,
            "what": what,
            "kind": type(thing).__tablename__,
            "thing_id": thing.id,
            "tag": getattr(thing, "tag", None),
            "before": before,
            "after": _columns(thing) if what == "made" else after,
        }
        for thing, what, before, after in notes
    ]
    if rows:
        session.connection().execute(insert(AuditEntry), rows)
