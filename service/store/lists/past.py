"""The store as it stood before an instant, told back from the record of changes.

Rows that nothing has touched since are read where they are. The others are rebuilt from what they are now, by
undoing the later changes, the last first. A WITH of the table's own name then stands in for the table, so
that any select of a list is asked of that day unaltered. Tags never change: their register is read as it is.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any, cast

from sqlalchemy import CTE, Column, Select, Table, func, not_, select
from sqlalchemy.sql import visitors

from service.store import dialect
from service.store.audit import AuditEntry
from service.store.base import Base, Stored, tag_key
from service.store.lists.description import Asker

Values = dict[str, Any]


def _filed_under() -> dict[str, frozenset[str]]:
    """For each table, the kinds whose changes are changes of its rows: a row may be part of several."""
    found: dict[str, set[str]] = defaultdict(set)
    for mapper in Base.registry.mappers:
        if issubclass(mapper.class_, Stored):
            for table in mapper.tables:
                found[cast(Table, table).name].add(cast(Table, mapper.local_table).name)
    return {name: frozenset(kinds) for name, kinds in found.items()}


class Past:
    """Selects asked as of an instant: what was written at it or later is not there yet."""

    def __init__(self, asker: Asker, before: datetime) -> None:
        self._asker = asker
        self._before = before
        self._dialect = dialect.spoken_by(asker)
        self._known: dict[str, CTE | None] = {}

    def over(self, statement: Select[Any], *others: Select[Any]) -> Select[Any]:
        """The statement, asked of that day. `others`: what will be asked too, to look it all up at once."""
        tables = _tables(statement)
        fresh = {t.name: t for one in (statement, *others) for t in _tables(one).values()}
        self._learn([t for name, t in fresh.items() if name not in self._known])
        stand_ins = [known for name in tables if (known := self._known[name]) is not None]
        return statement.add_cte(*stand_ins) if stand_ins else statement

    def _learn(self, tables: Sequence[Table]) -> None:
        filed = {t.name: _filed_under().get(t.name, frozenset[str]()) for t in tables}
        self._known.update(dict.fromkeys(filed))
        later = self._later(sorted(set().union(*filed.values()))) if any(filed.values()) else {}
        stamps = self._stamps(later) if later else {}
        for table in tables:
            undone = {
                i: (kind, changes)
                for kind in sorted(filed[table.name])
                for i, changes in later.get(kind, {}).items()
            }
            if undone:
                self._known[table.name] = self._stand_in(table, undone, stamps)

    def _later(self, kinds: Iterable[str]) -> dict[str, dict[int, list[tuple[str, Values | None]]]]:
        """By kind and number: what was done at the instant or later and what was there before, last first."""
        query = (
            select(AuditEntry.kind, AuditEntry.thing_id, AuditEntry.what, AuditEntry.before)
            .where(AuditEntry.at >= self._before, AuditEntry.kind.in_(kinds))
            .order_by(AuditEntry.id.desc())
        )
        found: dict[str, dict[int, list[tuple[str, Values | None]]]] = {}
        for kind, thing_id, what, before in self._asker.execute(query):
            if thing_id is not None:
                found.setdefault(kind, {}).setdefault(thing_id, []).append((what, before))
        return found

    def _stamps(self, later: dict[str, dict[int, Any]]) -> dict[tuple[str, int], datetime]:
        """When each of those things had last been changed by then."""
        ids = sorted({i for own in later.values() for i in own})
        query = (
            select(AuditEntry.kind, AuditEntry.thing_id, func.max(AuditEntry.at))
            .where(
                AuditEntry.at < self._before,
                AuditEntry.kind.in_(sorted(later)),
                dialect.among(self._dialect, AuditEntry.thing_id, ids),
            )
            .group_by(AuditEntry.kind, AuditEntry.thing_id)
        )
        return {(kind, i): at for kind, i, at in self._asker.execute(query) if i is not None}

    def _stand_in(
        self,
        table: Table,
        undone: dict[int, tuple[str, list[tuple[str, Values | None]]]],
        stamps: dict[tuple[str, int], datetime],
    ) -> CTE:
        was_touched = dialect.among(self._dialect, table.c.id, undone)
        now = self._asker.execute(select(*table.c).where(was_touched))
        standing = {row.id: dict(row._mapping) for row in now}
        rows = []
        for i, (kind, changes) in undone.items():
            row = _undo(table, i, standing.get(i), changes)
            if row is not None:
                rows.append(_stamped(table, row, stamps.get((kind, i), self._before)))
        kept = dialect.beneath(self._dialect, table)
        untouched = select(*kept.c).where(not_(dialect.among(self._dialect, kept.c.id, undone)))
        return untouched.union_all(dialect.rows_given(self._dialect, table, rows)).cte(table.name)


def _tables(statement: Select[Any]) -> dict[str, Table]:
    return {part.name: part for part in visitors.iterate(statement) if isinstance(part, Table)}


def _undo(
    table: Table, i: int, row: Values | None, changes: Iterable[tuple[str, Values | None]]
) -> Values | None:
    """The row without those changes; None: it was not there."""
    for what, before in changes:
        if what == "made":
            row = None
        elif what == "removed":
            row = typed(table, before or {}) | {"id": i}
        elif row is not None:
            row |= typed(table, before or {})
    return row


def typed(table: Table, plain: Values) -> Values:
    """Values as the record has them, as the columns of the table have them; others are left out."""
    return {name: _value(table.c[name], value) for name, value in plain.items() if name in table.c}


def _value(column: Column[Any], plain: Any) -> Any:
    """A value as the record has it, as its column has it."""
    if plain is None:
        return None
    kind = column.type.python_type
    if kind in (date, datetime):
        return kind.fromisoformat(plain)
    return kind(plain) if kind in (Decimal, float) else plain


def _stamped(table: Table, row: Values, at: datetime) -> Values:
    """With what is not put on record: versions count for nothing in the past."""
    stamps: Values = {"version": 0, "created_at": at, "changed_at": at}
    if "tag" in row:
        stamps["tag_key"] = tag_key(row["tag"])
    return row | {name: value for name, value in stamps.items() if name in table.c}
