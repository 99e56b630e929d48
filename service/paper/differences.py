"""Rows of a sheet set against what the store has: new ones, changed ones column by column, and the rest."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.errors import RowError
from service.kinds.columns import Column, Form
from service.kinds.kind import Kind
from service.kinds.row import Row
from service.kinds.standing import VERSION, Standing
from service.kinds.written import cell_text, head_text
from service.store.base import tag_key


@dataclass(frozen=True, slots=True)
class Difference:
    """One column of one thing, as it is in the store and as the sheet has it; blank where there is none."""

    sheet: str
    row: int
    thing: str
    column: str
    before: str
    after: str


@dataclass(slots=True)
class Sorted:
    """`to_store`: rows that are new or differ; `same`: how many say what the store says already."""

    to_store: list[Row]
    new: int = 0
    same: int = 0


def sort(
    kind: Kind,
    rows: Sequence[Row],
    known: dict[str, Standing],
    may_change: bool,
    errors: list[RowError],
) -> Sorted:
    """Only what differs is to be stored. A row that differs is refused unless `may_change`, or when the thing
    moved on since the sheet was written out, or when it would change what is said once."""
    found = Sorted([])
    for row in rows:
        version = row.values.pop(VERSION.key, None)
        thing = known.get(tag_key(row.name)) if kind.identity and row.name.strip("\t") else None
        if thing is None:
            found.new += 1
            found.to_store.append(row)
            continue
        differs = _overlay(kind, row, thing)
        if not differs:
            found.same += 1
            continue
        refusal = _refusal(kind, row, thing, differs, version, may_change)
        if refusal is not None:
            row.is_broken = True
            errors.append(refusal)
            continue
        found.to_store.append(row)
    return found


def _overlay(kind: Kind, row: Row, thing: Standing) -> list[Difference]:
    """Complete the row with what the store has, so that it changes only what its sheet says otherwise."""
    given = kind.plain(dict(row.values)) if kind.plain else dict(row.values)
    heads = set(row.heads)
    merged = dict(thing.values)
    for column in kind.sheet_columns:
        if column.is_short:
            continue
        if column.key in given:
            merged[column.key] = given[column.key]
        elif column.key in heads and not column.default:
            merged.pop(column.key, None)
    row.values, row.thing_id = merged, thing.id
    differs = _differs(kind, row, thing)
    changed = {difference.column for difference in differs}
    row.kept = frozenset(c.key for c in kind.sheet_columns if head_text(c) not in changed)
    return differs


def changes(kind: Kind, rows: Sequence[Row], known: dict[str, Standing]) -> list[Difference]:
    """What loaded rows change, with what follows from it: a unit that is retired has that state."""
    return [
        difference
        for row in rows
        if row.thing_id is not None
        for difference in _differs(kind, row, known[tag_key(row.name)])
    ]


def _differs(kind: Kind, row: Row, thing: Standing) -> list[Difference]:
    differs = []
    for column in kind.sheet_columns:
        before = cell_text(column, thing.values.get(column.key))
        after = cell_text(column, row.values.get(column.key))
        if before != after and not (column.form is Form.TAG and before.upper() == after.upper()):
            differs.append(_difference(kind, row, column, before, after))
    return differs


def _difference(kind: Kind, row: Row, column: Column, before: str, after: str) -> Difference:
    return Difference(
        kind.name, row.number or 0, row.name.replace("\t", " "), head_text(column), before, after
    )


def _refusal(
    kind: Kind,
    row: Row,
    thing: Standing,
    differs: Sequence[Difference],
    version: object,
    may_change: bool,
) -> RowError | None:
    first = differs[0]
    said = f"{first.thing} is in the store already; {_words(first)}"
    if not may_change:
        return RowError(
            kind.name, row.number, None, said, "Say that changes are wanted, or leave the row out."
        )
    if version is not None and version != thing.version:
        return RowError(
            kind.name,
            row.number,
            None,
            f"{first.thing} was changed since this sheet was written out; {_words(first)}",
            "Write it out again and repeat the change.",
        )
    fixed = {head_text(column) for column in kind.columns if column.is_fixed}
    stuck = next((d for d in differs if d.column in fixed), None)
    if stuck is not None:
        return RowError(
            kind.name, row.number, stuck.column, f"this is said once and stays: {_words(stuck)}",
            "Put the old value back, or make a new thing.",
        )  # fmt: skip
    return None


def _words(change: Difference) -> str:
    return f"{change.column}: {change.before or 'blank'} would become {change.after or 'blank'}"
