"""Text with a unit comes in exactly, and nonsense is refused at once.

Outside values: the pint registry (0.25), whose factors are those of GNU units and
`scipy.constants`; the international foot and inch are exact by definition (0.3048 m, 25.4 mm).
"""

import contextlib
import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel, ValidationError

from service.errors import BadQuantity
from service.units import (
    MEASURES,
    Gauge,
    Metres,
    Micrometres,
    Millimetres,
    OhmsPerMetre,
    measure_of,
    show,
    show_um,
    to_decimal,
    to_gauge,
    to_si,
    to_um,
)


def test_a_foot_and_an_inch_are_exact() -> None:
    """1 ft = 0.3048 m and 1 in = 25.4 mm exactly: international yard and pound agreement, 1959."""
    assert to_decimal("1 ft", "m") == Decimal("0.3048")
    assert to_um("1 ft") == 304_800
    assert to_um("1 in") == 25_400
    assert to_si("1 ft", "m") == 0.3048  # pint in floats gives 0.30479999999999996


@pytest.mark.parametrize(
    ("text", "length_um"),
    [
        ("16 ft 5 in", 5_003_800),
        ("16ft 5in", 5_003_800),
        ("16' 5\"", 5_003_800),
        ("16'-5\"", 5_003_800),
        ("16' - 5\"", 5_003_800),
        ("16′ 5″", 5_003_800),
        ("0 ft 5.5 in", 139_700),
        ("16 feet 5 1/2 inches", 5_016_500),
        ("2 ft 1/16 in", 611_188),  # 611.1875 mm
        ("5 1/2 in", 139_700),
        ("3/4 in", 19_050),
    ],
)
def test_feet_and_inches_are_read_as_they_stand_on_a_drawing(text: str, length_um: int) -> None:
    """16 ft 5 in = 197 in of 25.4 mm."""
    assert to_um(text) == length_um


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("16 ft 12 in", "m"),
        ("16 ft -5 in", "m"),
        ("16 ft 5", "m"),
        ("16.5 ft 5 in", "m"),
        ("5 1/0 in", "m"),
        ("16 ft 5 in", "A"),
        ("5 in 16 ft", "m"),
    ],
)
def test_feet_and_inches_that_are_none_are_refused(text: str, unit: str) -> None:
    with pytest.raises(BadQuantity):
        to_decimal(text, unit)


def test_watts_per_foot_and_per_metre() -> None:
    """14.4 W/m = 4.38912 W/ft; 4.4 W/ft = 14.4357 W/m; the factor is 3.2808399 (pint, GNU units)."""
    assert show(14.4, "W/m", "us", digits=5) == "4.38912 W/ft"
    assert to_si("4.4 W/ft", "W/m") == pytest.approx(14.4357, abs=5e-5)
    assert to_si("1 W/ft", "W/m") == pytest.approx(3.2808399, abs=5e-8)


def test_a_reel_sold_by_the_foot_is_five_metres() -> None:
    """16.4042 ft is 5.0000 m, and so 100 pitches of 50 mm with nothing left over."""
    length_um = to_um("16.4042 ft")

    assert length_um == 5_000_000
    assert divmod(length_um, to_um("50 mm")) == (100, 0)


def test_a_circular_mil_is_an_area_and_a_bare_mil_is_refused() -> None:
    """1 circular mil = 5.067075e-10 m² (GNU units `circularmil`); pint's `mil` is an angle."""
    assert to_si("1 circular mil", "m2") == pytest.approx(5.067075e-10, rel=1e-7)
    assert to_um("1000 thou") == 25_400
    with pytest.raises(BadQuantity, match="mil can be an angle") as refusal:
        to_si("10 mil", "m")
    assert "thou" in refusal.value.mend


