"""Connectors, fuses and control lines."""

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.kinds.columns import Column, Form, choice, day, quantity, tag, text, whole
from service.kinds.kind import Kind
from service.kinds.row import Row
from service.kinds.writing.context import Context, Index
from service.kinds.writing.known import Known
from service.kinds.writing.numbers import number
from service.season.records import Production
from service.shows import upkeep_queries
from service.shows.fittings import UNIT_LOADS_OF_A_LINE, ControlLine, Fuse, LineKind
from service.stock import fitting_queries
from service.stock.fittings import Connector


def connectors(known: Known) -> Index[int]:
    """By tag."""
    return known.others("connector", _connectors, Connector)


def _connectors(session: Session) -> dict[str, int]:
    return {key: i for i, key in session.execute(select(Connector.id, Connector.tag_key))}


def control_lines(session: Session) -> dict[str, int]:
    """By production and name."""
    rows = session.execute(
        select(ControlLine.id, Production.tag_key, ControlLine.name).join(
            Production, ControlLine.production_id == Production.id
        )
    )
    return {f"{production}\t{name}".upper(): i for i, production, name in rows}


def load_connectors(rows: list[Row], ctx: Context, known: Known) -> None:
    kept = [row for row in rows if ctx.claim(row, "connector", row.text("connector"))]
    ids = ctx.put(
        Connector,
        [
            {
                "id": row.thing_id,
                "tag": row.text("connector"),
                "family": row.text("family"),
                "pins": row.whole("pins"),
                "a_per_pin": row.real("amps_per_pin"),
                "gender": row.text("gender"),
                "mates_with": row.text("mates_with"),
                "note": row.text("note"),
            }
            for row in kept
        ],
    )
    for row, i in zip(kept, ids, strict=True):
        connectors(known).put(row, i)


def load_lines(rows: list[Row], ctx: Context, known: Known) -> None:
    index = known.others("control line", control_lines)
    values = []
    kept = []
    for row in rows:
        production = ctx.find(known.productions, row, "production")
        place = ctx.find(known.places, row, "starts_at")
        if production is None or not ctx.claim_name(index, row, "line"):
            continue
        kind: LineKind = row.one_of("kind", LineKind.WIRED)
        kept.append(row)
        values.append(
            {
                "id": row.thing_id,
                "production_id": production.id,
                "name": row.text("line"),
                "kind": kind,
                "universe": row.whole("universe"),
                "unit_load_limit": row.real("unit_load_limit") or UNIT_LOADS_OF_A_LINE,
                "starts_at_id": place,
                "note": row.text("note"),
            }
        )
    for row, i in zip(kept, ctx.put(ControlLine, values), strict=True):
        index.put(row, i)


def load_fuses(rows: list[Row], ctx: Context, known: Known) -> None:
    number(rows, "fuse", Fuse.number, "FU", ctx)
    index = known.others("fuse", _fuses)
    values = []
    for row in rows:
        if not ctx.claim_name(index, row, "fuse"):
            continue
        unit, run = ctx.find(known.units, row, "unit"), _run(row, ctx, known)
        if row.has("unit") == row.has("element"):
            ctx.refuse(
                row, "unit", "a fuse is fitted on one unit or in one lead", "Name the unit or the element."
            )
        if row.has("output") and not row.has("unit"):
            ctx.refuse(row, "output", "an output of no unit", "Name the unit, or clear the output.")
        values.append(
            {
                "id": row.thing_id,
                "number": row.text("fuse"),
                "rating_a": row.real("rating"),
                "kind": row.text("kind"),
                "unit_id": unit.id if unit else None,
                "output": row.whole("output"),
                "run_id": run,
                "fitted_on": row.day("fitted_on"),
                "note": row.text("note"),
            }
        )
    ctx.put(Fuse, values)


def _run(row: Row, ctx: Context, known: Known) -> int | None:
    """The run in whose lead it is; the first, where none is said."""
    element = ctx.find(known.elements, row, "element")
    if element is None:
        return None
    wanted = row.whole("run") or 1
    run = next((run for run in element.runs if run.number == wanted), None)
    if run is None:
        count = len(element.runs)
        ctx.refuse(row, "run", f"{element.tag} has no run {wanted}", f"It has {count}, counted from 1.")
        return None
    return run.id


def _fuses(session: Session) -> dict[str, int]:
    rows = session.execute(select(Fuse.id, Fuse.number).where(Fuse.number.is_not(None)))
    return {str(name).upper(): i for i, name in rows}


CONNECTORS = Kind(
    "connectors",
    "a kind of connector",
    (
        tag("Connector", "The house's name for it", required=True, example="X4-F", also=("tag", "type"),
            field="tag", is_fixed=True),
        text("Family", "What the trade calls it", 80, example="four-pin locking"),
        whole("Pins", "How many pins", 1, 200, example="4"),
        quantity("Amps per pin", "A", "What one pin may carry for hours", 0.05, 400, example="8",
                 field="a_per_pin"),
        text("Gender", "Which half it is", 24, example="socket"),
        text("Mates with", "What it plugs into", 120, example="X4-M"),
        text("Note", "Anything to know"),
    ),
    load_connectors,
    "connector",
    ("connector",),
    ("connector",),
    listing=fitting_queries.CONNECTORS,
    record=Connector,
    label=("family",),
)  # fmt: skip

CONTROL_LINES = Kind(
    "control lines",
    "a way that control takes in a show",
    (
        tag("Production", "Code of the production", required=True, example="SQ", also=("show",),
            is_fixed=True),
        text("Line", "What it is called", 80, required=True, example="deck left", also=("name",),
             field="name"),
        choice("Kind", LineKind, "How control travels", default="wired"),
        whole("Universe", "Universe it carries", 1, 63_999, example="3"),
        Column("Unit load limit", Form.NUMBER, "Unit loads its driver carries (ANSI E1.11)", low=1, high=512,
               default="32"),
        tag("Starts at", "Place it starts at", example="SL-DL"),
        text("Note", "Anything to know"),
    ),
    load_lines,
    "control line",
    ("production", "line"),
    ("lines", "control line"),
    listing=upkeep_queries.CONTROL_LINES,
    record=ControlLine,
)  # fmt: skip

FUSES = Kind(
    "fuses",
    "a fuse as it is fitted",
    (
        text("Fuse", "Its number", 40, example="FU-001", also=("number",), field="number",
             default="the next one"),
        quantity("Rating", "A", "Its rating", 0.05, 400, required=True, example="5", field="rating_a"),
        text("Kind", "What is printed on it", 40, example="blade"),
        tag("Unit", "The supply or box it is on", example="PS-01", also=("supply",)),
        whole("Output", "Output of that unit", 1, 48),
        tag("Element", "The element in whose lead it is", example="SQ-01"),
        whole("Run", "Run of that element", 1, 400, default="1"),
        day("Fitted on", "Day it was fitted"),
        text("Note", "Anything to know"),
    ),
    load_fuses,
    "fuse",
    ("fuse",),
    ("fuse",),
    listing=upkeep_queries.FUSES,
    record=Fuse,
)  # fmt: skip
