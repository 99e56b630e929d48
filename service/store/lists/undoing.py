"""A batch taken back whole: everything that one transaction wrote, told back from the record of changes.

What was made in it goes, what was changed in it is as it was before, what was taken out stands again. It is
refused as soon as anybody has built on it: then there is more to undo than the batch.
"""

from collections import defaultdict
from collections.abc import Sequence, Set
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast

from sqlalchemy import Table, delete, insert, select, update
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Mapper, Session

from service.errors import InUse, NotFound
from service.store.audit import TOUCHED, AuditEntry, person, record
from service.store.base import Base, Stored, TagEntry, tag_key
from service.store.lists.past import typed
from service.store.types import utc_now

Values = dict[str, Any]
Key = tuple[str, int]  # the table of a thing and its number there
MANY = 500  # numbers in one statement


@dataclass(frozen=True, slots=True)
class Undone:
    """How many things went again, and how many are as they were before."""

    gone: int
    restored: int


class _Batch:
    """What one transaction did to each thing: made it, took it out, or changed it from what."""

    def __init__(self, entries: Sequence[AuditEntry]) -> None:
        self.made: dict[tuple[str, int], AuditEntry] = {}
        self.removed: dict[tuple[str, int], AuditEntry] = {}
        self.before: dict[tuple[str, int], Values] = defaultdict(dict)
        self.tags: list[str] = []
        self.gone: set[tuple[str, int]] = set()  # what did not stand any more when it was done
        for entry in entries:
            if entry.thing_id is None or entry.what == TOUCHED:
                continue
            key = (entry.kind, entry.thing_id)
            (self.gone.add if entry.what == "removed" else self.gone.discard)(key)
            if entry.what == "made":
                self.made[key] = entry
                self.tags += [entry.tag] if entry.tag else []
            elif entry.what == "removed":
                if self.made.pop(key, None) is None:
                    self.removed[key] = entry
            elif key not in self.made:
                self.before[key] = (entry.before or {}) | self.before[key]
        self.last = max(entry.id for entry in entries)
        self.things: set[tuple[str, int]] = {
            (entry.kind, entry.thing_id) for entry in entries if entry.thing_id is not None
        }


def undo(session: Session, at: datetime, by: str) -> Undone:
    """Take back what was written at that instant under that name. The session is one that is writing.

    Raises NotFound where nothing was, and InUse where somebody has changed or used any of it since.
    """
    asked = select(AuditEntry).where(AuditEntry.at == at, AuditEntry.by == by).order_by(AuditEntry.id)
    entries = session.scalars(asked).all()
    if not entries:
        raise NotFound("nothing is on record of that batch", "It may have been taken back already.")
    batch = _Batch(entries)
    _refuse_changed_since(session, batch)
    try:
        _take_out(session, batch)
        _put_back(session, batch)
        _change_back(session, batch)
    except IntegrityError as error:
        raise InUse(
            "something that was entered since rests on what came in then",
            "Take that out first, or retire what should go one by one.",
        ) from error
    return Undone(len(batch.made), len(batch.removed) + len(batch.before))


def _refuse_changed_since(session: Session, batch: _Batch) -> None:
    for entries in otherwise_since(session, batch.things, batch.last, batch.gone).values():
        raise InUse(
            f"{entries[0].tag or 'something of it'} was changed since, by "
            f"{person(entries[-1].by) or 'somebody'}",
            "If a later batch changed it, take that batch back first. Else change it back, or retire what "
            "should go.",
        )