@pytest.mark.parametrize("text", ["1 ohm/1000 ft", "1 Ω/1000 ft", "1 Ω/kft", "1 ohm/1000ft"])
def test_ohms_per_thousand_feet(text: str) -> None:
    """1 ohm/1000 ft = 3.2808399 ohm/km (GNU units)."""
    assert to_si(text, "ohm/m") * 1000 == pytest.approx(3.2808399, abs=5e-8)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("25 mΩ/m", "ohm/m", 0.025),
        ("25 mohm/m", "ohm/m", 0.025),
        ("20.95 ohm/km", "ohm/m", 0.02095),
        ("2.5 mm²", "m2", 2.5e-6),
        ("2.5 mm2", "m2", 2.5e-6),
        ("350 mA", "A", 0.35),
        ("24 V DC", "V", 24.0),
        ("4 kHz", "Hz", 4000.0),
        ("104 °F", "degC", 40.0),
        ("2.5 %/K", "%/K", 2.5),
        ("3000 mAh", "Ah", 3.0),
        ("1 week", "d", 7.0),
        ("5 M", "m", 5.0),
        ("50 MM", "m", 0.05),
        ("6'", "m", 1.8288),
        ('6"', "m", 0.1524),
        (" 16.4  ft ", "m", 4.99872),
        (".5m", "m", 0.5),
        ("1.5e-3 m", "m", 0.0015),
        ("−5 °C", "degC", -5.0),
    ],
)
def test_units_as_people_write_them(text: str, unit: str, value: float) -> None:
    assert to_si(text, unit) == value


def test_arithmetic_is_refused_before_anything_evaluates_it() -> None:
    """pint would work at 9**9**9**9 until the machine gives up."""
    for text in (
        "9**9**9**9 m",
        "2*3 m",
        "(5) m",
        "5 m + 3 m",
        "1e999999 m",
        "5 m**9**9",
        "__import__('os') m",
    ):
        with pytest.raises(BadQuantity):
            to_si(text, "m")


@pytest.mark.parametrize("text", ["1,5 m", "1,500 m", "1.500,5 m"])
def test_a_comma_is_refused_with_how_to_write_it(text: str) -> None:
    with pytest.raises(BadQuantity, match="comma") as refusal:
        to_si(text, "m")
    assert "1.5" in refusal.value.mend


@pytest.mark.parametrize(
    "value", ["nan m", "inf m", math.nan, math.inf, -math.inf, Decimal("NaN"), True, "", "m"]
)
def test_what_is_no_number_is_refused(value: float) -> None:
    with pytest.raises(BadQuantity):
        to_si(value, "m")


@pytest.mark.parametrize(
    ("text", "unit", "message"),
    [
        ("5 A", "m", "is a current, not a length"),
        ("18 AWG", "m", "is a gauge, not a length"),
        ("5", "m", "has no unit"),
        ("5 furlongs", "m", "not a unit of length"),
        ("5 MΩ", "ohm", "not a unit of resistance"),  # never read as a milliohm
        ("5 m" + " " * 40 + "x", "m", "too long"),
    ],
)
def test_the_wrong_unit_is_named(text: str, unit: str, message: str) -> None:
    with pytest.raises(BadQuantity, match=message):
        to_si(text, unit)


def test_a_bare_number_takes_the_unit_of_its_column() -> None:
    assert to_si("16", "m", bare="ft") == 4.8768
    assert to_si(0.1, "m") == 0.1
    assert to_decimal(0.1, "m") == Decimal("0.1")  # what was typed, not the nearest binary fraction
    assert to_um(1250, "mm") == 1_250_000
    assert to_um("4 ft", "mm") == 1_219_200  # its own unit wins over the column's


@pytest.mark.parametrize("text", ["18 AWG", "18AWG", "awg 18", "#18 awg", "18 ga"])
def test_a_gauge_has_one_spelling(text: str) -> None:
    assert to_gauge(text) == "18 AWG"


def test_gauges_in_square_millimetres_and_aughts() -> None:
    assert to_gauge("2.50mm2") == "2.5 mm²"
    assert to_gauge("1/0 AWG") == "1/0 AWG"
    assert to_gauge(18.0, "AWG") == "18 AWG"
    for nonsense in ("18", "0.75 m", "99 AWG", "thick"):
        with pytest.raises(BadQuantity):
            to_gauge(nonsense)


