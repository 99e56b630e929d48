"""Text with a unit becomes a number in the house's own units, and back, exactly where it can.

The house counts in m, A, V, W, ohm, Hz, degC, Wh and Ah; lengths of tape in whole micrometres.
One number and one unit are matched by a strict pattern and a closed list of spellings before
anything is handed to pint, because pint evaluates arithmetic: "9**9**9**9 m" would never return.
"""

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal, localcontext
from functools import lru_cache, partial
from typing import Annotated

import pint
from pydantic import BeforeValidator, WithJsonSchema

from service.errors import BadQuantity

Number = str | int | float | Decimal

LONGEST_TEXT = 40  # characters; no honest quantity is longer
MICROMETRES_PER_INCH = 25_400
MICROMETRES_PER_METRE = 1_000_000
METRIC, US = "metric", "us"

NUMBER = r"[+-]?(?:\d{1,15}(?:\.\d{0,15})?|\.\d{1,15})(?:[eE][+-]?\d{1,2})?"
QUANTITY = re.compile(rf"(?P<number>{NUMBER})\s*(?P<unit>[^\d\s.,+\-*^()][^*+]*)?")
FEET = r"(?P<feet>\d{1,6})\s*(?:ft|feet|foot|'|′)"
INCHES = (
    r"(?:(?P<whole>\d{1,6}(?:\.\d{1,6})?)(?:\s+(?=\d+/))?)?(?:(?P<over>\d{1,3})/(?P<under>[1-9]\d{0,2}))?"
    r"\s*(?:inches|inch|in|\"|″)"
)
FEET_AND_INCHES = re.compile(rf"(?:{FEET}(?:\s*|-\s*|\s+-\s+))?(?=[\d.]){INCHES}", re.I)
COMMA = re.compile(r"[+-]?\d[\d.]*,[\d,.]*.*")
AWG = re.compile(
    r"(?:awg\s*#?(?P<after>\d{1,2}|[1-4]/0)|#?(?P<before>\d{1,2}|[1-4]/0)\s*(?:awg|ga|gauge))", re.I
)
SECTION = re.compile(r"(?P<mm2>\d{1,3}(?:\.\d{1,3})?)\s*(?:mm²|mm2|mm\^2|sq\s?mm)", re.I)


@dataclass(frozen=True, slots=True)
class Measure:
    """What is measured, the house's unit for it, and how pint spells each unit people write."""

    what: str
    unit: str
    spellings: dict[str, str]
    us_unit: str | None = None


def _measure(what: str, unit: str, spellings: str, us_unit: str | None = None) -> Measure:
    """Spellings come as "ft foot feet=foot": names, then the name pint knows them by."""
    table: dict[str, str] = {}
    for group in spellings.split(";"):
        names, _, pint_name = group.strip().partition("=")
        for name in names.split():
            table[name.replace("_", " ")] = pint_name.strip() or names.split()[0]
    return Measure(what, unit, table, us_unit)


