"""Lists and single things read by their description, whole or in pages, now or as of a day gone by."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from sqlalchemy import ColumnElement, Select, select
from sqlalchemy.orm import Session

from service.errors import NotFound
from service.store import dialect
from service.store.base import TagEntry, tag_key, with_article
from service.store.lists import askable, order
from service.store.lists.description import (
    RETIRED,
    Asker,
    Child,
    Column,
    Field,
    Filter,
    Listing,
    Row,
    Source,
    metres,
    millimetres,
    outer,
)
from service.store.lists.past import Past

__all__ = [
    "RETIRED",
    "Asker",
    "Child",
    "Column",
    "Field",
    "Filter",
    "Listing",
    "Page",
    "Row",
    "Source",
    "everything",
    "id_of",
    "metres",
    "millimetres",
    "not_found",
    "of_ids",
    "one",
    "outer",
    "page",
    "plain_text",
]


@dataclass(frozen=True, slots=True)
class Page:
    """Some rows in order; `after`: the place to go on from, or None at the end."""

    rows: list[Row]
    after: list[Any] | None


def page(
    asker: Asker,
    listing: Listing,
    chosen: Mapping[str, Any],
    after: Sequence[Any] | None,
    limit: int,
    narrow: ColumnElement[bool] | None = None,
    sort: str | None = None,
    before: datetime | None = None,
) -> Page:
    """At most `limit` rows that pass every filter chosen, from the place `after` on. One select, and one more
    for each kind of child, however many rows there are.

    `sort`: the fields to sort by, or the list's own order; `before`: as it stood before that instant, which
    takes some selects more. Things taken out of use are left out unless `chosen` says otherwise. Raises
    BadQuestion.
    """
    asker = _line(asker)
    keys = order.keys(listing, sort)
    query = _ordered(listing, sort).where(*askable.conditions(listing, chosen))
    if narrow is not None:
        query = query.where(narrow)
    if after is not None:
        query = query.where(order.beyond(keys, after))
    then = _past(asker, listing, before)
    found = _asked(asker, listing, query.limit(limit + 1), then, before).all()
    kept = found[:limit]
    rows = _shown(asker, listing, kept, then)
    start = 2 + len(listing.fields)
    return Page(rows, list(kept[-1][start:]) if len(found) > limit else None)


def one(asker: Asker, listing: Listing, key: str | int, before: datetime | None = None) -> tuple[Row, int]:
    """The thing with that key, and its version; in use or not. `before`: as it stood before that instant."""
    wanted = tag_key(key) if isinstance(key, str) else key
    then = _past(asker, listing, before)
    found = _asked(asker, listing, _all(listing).where(listing.key == wanted), then, before).first()
    if found is None:
        raise not_found(asker, listing, key) if before is None else _not_then(listing, key)
    return _shown(asker, listing, [found], then)[0], found[1]


def of_ids(asker: Asker, listing: Listing, ids: Sequence[int]) -> list[tuple[Row, int]]:
    """The things with those numbers in the store, each with its version, in the order of the list."""
    found = asker.execute(_ordered(listing, None).where(listing.id.in_(ids))).all()
    return [(row, f[1]) for row, f in zip(_shown(asker, listing, found), found, strict=True)]


def everything(asker: Asker, listing: Listing) -> list[tuple[int, int, Row]]:
    """Every thing of the list, in order: its number in the store, its version and its row."""
    found = asker.execute(_ordered(listing, None)).all()
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
                f"{key} is not {listing.one}",
                f"It is the tag of {with_article(kind)}: ask for /api/v1/l/{key}.",
            )
    what = listing.one.partition(" ")[2]
    return NotFound(f"there is no {what} {key}", f"See the list at /api/v1/{listing.plural}.")


def _not_then(listing: Listing, key: str | int) -> NotFound:
    what = listing.one.partition(" ")[2]
    return NotFound(
        f"there was no {what} {key} then", "Ask as of a later day, or see its history for when it was made."
    )


def _line(asker: Asker) -> Asker:
    """The bare connection of a session that only reads: its rows come without the work done for records."""
    return asker.connection() if isinstance(asker, Session) and not asker.autoflush else asker


def _past(asker: Asker, listing: Listing, before: datetime | None) -> Past | None:
    return None if before is None or listing.dated is not None else Past(asker, before)


def _asked(
    asker: Asker, listing: Listing, query: Select[Any], then: Past | None, before: datetime | None
) -> Any:
    if before is not None and listing.dated is not None:
        query = query.where(listing.dated < before)
    if then is not None:
        query = then.over(query, *_below(listing.children))
    return asker.execute(query)


@lru_cache
def _all(listing: Listing) -> Select[Any]:
    query: Select[Any] = select(*_columns(listing)).select_from(listing.source)
    return query if listing.where is None else query.where(listing.where)


def _columns(listing: Listing) -> list[Any]:
    columns = [listing.id, listing.version, *(f.of for f in listing.fields)]
    return [column.label(f"c{n}") for n, column in enumerate(columns)]


@lru_cache(maxsize=256)
def _ordered(listing: Listing, sort: str | None) -> Select[Any]:
    """Every row in order; the place of a row in that order stands after its fields."""
    keys = order.keys(listing, sort)
    places = (key.place.label(f"p{n}") for n, key in enumerate(keys))
    return _all(listing).add_columns(*places).order_by(*(key.clause() for key in keys))


def _shown(asker: Asker, listing: Listing, found: Sequence[Any], then: Past | None = None) -> list[Row]:
    rows = _dicts(listing.fields, found, skip=2)
    _attach(asker, listing.children, {r[0]: row for r, row in zip(found, rows, strict=True)}, then)
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


def _attach(asker: Asker, children: Sequence[Child], parents: Mapping[int, Row], then: Past | None) -> None:
    for child in children:
        for row in parents.values():
            row[child.name] = []
        if not parents:
            continue
        query = _of_parents(child).where(dialect.among(dialect.spoken_by(asker), child.parent, parents))
        found = asker.execute(query if then is None else then.over(query)).all()
        rows = _dicts(child.fields, found, skip=2)
        for r, row in zip(found, rows, strict=True):
            parents[r[1]][child.name].append(row)
        _attach(asker, child.children, {r[0]: row for r, row in zip(found, rows, strict=True)}, then)


@lru_cache
def _of_parents(child: Child) -> Select[Any]:
    columns = [child.id, child.parent, *(f.of for f in child.fields)]
    labelled = (column.label(f"c{n}") for n, column in enumerate(columns))
    query: Select[Any] = select(*labelled).select_from(child.source)
    return query.order_by(child.parent, child.number, child.id)


def _below(children: Sequence[Child]) -> list[Select[Any]]:
    return [query for child in children for query in (_of_parents(child), *_below(child.children))]


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
