"""Sheets become stored things, all of them or none."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from sqlalchemy.orm import Session

from service.errors import BadSheets, RowError
from service.kinds.columns import Column, Form
from service.kinds.kind import Kind
from service.kinds.registry import KINDS
from service.kinds.standing import standing
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known
from service.paper.differences import Difference, changes, sort
from service.paper.files.raw import RawSheet
from service.paper.reading import name_key
from service.paper.retired import Turn, announce, settle, turns
from service.paper.typed import typed_rows
from service.store.base import tag_key
from service.units import unit_text

NAMES: dict[str, str] = {name_key(name): sheet.name for sheet in KINDS for name in (sheet.name, *sheet.also)}
MOST_ERRORS = 500


@dataclass(frozen=True, slots=True)
class Brought:
    """How many rows of each sheet are new, what changes, how many say what the store says already, and what
    was assumed on the way."""

    counts: dict[str, int]
    remarks: tuple[str, ...] = ()
    changes: tuple[Difference, ...] = ()
    same: dict[str, int] = field(default_factory=dict)


def bring_in(
    session: Session,
    sheets: Sequence[RawSheet],
    by: str,
    today: date,
    may_change: bool = False,
    most_errors: int = MOST_ERRORS,
) -> Brought:
    """Every row of every sheet is stored; or BadSheets names all that is wrong (of `most_errors` at most, the
    first) and the caller rolls back.

    The session is one that is writing. A row about a thing that is in the store changes it, if `may_change`
    says so, in those columns only that differ; nothing is ever taken out for not being in a sheet.
    """
    given = {sheet.name: sheet for sheet in sheets}
    if len(given) < len(sheets):
        again = next(sheet for sheet in sheets if sheet is not given[sheet.name])
        raise BadSheets(
            [RowError(again.name, None, None, "this sheet came twice", "Send one after the other.")]
        )
    ctx = Context(session, by, today, frozenset(given))
    known = Known(ctx)
    counts: dict[str, int] = {}
    same: dict[str, int] = {}
    changed: list[Difference] = []
    to_retire: list[Turn] = []
    faults = {sheet.name: _read(given[sheet.name], sheet, ctx) for sheet in KINDS if sheet.name in given}
    for sheet in KINDS:
        if sheet.name not in given:
            continue
        ctx.errors += faults[sheet.name]
        sound = ctx.coming[sheet.name]
        sound = sheet.each(sound, known) if sheet.each else sound
        held = standing(session, sheet, may_change)
        found = sort(sheet, sound, held, may_change, ctx.errors)
        for row in sound:
            if row.is_broken:
                ctx.mark_broken(row)
        announce(sheet, found.to_store, ctx)
        sheet.load(found.to_store, ctx, known)
        to_retire += turns(sheet, found.to_store, held)
        counts[sheet.name], same[sheet.name] = found.new, found.same
        changed += changes(sheet, found.to_store, held)
    if not ctx.errors:
        settle(session, to_retire, ctx)
    if ctx.errors:
        places = {name: n for n, name in enumerate(s.name for s in KINDS)}
        in_order = sorted(ctx.errors, key=lambda e: (places.get(e.sheet, 0), e.row or 0))
        # A row that stands for several things is at fault once.
        raise BadSheets(list(dict.fromkeys(in_order))[:most_errors])
    session.flush()
    return Brought(counts, tuple(dict.fromkeys(ctx.remarks)), tuple(changed), same)


def _read(raw: RawSheet, sheet: Kind, ctx: Context) -> list[RowError]:
    """Tell the import which rows of a sheet are to come; what is wrong in its cells."""
    faults: list[RowError] = []
    rows = typed_rows(raw, sheet, faults)
    for row in rows:
        if row.is_broken:
            ctx.mark_broken(row)
            if sheet.makes is not None:
                ctx.miss(sheet.makes[0], row.text(sheet.makes[1]))
    names = [c.key for c in sheet.columns if c.required and c.key in sheet.identity]
    is_nameless = any(key not in row.heads for row in rows for key in names)
    if is_nameless:
        ctx.unread.add(sheet.index)
    ctx.announced |= {tag_key(row.text(key)) for row in rows for key in sheet.tags if row.has(key)}
    ctx.coming[sheet.name] = [] if is_nameless else [row for row in rows if not row.is_broken]
    return faults


@dataclass(frozen=True, slots=True)
class ColumnDoc:
    name: str
    holds: str
    doc: str
    required: bool
    default: str
    example: str


@dataclass(frozen=True, slots=True)
class SheetDoc:
    name: str
    row_is: str
    columns: tuple[ColumnDoc, ...]


def _holds(column: Column) -> str:
    """What a column takes, in words: "length, with its unit", "one of dry, splash, wet"."""
    if column.values:
        return f"one of {', '.join(column.values)}"
    if column.unit and not column.bare_unit:
        what = "figure" if column.form is Form.QUANTITY else column.form.value
        return f"{what}, its unit in the head or the cell, as in {unit_text(column.unit)}"
    if column.unit:
        return f"figure in {unit_text(column.unit)}"
    return column.form.value


def describe() -> tuple[SheetDoc, ...]:
    """Every sheet that may be brought in and every column it may have, in order of import."""
    return tuple(
        SheetDoc(
            sheet.name,
            sheet.row_is,
            tuple(
                ColumnDoc(c.name, _holds(c), c.doc, c.required, c.default, c.example)
                for c in sheet.sheet_columns
            ),
        )
        for sheet in KINDS
    )


def describe_text() -> str:
    """The same as plain text for a terminal or a page of help; * marks a column that must be there."""
    lines: list[str] = []
    for sheet in describe():
        lines.append(f"{sheet.name}: each row is {sheet.row_is}")
        for column in sheet.columns:
            default = f"; blank: {column.default}" if column.default else ""
            lines.append(
                f"  {column.name}{'*' if column.required else ''}: {column.doc} ({column.holds}{default})"
            )
        lines.append("")
    return "\n".join(lines)