MEASURES: dict[str, Measure] = {
    "m": _measure(
        "length",
        "m",
        "m metre metres meter meters=meter; mm millimetre millimetres millimeter millimeters=millimeter;"
        "cm=centimeter; km=kilometer; µm μm um=micrometer; ft foot feet ' ′=foot; in inch inches \" ″=inch;"
        "yd yard yards=yard; thou=thou",
        "ft",
    ),
    "A": _measure("current", "A", "A amp amps ampere amperes=ampere; mA=milliampere; µA uA=microampere"),
    "V": _measure("voltage", "V", "V volt volts Vdc VDC V_dc V_DC Vac VAC=volt; mV=millivolt; kV=kilovolt"),
    "W": _measure("power", "W", "W watt watts=watt; mW=milliwatt; kW=kilowatt"),
    "VA": _measure("apparent power", "VA", "VA=volt*ampere; kVA=kilovolt*ampere"),
    "Wh": _measure("energy", "Wh", "Wh W_h=watt*hour; kWh=kilowatt*hour"),
    "Ah": _measure("charge", "Ah", "Ah A_h=ampere*hour; mAh=milliampere*hour"),
    "Hz": _measure("frequency", "Hz", "Hz=hertz; kHz=kilohertz; MHz=megahertz"),
    "h": _measure("time", "h", "h hr hour hours=hour; min minute minutes=minute; s second seconds=second"),
    "min": _measure("time", "min", "min mins minute minutes=minute; h hr hour hours=hour; s=second"),
    "d": _measure("days", "d", "d day days=day; week weeks wk=week"),
    "K": _measure("colour temperature", "K", "K kelvin=kelvin"),
    "nm": _measure("wavelength", "nm", "nm=nanometer"),
    "degC": _measure("temperature", "degC", "degC °C deg_C C=degC; degF °F deg_F F=degF", "degF"),
    "%": _measure("share", "%", "% percent pct=percent"),
    "%/K": _measure("derating", "%/K", "%/K %/°C %/degC percent/K=percent/kelvin"),
    "ohm": _measure("resistance", "ohm", "ohm ohms Ω Ω=ohm; mohm mΩ mΩ milliohm milliohms=milliohm"),
    "ohm/m": _measure(
        "resistance per length",
        "ohm/m",
        "ohm/m Ω/m Ω/m=ohm/meter; mohm/m mΩ/m mΩ/m milliohm/m=milliohm/meter;"
        "ohm/km Ω/km Ω/km=ohm/kilometer; ohm/ft Ω/ft Ω/ft=ohm/foot; mohm/ft mΩ/ft mΩ/ft=milliohm/foot;"
        "ohm/1000_ft Ω/1000_ft Ω/1000_ft ohm/1000ft Ω/1000ft ohm/kft Ω/kft=ohm/kilofoot",
        "Ω/1000 ft",
    ),
    "W/m": _measure(
        "power per length", "W/m", "W/m watt/m watts/m=watt/meter; W/ft watts/ft=watt/foot", "W/ft"
    ),
    "/m": _measure("count per length", "/m", "/m per_m=1/meter; /ft per_ft=1/foot", "/ft"),
    "m2": _measure(
        "area",
        "m2",
        "m² m2 m^2 sq_m=meter**2; mm² mm2 mm^2 sq_mm=millimeter**2; cm² cm2=centimeter**2;"
        "circular_mil circular_mils cmil=circular_mil; kcmil=kcmil; ft² ft2 sq_ft=foot**2; in² in2=inch**2",
    ),
    "W/m2K": _measure("heat passed by a wall", "W/m2K", "W/m²K W/m2K W/(m²K) W/m2/K=watt/meter**2/kelvin"),
    "m3/h": _measure("air moved", "m3/h", "m³/h m3/h=meter**3/hour; cfm=foot**3/minute"),
}
_PINT_TARGET = {
    "Wh": "watt*hour", "Ah": "ampere*hour", "VA": "volt*ampere", "%": "percent", "%/K": "percent/kelvin",
    "/m": "1/meter", "m2": "meter**2", "W/m2K": "watt/meter**2/kelvin", "m3/h": "meter**3/hour",
    "ohm/m": "ohm/meter", "W/m": "watt/meter", "d": "day", "K": "kelvin", "nm": "nanometer",
}  # fmt: skip


# How the names of fields say their unit: the house unit, and how many of the field's own are one of it.
# None: a count of something, which has no unit of its own.
ENDINGS: dict[str, tuple[str, float] | None] = {
    "_w_per_m": ("W/m", 1.0), "_ohm_per_m": ("ohm/m", 1.0), "_m3_per_h": ("m3/h", 1.0),
    "_pct_per_k": ("%/K", 1.0), "_per_m": None, "_per_h": None, "_degc": ("degC", 1.0), "_ohm": ("ohm", 1.0),
    "_mm": ("m", 1_000.0), "_m2": ("m2", 1.0), "_ah": ("Ah", 1.0), "_wh": ("Wh", 1.0), "_va": ("VA", 1.0),
    "_hz": ("Hz", 1.0), "_pct": ("%", 1.0), "_min": ("min", 1.0), "_m": ("m", 1.0), "_a": ("A", 1.0),
    "_v": ("V", 1.0), "_w": ("W", 1.0), "_h": ("h", 1.0),
}  # fmt: skip


def ending_of(name: str) -> str:
    """What the name of a field ends in to say its unit, the longest that fits; blank where it says none.

    >>> ending_of("measured_w_per_m"), ending_of("leds_per_m"), ending_of("tag")
    ('_w_per_m', '_per_m', '')
    """
    return next((ending for ending in ENDINGS if name.endswith(ending)), "")


@lru_cache(maxsize=1)
def _registry() -> pint.UnitRegistry[Decimal]:
    """One registry, in decimals, so that 0.3048 m to the foot stays exact."""
    return pint.UnitRegistry(non_int_type=Decimal, autoconvert_offset_to_baseunit=True)


