"""A table as it came, what its columns are taken for, and the sheet that it becomes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from service.kinds.columns import Column
from service.kinds.kind import Kind
from service.kinds.registry import KINDS
from service.kinds.standing import VERSION
from service.paper.bring_in import NAMES
from service.paper.files.raw import RawRow, RawSheet, is_blank
from service.paper.heads import proposed, unit_of
from service.paper.reading import read_bytes

SHEETS: Mapping[str, Kind] = {kind.name: kind for kind in KINDS}
LEAVE_OUT = ""
# Units that somebody is asked for where lengths stand bare; a cell may always carry its own.
LENGTHS = ("mm", "cm", "m", "in", "ft")


@dataclass(frozen=True, slots=True)
class Fit:
    """What one column of a table is taken for. `key`: of the sheet's column, blank: left out. `unit`: of its
    bare numbers; `wants_unit`: they cannot be read without; `is_guess`: only the name is near."""

    head: str
    key: str = LEAVE_OUT
    unit: str = ""
    wants_unit: bool = False
    is_guess: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a file. `sheet`: what its rows are, blank: left out."""

    source: str
    sheet: str
    heads: tuple[str, ...]
    rows: tuple[RawRow, ...]
    head_row: int
    fits: tuple[Fit, ...]

    @property
    def kind(self) -> Kind | None:
        return SHEETS.get(self.sheet)

    def raw(self, without: frozenset[int] = frozenset()) -> RawSheet:
        """The sheet with the heads it would have had, without the columns and rows that are left out."""
        kept = [n for n, fit in enumerate(self.fits) if fit.key != LEAVE_OUT]
        columns = {column.key: column for column in columns_of(self.sheet)}
        heads = tuple(_head(columns[self.fits[n].key], self.fits[n].unit) for n in kept)
        rows = tuple(
            RawRow(row.number, tuple(row.cells[n] if n < len(row.cells) else None for n in kept))
            for row in self.rows
            if row.number not in without
        )
        return RawSheet(self.sheet, heads, rows, self.source, self.head_row)

    def position(self, head: str | None) -> int | None:
        """Which of its columns a fault speaks of, by the head in `raw`."""
        columns = {column.key: column for column in columns_of(self.sheet)}
        for n, fit in enumerate(self.fits):
            if fit.key != LEAVE_OUT and _head(columns[fit.key], fit.unit) == head:
                return n
        return None


class _AnyName(dict[str, str]):
    """Known names, and every other as itself: what a table is may be said later."""

    def get(self, key: str, default: str | None = None) -> str | None:  # type: ignore[override]
        return super().get(key) or default or key


def tables_of(content: bytes, filename: str) -> tuple[list[Table], tuple[str, ...]]:
    """The tables of a file with what they are taken for, and remarks. Raises BadSheets."""
    reading = read_bytes(content, filename, _AnyName(NAMES))
    return [_fresh(sheet) for sheet in reading.sheets], reading.remarks


def _fresh(raw: RawSheet) -> Table:
    sheet = raw.name if raw.name in SHEETS else _likeliest(raw)
    table = Table(raw.source, sheet, raw.heads, raw.rows, raw.head_row, ())
    return refit(table, sheet)


def _likeliest(raw: RawSheet) -> str:
    """The kind whose columns its heads name best, where that has all it must have; blank where none has."""
    best, most = LEAVE_OUT, 0
    for kind in KINDS:
        found = {
            p.column.key
            for head in raw.heads
            if head and (p := proposed(head, kind.columns)) and not p.is_guess
        }
        must = {column.key for column in kind.columns if column.required}
        if must <= found and len(found) > most:
            best, most = kind.name, len(found)
    return best


def columns_of(sheet: str) -> Sequence[Column]:
    kind = SHEETS.get(sheet)
    return () if kind is None else (*kind.sheet_columns, VERSION)


def refit(table: Table, sheet: str) -> Table:
    """The table taken for another kind of rows: its columns are matched anew, each at most once."""
    taken: set[str] = set()
    fits = []
    for n, head in enumerate(table.heads):
        found = proposed(head, columns_of(sheet)) if head else None
        if found is None or found.column.key in taken or _is_empty(table.rows, n):
            fits.append(Fit(head))
            continue
        taken.add(found.column.key)
        fits.append(Fit(head, found.column.key, found.unit, found.wants_unit, found.is_guess))
    return replace(table, sheet=sheet, fits=tuple(fits))


def _is_empty(rows: Sequence[RawRow], n: int) -> bool:
    return all(n >= len(row.cells) or is_blank(row.cells[n]) for row in rows)


def with_fits(table: Table, said: Sequence[tuple[str, str]]) -> Table:
    """The table with its columns as somebody says: (column key, unit) for each head, in order."""
    columns = {column.key: column for column in columns_of(table.sheet)}
    fits = []
    for head, (key, unit) in zip(table.heads, said, strict=True):
        column = columns.get(key)
        if column is None:
            fits.append(Fit(head))
            continue
        own = unit if unit in LENGTHS and _takes_lengths(column) else unit_of(head, column)
        wants = bool(column.unit) and not column.bare_unit
        fits.append(Fit(head, key, own, wants))
    return replace(table, fits=tuple(fits))


def _takes_lengths(column: Column) -> bool:
    return column.unit == "m" and not column.bare_unit


def _head(column: Column, unit: str) -> str:
    return f"{column.name} ({unit})" if unit else column.name


class Why(StrEnum):
    """Why nothing of a table can be read."""

    KIND = "kind"  # nobody can tell from its heads what its rows are
    COLUMNS = "columns"  # none of its heads is known for such rows
    ROWS = "rows"  # it has heads and nothing below them


@dataclass(frozen=True, slots=True)
class Unread:
    """A table of which nothing can be read. `heads`: as they were read; `nearest`: the kind of rows whose
    columns they name best, blank where they name none; `known`: those of them that it knows; `missing`: what
    such rows must have besides."""

    why: Why
    heads: tuple[str, ...]
    nearest: str
    known: tuple[str, ...]
    missing: tuple[str, ...]


def unread(table: Table) -> Unread | None:
    """Why nothing of it can be read; None where something can."""
    heads = tuple(head for head in table.heads if head)
    nearest, known, missing = _nearest(heads, table.sheet)
    if not table.sheet:
        return Unread(Why.KIND, heads, nearest, known, missing)
    if not table.rows:
        return Unread(Why.ROWS, heads, nearest, known, missing)
    if all(fit.key == LEAVE_OUT for fit in table.fits):
        return Unread(Why.COLUMNS, heads, nearest, known, missing)
    return None


def _nearest(heads: Sequence[str], sheet: str) -> tuple[str, tuple[str, ...], tuple[str, ...]]:
    """The kind (that of the sheet, if it is said), the heads it knows, and what it must have besides."""
    best: tuple[str, tuple[str, ...], tuple[str, ...]] = ("", (), ())
    for kind in [SHEETS[sheet]] if sheet in SHEETS else KINDS:
        named = ((head, proposed(head, kind.columns)) for head in heads)
        found = {head: p.column.key for head, p in named if p and (sheet or not p.is_guess)}
        missing = tuple(c.name for c in kind.columns if c.required and c.key not in found.values())
        if not best[0] or (len(found), -len(missing)) > (len(best[1]), -len(best[2])):
            best = (kind.name, tuple(found), missing)
    return best if best[1] or sheet else ("", (), ())