def test_values_are_shown_in_the_readers_habit() -> None:
    assert show(5.0, "m") == "5 m"
    assert show(5.0, "m", "us") == "16.4 ft"
    assert show(0.025, "ohm/m") == "25 mΩ/m"
    assert show(40.0, "degC", "us") == "104 °F"
    assert show(311.04, "W", "us") == "311.04 W"
    assert show(-0.0001, "A") == "0 A"
    assert show_um(3_300_000) == "3300 mm"
    assert show_um(33_333_300) == "33333.3 mm"
    assert show_um(5_000_000, "us") == "16.4 ft"


class _Lead(BaseModel):
    length_m: Metres
    pitch_mm: Millimetres
    cut_um: Micrometres
    core_ohm_per_m: OhmsPerMetre
    gauge: Gauge


def test_request_fields_take_numbers_in_their_own_unit_or_text_with_one() -> None:
    lead = _Lead.model_validate(
        {"length_m": "16 ft", "pitch_mm": 50, "cut_um": "1.25 m", "core_ohm_per_m": 0.02, "gauge": "18awg"}
    )

    assert (lead.length_m, lead.pitch_mm, lead.cut_um) == (4.8768, 50.0, 1_250_000)
    assert (lead.core_ohm_per_m, lead.gauge) == (0.02, "18 AWG")


def test_request_fields_refuse_text_without_a_unit_and_say_how() -> None:
    with pytest.raises(ValidationError, match=r"has no unit.* for example '16.4 m'"):
        _Lead.model_validate(
            {"length_m": "16.4", "pitch_mm": 50, "cut_um": 1, "core_ohm_per_m": 0, "gauge": "18 AWG"}
        )


@given(st.integers(min_value=0, max_value=10**12))
def test_whole_micrometres_survive_any_metric_spelling(length_um: int) -> None:
    for unit, per_um in (("µm", 0), ("mm", 3), ("cm", 4), ("m", 6), ("km", 9)):
        text = f"{Decimal(length_um).scaleb(-per_um):f} {unit}"
        assert to_um(text) == length_um


@given(st.integers(min_value=0, max_value=10**9))
def test_whole_tenths_of_an_inch_are_exact(tenths: int) -> None:
    """25.4 mm to the inch makes a tenth of an inch 2 540 µm exactly."""
    assert to_um(f"{Decimal(tenths) / 10} in") == tenths * 2540
    assert to_um(f"{Decimal(tenths) / 10} in") * 12 == to_um(f"{Decimal(tenths) / 10} ft")


@given(st.floats(min_value=-1e9, max_value=1e9, allow_nan=False), st.sampled_from(sorted(MEASURES)))
def test_a_float_written_out_reads_back_the_same(value: float, unit: str) -> None:
    text = f"{Decimal(repr(value)):f}"
    if len(text) < 30 and len(text.partition(".")[2]) <= 15:
        house = next(iter(MEASURES[unit].spellings)) if unit not in ("ohm/m", "m2") else unit
        assert to_si(f"{text} {house}", unit) == value


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    with contextlib.suppress(BadQuantity):  # and nothing else
        assert math.isfinite(to_si(text, "m"))


def test_every_spelling_is_known_to_the_registry_and_to_one_measure_only() -> None:
    """A spelling that meant two things would be read differently under two heads."""
    owners: dict[str, set[str]] = {}
    for unit, measure in MEASURES.items():
        for spelling in measure.spellings:
            assert math.isfinite(to_si(f"1 {spelling}", unit))
            owners.setdefault(spelling, set()).add(unit)
    shared = {spelling: units for spelling, units in owners.items() if len(units) > 1}
    assert all(units <= {"h", "min"} for units in shared.values()), shared
    assert measure_of("W/ft") == "W/m"


@pytest.mark.parametrize("value", [None, True, [1], {}, float("nan"), float("inf")])
def test_what_is_neither_number_nor_text_is_refused(value: object) -> None:
    """A request body may hold anything that JSON can say."""
    with pytest.raises(BadQuantity, match="not a number"):
        to_si(value, "Ah")  # type: ignore[arg-type]
