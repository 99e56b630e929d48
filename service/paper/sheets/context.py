"""What an import knows while it runs: what the store and the earlier sheets hold, and every fault so far.

Nothing is written once a fault is known; the remaining sheets are still checked, so that one
import names everything that is to be mended.
"""

import difflib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Generic, TypeVar

from sqlalchemy import Table, bindparam, func, insert, select, update
from sqlalchemy.orm import Session

from service.errors import Busy, RowError
from service.paper.rows.typed import Row
from service.store import audit
from service.store.base import Stored, TagEntry, Tagged, tag_key
from service.store.types import utc_now

R = TypeVar("R")


@dataclass(slots=True)
class Index(Generic[R]):
    """Things of one kind by their key: those of the store, read when first asked for, and the new ones."""

    kind: str
    read: Callable[[], Mapping[str, R]]
    rows: dict[str, Row] = field(default_factory=dict)  # those that come from sheets
    hints: int = 60
    _things: dict[str, R] | None = None

    @property
    def things(self) -> dict[str, R]:
        if self._things is None:
            self._things = dict(self.read())
        return self._things

    def get(self, name: str) -> R | None:
        return self.things.get(tag_key(name))

    def put(self, row: Row, thing: R, name: str = "") -> None:
        key = tag_key(name or row.name)
        self.things[key] = thing
        self.rows[key] = row

    def nearest(self, name: str) -> str:
        """The known name most like this one, the first of several; none after many hints, which cost time."""
        if self.hints <= 0:
            return ""
        self.hints -= 1
        key = tag_key(name)
        near = difflib.get_close_matches(key, sorted(self.things), n=5, cutoff=0.5)
        near.sort(key=lambda other: (-difflib.SequenceMatcher(None, other, key).ratio(), other))
        return near[0].replace("\t", " ") if near else ""


