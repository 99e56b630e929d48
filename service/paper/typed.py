"""A sheet's cells become rows of typed values; every wrong cell is noted and the others still read."""

from collections.abc import Sequence

from service.errors import BadQuantity, RowError
from service.kinds.cells import read_cell
from service.kinds.columns import Column
from service.kinds.kind import Kind
from service.kinds.row import Row
from service.kinds.standing import VERSION
from service.paper.files.raw import RawRow, RawSheet, is_blank
from service.paper.heads import Heading, headings


def typed_rows(raw: RawSheet, sheet: Kind, errors: list[RowError]) -> list[Row]:
    """Every row, with what is wrong added to `errors` and the row marked as broken."""
    found = headings(raw, (*sheet.sheet_columns, VERSION), errors)
    present = {heading.column.key for heading in found}
    # Without a required column every row would repeat what was said once at the head.
    required = [c for c in sheet.columns if c.required and c.key in present]
    needed = frozenset(c.key for c in sheet.columns if c.required)
    rows = [_typed(raw, row, sheet, found, required, errors) for row in raw.rows]
    for row in rows:
        row.needed = needed
    return rows


def _typed(
    raw: RawSheet,
    source: RawRow,
    sheet: Kind,
    found: Sequence[Heading],
    required: Sequence[Column],
    errors: list[RowError],
) -> Row:
    row = Row(raw.name, source.number, {}, {h.column.key: h.head for h in found}, sheet.index)
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
