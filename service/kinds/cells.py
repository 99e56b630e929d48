"""One cell becomes one value of its column's kind, or a sentence about what is wrong with it."""

import difflib
import re
from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime
from decimal import Decimal, InvalidOperation
from enum import Enum
from typing import cast

from service.errors import BadQuantity
from service.kinds.columns import Column, Form
from service.store.base import sound
from service.units import MICROMETRES_PER_METRE, show, to_gauge, to_si, to_um

Cell = str | int | float | bool | date | None  # what a spreadsheet, or a line of text, holds

MAX_TEXT = 400
MAX_TAG = 40
MAX_PIECES = 400
_TAG = re.compile(rf"[A-Za-z0-9][A-Za-z0-9._+-]{{0,{MAX_TAG - 1}}}")
_YES = {"y", "yes", "true", "1", "x", "✓"}
_NO = {"n", "no", "false", "0", "-"}
_UNIT_AT_END = re.compile(r"(?:[\d.]|^\s*-)\s*([^\d.;+\s][^\d;+]*?)\s*$")
_EMITTER = re.compile(r"\s*([^=:;]{1,24}?)\s*[=:]\s*([^;]+?)\s*")
_PIECES = re.compile(r"\s*(?:(\d{1,3})\s*[x×*]\s*)?([^x×*]+?)\s*", re.I)
_PIECES_TIMES = re.compile(r"\s*(\d{1,3})\s*[x×*]\s*([^x×*]+?)\s*", re.I)
_CHANNELS = re.compile(r"(\d{1,3})(?:\s*[-–]\s*(\d{1,3}))?")
_ANY = re.compile(r"\(?\s*any\s+(?P<model>\S+?)\s*\)?", re.I)


class AnyOf(str):
    """A model named where a unit's tag would stand: "any S320"."""


def _plain(cell: Cell) -> str:
    """Text as typed; a number keeps its shortest spelling."""
    if isinstance(cell, float):
        # Twelve figures: a formula such as 3 * 1.1 leaves 3.3000000000000003 in its cell.
        return f"{Decimal(f'{cell:.12g}'):f}"
    if isinstance(cell, date):
        return cell.isoformat()
    return str(cell).strip()


def _text(cell: Cell, column: Column, _bare: str | None) -> str:
    text = " ".join(_plain(cell).split())
    longest = int(column.high or MAX_TEXT)
    if len(text) > longest:
        raise BadQuantity(f"the text has {len(text)} characters", f"At most {longest} are kept; shorten it.")
    return text


def _tag(cell: Cell, _column: Column, _bare: str | None) -> str:
    text = _plain(cell)
    if not _TAG.fullmatch(text):
        raise BadQuantity(
            f"{text[:60]!r} cannot be a tag",
            f"Use up to {MAX_TAG} letters, digits, points, hyphens and underscores, as in PS-01.",
        )
    return text


def _source(cell: Cell, column: Column, bare: str | None) -> str:
    placeholder = _ANY.fullmatch(_plain(cell))
    return AnyOf(_tag(placeholder["model"], column, bare)) if placeholder else _tag(cell, column, bare)


def _choice(cell: Cell, column: Column, _bare: str | None) -> Enum | str:
    text = " ".join(_plain(cell).lower().replace("_", " ").split())
    for member in cast(Iterable[Enum | str], column.choices):
        value = str(member.value if isinstance(member, Enum) else member)
        if value.lower() == text or value.lower().replace(" ", "") == text.replace(" ", "").replace("-", ""):
            return member
    near = difflib.get_close_matches(text, column.values, n=1, cutoff=0.6)
    guess = f"Did you mean {near[0]!r}? " if near else ""
    raise BadQuantity(
        f"{_plain(cell)!r} is not one of the choices", f"{guess}Choose from: {', '.join(column.values)}."
    )