@dataclass(slots=True)
class Context:
    """`by` and `today` are passed in; `sheets` names the sheets of this import."""

    session: Session
    by: str
    today: date
    sheets: frozenset[str] = frozenset()
    errors: list[RowError] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    broken: dict[str, set[str]] = field(default_factory=dict)
    _tags: dict[str, str] | None = None
    _claims: dict[str, Row] = field(default_factory=dict)

    # -- what is wrong ---------------------------------------------------------------------------

    def refuse(self, row: Row, key: str | None, message: str, mend: str) -> None:
        """Note a fault of a row; what it would have made is not missed by the rows that refer to it."""
        head = None if key is None else row.heads.get(key, key)
        self.errors.append(RowError(row.sheet, row.number, head, message, mend))
        self.mark_broken(row)

    def mark_broken(self, row: Row) -> None:
        row.is_broken = True
        if row.kind and row.name:
            self.broken.setdefault(row.kind, set()).add(tag_key(row.name))

    def remark(self, text: str) -> None:
        self.remarks.append(text)

    # -- what is known ---------------------------------------------------------------------------

    def find(self, index: Index[R], row: Row, key: str) -> R | None:
        """What the cell names, or None: blank, or refused here with the nearest that is known."""
        name = row.text(key)
        return None if not name else self.named(index, row, key, name)

    def named(self, index: Index[R], row: Row, key: str, name: str, shown: str = "") -> R | None:
        """The thing of that name; `shown` is the name as the person wrote it, when it is part of a key."""
        thing = index.get(name)
        if thing is None and tag_key(name) not in self.broken.get(index.kind, ()):
            near = index.nearest(name)
            self.refuse(
                row,
                key,
                f"{shown or name} is not {_a(index.kind)} in the sheets or the store",
                f"Nearest is {near}."
                if near
                else f"Add it to its sheet, or leave the cell blank ({index.kind}).",
            )
        return thing

    def nowhere(self, row: Row, key: str, name: str, indexes: Iterable[Index[Any]]) -> None:
        """Refuse a name that is in none of the indexes, unless its own row was refused already."""
        indexes = list(indexes)
        if any(tag_key(name) in self.broken.get(index.kind, ()) for index in indexes):
            self.mark_broken(row)
            return
        kinds = ", ".join(index.kind for index in indexes)
        near = next(filter(None, (index.nearest(name) for index in indexes)), "")
        self.refuse(
            row,
            key,
            f"{name} is not in the sheets or the store (looked for: {kinds})",
            f"Nearest is {near}." if near else "Add it to its sheet first.",
        )

    def claim(self, row: Row, key: str, tag: str) -> bool:
        """True if the tag is free in the whole house; otherwise the fault names who has it."""
        if self._tags is None:
            rows = self.session.execute(select(TagEntry.key, TagEntry.kind))
            self._tags = {row.key: row.kind for row in rows}
        folded = tag_key(tag)
        if earlier := self._claims.get(folded):
            where = (
                f"row {earlier.number}"
                if earlier.sheet == row.sheet
                else f"{earlier.sheet}, row {earlier.number}"
            )
            self.refuse(
                row, key, f"{tag} comes twice: also in {where}", "A tag is used once in the whole house."
            )
            return False
        self._claims[folded] = row
        if folded in self._tags:
            self.refuse(
                row,
                key,
                f"{tag} is already in the store, or was once ({_a(self._tags[folded])})",
                "Sheets only add. Leave the row out, and change the thing itself where it is kept.",
            )
            return False
        return True

    def claim_name(self, index: Index[R], row: Row, key: str) -> bool:
        """The same for what has a name but no tag, such as a venue."""
        if earlier := index.rows.get(tag_key(row.name)):
            self.refuse(
                row, key, f"it comes twice: also in row {earlier.number}", "Keep one of the two rows."
            )
            return False
        if index.get(row.name) is not None:
            self.refuse(
                row, key, f"this {index.kind} is already in the store", "Sheets only add: leave the row out."
            )
            return False
        index.rows[tag_key(row.name)] = row
        return True

    # -- what is written -------------------------------------------------------------------------

    @property
    def is_checking_only(self) -> bool:
        return bool(self.errors)

    def put(self, record: type[Stored], rows: list[dict[str, Any]]) -> list[int]:
        """Their ids, in order, once stored with audit rows and tags; zeros when there are faults already."""
        if self.is_checking_only or not rows:
            return [0] * len(rows)
        if issubclass(record, Tagged):
            for row in rows:
                row["tag_key"] = tag_key(row["tag"])
            audit.register_tags(self.session, [(row["tag"], record.KIND) for row in rows])
        ids = self._insert(record.__table__, rows)  # type: ignore[attr-defined]
        self._audit(
            "made", record, [(i, row.get("tag"), None, row) for i, row in zip(ids, rows, strict=True)]
        )
        return ids

    def _insert(self, table: Table, rows: list[dict[str, Any]]) -> list[int]:
        """Ids grow in the order of the rows; asking for them afterwards is twice as quick as RETURNING,
        whose one long statement the PostgreSQL driver takes apart letter by letter."""
        stamp, connection = utc_now(), self.session.connection()
        last = connection.scalar(select(func.max(table.c.id))) or 0
        connection.execute(insert(table), [row | {"created_at": stamp, "changed_at": stamp} for row in rows])
        mine = select(table.c.id).where(table.c.id > last, table.c.created_at == stamp).order_by(table.c.id)
        ids = list(connection.scalars(mine))
        if len(ids) != len(rows):  # somebody else's rows carry the very same microsecond
            raise Busy("others are writing at this moment", "Bring the sheets in again.")
        return ids

    def add(self, things: Iterable[Stored]) -> None:
        """Store records that have parts of their own; they get their ids at once."""
        if not self.is_checking_only:
            self.session.add_all(list(things))
            self.session.flush()

    def change(self, record: type[Stored], key: str, values: Mapping[int, tuple[Any, Any]]) -> None:
        """Set one column of many rows: id to (before, after)."""
        if self.is_checking_only or not values:
            return
        table = record.__table__  # type: ignore[attr-defined]
        self.session.connection().execute(
            update(table)
            .where(table.c.id == bindparam("which"))
            .values({key: bindparam("becomes"), "version": table.c.version + 1, "changed_at": utc_now()}),
            [{"which": i, "becomes": after} for i, (_, after) in values.items()],
        )
        self._audit("changed", record, [(i, None, {key: b}, {key: a}) for i, (b, a) in values.items()])

    def _audit(
        self,
        what: str,
        record: type[Stored],
        rows: list[tuple[int, str | None, dict[str, Any] | None, dict[str, Any]]],
    ) -> None:
        table = record.__tablename__  # type: ignore[attr-defined]
        audit.record(
            self.session,
            what,
            table,
            [{"thing_id": i, "tag": tag, "before": before, "after": after} for i, tag, before, after in rows],
        )


def _a(kind: str) -> str:
    return f"{'an' if kind[:1] in 'aeio' else 'a'} {kind}"
