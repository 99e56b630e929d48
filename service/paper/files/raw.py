"""What a sheet is before anyone understands it: a name, heads and numbered rows of cells."""

from dataclasses import dataclass

from service.kinds.cells import Cell

MAX_FILE_BYTES = 20_000_000
MAX_UNPACKED_BYTES = 120_000_000
MAX_SHEETS = 80
MAX_ROWS = 100_000
MAX_COLUMNS = 200
MAX_CELL_CHARS = 4_000


@dataclass(frozen=True, slots=True)
class RawRow:
    """One row, with the number the spreadsheet shows beside it."""

    number: int
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class RawSheet:
    name: str
    heads: tuple[str, ...]
    rows: tuple[RawRow, ...]
    source: str = ""  # the file it came from, for messages
    head_row: int = 1


@dataclass(frozen=True, slots=True)
class Reading:
    """Every sheet that was read, and what was left aside and why."""

    sheets: tuple[RawSheet, ...]
    remarks: tuple[str, ...] = ()


class UnreadableError(Exception):
    """A file or sheet that cannot be read at all; becomes a RowError with the file's name."""

    def __init__(self, message: str, mend: str, row: int | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.mend = mend
        self.row = row


def is_blank(cell: Cell) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())


def table(name: str, source: str, rows: list[tuple[int, list[Cell]]]) -> RawSheet | None:
    """The first row that is neither blank nor a # comment holds the heads; None if there is no such row."""
    kept = [
        (number, cells)
        for number, cells in rows
        if not all(is_blank(c) for c in cells) and not str(cells[0] or "").lstrip().startswith("#")
    ]
    if not kept:
        return None
    if len(kept) > MAX_ROWS:
        raise UnreadableError(
            f"has {len(kept)} rows; at most {MAX_ROWS} are read",
            "Bring it in as several sheets, one at a time.",
        )
    head_row, heads = kept[0]
    if len(heads) > MAX_COLUMNS:
        raise UnreadableError(
            f"has {len(heads)} columns; at most {MAX_COLUMNS} are read",
            "Delete the empty columns to the right.",
        )
    return RawSheet(
        name=name,
        heads=tuple("" if is_blank(h) else str(h).strip() for h in heads),
        rows=tuple(RawRow(number, tuple(cells)) for number, cells in kept[1:]),
        source=source,
        head_row=head_row,
    )