@lru_cache(maxsize=512)
def _factor(pint_unit: str, target: str) -> Decimal:
    registry = _registry()
    with localcontext(prec=40):
        return Decimal(registry.Quantity(Decimal(1), pint_unit).to(target).magnitude)


def _convert(number: Decimal, pint_unit: str, measure: Measure) -> Decimal:
    target = _PINT_TARGET.get(measure.unit, measure.unit)
    if measure.unit == "degC":
        return Decimal(_registry().Quantity(number, pint_unit).to(target).magnitude)
    return number * _factor(pint_unit, target)


def _spelt(unit: str, measure: Measure) -> str | None:
    """Pint's name for a unit as written, upper and lower case alike where that is safe."""
    tidy = re.sub(r"\s*/\s*", "/", " ".join(unit.split())).rstrip(".")
    if tidy in measure.spellings:
        return measure.spellings[tidy]
    # A capital M means mega, and a milliohm read as a megohm is wrong by a thousand million.
    if tidy.startswith("M") and tidy not in ("M", "MM", "MM2", "MM²", "METRES", "METERS"):
        return None
    return {name.lower(): known for name, known in measure.spellings.items()}.get(tidy.lower())


def measure_of(unit: str) -> str | None:
    """The house unit that a unit as written belongs to: "W/ft" to "W/m"; None if unknown."""
    for house_unit, measure in MEASURES.items():
        if _spelt(unit, measure) is not None:
            return house_unit
    return None


def is_unit(text: str, house_unit: str) -> bool:
    """True if the text names a unit that can be turned into the house unit."""
    return _spelt(text, MEASURES[house_unit]) is not None


def _refuse_unit(text: str, unit: str, measure: Measure) -> BadQuantity:
    if AWG.fullmatch(text):
        return BadQuantity(f"{text!r} is a gauge, not a {measure.what}", f"Write it in {measure.unit}.")
    if unit.strip().lower() in ("mil", "mils"):
        return BadQuantity(
            f"{text!r}: mil can be an angle, a thousandth of an inch or a wire area",
            "Write thou for a thickness or circular mil for an area.",
        )
    other = measure_of(unit)
    if other is not None:
        return BadQuantity(
            f"{text!r} is a {MEASURES[other].what}, not a {measure.what}",
            f"Write it in {measure.unit}.",
        )
    # One spelling a unit, the first: a list of every way to write a metre helps nobody.
    known = ", ".join({known: name for name, known in reversed(measure.spellings.items())}.values())
    return BadQuantity(f"{unit.strip()!r} is not a unit of {measure.what}", f"Known: {known}.")


def _read(text: str, measure: Measure, bare: str | None) -> Decimal:
    tidy = text.strip().replace("−", "-")
    if len(tidy) > LONGEST_TEXT:
        raise BadQuantity(f"{tidy[:LONGEST_TEXT]!r}… is too long", "Write one number and one unit.")
    match = QUANTITY.fullmatch(tidy)
    if measure.unit == "m" and (drawn := FEET_AND_INCHES.fullmatch(tidy)):
        return _feet_and_inches(tidy, drawn)
    if match is None:
        if COMMA.fullmatch(tidy):
            raise BadQuantity(
                f"{tidy!r} has a comma in the number",
                "Write a decimal point, as in 1.5, and no mark between thousands, as in 1500.",
            )
        raise BadQuantity(
            f"{tidy!r} is not one number and one unit", f"Write for example '1.5 {measure.unit}'."
        )
    unit = match["unit"] or bare
    if unit is None:
        raise BadQuantity(f"{tidy!r} has no unit", f"Write for example '{tidy or 1} {measure.unit}'.")
    spelt = _spelt(unit, measure)
    if spelt is None:
        raise _refuse_unit(tidy, unit, measure)
    return _convert(Decimal(match["number"]), spelt, measure)


def _feet_and_inches(text: str, drawn: re.Match[str]) -> Decimal:
    """A length in m, as it stands on a drawing: 16 ft 5 1/2 in."""
    over, under = Decimal(drawn["over"] or 0), Decimal(drawn["under"] or 1)
    inches = Decimal(drawn["whole"] or 0) + over / under
    if drawn["feet"] is not None and inches >= 12:
        raise BadQuantity(f"{text!r} has a foot or more in its inches", "Carry them over to the feet.")
    return Decimal(drawn["feet"] or 0) * Decimal("0.3048") + inches * Decimal("0.0254")


