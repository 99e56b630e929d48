"""A list is described once: its columns with units in their names, its filters and its order. Single things,
JSON, CSV, paging and the published schema are all read from that description."""

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from sqlalchemy import ColumnElement, Connection, FromClause, Select, and_, or_, outerjoin, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from service.errors import NotFound
from service.store.base import TagEntry, tag_key
from service.store.types import UtcDateTime

Column = ColumnElement[Any] | InstrumentedAttribute[Any]
Source = FromClause | type[Any]
Row = dict[str, Any]
Asker = Session | Connection

UM_PER_M = 1_000_000.0


@dataclass(frozen=True, slots=True)
class Field:
    """One column as it is answered. `doc` says what it is and in which unit; `like`: the column whose type it
    has, where `of` is computed; `shown`: how the stored value is written at the border."""

    name: str
    of: Column
    doc: str
    kind: Any = None
    is_blank: bool | None = None
    shown: Callable[[Any], Any] | None = None

    @property
    def answered_as(self) -> Any:
        """The Python type of a value, without regard to blanks."""
        if self.kind is not None:
            return self.kind
        stored = self.of.type
        return datetime if isinstance(stored, UtcDateTime) else stored.python_type

    @property
    def may_be_blank(self) -> bool:
        if self.is_blank is not None:
            return self.is_blank
        column = getattr(self.of, "expression", self.of)
        return bool(getattr(column, "nullable", True))


@dataclass(frozen=True, slots=True)
class Filter:
    """Equality with a value given in the address. A tag is compared in any letter case."""

    name: str
    of: Column
    doc: str
    kind: Any = str
    is_tag: bool = False