def _yes_no(cell: Cell, _column: Column, _bare: str | None) -> bool:
    text = _plain(cell).lower()
    if text in _YES:
        return True
    if text in _NO:
        return False
    raise BadQuantity(f"{_plain(cell)!r} is neither yes nor no", "Write yes or no.")


def _within(value: float, column: Column, shown: Callable[[float], str]) -> None:
    """Refuses what no such thing can be: a typing mistake would otherwise reach every sum."""
    too_low = column.low is not None and value < column.low
    too_high = column.high is not None and value > column.high
    if too_low or too_high:
        low = "" if column.low is None else f"from {shown(column.low)} "
        high = "" if column.high is None else f"to {shown(column.high)}"
        raise BadQuantity(f"{shown(value)} is out of range", f"Allowed {low}{high}".strip() + ".")


def _number_text(value: float) -> str:
    return f"{value:g}"


def _decimal(cell: Cell) -> Decimal:
    text = _plain(cell).replace("−", "-")
    if isinstance(cell, bool) or not re.fullmatch(r"[+-]?(\d{1,15}\.?\d{0,20}|\.\d{1,20})", text):
        mend = "Write digits and, if need be, a decimal point."
        if re.fullmatch(r"[+-]?[\d.]*,[\d,.]*", text):
            mend = "Write a decimal point, as in 1.5, and no mark between thousands, as in 1500."
        raise BadQuantity(f"{text[:40]!r} is not a number", mend)
    try:
        return Decimal(text)
    except InvalidOperation:
        raise BadQuantity(f"{text[:40]!r} is not a number", "Write digits.") from None


def _whole(cell: Cell, column: Column, _bare: str | None) -> int:
    number = _decimal(cell)
    if number != number.to_integral_value():
        raise BadQuantity(f"{_plain(cell)} is not a whole number", "Write it without a fraction.")
    _within(int(number), column, _number_text)
    return int(number)


def _number(cell: Cell, column: Column, _bare: str | None) -> float:
    number = float(_decimal(cell))
    _within(number, column, _number_text)
    return number


def _share(cell: Cell, column: Column, bare: str | None) -> float:
    text = _plain(cell)
    per_cent = text.endswith("%") or bare is not None
    number = float(_decimal(text.rstrip("% ")))
    share = number / 100.0 if per_cent else number
    if not 0.0 < share <= 1.0:
        meant = number if 1.0 < number <= 100.0 and not per_cent else 90.0
        raise BadQuantity(
            f"{text} is not a share between 0 and 1", f"Write for example {meant / 100:g} or {meant:g} %."
        )
    _within(share, column, _number_text)
    return share


def _quantity(cell: Cell, column: Column, bare: str | None) -> float:
    value = to_si(_with_unit(cell, bare), column.unit, bare)
    _within(value, column, lambda v: show(v, column.unit, digits=6))
    return value


def _with_unit(cell: Cell, bare: str | None) -> str | int | float:
    if isinstance(cell, bool | date) or cell is None:
        raise BadQuantity(f"{_plain(cell)!r} is not one number and one unit", "Write a number.")
    if bare is None and not isinstance(cell, str):
        cell = _plain(cell)  # a bare number where each cell must say its unit
    return cell


def _length(cell: Cell, column: Column, bare: str | None) -> int:
    value_um = to_um(_with_unit(cell, bare), bare)
    _within(value_um / MICROMETRES_PER_METRE, column, lambda v: show(v, "m", digits=6))
    return value_um


def _gauge(cell: Cell, _column: Column, bare: str | None) -> str:
    return to_gauge(_plain(cell), bare)


def _money(cell: Cell, column: Column, _bare: str | None) -> Decimal:
    amount = _decimal(cell)
    _within(float(amount), column, _number_text)
    if amount != amount.quantize(Decimal("0.01")):
        raise BadQuantity(f"{_plain(cell)} has more than two decimals", "Round it to two decimals.")
    return amount


