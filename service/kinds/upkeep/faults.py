"""What was found wrong, and what was measured on the bench."""

from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.kinds.columns import Column, Form, day, per_metre, quantity, tag, text, whole, yes_no
from service.kinds.kind import Kind
from service.kinds.row import Row
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known
from service.kinds.writing.numbers import number
from service.shows import upkeep_queries
from service.shows.faults import BenchTest, Fault


def load_faults(rows: list[Row], ctx: Context, known: Known) -> None:
    number(rows, "fault", Fault.number, "FL", ctx)
    index = known.others("fault", _faults)
    values = []
    for row in rows:
        if not ctx.claim_name(index, row, "fault"):
            continue
        swapped = ctx.find(known.units, row, "swapped_for")
        found_on, mended_on = row.day("found_on") or ctx.today, row.day("mended_on")
        if mended_on is not None and mended_on < found_on:
            ctx.refuse(
                row, "mended_on", f"mended on {mended_on}, before it was found on {found_on}",
                "Correct one of the two.",
            )  # fmt: skip
        values.append(
            {
                "id": row.thing_id,
                "number": row.text("fault"),
                **_about(row, ctx, known),
                "found_on": found_on,
                "found_at": row.values.get("found_at"),
                "found_by": row.text("found_by") or ctx.by,
                "symptom": row.text("symptom"),
                "made_dark": row.flag("made_dark", False),
                "cause": row.text("cause"),
                "fix": row.text("fix"),
                "swapped_for_id": swapped.id if swapped else None,
                "minutes_dark": row.whole("minutes_dark"),
                "mended_on": mended_on,
            }
        )
    ctx.put(Fault, values)


def load_tests(rows: list[Row], ctx: Context, known: Known) -> None:
    number(rows, "test", BenchTest.number, "BE", ctx)
    index = known.others("bench test", _tests)
    values = []
    for row in rows:
        if not ctx.claim_name(index, row, "test"):
            continue
        if row.has("measured_per_metre") and not row.has("element"):
            ctx.refuse(
                row, "measured_per_metre", "watts a metre are measured of an element",
                "Name the element, or give the watts alone.",
            )  # fmt: skip
        _say_what_does_not_count(row, ctx)
        values.append(
            {
                "id": row.thing_id,
                "number": row.text("test"),
                **_about(row, ctx, known),
                "tape_id": _measured_tape(row, ctx, known),
                "tested_on": row.day("tested_on") or ctx.today,
                "tested_by": row.text("tested_by") or ctx.by,
                "hours_at_full": row.real("hours_at_full"),
                "measured_w_per_m": row.real("measured_per_metre"),
                "measured_w": row.real("measured"),
                "measured_v": row.real("measured_volts"),
                "passed": row.flag("passed", False),
                "note": row.text("note"),
            }
        )
    ctx.put(BenchTest, values)


def _measured_tape(row: Row, ctx: Context, known: Known) -> int | None:
    """The tape that was measured: the one named, else the one that the element has today."""
    if row.has("tape") and not row.has("element"):
        ctx.refuse(row, "tape", "it is the tape of an element", "Name the element, or leave the tape blank.")
        return None
    is_of_another = row.has("tape") and "tape" in row.kept and "element" not in row.kept
    if row.has("tape") and not is_of_another:
        tape = ctx.find(known.tapes, row, "tape")
        return tape.id if tape else None
    element = known.elements.get(row.text("element"))
    if element is None or not row.has("measured_per_metre"):
        return None
    if not element.tape:
        ctx.refuse(
            row, "measured_per_metre", f"the tape of {element.tag} is not decided",
            "Give the element its tape first, or name here the tape that was measured.",
        )  # fmt: skip
        return None
    tape = known.tapes.get(element.tape)
    return tape.id if tape else None


def _say_what_does_not_count(row: Row, ctx: Context) -> None:
    is_read = row.has("element") and row.flag("passed", False) and row.has("measured")
    if is_read and not row.has("measured_per_metre"):
        ctx.remark(
            f"bench tests: {row.text('test')} passed with watts but no watts a metre, so the loads of "
            f"{row.text('element')} do not go by it: give Measured per metre too"
        )


def _about(row: Row, ctx: Context, known: Known) -> dict[str, Any]:
    """The element or the unit, exactly one of them."""
    element, unit = ctx.find(known.elements, row, "element"), ctx.find(known.units, row, "unit")
    if row.has("element") == row.has("unit"):
        ctx.refuse(row, "element", "it is about one element or one unit", "Name the one it is about.")
    return {"element_id": element.id if element else None, "unit_id": unit.id if unit else None}


def _faults(session: Session) -> dict[str, int]:
    rows = session.execute(select(Fault.id, Fault.number).where(Fault.number.is_not(None)))
    return {str(name).upper(): i for i, name in rows}


def _tests(session: Session) -> dict[str, int]:
    rows = session.execute(select(BenchTest.id, BenchTest.number).where(BenchTest.number.is_not(None)))
    return {str(name).upper(): i for i, name in rows}


_ELEMENT = tag("Element", "The element it is about", example="SQ-09")
_UNIT = tag("Unit", "The supply, decoder, battery or box it is about", example="PS-52",
            also=("supply", "decoder", "battery"))  # fmt: skip

FAULTS = Kind(
    "faults",
    "something found wrong",
    (
        text("Fault", "Its number", 40, example="FL-001", also=("number",), field="number",
             default="the next one"),
        _ELEMENT,
        _UNIT,
        day("Found on", "Day it was found", default="today"),
        Column("Found at", Form.MOMENT, "When, if it is known", example="2026-11-25T19:28:00Z"),
        text("Found by", "Who found it", 80, default="who writes it down"),
        text("Symptom", "What was seen", required=True, example="flickers at full"),
        yes_no("Made dark", "It put the element out", default="no"),
        text("Cause", "What it was"),
        text("Fix", "What was done"),
        tag("Swapped for", "The unit put in its place", example="PS-13"),
        whole("Minutes dark", "How long it was dark", 0, 1_000_000),
        day("Mended on", "Day it was mended; blank: open"),
    ),
    load_faults,
    "fault",
    ("fault",),
    ("fault",),
    listing=upkeep_queries.FAULTS,
    record=Fault,
)  # fmt: skip

BENCH_TESTS = Kind(
    "bench tests",
    "one test on the bench",
    (
        text("Test", "Its number", 40, example="BE-001", also=("number",), field="number",
             default="the next one"),
        _ELEMENT,
        _UNIT,
        day("Tested on", "Day of the test", default="today"),
        text("Tested by", "Who tested it", 80, default="who writes it down"),
        quantity("Hours at full", "h", "How long all stood at full before it was read", 0, 1_000,
                 example="1"),
        tag("Tape", "Code of the tape that was measured", example="NW24", default="the element's, today"),
        per_metre("Measured per metre", "W/m", "All emitters together at full; loads go by it once it passed",
                  0.05, 600, example="19.8 W/m", field="measured_w_per_m"),
        quantity("Measured", "W", "Power at full; for the record: loads go by watts per metre only", 0,
                 100_000, example="31.7", field="measured_w"),
        quantity("Measured volts", "V", "Voltage at full", 0, 100, example="23.4", field="measured_v"),
        yes_no("Passed", "Whether it passed", required=True, example="yes"),
        text("Note", "What was seen"),
    ),
    load_tests,
    "bench test",
    ("test",),
    ("tests",),
    listing=upkeep_queries.BENCH_TESTS,
    record=BenchTest,
)  # fmt: skip