@dataclass(frozen=True, slots=True)
class Child:
    """Rows that belong to a row: emitters of a tape. `parent`: their column with the parent's id; `number`:
    their own order; `text`: one cell for a flat sheet."""

    name: str
    doc: str
    source: Source
    id: Column
    parent: Column
    number: Column
    fields: tuple[Field, ...]
    text: Callable[[list[Row]], str]
    children: tuple["Child", ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Listing:
    """`key`: what the address of one thing ends in (a tag key, or an id); `order` ends in a unique column."""

    plural: str
    one: str
    doc: str
    source: Source
    id: Column
    version: Column
    key: Column
    order: tuple[Column, ...]
    fields: tuple[Field, ...]
    filters: tuple[Filter, ...] = ()
    children: tuple[Child, ...] = ()
    where: ColumnElement[bool] | None = None
    is_tagged: bool = True
    kind: str = ""

    @property
    def key_name(self) -> str:
        """The field that says what a row goes by: its tag, which comes first, or its number."""
        return self.fields[0].name if self.is_tagged else "id"

    @property
    def audited_as(self) -> str:
        """The name its changes are filed under."""
        return self.kind or str(getattr(self.id, "expression", self.id).table.name)


@dataclass(frozen=True, slots=True)
class Page:
    """Some rows in order; `after`: the place to go on from, or None at the end."""

    rows: list[Row]
    after: list[Any] | None


def outer(source: FromClause, *joins: tuple[Any, Any]) -> FromClause:
    """The source with each (table, condition) joined where there is a row for it."""
    for table, condition in joins:
        source = outerjoin(source, table, condition)
    return source


def metres(column: Column) -> ColumnElement[Any]:
    """Micrometres as metres. Multiplied as a float first: the product of two whole columns may not fit."""
    return column * 1.0 / UM_PER_M


def millimetres(column: Column) -> ColumnElement[Any]:
    return column * 1.0 / 1000.0


def page(
    asker: Asker,
    listing: Listing,
    chosen: Mapping[str, Any],
    after: Sequence[Any] | None,
    limit: int,
    narrow: ColumnElement[bool] | None = None,
) -> Page:
    """At most `limit` rows that pass every filter chosen, from the place `after` on. One select, and one more
    for each kind of child, however many rows there are."""
    query = _chosen(listing, chosen)
    if narrow is not None:
        query = query.where(narrow)
    if after is not None:
        query = query.where(_beyond(listing.order, after))
    found = asker.execute(query.order_by(*listing.order).limit(limit + 1)).all()
    kept = found[:limit]
    rows = _shown(asker, listing, kept)
    start = 2 + len(listing.fields)
    return Page(rows, list(kept[-1][start:]) if len(found) > limit else None)


def one(asker: Asker, listing: Listing, key: str | int) -> tuple[Row, int]:
    """The thing with that key, and its version."""
    wanted = tag_key(key) if isinstance(key, str) else key
    found = asker.execute(_chosen(listing, {}).where(listing.key == wanted)).first()
    if found is None:
        raise not_found(asker, listing, key)
    return _shown(asker, listing, [found])[0], found[1]


def of_ids(asker: Asker, listing: Listing, ids: Sequence[int]) -> list[tuple[Row, int]]:
    """The things with those numbers in the store, each with its version, in the order of the list."""
    found = asker.execute(_all(listing).where(listing.id.in_(ids)).order_by(*listing.order)).all()
    return [(row, f[1]) for row, f in zip(_shown(asker, listing, found), found, strict=True)]


def everything(asker: Asker, listing: Listing) -> list[tuple[int, int, Row]]:
    """Every thing of the list, in order: its number in the store, its version and its row."""
    found = asker.execute(_all(listing).order_by(*listing.order)).all()
    return [(f[0], f[1], row) for row, f in zip(_shown(asker, listing, found), found, strict=True)]


def id_of(asker: Asker, listing: Listing, key: str | int) -> int:
    """The number in the store of the thing with that key."""
    wanted = tag_key(key) if isinstance(key, str) else key
    found: int | None = asker.execute(
        _all(listing).where(listing.key == wanted).with_only_columns(listing.id)
    ).scalar()
    if found is None:
        raise not_found(asker, listing, key)
    return found


def not_found(asker: Asker, listing: Listing, key: str | int) -> NotFound:
    """The refusal, with what the tag does belong to if it belongs to anything."""
    if listing.is_tagged:
        kind = asker.execute(select(TagEntry.kind).where(TagEntry.key == tag_key(str(key)))).scalar()
        if kind is not None:
            return NotFound(
                f"{key} is not {listing.one}", f"It is the tag of a {kind}: ask for /api/v1/l/{key}."
            )
    what = listing.one.partition(" ")[2]
    return NotFound(f"there is no {what} {key}", f"See the list at /api/v1/{listing.plural}.")


@lru_cache
def _all(listing: Listing) -> Select[Any]:
    columns = [listing.id, listing.version, *(f.of for f in listing.fields), *listing.order]
    labelled = (column.label(f"c{n}") for n, column in enumerate(columns))
    query: Select[Any] = select(*labelled).select_from(listing.source)
    return query if listing.where is None else query.where(listing.where)


def _chosen(listing: Listing, chosen: Mapping[str, Any]) -> Select[Any]:
    query = _all(listing)
    for known in listing.filters:
        value = chosen.get(known.name)
        if value is not None:
            query = query.where(known.of == (tag_key(value) if known.is_tag else value))
    return query


def _beyond(order: Sequence[Column], after: Sequence[Any]) -> ColumnElement[bool]:
    """Strictly later in the order; spelled out, because row comparison cannot always use the index."""
    steps = []
    for n, column in enumerate(order):
        same = [c == v for c, v in zip(order[:n], after, strict=False)]
        steps.append(and_(*same, column > after[n]))
    return or_(*steps)


def _shown(asker: Asker, listing: Listing, found: Sequence[Any]) -> list[Row]:
    rows = _dicts(listing.fields, found, skip=2)
    _attach(asker, listing.children, {r[0]: row for r, row in zip(found, rows, strict=True)})
    return rows


def _dicts(fields: Sequence[Field], found: Sequence[Any], skip: int) -> list[Row]:
    names = [f.name for f in fields]
    converted = [(f.name, f.shown) for f in fields if f.shown is not None]
    rows = [dict(zip(names, r[skip : skip + len(names)], strict=True)) for r in found]
    for name, shown in converted:
        for row in rows:
            if row[name] is not None:
                row[name] = shown(row[name])
    return rows


def _attach(asker: Asker, children: Sequence[Child], parents: Mapping[int, Row]) -> None:
    for child in children:
        for row in parents.values():
            row[child.name] = []
        if not parents:
            continue
        columns = [child.id, child.parent, *(f.of for f in child.fields)]
        labelled = (column.label(f"c{n}") for n, column in enumerate(columns))
        found = asker.execute(
            select(*labelled)
            .select_from(child.source)
            .where(child.parent.in_(list(parents)))
            .order_by(child.parent, child.number, child.id)
        ).all()
        rows = _dicts(child.fields, found, skip=2)
        for r, row in zip(found, rows, strict=True):
            parents[r[1]][child.name].append(row)
        _attach(asker, child.children, {r[0]: row for r, row in zip(found, rows, strict=True)})


def plain_text(value: Any) -> str:
    """A value in one cell of a sheet.

    >>> plain_text(None), plain_text(True), plain_text(3.30), plain_text(date(2026, 11, 25))
    ('', 'yes', '3.3', '2026-11-25')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return json.dumps(value, ensure_ascii=False, sort_keys=True)
    if isinstance(value, datetime):
        return value.isoformat().replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    return str(value)