def _date(cell: Cell, _column: Column, _bare: str | None) -> date:
    if isinstance(cell, date):
        day = cell
    else:
        text = _plain(cell)
        try:
            day = date.fromisoformat(text) if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text) else date(1, 1, 1)
        except ValueError:
            raise BadQuantity(f"{text} is not a day of the calendar", "Check month and day.") from None
    if not 2000 <= day.year <= 2100:
        raise BadQuantity(
            f"{_plain(cell)[:40]!r} is not a date that can be read",
            "Write year-month-day, as in 2026-11-25, between 2000 and 2100.",
        )
    return day


def _moment(cell: Cell, _column: Column, _bare: str | None) -> datetime:
    """RFC 3339: a day and a time that says its zone."""
    text = _plain(cell)
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        moment = datetime.min
    if moment.tzinfo is None or not 2000 <= moment.year <= 2100:
        raise BadQuantity(
            f"{text[:40]!r} is not a moment that can be read", "Write it as in 2026-11-25T19:28:00Z."
        )
    return moment.astimezone(UTC)


def _list(cell: Cell, _column: Column, _bare: str | None) -> tuple[str, ...]:
    return tuple(dict.fromkeys(t for t in re.split(r"[\s;,]+", _plain(cell)) if t))


def _emitters(cell: Cell, column: Column, bare: str | None) -> tuple[tuple[str, float], ...]:
    """Names and their figures in pad order: "R=4.8; G=4.8; W=4.8 W/m"."""
    if isinstance(cell, int | float) or re.match(r"\s*[\d.]", cell if isinstance(cell, str) else ""):
        cell = f"W={_plain(cell)}"  # one figure alone: tape of one white
    found: dict[str, float] = {}
    unit = _last_unit(_plain(cell), bare)
    for part in filter(None, (p.strip() for p in _plain(cell).split(";"))):
        match = _EMITTER.fullmatch(part)
        if match is None:
            raise BadQuantity(
                f"{part!r} is not a name and a figure",
                f"Write for example {column.example!r}.",
            )
        name = match[1]
        if name in found or re.search(r"\s", name):
            raise BadQuantity(
                f"{name!r} is there twice or holds a blank", "Name each emitter once, in one word."
            )
        value = to_si(match[2], column.unit, unit)
        _within(value, column, lambda v: show(v, column.unit, digits=6))
        found[name] = value
    if len(found) > 6:
        raise BadQuantity(f"{len(found)} emitters are listed", "A tape has up to six.")
    return tuple(found.items())


def _runs(cell: Cell, column: Column, bare: str | None) -> tuple[tuple[int, ...], ...]:
    """Lengths of the pieces of each run: "2 x 2400 mm; 500 mm" is three runs of a piece each,
    "2400 + 2400; 500 mm" is two, the first of two pieces chained. The last unit named counts for all."""
    text = _plain(cell)
    unit = _last_unit(text, bare)
    runs: list[tuple[int, ...]] = []
    for group in (g for g in text.split(";") if g.strip()):
        pieces = [um for part in group.split("+") if part.strip() for um in _times(part, column, unit)]
        runs += [tuple(pieces)] if "+" in group else [(um,) for um in pieces]
    count = sum(len(run) for run in runs)
    if not 0 < count <= MAX_PIECES:
        raise BadQuantity(f"{count} lengths", f"Between 1 and {MAX_PIECES} are read in one cell.")
    return tuple(runs)


def _last_unit(text: str, bare: str | None) -> str | None:
    found = (_UNIT_AT_END.search(part) for part in re.split(r"[;+]", text))
    units = [match[1] for match in found if match]
    return units[-1] if units else bare


def _times(part: str, column: Column, unit: str | None) -> list[int]:
    match = _PIECES.fullmatch(part)
    if match is None:
        raise BadQuantity(f"{part.strip()!r} is not a count and a length", "Write for example '3 x 750 mm'.")
    length_um = to_um(match[2], unit)
    _within(length_um / MICROMETRES_PER_METRE, column, lambda v: show(v, "m", digits=6))
    return [length_um] * int(match[1] or 1)


