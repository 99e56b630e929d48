"""A paper in the words and units of its reader."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from service.paper.prints.table import Column, Measured, Paper, Row, Says
from service.units import show_um
from service.web.frame.pages import Reader, day_in_words

DIGITS = {"W": 1, "Wh": 1}
# What the values of a sentence are, by the end of their name.
UNITS = {"_w": "W", "_m": "m"}


@dataclass(frozen=True, slots=True)
class Teller:
    """Says what a paper holds to one reader."""

    reader: Reader

    def tell(self, said: "Says | str | None") -> str:
        """Words of the reader's language, with figures in their units."""
        if said is None or isinstance(said, str):
            return said or ""
        values = {name: self._value(name, value) for name, value in said.values.items()}
        return self.reader.say(said.key, **values)

    def _value(self, name: str, value: Any) -> Any:
        if isinstance(value, date):
            return day_in_words(value)
        if value is None:
            return ""
        if name == "said":  # a sentence of the rooms behind
            return self.reader.told(value)
        unit = next((unit for end, unit in UNITS.items() if name.endswith(end)), "")
        return self.reader.figure(value, unit, DIGITS.get(unit)) if unit else value

    def head(self, column: Column) -> str:
        return self.reader.say(f"col-{column.key}")

    def cell(self, column: Column, row: Row) -> str:
        """What stands in a cell; figures with their unit."""
        value = row.cells.get(column.key)
        if isinstance(value, Says):
            return self.tell(value)
        if isinstance(value, date):
            return day_in_words(value)
        if isinstance(value, Measured):
            return self._measured(value)
        if value is None:
            return ""
        if column.unit == "mm":
            return show_um(round(value * 1000), self.reader.wishes.units)
        if column.unit == "%":
            return f"{value:g} %"
        if column.unit and isinstance(value, int | float):
            return self.reader.figure(value, column.unit, DIGITS.get(column.unit))
        return f"{value} {column.unit}" if column.unit and value != "" else str(value)

    def _measured(self, one: Measured) -> str:
        if one.unit:
            return self.reader.figure(one.value, one.unit, one.digits)
        return f"{one.value:g}" if one.digits is None else f"{one.value:.{one.digits}f}"

    def sheet(self, paper: Paper) -> tuple[list[str], list[list[Any]]]:
        """Heads, with their unit, and rows for a spreadsheet."""
        columns, rows = paper.flat()
        heads = [f"{self.head(c)} {c.unit}".strip() if c.unit else self.head(c) for c in columns]
        return heads, [[self._plain(cell) for cell in row] for row in rows]

    def _plain(self, cell: Any) -> Any:
        if isinstance(cell, Says):
            return self.tell(cell)
        if isinstance(cell, Measured):
            cell = cell.value
        return round(cell, 6) if isinstance(cell, float) else cell


def shown_columns(paper: Paper) -> list[Column]:
    """The columns that a page has room for: those that say something anywhere, and boxes to tick."""
    rows = [row for block in paper.blocks for row in block.rows]
    is_marked = any(row.state for row in rows)

    def says_something(column: Column) -> bool:
        if column.key == "verdict":
            return is_marked
        if column.is_by_hand:
            return True
        return any(row.cells.get(column.key) not in (None, "") for row in rows)

    return [column for column in paper.columns if not column.is_filed and says_something(column)]


def kinds_of(paper: Paper, columns: Sequence[Column]) -> list[str]:
    """A class for each column: how its cells are set."""
    rows = [row for block in paper.blocks for row in block.rows]
    return [
        "day" if any(isinstance(row.cells.get(column.key), date) for row in rows) else _kind_of(column)
        for column in columns
    ]


def _kind_of(column: Column) -> str:
    if column.is_write:
        return "box write"
    if column.is_box:
        return "box"
    if column.key == "verdict":
        return "verdict"
    if column.unit or column.is_figure:
        return "num"
    return "wide" if column.is_wide else "code" if column.is_tag else ""