def to_decimal(value: Number, unit: str, bare: str | None = None) -> Decimal:
    """The value in the house unit, exact where the factor is exact.

    `bare` is the unit of a number that carries none, such as one under the head "Lead (ft)".
    """
    measure = MEASURES[unit]
    if isinstance(value, str):
        return _read(value, measure, bare)
    is_number = isinstance(value, int | float | Decimal) and not isinstance(value, bool)
    if not is_number or (isinstance(value, float) and not math.isfinite(value)):
        raise BadQuantity(f"{value!r} is not a number that can be used", f"Write a {measure.what}.")
    # repr, not the binary fraction: 0.1 typed in a cell means one tenth.
    number = value if isinstance(value, Decimal) else Decimal(repr(value))
    if not number.is_finite():
        raise BadQuantity(f"{value!r} is not a number that can be used", f"Write a {measure.what}.")
    spelt = _spelt(bare or unit, measure)
    if spelt is None:
        raise _refuse_unit(f"{value} {bare}", bare or unit, measure)
    return _convert(number, spelt, measure)


def to_si(value: Number, unit: str, bare: str | None = None) -> float:
    """The value as a float in the house unit; text without a unit is refused unless `bare` says it.

    >>> to_si("16 ft", "m"), to_si("25 mΩ/m", "ohm/m"), to_si(3, "m", bare="in")
    (4.8768, 0.025, 0.0762)
    """
    return float(to_decimal(value, unit, bare))


def to_um(value: Number, bare: str | None = None) -> int:
    """A length in whole micrometres, to the nearest; a bare number is in `bare`, or m if it is no text.

    >>> to_um("16.4042 ft"), to_um("50 mm"), to_um(1250, "mm")
    (5000000, 50000, 1250000)
    """
    return int((to_decimal(value, "m", bare) * MICROMETRES_PER_METRE).to_integral_value())


def to_gauge(value: Number, bare: str | None = None) -> str:
    """A wire size as the house writes it: "18 AWG" or "2.5 mm²". A gauge is not a length.

    >>> to_gauge("AWG18"), to_gauge(18, "AWG"), to_gauge("2.5mm2")
    ('18 AWG', '18 AWG', '2.5 mm²')
    """
    text = f"{value:g}" if isinstance(value, float) else str(value).strip()
    if bare and re.fullmatch(r"\d{1,3}(\.\d{1,3})?|[1-4]/0", text):
        text = f"{text} {bare}"
    if awg := AWG.fullmatch(text):
        size = awg["after"] or awg["before"]
        if "/" in size or int(size) <= 40:
            return f"{size if '/' in size else int(size)} AWG"
    if section := SECTION.fullmatch(text):
        return f"{Decimal(section['mm2']).normalize():f} mm²"
    raise BadQuantity(f"{text!r} is not a wire size", "Write for example '18 AWG' or '1.5 mm²'.")


_DIGITS = {"m": 3, "ft": 2, "degC": 1, "degF": 1}
_SIGN = {"ohm": "Ω", "ohm/m": "Ω/m", "degC": "°C", "degF": "°F", "m2": "m²", "W/m2K": "W/m²K", "m3/h": "m³/h"}


def unit_text(unit: str) -> str:
    """The house unit as people write it: "degC" is °C."""
    return _SIGN.get(unit, unit)


def unit_in(unit: str, system: str) -> str:
    """The unit in which a figure of the house unit is read in that habit.

    >>> unit_in("m", "us"), unit_in("V", "us")
    ('ft', 'V')
    """
    us_unit = MEASURES[unit].us_unit
    return us_unit if system == US and us_unit is not None else unit


def number_in(value: Decimal, unit: str, system: str) -> Decimal:
    """How many of `unit_in` a figure of the house unit is.

    >>> float(number_in(Decimal(40), "degC", "us"))
    104.0
    """
    shown_unit = unit_in(unit, system)
    if shown_unit == unit:
        return value
    spelt = MEASURES[unit].spellings[shown_unit]
    if unit == "degC":
        return Decimal(_registry().Quantity(value, "degC").to(spelt).magnitude)
    return value / _factor(spelt, _PINT_TARGET.get(unit, unit))


def show(value: float, unit: str, system: str = METRIC, digits: int | None = None) -> str:
    """A value in the house unit as people read it, in the metric or US habit.

    >>> show(4.8768, "m"), show(4.8768, "m", "us"), show(0.025, "ohm/m"), show(14.4, "W/m", "us")
    ('4.877 m', '16 ft', '25 mΩ/m', '4.39 W/ft')
    """
    shown_unit = unit_in(unit, system)
    number = number_in(Decimal(repr(value)), unit, system)
    if shown_unit == "ohm/m":
        number, shown_unit = number * 1000, "mΩ/m"
    places = _DIGITS.get(shown_unit, 2) if digits is None else digits
    text = f"{number:.{places}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    if text in ("-0", ""):
        text = "0"
    gap = "" if shown_unit in ("%", "/ft") else " "
    return f"{text}{gap}{_SIGN.get(shown_unit, shown_unit)}"


