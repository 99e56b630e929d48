"""A kind of thing the house keeps, described once: sheets, lists, the API, the command line and labels
read it from here."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from service.kinds.columns import Column, Form, day
from service.kinds.row import Row
from service.kinds.steps.walking import Stepping
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known
from service.store.base import Stored, Tagged
from service.store.listing import Listing

Values = dict[str, object]

RETIRED_ON = day(
    "Retired on", "Day it was taken out of use; blank: in use", example="2026-11-25", also=("retired",)
)


@dataclass(frozen=True, slots=True)
class Part:
    """Rows that belong to a thing, as the API takes them: `name` is their field in the list that answers it.

    `spread`: the values of those rows, by column key, as values of the thing's own columns.
    """

    name: str
    doc: str
    columns: tuple[Column, ...]
    spread: Callable[[Sequence[Values]], Values]
    parts: tuple["Part", ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Kind:
    """`load` stores rows, new or changed; `identity`: the columns a row is known by; `index`: what `Known`
    calls such a thing, so that a row refused for another reason is not also missed by every row that refers
    to it. `listing`: how the thing is answered; `record`: what it is stored as.

    `retire(session, thing, today)`: takes it out of use, or refuses; afterwards a tagged thing is retired,
    any other is taken out unless it is referred to. `restore(session, thing)`: puts back what else `retire`
    changed of it. `is_written`: whether the API makes and changes it (a feed is moved by its own rules
    instead). `label`: fields printed under its tag. `plain(values)`: what short columns say, said by the
    others. `is_exported(row)`: whether a row of the list is written out. `each(rows, known)`: a row that
    stands for several things, as a row for each.
    `stepping`: how it goes from step to step, where where it stands follows a path. `makes`: what else a row
    makes, as `Known` calls it, and the column with the tag of that.
    """

    name: str
    row_is: str
    columns: tuple[Column, ...]
    load: Callable[[list[Row], Context, Known], None]
    index: str = ""
    identity: tuple[str, ...] = ()
    also: tuple[str, ...] = field(default=())
    listing: Listing | None = None
    record: type[Stored] | None = None
    parts: tuple[Part, ...] = ()
    retire: Callable[[Session, Any, date], None] | None = None
    restore: Callable[[Session, Any], None] | None = None
    is_written: bool = True
    label: tuple[str, ...] = ()
    plain: Callable[[Values], Values] | None = None
    each: Callable[[list[Row], Known], list[Row]] | None = None
    is_exported: Callable[[Mapping[str, Any]], bool] = lambda _row: True
    stepping: Stepping | None = None
    makes: tuple[str, str] | None = None

    @property
    def is_retirable(self) -> bool:
        """Whether it stays on record, retired, once it is out of use."""
        return self.record is not None and issubclass(self.record, Tagged)

    @property
    def sheet_columns(self) -> tuple[Column, ...]:
        """Its columns and, in a sheet alone, the day it was retired: the API has doors for that."""
        return (*self.columns, RETIRED_ON) if self.is_retirable else self.columns

    @property
    def tags(self) -> tuple[str, ...]:
        """The columns of a row that become tags of the house."""
        own = self.identity[:1] if self.is_retirable else ()
        return own if self.makes is None else (*own, self.makes[1])

    def values_of(self, row: Mapping[str, Any]) -> Values:
        """What the list's row says, as values of the columns; what is blank is absent."""
        values = {c.key: stored_value(c, row) for c in self.columns if not c.is_short}
        return {key: value for key, value in values.items() if value not in (None, "", ())}

    def name_of(self, values: Mapping[str, object]) -> str:
        """What a row with those values is known by."""
        return "\t".join(str(values.get(key, "")) for key in self.identity)


def stored_value(column: Column, row: Mapping[str, Any]) -> object:
    """A column's value from a row of the list that answers the thing."""
    if column.read is not None:
        return column.read(row)
    value = row[column.api_name]
    if value is None:
        return None
    if column.form is Form.LENGTH:
        return round(value * (1_000 if column.api_name.endswith("_mm") else 1_000_000))
    if column.form is Form.LIST:
        return tuple(value.split())
    return value if column.scale == 1.0 else value * column.scale
