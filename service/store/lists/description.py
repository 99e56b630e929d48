"""A list is described once: its columns with units in their names, its filters and its order. Single things,
JSON, CSV, paging and the published schema are all read from that description."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, FromClause, outerjoin
from sqlalchemy.orm import InstrumentedAttribute, Session

from service.store.types import UtcDateTime

Column = ColumnElement[Any] | InstrumentedAttribute[Any]
Source = FromClause | type[Any]
Row = dict[str, Any]
Asker = Session | Connection

UM_PER_M = 1_000_000.0
RETIRED = "day it was taken out of use; blank: in use"


@dataclass(frozen=True, slots=True)
class Field:
    """One column as it is answered. `doc` says what it is and in which unit; `kind`: its type, where `of`
    does not say; `shown`: how the stored value is written at the border, and `stored` the way back, so that
    it can be asked for."""

    name: str
    of: Column
    doc: str
    kind: Any = None
    is_blank: bool | None = None
    shown: Callable[[Any], Any] | None = None
    stored: Callable[[Any], Any] | None = None

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


@dataclass(frozen=True, slots=True, eq=False)
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
    """`key`: what the address of one thing ends in (a tag key, or an id); `order` ends in a unique column.

    `dated`: when a row was written, where rows are never changed: as of a day there are those up to then.
    """

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
    dated: Column | None = None

    @property
    def key_name(self) -> str:
        """The field that says what a row goes by: its tag, which comes first, or its number."""
        return self.fields[0].name if self.is_tagged else "id"

    @property
    def audited_as(self) -> str:
        """The name its changes are filed under."""
        return self.kind or str(getattr(self.id, "expression", self.id).table.name)


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