def show_um(length_um: int, system: str = METRIC) -> str:
    """A length in whole micrometres as people read it: millimetres; or feet, and inches below one of them.

    >>> show_um(1250000), show_um(5000000, "us"), show_um(50000, "us")
    ('1250 mm', '16.4 ft', '1.97 in')
    """
    if system == US:
        inches = Decimal(length_um) / MICROMETRES_PER_INCH
        if 0 < abs(inches) < 12:
            return f"{inches:.2f}".rstrip("0").rstrip(".") + " in"
        return show(length_um / MICROMETRES_PER_METRE, "m", US)
    return f"{Decimal(length_um) / 1000:f} mm".replace(".000 mm", " mm")


def _enter(value: Number, read: Callable[[Number], float | int | str]) -> float | int | str:
    """A refusal inside a request body keeps its mend: pydantic shows the message alone."""
    try:
        return read(value)
    except BadQuantity as refusal:
        raise ValueError(f"{refusal.message}. {refusal.mend}") from refusal


def _border(
    read: Callable[[Number], float | int | str], house_unit: str, *examples: str | int
) -> tuple[object, ...]:
    """A number is in the unit its field's name says; text must say its own."""
    schema = {
        "anyOf": [{"type": "number"}, {"type": "string"}],
        "description": f"a number in {house_unit}, or text with its own unit",
        "examples": list(examples),
    }
    return BeforeValidator(partial(_enter, read=read)), WithJsonSchema(schema, mode="validation")


def _si(house_unit: str) -> Callable[[Number], float]:
    return partial(to_si, unit=house_unit)


def _mm(value: Number) -> float:
    return float(to_decimal(value, "m", None if isinstance(value, str) else "mm") * 1000)


def _um(value: Number) -> int:
    return to_um(value, None if isinstance(value, str) else "um")


def _named(house_unit: str) -> Callable[[Number], float]:
    """Text without a unit is in the unit of its field's name."""
    return partial(to_si, unit=house_unit, bare=house_unit)


Percent = Annotated[float, *_border(_named("%"), "%", 5, "5 %")]
Hours = Annotated[float, *_border(_named("h"), "h", 3, "2.5 h", "150 min")]
Minutes = Annotated[float, *_border(_named("min"), "min", 150, "2.5 h")]
CubicMetresPerHour = Annotated[float, *_border(_named("m3/h"), "m³/h", 20, "20 m³/h")]
PercentPerKelvin = Annotated[float, *_border(_named("%/K"), "%/K", 2.5, "2.5 %/K")]
Metres = Annotated[float, *_border(_si("m"), "m", "5 m", "16 ft")]
Millimetres = Annotated[float, *_border(_mm, "mm", "1250 mm", 1250, "4 ft")]
Micrometres = Annotated[int, *_border(_um, "µm", "1250 mm", 1250000, "4 ft")]
Amperes = Annotated[float, *_border(_si("A"), "A", "4 A", "350 mA")]
Volts = Annotated[float, *_border(_si("V"), "V", "24 V")]
Watts = Annotated[float, *_border(_si("W"), "W", "320 W")]
WattHours = Annotated[float, *_border(_si("Wh"), "Wh", "30.7 Wh")]
AmpereHours = Annotated[float, *_border(_si("Ah"), "Ah", "10 Ah")]
Hertz = Annotated[float, *_border(_si("Hz"), "Hz", "1000 Hz", "4 kHz")]
Ohms = Annotated[float, *_border(_si("ohm"), "ohm", "0.5 ohm", "25 mΩ")]
OhmsPerMetre = Annotated[float, *_border(_si("ohm/m"), "ohm/m", "25 mΩ/m", "6.4 Ω/1000 ft")]
WattsPerMetre = Annotated[float, *_border(_si("W/m"), "W/m", "14.4 W/m", "4.4 W/ft")]
SquareMetres = Annotated[float, *_border(_si("m2"), "m²", "0.4 m²", "2.5 mm²")]
DegreesC = Annotated[float, *_border(_si("degC"), "°C", "40 °C")]
Gauge = Annotated[str, *_border(to_gauge, "AWG or mm²", "18 AWG", "1.5 mm²")]