def _ingress(cell: Cell, column: Column, _bare: str | None) -> int:
    match = re.fullmatch(r"(?:IP)?\s*(\d{2})[A-Z]?", _plain(cell), re.I)
    if match is None:
        raise BadQuantity(f"{_plain(cell)[:20]!r} is not an ingress rating", "Write IP20 or 67 (IEC 60529).")
    _within(int(match[1]), column, _number_text)
    return int(match[1])


def _channels(cell: Cell, _column: Column, _bare: str | None) -> tuple[int, int]:
    """First channel and how many: "1-4" is (1, 4). A spreadsheet may have made a date of 1-4."""
    match = _CHANNELS.fullmatch(_plain(cell))
    if isinstance(cell, date) or match is None:
        raise BadQuantity(
            f"{_plain(cell)[:40]!r} is not a channel or a row of channels",
            "Write 3 or 1-4; format the column as text so that 1-4 does not become a date.",
        )
    first, last = int(match[1]), int(match[2] or match[1])
    if first < 1 or last < first:
        raise BadQuantity(
            f"{_plain(cell)} runs backwards or starts below 1", "Write the lower channel first."
        )
    return first, last - first + 1


_READERS: dict[Form, Callable[[Cell, Column, str | None], object]] = {
    Form.TEXT: _text,
    Form.TAG: _tag,
    Form.CHOICE: _choice,
    Form.YES_NO: _yes_no,
    Form.WHOLE: _whole,
    Form.NUMBER: _number,
    Form.SHARE: _share,
    Form.QUANTITY: _quantity,
    Form.LENGTH: _length,
    Form.GAUGE: _gauge,
    Form.MONEY: _money,
    Form.DATE: _date,
    Form.MOMENT: _moment,
    Form.LIST: _list,
    Form.EMITTERS: _emitters,
    Form.RUNS: _runs,
    Form.INGRESS: _ingress,
    Form.CHANNELS: _channels,
    Form.SOURCE: _source,
}


def read_cell(cell: Cell, column: Column, bare: str | None) -> object:
    """The value of a cell that is not blank. Raises BadQuantity with how to put it right."""
    if isinstance(cell, bool) and column.form not in (Form.YES_NO, Form.TEXT):
        raise BadQuantity(
            f"{'TRUE' if cell else 'FALSE'} is not a {column.form.value}", "Type the value itself."
        )
    if isinstance(cell, str):
        _refuse_unsound(cell)
    if column.many:
        return _many(cell, column, bare)
    return _READERS[column.form](cell, column, bare)


def _refuse_unsound(text: str) -> None:
    """Ends of lines and tabs are blanks in a sheet."""
    try:
        sound(" ".join(text.split()))
    except ValueError as error:
        raise BadQuantity(str(error), "Type it again without them.") from error


def _many(cell: Cell, column: Column, bare: str | None) -> tuple[object, ...]:
    """Values in order: "5 m; 3 x 2 m; -" is five, the last not known. The last unit named counts for all."""
    if not isinstance(cell, str) or (";" not in cell and not _PIECES_TIMES.fullmatch(cell)):
        return (_READERS[column.form](cell, column, bare),)
    unit = _last_unit(cell, bare) if column.form in (Form.LENGTH, Form.QUANTITY) else bare
    values: list[object] = []
    for part in cell.split(";"):
        times = _PIECES_TIMES.fullmatch(part)
        text, count = (times[2], int(times[1])) if times else (part.strip(), 1)
        value = None if text.split()[:1] in ([], ["-"]) else _READERS[column.form](text, column, unit)
        values += [value] * count
    if len(values) > MAX_PIECES:
        raise BadQuantity(f"{len(values)} values", f"At most {MAX_PIECES} are read in one cell.")
    return tuple(values)
