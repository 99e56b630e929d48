"""Values as they stand in an address: read from text, and what they must look like when they cannot be."""

import csv
import math
import re
from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from functools import partial
from typing import Any

from service.errors import BadQuantity
from service.units import ENDINGS, ending_of, to_si

LARGEST_WHOLE = 2**31 - 1  # what a whole column holds on both databases
LONGEST_TEXT = 120
SHORTEST_SPAN = date(1900, 1, 1)  # earlier instants cannot be told in every time zone
TRUE, FALSE = {"true", "yes", "1"}, {"false", "no", "0"}
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_WHOLE = re.compile(r"[+-]?\d{1,10}")


def several(text: str) -> list[str]:
    """The values of a comma-separated text; one with a comma in it stands in quotes, as in CSV (RFC 4180).

    >>> several('good, suspect'), several('"Ice wall, left",Gate'), several("")
    (['good', 'suspect'], ['Ice wall, left', 'Gate'], [''])
    """
    if "," not in text and '"' not in text:
        return [text.strip()]
    try:
        rows = list(csv.reader([text], skipinitialspace=True))
    except csv.Error as error:
        raise ValueError("values with commas between are expected") from error
    return [value.strip() for value in rows[0]] if rows else [""]


def _text(text: str) -> str:
    if "\x00" in text:
        raise ValueError("text without NUL characters is expected")
    if len(text) > LONGEST_TEXT:
        raise ValueError(f"text of at most {LONGEST_TEXT} characters is expected")
    return text


def _whole(text: str) -> int:
    if not _WHOLE.fullmatch(text) or abs(int(text)) > LARGEST_WHOLE:
        raise ValueError(f"an integer of at most {LARGEST_WHOLE} is expected")
    return int(text)


def _real(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise ValueError("a number is expected, without its unit")
    return value


def _money(text: str) -> Decimal:
    try:
        value = Decimal(text)
    except InvalidOperation:
        value = Decimal("nan")
    if not value.is_finite() or abs(value) >= Decimal(10) ** 8:
        raise ValueError("a number below 100000000 is expected")
    return round(value, 2) if value == round(value, 2) else value


def _yes(text: str) -> bool:
    if text.lower() not in TRUE | FALSE:
        raise ValueError("true or false is expected")
    return text.lower() in TRUE


def day(text: str) -> date:
    """A day as YYYY-MM-DD (ISO 8601). Raises ValueError."""
    try:
        if _DAY.fullmatch(text):
            return date.fromisoformat(text)
    except ValueError:
        pass
    raise ValueError("a day is expected, as YYYY-MM-DD")


def instant(text: str) -> datetime:
    """An instant with its zone (RFC 3339), as UTC. Raises ValueError."""
    try:
        # A plus that was not escaped in the address arrives as a blank.
        value = datetime.fromisoformat(re.sub(r" (\d\d:?\d\d)$", r"+\1", text))
    except ValueError:
        value = datetime.min
    if value.tzinfo is None or not SHORTEST_SPAN.year <= value.year <= 9998:
        raise ValueError("an instant with its zone is expected, such as 2026-11-25T18:00:00Z")
    return value.astimezone(UTC)


_READERS: dict[type, Callable[[str], Any]] = {
    str: _text, int: _whole, float: _real, Decimal: _money, bool: _yes, date: day, datetime: instant,
}  # fmt: skip


def is_scalar(kind: Any) -> bool:
    """Whether values of that type can be asked for and put in order."""
    return kind in _READERS or _is_choice(kind)


def _is_choice(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, StrEnum)


def unit_of(name: str) -> tuple[str, float] | None:
    """The house unit that a field's name ends in, and how many of the field's own units are one of it.

    >>> unit_of("pitch_mm"), unit_of("measured_w_per_m"), unit_of("leds_per_m")
    (('m', 1000.0), ('W/m', 1.0), None)
    """
    return ENDINGS.get(ending_of(name))


def _figure(text: str, unit: tuple[str, float]) -> float:
    """A figure in the unit of its field, or with one of its own."""
    try:
        return _real(text)
    except ValueError:
        pass
    try:
        return to_si(text, unit[0]) * unit[1]
    except BadQuantity as refusal:
        raise ValueError(f"{refusal.message}. {refusal.mend}") from refusal


def reader(kind: Any, name: str = "") -> Callable[[str], Any]:
    """What reads a value of that type for the field of that name. It raises ValueError: what is expected."""
    unit = unit_of(name) if kind is float else None
    if unit is not None:
        return partial(_figure, unit=unit)
    if not _is_choice(kind):
        return _READERS[kind]

    def chosen(text: str) -> Any:
        try:
            return kind(text)
        except ValueError:
            known = ", ".join(f"'{one.value}'" for one in kind)
            raise ValueError(f"one of {known} is expected") from None

    return chosen


def json_type(kind: Any) -> dict[str, Any]:
    """The type as JSON Schema has it."""
    if _is_choice(kind):
        return {"type": "string", "enum": [one.value for one in kind]}
    named: dict[Any, dict[str, Any]] = {
        int: {"type": "integer"},
        float: {"type": "number"},
        Decimal: {"type": "number"},
        bool: {"type": "boolean"},
        date: {"type": "string", "format": "date"},
        datetime: {"type": "string", "format": "date-time"},
    }
    return named.get(kind, {"type": "string"})


def as_json(value: Any) -> Any:
    """A value as a cursor carries it.

    >>> as_json(Decimal("2.50")), as_json(date(2026, 11, 25)), as_json(None)
    ('2.50', '2026-11-25', None)
    """
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, date):
        return value.isoformat()
    return value


def from_json(value: Any, kind: Any) -> Any:
    """The value again. Raises ValueError where it cannot be one of that type."""
    if value is None:
        return None
    wanted: Any = kind if kind in (int, float, bool) else str
    read: Any = _READERS[kind] if kind in (Decimal, date, datetime) else wanted
    if type(value) is not wanted or (wanted is str and "\x00" in value):
        raise ValueError("not a value of that type")
    if wanted is int and abs(value) > LARGEST_WHOLE:
        raise ValueError("too large")
    if wanted is float and not math.isfinite(value):
        raise ValueError("not a figure")
    return read(value)
