"""A value of a column as text that reads back as the same value: what stands in an exported cell."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from enum import Enum
from typing import Any

from service.kinds.cells import AnyOf
from service.kinds.columns import Column, Form
from service.units import MICROMETRES_PER_METRE


def cell_text(column: Column, value: Any) -> str:
    """The text of a cell under the head `head_text(column)`; nothing for a value that is not there."""
    if value is None:
        return ""
    if column.many:
        texts = ["-" if one is None else _one(column, one) for one in value]
        return texts[0] if len(set(texts)) == 1 and texts[0] != "-" else "; ".join(texts)
    return _one(column, value)


def head_text(column: Column) -> str:
    """The column's name, and the unit of the bare figures below it."""
    if column.form is Form.RUNS:
        return f"{column.name} (mm)"
    return f"{column.name} ({column.unit})" if column.unit and column.form in _FIGURES else column.name


_FIGURES = {Form.QUANTITY, Form.LENGTH, Form.EMITTERS}


def _one(column: Column, value: Any) -> str:
    return _WRITERS.get(column.form, _plain)(value)


def _plain(value: Any) -> str:
    if isinstance(value, Enum):
        return str(value.value)
    return value.isoformat() if isinstance(value, date) else str(value)


def _figure(value: Any) -> str:
    """Digits and a point, never an exponent: a spreadsheet and our own reading take both alike."""
    return f"{Decimal(f'{value:.12g}'):f}"


def _metres(value_um: Any) -> str:
    return f"{Decimal(value_um) / MICROMETRES_PER_METRE:f}"


def _runs(runs: Any) -> str:
    """Millimetres, pieces of a run joined by +: "2400+2400; 500"."""
    return "; ".join("+".join(_figure(Decimal(um) / 1_000) for um in run) for run in runs)


def _emitters(emitters: Any) -> str:
    return "; ".join(f"{name}={_figure(w_per_m)}" for name, w_per_m in emitters)


_WRITERS: dict[Form, Callable[[Any], str]] = {
    Form.YES_NO: lambda value: "yes" if value else "no",
    Form.NUMBER: _figure,
    Form.SHARE: _figure,
    Form.QUANTITY: _figure,
    Form.LENGTH: _metres,
    Form.MONEY: lambda value: f"{value:.2f}",
    Form.LIST: " ".join,
    Form.SOURCE: lambda value: f"any {value}" if isinstance(value, AnyOf) else str(value),
    Form.MOMENT: lambda value: value.isoformat().replace("+00:00", "Z"),
    Form.RUNS: _runs,
    Form.EMITTERS: _emitters,
    Form.CHANNELS: lambda value: _channels(*value),
}


def _channels(first: int, count: int) -> str:
    return str(first) if count == 1 else f"{first}-{first + count - 1}"
