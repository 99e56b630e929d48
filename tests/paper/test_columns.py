"""Heads are recognised however they are typed, and every wrong cell is named with how to mend it."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from service.errors import BadQuantity, RowError
from service.kinds.cells import AnyOf, Cell, read_cell
from service.kinds.columns import (
    Column,
    Form,
    choice,
    day,
    length,
    per_metre,
    quantity,
    tag,
    text,
    whole,
    yes_no,
)
from service.kinds.kind import Kind
from service.kinds.row import Row
from service.kinds.sheets.tape import TAPES
from service.paper.files.raw import RawRow, RawSheet
from service.paper.heads import headings
from service.paper.typed import typed_rows
from service.shows.records import Motion

TAG = tag("Element", "Its code", required=True, also=("tag",))
LEAD = length("Lead", "Length of the lead", 0, 500)
GAUGE = Column("Lead gauge", Form.GAUGE, "Size", bare_unit="AWG", also=("lead awg", "awg"))
RAIL = per_metre("Common rail", "ohm/m", "Resistance", 1e-5, 10)
WATTS = quantity("Rated", "W", "Rated power", 1, 5_000, also=("watts",))
COLUMNS = (TAG, LEAD, GAUGE, RAIL, WATTS)


def a_sheet(heads: list[str], *rows: list[Cell]) -> RawSheet:
    return RawSheet("elements", tuple(heads), tuple(RawRow(n, tuple(r)) for n, r in enumerate(rows, start=2)))


def typed(
    heads: list[str], *rows: list[Cell], columns: tuple[Column, ...] = COLUMNS
) -> tuple[list[Row], list[RowError]]:
    errors: list[RowError] = []
    sheet = Kind("elements", "an element", columns, lambda *_: None, "element", (columns[0].key,))
    return typed_rows(a_sheet(heads, *rows), sheet, errors), errors


def the_value(cell: Cell, column: Column, bare: str | None = None) -> Any:
    return read_cell(cell, column, bare)


@pytest.mark.parametrize("head", ["Lead (ft)", "lead ft", "LEAD_FT", "lead_ft", " Lead [ft] ", "Lead, ft"])
def test_a_unit_in_the_head_counts_for_the_bare_numbers_below(head: str) -> None:
    """1 ft = 0.3048 m exactly."""
    rows, errors = typed(["Element", head], ["A", 10], ["B", "10"], ["C", "3 m"])

    assert errors == []
    assert [row.um("lead") for row in rows] == [3_048_000, 3_048_000, 3_000_000]


@pytest.mark.parametrize(
    ("head", "ohm_per_m"),
    [
        ("Common rail (mΩ/m)", 0.025),
        ("common_rail_mohm_m", None),
        ("common rail mohm per m", 0.025),
        ("COMMON RAIL (ohm/km)", 0.025),
    ],
)
def test_units_of_several_words_are_read_in_a_head(head: str, ohm_per_m: float | None) -> None:
    rows, errors = typed(["Element", head], ["A", 25])

    if ohm_per_m is None:
        assert errors[0].column == head
    else:
        assert rows[0].real("common_rail") == pytest.approx(ohm_per_m)


def test_a_bare_length_without_a_unit_anywhere_is_refused() -> None:
    """A lead of 16 may be feet or metres; nobody may guess."""
    _, errors = typed(["Element", "Lead"], ["A", 16], ["B", "16 ft"])

    assert [(e.row, e.column) for e in errors] == [(2, "Lead")]
    assert "has no unit" in errors[0].message


def test_a_figure_with_one_usual_unit_may_stand_bare() -> None:
    rows, errors = typed(["Element", "Rated"], ["A", 320], ["B", "0.32 kW"])

    assert errors == []
    assert [row.real("rated") for row in rows] == [320.0, 320.0]


def test_a_gauge_column_and_a_lead_column_do_not_disturb_each_other() -> None:
    rows, errors = typed(["Element", "Lead (m)", "Lead AWG"], ["A", 5, 18], ["B", 5, "1.5 mm²"])

    assert errors == []
    assert [(row.um("lead"), row.text("lead_gauge")) for row in rows] == [
        (5_000_000, "18 AWG"),
        (5_000_000, "1.5 mm²"),
    ]


@pytest.mark.parametrize(
    ("heads", "column", "message", "mend"),
    [
        (["Element", "Laed (m)"], "Laed (m)", "no such column", "Known"),
        (["Element", "Watt"], "Watt", "no such column", "Did you mean 'Rated'"),
        (["Element", "Lead (A)"], "Lead (A)", "'A' is not a unit for 'Lead', which is a length", "Lead (m)"),
        (["Element", "Lead (m)", "lead_ft"], "lead_ft", "same column as 'Lead (m)'", "Keep one"),
        (["Lead (m)"], "Element", "this column is missing", "Its code"),
    ],
)
def test_wrong_heads_are_named(heads: list[str], column: str, message: str, mend: str) -> None:
    errors: list[RowError] = []
    headings(a_sheet(heads), COLUMNS, errors)

    assert [e.column for e in errors] == [column]
    assert message in errors[0].message
    assert mend in errors[0].mend


def test_a_column_without_a_head_is_named_only_if_something_is_in_it() -> None:
    errors: list[RowError] = []
    headings(a_sheet(["Element", "", ""], ["A", None, "x"]), COLUMNS, errors)

    assert [e.column for e in errors] == ["column 3"]


def test_all_faults_of_a_sheet_are_named_at_once_each_in_its_cell() -> None:
    rows, errors = typed(
        ["Element", "Lead (m)", "Rated"], ["A 1", "x", 0], ["B", 5, "5 A"], [None, 5, 5], ["C", 1, 1, "more"]
    )

    assert [(e.row, e.column) for e in errors] == [
        (2, "Element"), (2, "Lead (m)"), (2, "Rated"), (3, "Rated"), (4, "Element"), (5, None),
    ]  # fmt: skip
    assert all(row.is_broken for row in rows)
    assert all(error.mend for error in errors)


@pytest.mark.parametrize(
    ("cell", "column", "value"),
    [
        (" deck  left ", text("Name", "x"), "deck left"),
        (101, tag("Tag", "x"), "101"),
        (101.5, text("Name", "x"), "101.5"),
        ("PS-01", tag("Tag", "x"), "PS-01"),
        ("Turn Table", choice("Motion", Motion, "x"), Motion.TURNTABLE),
        ("ROLLING", choice("Motion", Motion, "x"), Motion.ROLLING),
        ("Common-Positive", choice("Polarity", ("common positive",), "x"), "common positive"),
        ("Y", yes_no("Dimmed", "x"), True),
        (False, yes_no("Dimmed", "x"), False),
        (0, yes_no("Dimmed", "x"), False),
        ("12", whole("Cores", "x", 1, 60), 12),
        (12.0, whole("Cores", "x", 1, 60), 12),
        ("0.9", Column("Efficiency", Form.SHARE, "x"), 0.9),
        ("90 %", Column("Efficiency", Form.SHARE, "x"), 0.9),
        ("84.50", Column("Price", Form.MONEY, "x"), Decimal("84.50")),
        (3 * 1.1, Column("Price", Form.MONEY, "x"), Decimal("3.3")),
        ("2026-11-25", day("Opening", "x"), date(2026, 11, 25)),
        (date(2026, 11, 25), day("Opening", "x"), date(2026, 11, 25)),
        ("R G;B, W R", Column("Wired", Form.LIST, "x"), ("R", "G", "B", "W")),
        ("1-4", Column("Channels", Form.CHANNELS, "x"), (1, 4)),
        (3, Column("Channels", Form.CHANNELS, "x"), (3, 1)),
        ("any S320", Column("Supply", Form.SOURCE, "x"), AnyOf("S320")),
        ("(Any D4)", Column("Supply", Form.SOURCE, "x"), AnyOf("D4")),
    ],
)
def test_each_kind_of_cell_is_read(cell: Cell, column: Column, value: object) -> None:
    found = the_value(cell, column)

    assert found == value
    assert type(found) is type(value)


EMITTERS = Column("Emitters", Form.EMITTERS, "x", unit="W/m", low=0.05, high=100)
PIECES = Column("Pieces", Form.RUNS, "x", unit="m", low=0.001, high=200)


def test_emitters_are_read_in_pad_order_with_their_units() -> None:
    assert the_value("R=4.8; G: 4.8;B=4.8 W/m", EMITTERS, "W/m") == (("R", 4.8), ("G", 4.8), ("B", 4.8))
    assert the_value(14.4, EMITTERS, "W/m") == (("W", 14.4),)
    assert the_value("W=4.4 W/ft", EMITTERS)[0][1] == pytest.approx(14.4357, abs=5e-5)  # pint, GNU units


def test_pieces_are_read_run_by_run_and_the_last_unit_counts_for_all() -> None:
    assert the_value("3 x 750 mm", PIECES) == ((750_000,),) * 3
    assert the_value("2×2400; 500", PIECES, "mm") == ((2_400_000,), (2_400_000,), (500_000,))
    assert the_value("2400 + 2400; 500 mm", PIECES) == ((2_400_000, 2_400_000), (500_000,))
    assert the_value("2 x 4 + 1 x 2 ft", PIECES) == ((1_219_200, 1_219_200, 609_600),)
    assert the_value(1300, PIECES, "mm") == ((1_300_000,),)


def test_a_column_with_many_values_takes_one_for_all_or_one_for_each() -> None:
    leads = length("Lead", "x", 0, 500, many=True)

    assert the_value("5 m", leads) == (5_000_000,)
    assert the_value("5; 2 x 3; - m", leads) == (5_000_000, 3_000_000, 3_000_000, None)
    assert the_value("18; 16", Column("Gauge", Form.GAUGE, "x", many=True), "AWG") == ("18 AWG", "16 AWG")


@pytest.mark.parametrize(
    ("cell", "column", "bare", "message"),
    [
        ("PS 01", tag("Tag", "x"), None, "cannot be a tag"),
        ("=cmd()", tag("Tag", "x"), None, "cannot be a tag"),
        ("x" * 41, tag("Tag", "x"), None, "cannot be a tag"),
        ("x" * 401, text("Name", "x"), None, "401 characters"),
        ("roling", choice("Motion", Motion, "x"), None, "not one of the choices"),
        ("maybe", yes_no("Dimmed", "x"), None, "neither yes nor no"),
        ("3.5", whole("Cores", "x", 1, 60), None, "not a whole number"),
        ("61", whole("Cores", "x", 1, 60), None, "61 is out of range"),
        ("1,500", whole("Seats", "x", 1, 9999), None, "not a number"),
        ("", whole("Seats", "x", 1, 9999), None, "not a number"),
        ("1.2", Column("Efficiency", Form.SHARE, "x"), None, "not a share"),
        ("90", Column("Efficiency", Form.SHARE, "x"), None, "not a share"),
        ("1 %", Column("Efficiency", Form.SHARE, "x", low=0.3), None, "out of range"),
        ("1.999", Column("Price", Form.MONEY, "x"), None, "more than two decimals"),
        ("25/11/2026", day("Opening", "x"), None, "not a date"),
        ("11-25-2026", day("Opening", "x"), None, "not a date"),
        ("2026-02-30", day("Opening", "x"), None, "not a day of the calendar"),
        ("1826-02-03", day("Opening", "x"), None, "not a date"),
        (45000, day("Opening", "x"), None, "not a date"),
        ("4-1", Column("Channels", Form.CHANNELS, "x"), None, "runs backwards"),
        (date(2026, 1, 4), Column("Channels", Form.CHANNELS, "x"), None, "not a channel"),
        ("R=4.8; R=4.8", EMITTERS, "W/m", "twice"),
        ("R=", EMITTERS, "W/m", "not a name and a figure"),
        ("R=-1", EMITTERS, "W/m", "out of range"),
        ("A=1;B=1;C=1;D=1;E=1;F=1;G=1", EMITTERS, "W/m", "7 emitters"),
        ("R=4.8", EMITTERS, None, "has no unit"),
        ("3 x", PIECES, "mm", "not a count|not one number"),
        ("999 x 1 mm", PIECES, "mm", "999 lengths"),
        ("3 x 750", PIECES, None, "has no unit"),
        ("3 x 0 mm", PIECES, None, "out of range"),
        (True, WATTS, "W", "TRUE is not a quantity"),
        (-5, WATTS, "W", "-5 W is out of range"),
        (0, quantity("Volts", "V", "x", 3, 60), "V", "0 V is out of range"),
        ("1500 A", quantity("Breaker", "A", "x", 1, 400), "A", "1500 A is out of range"),
        ("1e9 m", LEAD, None, "out of range"),
        ("18 AWG", LEAD, None, "is a gauge, not a length"),
        ("thick", GAUGE, "AWG", "not a wire size"),
    ],
)
def test_what_cannot_be_is_refused_with_a_mend(
    cell: Cell, column: Column, bare: str | None, message: str
) -> None:
    with pytest.raises(BadQuantity, match=message) as refusal:
        the_value(cell, column, bare)
    assert refusal.value.mend


def test_how_to_write_emitters_is_told_so_that_it_can_be_entered_as_told() -> None:
    column = next(c for c in TAPES.columns if c.form is Form.EMITTERS)
    with pytest.raises(BadQuantity) as refusal:
        the_value("W 14.4", column, None)
    told = refusal.value.mend.removeprefix("Write for example '").removesuffix("'.")
    assert [name for name, _ in the_value(told, column, None)] == ["R", "G", "B", "W"]


def test_a_figure_out_of_range_is_told_what_is_allowed() -> None:
    with pytest.raises(BadQuantity) as refusal:
        the_value("6 kW", WATTS, "W")
    assert refusal.value.mend == "Allowed from 1 W to 5000 W."
