"""A sheet's cells become rows of typed values; every wrong cell is noted and the others still read."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, TypeVar, cast

from service.errors import BadQuantity, RowError
from service.paper.files.raw import RawRow, RawSheet, is_blank
from service.paper.rows.cells import read_cell
from service.paper.rows.columns import Column, Heading, headings

if TYPE_CHECKING:
    from service.paper.sheets.context import Context
    from service.paper.sheets.known import Known

T = TypeVar("T")


@dataclass(slots=True)
class Row:
    """The values of one row by column key; a blank cell is absent. `name` is what the row is known by."""

    sheet: str
    number: int
    values: dict[str, object]
    heads: dict[str, str]
    kind: str = ""
    name: str = ""
    is_broken: bool = False

    def has(self, key: str) -> bool:
        return key in self.values

    def text(self, key: str, default: str = "") -> str:
        return cast(str, self.values.get(key, default))

    def whole(self, key: str) -> int | None:
        return cast("int | None", self.values.get(key))

    def real(self, key: str) -> float | None:
        return cast("float | None", self.values.get(key))

    def um(self, key: str) -> int | None:
        return cast("int | None", self.values.get(key))

    def money(self, key: str) -> Decimal | None:
        return cast("Decimal | None", self.values.get(key))

    def day(self, key: str) -> date | None:
        return cast("date | None", self.values.get(key))

    def flag(self, key: str, default: bool) -> bool:
        return cast(bool, self.values.get(key, default))

    def maybe(self, key: str) -> bool | None:
        return cast("bool | None", self.values.get(key))

    def names(self, key: str) -> tuple[str, ...]:
        return cast("tuple[str, ...]", self.values.get(key, ()))

    def one_of(self, key: str, default: T) -> T:
        return cast(T, self.values.get(key, default))


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet that may be brought in: its columns, and how its rows are stored.

    `kind` and `identity`: what a row makes and the columns that name it, so that a row refused for
    another reason is not also reported as missing by every row that refers to it.
    """

    name: str
    row_is: str
    columns: tuple[Column, ...]
    load: "Callable[[list[Row], Context, Known], None]"
    kind: str = ""
    identity: tuple[str, ...] = ()
    also: tuple[str, ...] = field(default=())


def typed_rows(raw: RawSheet, sheet: Sheet, errors: list[RowError]) -> list[Row]:
    """Every row, with what is wrong added to `errors` and the row marked as broken."""
    found = headings(raw, sheet.columns, errors)
    present = {heading.column.key for heading in found}
    # Without a required column every row would repeat what was said once at the head.
    required = [c for c in sheet.columns if c.required and c.key in present]
    return [_typed(raw, row, sheet, found, required, errors) for row in raw.rows]


def _typed(
    raw: RawSheet,
    source: RawRow,
    sheet: Sheet,
    found: Sequence[Heading],
    required: Sequence[Column],
    errors: list[RowError],
) -> Row:
    row = Row(raw.name, source.number, {}, {h.column.key: h.head for h in found}, sheet.kind)
    for heading in found:
        cell = source.cells[heading.position] if heading.position < len(source.cells) else None
        if is_blank(cell):
            continue
        try:
            row.values[heading.column.key] = read_cell(cell, heading.column, heading.bare)
        except BadQuantity as refusal:
            row.is_broken = True
            errors.append(RowError(raw.name, row.number, heading.head, refusal.message, refusal.mend))
    if any(not is_blank(cell) for cell in source.cells[len(raw.heads) :]):
        row.is_broken = True
        errors.append(
            RowError(
                raw.name, row.number, None, "there is more in this row than there are heads",
                'Put text that holds a separator in "…", or give the column a head.',
            )
        )  # fmt: skip
    for column in required:
        if column.key not in row.values and not _was_bad(raw, row, column, errors):
            row.is_broken = True
            errors.append(
                RowError(
                    raw.name, row.number, row.heads[column.key], "this cell is blank",
                    f"Fill it in: {column.doc.rstrip('.')}.",
                )
            )  # fmt: skip
    row.name = "\t".join(str(row.values.get(key, "")) for key in sheet.identity)
    return row


def _was_bad(raw: RawSheet, row: Row, column: Column, errors: Sequence[RowError]) -> bool:
    """True if this very cell was refused already: one fault, one line."""
    head = row.heads[column.key]
    for error in reversed(errors):
        if (error.sheet, error.row) != (raw.name, row.number):
            return False
        if error.column == head:
            return True
    return False
