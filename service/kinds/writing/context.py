"""What an import knows while it runs: what the store and the earlier sheets hold, and every fault so far.

Nothing is written once a fault is known; the remaining sheets are still checked, so that one
import names everything that is to be mended.
"""

import difflib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Generic, TypeVar

from sqlalchemy import Table, func, insert, select
from sqlalchemy.orm import Session

from service.errors import Busy, RowError
from service.kinds.row import Row
from service.kinds.writing import updating
from service.store import audit
from service.store.base import Stored, TagEntry, Tagged, tag_key, with_article
from service.store.types import utc_now

R = TypeVar("R")


@dataclass(slots=True)
class Index(Generic[R]):
    """Things of one kind by their key: those of the store, read when first asked for, and the new ones."""

    kind: str
    read: Callable[[], Mapping[str, R]]
    rows: dict[str, Row] = field(default_factory=dict)  # those that come from sheets
    retired: Callable[[], frozenset[str]] = frozenset
    hints: int = 60
    _things: dict[str, R] | None = None
    _retired: frozenset[str] | None = None

    def is_retired(self, name: str) -> bool:
        """Whether it is out of use in the store; what comes already retired is named by what it once did."""
        row = self.rows.get(tag_key(name))
        if row is not None and row.thing_id is None:
            return False
        if self._retired is None:
            self._retired = self.retired()
        return tag_key(name) in self._retired

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
    """`by` and `today` are passed in; `sheets` names the sheets of this import. `may_make`: whether what is
    named but nowhere described, such as a venue, is made along the way. `coming`: the sound rows of every
    sheet, before they are loaded; `announced`: the tags in all of them; `unread`: kinds whose sheet came
    without the names of its rows; `retired`: the day new things were taken out of use, by tag."""

    session: Session
    by: str
    today: date
    sheets: frozenset[str] = frozenset()
    may_make: bool = True
    coming: dict[str, list[Row]] = field(default_factory=dict)
    announced: set[str] = field(default_factory=set)
    unread: set[str] = field(default_factory=set)
    retired: dict[str, date] = field(default_factory=dict)
    errors: list[RowError] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    broken: dict[str, set[str]] = field(default_factory=dict)
    made: dict[type[Stored], set[int]] = field(default_factory=dict)
    stored: dict[type[Stored], list[int]] = field(default_factory=dict)
    changed: dict[type[Stored], set[int]] = field(default_factory=dict)
    numbered: set[tuple[str, str]] = field(default_factory=set)  # kind and number of rows given one here
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
            self.miss(row.kind, row.name)

    def miss(self, kind: str, name: str) -> None:
        """What refers to it need not say that it is not known."""
        self.broken.setdefault(kind, set()).add(tag_key(name))

    def remark(self, text: str) -> None:
        self.remarks.append(text)

    def makes(self, name: str) -> bool:
        """Whether things of that kind that are only named are made: there is no sheet of them."""
        return self.may_make and name not in self.sheets

    @property
    def now(self) -> datetime:
        return utc_now()

    # -- what is known ---------------------------------------------------------------------------

    def find(self, index: Index[R], row: Row, key: str) -> R | None:
        """What the cell names, or None: blank, or refused here with the nearest that is known."""
        name = row.text(key)
        return None if not name else self.named(index, row, key, name)

    def named(self, index: Index[R], row: Row, key: str, name: str, shown: str = "") -> R | None:
        """The thing of that name; `shown` is the name as the person wrote it, when it is part of a key."""
        thing = index.get(name)
        if thing is None and not self._is_at_fault(index, name):
            near = index.nearest(name)
            or_blank = "" if key in row.needed else ", or leave this blank"
            self.refuse(
                row,
                key,
                f"{shown or name} is not {with_article(index.kind)} that is known here",
                f"Nearest is {near}." if near else f"Enter that {index.kind} first{or_blank}.",
            )
        elif thing is not None and key not in row.kept and index.is_retired(name):
            self.refuse(
                row, key, f"{shown or name} is retired", f"Name another {index.kind}, or bring it back first."
            )
            return None
        return thing

    def nowhere(self, row: Row, key: str, name: str, indexes: Iterable[Index[Any]]) -> None:
        """Refuse a name that is in none of the indexes, unless its own row was refused already."""
        indexes = list(indexes)
        if any(self._is_at_fault(index, name) for index in indexes):
            self.mark_broken(row)
            return
        kinds = ", ".join(index.kind for index in indexes)
        near = next(filter(None, (index.nearest(name) for index in indexes)), "")
        self.refuse(
            row,
            key,
            f"{name} is not known here (looked for: {kinds})",
            f"Nearest is {near}." if near else "Enter it first.",
        )

    def _is_at_fault(self, index: Index[Any], name: str) -> bool:
        """Whether it is missing only because its own row or sheet was refused."""
        return index.kind in self.unread or tag_key(name) in self.broken.get(index.kind, ())

    def has_tag(self, tag: str) -> bool:
        """Whether anything has or had that tag, or will have it once this import is without fault."""
        key = tag_key(tag)
        is_here = key in self.announced or key in self._claims
        return is_here or self.session.get(TagEntry, key) is not None

    def claim(self, row: Row, key: str, tag: str) -> bool:
        """True if the tag is free in the whole house; otherwise the fault names who has it."""
        if self._tags is None:
            rows = self.session.execute(select(TagEntry.key, TagEntry.kind))
            self._tags = {row.key: row.kind for row in rows}
        folded = tag_key(tag)
        if (earlier := self._claims.get(folded)) is row:
            return not row.is_broken
        if earlier is not None:
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
        if folded in self._tags and row.thing_id is None:
            self.refuse(
                row,
                key,
                f"{tag} is already in the store, or was once ({with_article(self._tags[folded])})",
                "A tag is never used again: choose another.",
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
        known: Any = index.get(row.name)
        if known is not None and getattr(known, "id", known) != row.thing_id:
            if (row.kind, tag_key(row.name)) in self.numbered:
                raise Busy("somebody took the same number at this moment", "Try again in a moment.")
            self.refuse(
                row, key, f"this {index.kind} is already in the store", "Change that one, or name another."
            )
            return False
        index.rows[tag_key(row.name)] = row
        return True

    def each(self, row: Row, key: str, count: int, what: str) -> list[Any]:
        """A value for each of `count` rows of a part, None where none is given; one alone counts for all."""
        given = row.each(key)
        if len(given) in (0, 1):
            return [given[0] if given else None] * count
        if len(given) != count:
            plural = what if count == 1 else f"{what}s"
            self.refuse(
                row,
                key,
                f"{len(given)} values for {count} {plural}",
                f"Give one for all, or one for each {what}.",
            )
            return [None] * count
        return list(given)

    # -- what is written -------------------------------------------------------------------------

    @property
    def is_checking_only(self) -> bool:
        return bool(self.errors)

    def put(self, record: type[Stored], rows: list[dict[str, Any]]) -> list[int]:
        """Their ids, in order, once stored with audit rows and tags; nothing is stored when there are faults
        already. A row with an `id` changes that thing: only what differs is written, and nothing is on record
        where nothing differs."""
        if self.is_checking_only or not rows:
            return [row.get("id") or 0 for row in rows]
        changed = [row for row in rows if row.get("id")]
        fresh = [row for row in rows if not row.get("id")]
        made = iter(self._make(record, fresh))
        if changed:
            self.changed.setdefault(record, set()).update(updating.change(self.session, record, changed))
        ids = [row.get("id") or next(made) for row in rows]
        self.stored.setdefault(record, []).extend(ids)
        return ids

    def _make(self, record: type[Stored], rows: list[dict[str, Any]]) -> list[int]:
        if not rows:
            return []
        if issubclass(record, Tagged):
            for row in rows:
                row["tag_key"] = tag_key(row["tag"])
                if self.retired:
                    row["retired_on"] = self.retired.get(row["tag_key"]) or row.get("retired_on")
            audit.register_tags(self.session, [(row["tag"], record.KIND) for row in rows])
        first, *more = updating.tables(record)
        ids = self._insert(first, rows)
        for table in more:
            own = [{c: row[c] for c in map(str, table.columns.keys()) if c in row} for row in rows]
            self.session.connection().execute(
                insert(table), [values | {"id": i} for i, values in zip(ids, own, strict=True)]
            )
        self.made.setdefault(record, set()).update(ids)
        updating.audited(
            self.session, "made", record,
            [(i, row.get("tag"), None, row) for i, row in zip(ids, rows, strict=True)],
        )  # fmt: skip
        return ids

    def put_parts(
        self,
        record: type[Stored],
        owner: tuple[type[Stored], str],
        number: str,
        rows: list[dict[str, Any]],
        below: Sequence[tuple[type[Stored], str]] = (),
        name: str = "",
    ) -> list[int]:
        """The same for rows that belong to things, `owner` being their record and the column with its number,
        and counted by `number`: those of a thing that is not new take the place of what it has, and what is
        then left over is taken out, with what lies `below` it. `name`: the column by which a thing has each
        only once; where one of them moves to another place, all that it has are taken out first."""
        of, column = owner
        known = self.made.get(of, set())
        standing = sorted({row[column] for row in rows if row[column] and row[column] not in known})
        if standing and name and not self.is_checking_only:
            moving = updating.where_names_move(self.session, record, (column, number, name), standing, rows)
            updating.take_out_others(self.session, record, owner, moving, set(), below)
        if standing and not self.is_checking_only:
            updating.take_places(self.session, record, (column, number), standing, rows)
        ids = self.put(record, rows)
        if standing and not self.is_checking_only:
            new, moved = self.made.get(record, set()), self.changed.get(record, set())
            touched = {row[column] for row, i in zip(rows, ids, strict=True) if i in new or i in moved}
            touched |= updating.take_out_others(self.session, record, owner, standing, set(ids), below)
            self.bump(of, touched & set(standing))
        return ids

    def bump(self, record: type[Stored], ids: set[int]) -> None:
        """Their versions grow although only rows that belong to them changed."""
        known = self.changed.setdefault(record, set())
        fresh = ids - known - self.made.get(record, set())
        if not self.is_checking_only:
            updating.write(self.session, record, {i: {} for i in sorted(fresh)})
        known.update(fresh)

    def _insert(self, table: Table, rows: list[dict[str, Any]]) -> list[int]:
        """Ids grow in the order of the rows; asking for them afterwards is twice as quick as RETURNING,
        whose one long statement the PostgreSQL driver takes apart letter by letter."""
        stamp, connection = utc_now(), self.session.connection()
        last = connection.scalar(select(func.max(table.c.id))) or 0
        names = [
            name
            for name in map(str, table.columns.keys())
            if any(name in row for row in rows) and name != "id"
        ]
        values = [
            {n: row[n] for n in names if n in row} | {"created_at": stamp, "changed_at": stamp}
            for row in rows
        ]
        connection.execute(insert(table), values)
        mine = select(table.c.id).where(table.c.id > last, table.c.created_at == stamp).order_by(table.c.id)
        ids = list(connection.scalars(mine))
        if len(ids) != len(rows):  # somebody else's rows carry the very same microsecond
            raise Busy("others are writing at this moment", "Bring the sheets in again.")
        return ids

    def change(self, record: type[Stored], key: str, values: Mapping[int, tuple[Any, Any]]) -> None:
        """Set one column of many rows: id to (before, after)."""
        if self.is_checking_only or not values:
            return
        updating.write(self.session, record, {i: {key: pair} for i, pair in values.items()})