def otherwise_since(
    session: Session, things: Set[Key], last: int, gone: Set[Key] = frozenset()
) -> dict[Key, list[AuditEntry]]:
    """Of these things, those that are not as the change on record under the number `last` left them, with
    what was written of them since; `gone`: those that it left out. What was changed since and is by now as it
    was left stands in nobody's way."""
    asked = (
        select(AuditEntry)
        .where(
            AuditEntry.id > last,
            AuditEntry.kind.in_({kind for kind, _ in things}),
            AuditEntry.what != TOUCHED,
        )
        .order_by(AuditEntry.id)
    )
    later: dict[Key, list[AuditEntry]] = defaultdict(list)
    for entry in session.scalars(asked):
        if entry.thing_id is not None and (entry.kind, entry.thing_id) in things:
            later[entry.kind, entry.thing_id].append(entry)
    return {key: entries for key, entries in later.items() if _is_otherwise(entries, key in gone)}


def _is_otherwise(entries: Sequence[AuditEntry], was_gone: bool) -> bool:
    """Whether a thing is not, after these, what it was before them."""
    is_gone = entries[-1].what == "removed"
    return is_gone != was_gone or (not is_gone and bool(columns_otherwise(entries)))


def columns_otherwise(entries: Sequence[AuditEntry]) -> list[str]:
    """The columns of a thing that do not hold, after these, what they held before them."""
    first: Values = {}
    now: Values = {}
    for entry in entries:
        before, after = entry.before or {}, entry.after or {}
        first = before | first
        now |= before | after
    return [name for name, value in now.items() if value != first.get(name)]


def _mapper(kind: str) -> Mapper[Any]:
    found = [m for m in Base.registry.mappers if cast(Table, m.local_table).name == kind]
    return next(m for m in found if issubclass(m.class_, Stored))


def _tables(kind: str) -> list[Table]:
    """The tables that hold a row of that kind, the one that others rest on first."""
    return [cast(Table, table) for table in _mapper(kind).tables]


def _in_order(tables: dict[str, Any]) -> list[Table]:
    return [table for table in Base.metadata.sorted_tables if table.name in tables]


def _take_out(session: Session, batch: _Batch) -> None:
    going: dict[str, list[int]] = defaultdict(list)
    for kind, i in batch.made:
        for table in _tables(kind):
            going[table.name].append(i)
    for table in reversed(_in_order(going)):
        for start in range(0, len(going[table.name]), MANY):
            some = going[table.name][start : start + MANY]
            session.execute(delete(table).where(table.c.id.in_(some)))
    keys = [tag_key(tag) for tag in batch.tags]
    for start in range(0, len(keys), MANY):
        session.execute(delete(TagEntry).where(TagEntry.key.in_(keys[start : start + MANY])))
    for (kind, i), entry in batch.made.items():
        record(session, "removed", kind, [{"thing_id": i, "tag": entry.tag, "before": entry.after}])


def _put_back(session: Session, batch: _Batch) -> None:
    coming: dict[str, list[Values]] = defaultdict(list)
    for (kind, i), entry in batch.removed.items():
        for table in _tables(kind):
            stamps: Values = {"version": 1, "created_at": entry.at, "changed_at": utc_now()}
            row = typed(table, entry.before or {}) | {"id": i}
            coming[table.name].append(row | {n: v for n, v in stamps.items() if n in table.c})
    for table in _in_order(coming):
        session.execute(insert(table), coming[table.name])
    for (kind, i), entry in batch.removed.items():
        record(session, "made", kind, [{"thing_id": i, "tag": entry.tag, "after": entry.before}])


def _change_back(session: Session, batch: _Batch) -> None:
    for (kind, i), before in batch.before.items():
        if (kind, i) in batch.removed:
            continue
        now: Values = {}
        for table in _tables(kind):
            own = typed(table, before)
            stamps: Values = {"changed_at": utc_now()} if "changed_at" in table.c else {}
            if own:
                was = session.execute(select(*(table.c[n] for n in own)).where(table.c.id == i)).one()
                now |= was._mapping
            if "version" in table.c:
                stamps["version"] = table.c.version + 1
            if own or stamps:
                session.execute(update(table).where(table.c.id == i).values(**own, **stamps))
        record(session, "changed", kind, [{"thing_id": i, "before": now, "after": before}])
