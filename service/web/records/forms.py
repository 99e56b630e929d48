"""A form is one row of a sheet: the same columns, the same reading of what is typed."""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from service.errors import BadQuantity, BadValues, RowError
from service.kinds.cells import read_cell
from service.kinds.columns import Column, Form
from service.kinds.kind import Kind, Values
from service.kinds.written import cell_text
from service.units import MEASURES, METRIC, US, number_in, unit_in, unit_text
from service.web.frame.pages import told

LONGEST = 2_000
_MEASURED = frozenset({Form.QUANTITY, Form.LENGTH, Form.EMITTERS, Form.RUNS})
_PER_METRE = "/m"  # a count whose name says that it is of a metre
_NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?(?![\w.])")
_DECIMALS = 4  # of a figure that is read in other units than it is kept in
Say = Callable[..., str]


@dataclass(frozen=True, slots=True)
class Field:
    """One thing to fill in. `control`: how it is asked; `fault`: what is wrong with what was typed; `now`:
    what somebody else has put there meanwhile (None: nothing else than what was typed)."""

    key: str
    label: str
    doc: str
    control: str  # text, choice, yes-no, day or long
    value: str
    choices: tuple[str, ...]
    example: str
    default: str
    required: bool
    for_plan: bool
    fault: str = ""
    now: str | None = None


def columns_asked(kind: Kind, is_new: bool) -> list[Column]:
    """What may be said of a thing; of one that is there, not what is said once and for all."""
    return [c for c in kind.columns if not c.is_short and (is_new or not c.is_fixed)]


def fields(
    columns: Iterable[Column], typed: Mapping[str, str], faults: Iterable[RowError] = (), units: str = METRIC
) -> list[Field]:
    """`units`: the habit in which the reader reads and writes figures."""
    wrong = {fault.column: _said(fault) for fault in faults if fault.column}
    return [_field(c, typed.get(c.key, ""), wrong, units) for c in columns]


def beside(form: Iterable[Field], now: Mapping[str, str]) -> list[Field]:
    """The form as it was typed, with what stands now wherever that is something else."""
    return [f if _plain(f.value) == _plain(now[f.key]) else replace(f, now=now[f.key]) for f in form]


def _plain(text: str) -> str:
    """Lines as every browser sends them, and yes and no as a form asks for them."""
    said = "\n".join(text.strip().splitlines())
    return {"True": "yes", "False": "no"}.get(said, said)


def loose(form: Iterable[Field], faults: Iterable[RowError]) -> list[RowError]:
    """The faults that no field of the form shows."""
    shown = {field.fault for field in form}
    return [fault for fault in faults if _said(fault) not in shown]


def _said(fault: RowError) -> str:
    return f"{fault.message}. {fault.mend}"


def _field(column: Column, value: str, wrong: Mapping[str, str], units: str) -> Field:
    fault = next((wrong[n] for n in (column.key, column.name, column.api_name) if n in wrong), "")
    return Field(
        column.key, _label(column, units), told(column.doc, units), _control(column), value, column.values,
        _example(column, units), told(column.default, units), column.required, column.for_plan, fault,
    )  # fmt: skip


def _control(column: Column) -> str:
    if column.form is Form.CHOICE and not column.many:
        return "choice"
    if column.form is Form.YES_NO and not column.many:
        return "yes-no"
    if column.form is Form.DATE:
        return "day"
    return "long" if column.form is Form.TEXT and (column.high or 0) > 120 else "text"


def _label(column: Column, units: str) -> str:
    """The column's name, and the unit of a bare figure in the field."""
    unit = _bare(column, units) if column.form in _MEASURED else None
    return f"{column.name} ({unit_text(unit)})" if unit else column.name


def _example(column: Column, units: str) -> str:
    own = told(column.example, units)
    if own != column.example or not column.example or _house_unit(column, units) is None:
        return own
    return text_of(column, read_cell(column.example, column, _bare(column, METRIC)), units)


def text_of(column: Column, value: object, units: str) -> str:
    """A value that stands in the store, as the reader would type it."""
    text, unit = cell_text(column, value), _house_unit(column, units)
    if unit is None:
        return text
    parts = 1000 if column.form is Form.RUNS else 1

    def shown(found: re.Match[str]) -> str:
        figure = f"{number_in(Decimal(found[0]) / parts, unit, units):.{_DECIMALS}f}"
        return figure.rstrip("0").rstrip(".")

    return _NUMBER.sub(shown, text)


def texts(columns: Iterable[Column], values: Mapping[str, object], units: str = METRIC) -> dict[str, str]:
    """What stands in the store, as it would be typed."""
    return {c.key: text_of(c, values.get(c.key), units) for c in columns}


def read(
    columns: Iterable[Column], typed: Mapping[str, str], say: Say, units: str, stands: Values | None = None
) -> Values:
    """What was typed, as values; None empties one of a thing that is there, which `stands` tells. What was
    not touched stays as it stands, to its last digit. Raises BadValues."""
    values: Values = {}
    faults = []
    for column in columns:
        text = typed.get(column.key, "").strip()[:LONGEST]
        if not text:
            if column.required:
                mend = say("form-is-blank-mend", what=column.doc.rstrip("."))
                faults.append(RowError("", None, column.key, say("form-is-blank"), mend))
            elif stands is not None:
                values[column.key] = None
            continue
        if stands is not None and _house_unit(column, units) is not None:
            was = stands.get(column.key)
            if text == text_of(column, was, units):
                values[column.key] = was
                continue
        try:
            values[column.key] = read_cell(text, column, _bare(column, units))
        except BadQuantity as refusal:
            faults.append(RowError("", None, column.key, refusal.message, refusal.mend))
    if faults:
        raise BadValues(faults)
    return values


def _house_unit(column: Column, units: str) -> str | None:
    """The house unit of figures that the reader reads in another; None where there are none."""
    unit = "m" if column.form is Form.RUNS else column.unit
    is_other = units == US and column.form in _MEASURED and unit in MEASURES and unit != _PER_METRE
    return unit if is_other and unit_in(unit, units) != unit else None


def _bare(column: Column, units: str) -> str | None:
    """The unit of a bare figure: the one that stands in the field's label."""
    unit = _house_unit(column, units)
    if unit is not None:
        return unit_in(unit, units)
    return "mm" if column.form is Form.RUNS else column.unit or None
