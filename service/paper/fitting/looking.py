"""Rows looked at before they are stored: which are ready, which need somebody first, and why."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from service.errors import BadSheets, Refused, RowError
from service.kinds.cells import Cell
from service.paper.bring_in import Brought
from service.paper.files.raw import RawSheet
from service.paper.fitting.tables import Table

MOST_ROUNDS = 25
MOST_FAULTS = 100_000  # told of one round
Attempt = Callable[[Sequence[RawSheet]], Brought]


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong in a row. `at`: the column of the table, from 0; None: the row as a whole."""

    at: int | None
    message: str
    mend: str


@dataclass(frozen=True, slots=True)
class BadRow:
    """A row that cannot be stored as it is. `number`: what the spreadsheet shows beside it."""

    table: int
    number: int
    cells: tuple[Cell, ...]
    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class Looked:
    """`brought`: what would come in without the bad rows; None: nothing can, see `whole`, which is wrong with
    tables as wholes: (table, what). `ready`: the rows that are new or change something. `waiting`: tables
    that have the same kind of rows as one before them, and come in after it."""

    brought: Brought | None
    bad: tuple[BadRow, ...]
    whole: tuple[tuple[int, RowError], ...]
    ready: int
    sheets: tuple[RawSheet, ...] = field(default=())
    waiting: tuple[int, ...] = field(default=())


def look(tables: Sequence[Table], attempt: Attempt) -> Looked:
    """Try the tables; leave the rows out that are refused, and those that rest on them, until the rest would
    be stored. `attempt` stores nothing; it raises BadSheets."""
    bad: dict[tuple[int, int], list[Fault]] = {}
    whole: list[tuple[int, RowError]] = []
    waiting = _waiting(tables)
    left_out = {n for n, table in enumerate(tables) if table.kind is None} | set(waiting)
    brought: Brought | None = None
    sheets: tuple[RawSheet, ...] = ()
    for _ in range(MOST_ROUNDS):
        standing = [n for n in range(len(tables)) if n not in left_out]
        sheets = tuple(_raw(tables[n], n, bad) for n in standing)
        by_name = {tables[n].sheet: n for n in standing}
        if not any(sheet.rows for sheet in sheets):
            break
        try:
            brought = attempt(sheets)
            break
        except Refused as refusal:  # no one row is to blame
            error = RowError(tables[standing[0]].sheet, None, None, refusal.message, refusal.mend)
            whole.append((standing[0], error))
            break
        except BadSheets as refusal:
            for error in refusal.errors:
                n = by_name.get(error.sheet)
                if n is None:
                    whole.append((standing[0], error))
                    left_out |= set(standing)
                elif error.row is None or error.row == tables[n].head_row:
                    whole.append((n, error))
                    left_out.add(n)
                else:
                    fault = Fault(tables[n].position(error.column), error.message, error.mend)
                    bad.setdefault((n, error.row), []).append(fault)
    else:
        most = RowError(
            tables[0].sheet, None, None, "too many rows need somebody", "Send fewer rows at once."
        )
        whole.append((0, most))
    return Looked(
        brought, tuple(_bad_rows(tables, bad)), tuple(whole), _ready(brought, sheets), sheets, waiting
    )


def _waiting(tables: Sequence[Table]) -> tuple[int, ...]:
    first: dict[str, int] = {}
    for n, table in enumerate(tables):
        if table.kind is not None:
            first.setdefault(table.sheet, n)
    return tuple(n for n, table in enumerate(tables) if first.get(table.sheet, n) != n)


def _ready(brought: Brought | None, sheets: Sequence[RawSheet]) -> int:
    """How many rows do something. What is on record already may be several things to a row."""
    if brought is None or not (any(brought.counts.values()) or brought.changes):
        return 0
    return max(1, sum(len(sheet.rows) for sheet in sheets) - sum(brought.same.values()))


def _raw(table: Table, n: int, bad: dict[tuple[int, int], list[Fault]]) -> RawSheet:
    return table.raw(frozenset(number for at, number in bad if at == n))


def _bad_rows(tables: Sequence[Table], bad: dict[tuple[int, int], list[Fault]]) -> list[BadRow]:
    cells = {(n, row.number): row.cells for n, table in enumerate(tables) for row in table.rows}
    return [
        BadRow(n, number, cells[n, number], tuple(dict.fromkeys(faults)))
        for (n, number), faults in sorted(bad.items())
    ]
