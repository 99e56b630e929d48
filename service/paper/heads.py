"""How the heads of a sheet are recognised as columns.

A head matches whatever its case, spaces and underscores. A unit in the head ("Lead (ft)",
"lead_ft") is the unit of the bare numbers below it; a cell may always carry its own.
"""

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.errors import RowError
from service.kinds.columns import Column, Form
from service.paper.files.raw import RawSheet, is_blank
from service.units import MEASURES, is_unit


@dataclass(frozen=True, slots=True)
class Heading:
    """A column found in a sheet: where it is, and the unit of its bare numbers (None: each cell must say)."""

    column: Column
    position: int
    head: str
    bare: str | None


def head_key(text: str) -> str:
    """
    >>> head_key("Max run_(m)"), head_key("Level %")
    ('maxrunm', 'level%')
    """
    return re.sub(r"[^a-z0-9%²Ωµ]", "", text.lower().replace("ω", "Ω"))


def _spellings(columns: Sequence[Column]) -> dict[str, Column]:
    return {head_key(name): column for column in columns for name in (column.name, *column.also)}


def _split_unit(head: str) -> list[tuple[str, str]]:
    """Ways to read a head as a name and a unit, most explicit first.

    >>> _split_unit("Lead (ft)")
    [('Lead', 'ft')]
    >>> _split_unit("rail_ohm_per_m")
    [('rail ohm per', 'm'), ('rail', 'ohm/m'), ('rail ohm', '/m')]
    """
    if match := re.fullmatch(r"(.*?)\s*[(\[]\s*(.+?)\s*[)\]]", head.strip()):
        return [(match[1], match[2])]
    words = head.replace("_", " ").replace(",", " ").split()
    ways = [(" ".join(words[:-1]), words[-1])] if len(words) > 1 else []
    if len(words) > 3 and words[-2].lower() == "per":
        ways.append((" ".join(words[:-3]), f"{words[-3]}/{words[-1]}"))
    if len(words) > 2 and words[-2].lower() == "per":
        ways.append((" ".join(words[:-2]), f"/{words[-1]}"))
    return ways


@dataclass(frozen=True, slots=True)
class Proposal:
    """What a head is taken for. `unit`: of its bare numbers, where the head says one; `is_guess`: the name is
    only near; `wants_unit`: its bare numbers cannot be read until somebody says their unit."""

    column: Column
    unit: str = ""
    is_guess: bool = False

    @property
    def wants_unit(self) -> bool:
        return bool(self.column.unit) and not self.column.bare_unit and not self.unit

    @property
    def head(self) -> str:
        """The head as the sheet itself would have it."""
        return f"{self.column.name} ({self.unit})" if self.unit else self.column.name


def proposed(head: str, columns: Sequence[Column]) -> Proposal | None:
    """The column that a head means, by its name or another it goes by; else the nearest name, as a guess;
    None where nothing is near.

    >>> proposed("Lead ft", [Column("Lead", Form.LENGTH, "", unit="m")]).head
    'Lead (ft)'
    """
    spellings = _spellings(columns)
    found = _recognise(head, spellings)
    if found is not None:
        return Proposal(found[0], found[1] or "")
    for name, unit in [(head, ""), *_split_unit(head)]:
        near = difflib.get_close_matches(head_key(name), list(spellings), n=1, cutoff=0.75)
        if near and (not unit or _takes(spellings[near[0]], unit)):
            return Proposal(spellings[near[0]], unit, is_guess=True)
    return None


def unit_of(head: str, column: Column) -> str:
    """The unit that a head gives for a column it was put to by hand; blank where it gives none that fits."""
    return next((unit for _, unit in _split_unit(head) if _takes(column, unit)), "")


def _takes(column: Column, unit: str) -> bool:
    if column.form is Form.GAUGE:
        return unit.lower() in ("awg", "mm2", "mm²")
    if column.form is Form.SHARE:
        return unit in ("%", "pct", "percent")
    return column.unit in MEASURES and is_unit(unit, column.unit)


def _recognise(head: str, spellings: Mapping[str, Column]) -> tuple[Column, str | None, str | None] | None:
    """The column, the unit its head gives, and the text of a unit that does not fit; None if no column."""
    if column := spellings.get(head_key(head)):
        return column, None, None
    wrong: tuple[Column, str | None, str | None] | None = None
    for name, unit in _split_unit(head):
        column = spellings.get(head_key(name))
        if column is None:
            continue
        if _takes(column, unit):
            return column, unit, None
        if not column.unit and "(" in head:
            return column, None, None  # "Tag (as printed)": a remark, not a unit
        wrong = wrong or (column, None, unit)
    return wrong


def headings(sheet: RawSheet, columns: Sequence[Column], errors: list[RowError]) -> list[Heading]:
    """The columns found in a sheet; unknown, doubled and missing ones are added to `errors`."""
    spellings = _spellings(columns)
    found: dict[str, Heading] = {}
    for position, head in enumerate(sheet.heads):
        if not head:
            if any(len(r.cells) > position and not is_blank(r.cells[position]) for r in sheet.rows):
                errors.append(
                    _head_error(sheet, f"column {position + 1}", "it has no head", "Give it a head.")
                )
            continue
        known = _recognise(head, spellings)
        if known is None:
            errors.append(_unknown(sheet, head, columns, spellings))
            continue
        column, unit, wrong_unit = known
        if wrong_unit is not None:
            wanted = MEASURES[column.unit].what if column.unit in MEASURES else column.form.value
            errors.append(
                _head_error(
                    sheet, head, f"{wrong_unit!r} is not a unit for {column.name!r}, which is a {wanted}",
                    f"Write for example '{column.name} ({column.unit})'." if column.unit else "Leave it out.",
                )
            )  # fmt: skip
        elif column.key in found:
            earlier = found[column.key].head
            errors.append(_head_error(sheet, head, f"the same column as {earlier!r}", "Keep one of the two."))
        else:
            found[column.key] = Heading(column, position, head, unit or column.bare_unit or None)
    for column in columns:
        if column.required and column.key not in found:
            errors.append(
                _head_error(
                    sheet, column.name, "this column is missing", f"Add it: {column.doc.rstrip('.')}."
                )
            )
    return list(found.values())


def _head_error(sheet: RawSheet, head: str, message: str, mend: str) -> RowError:
    return RowError(sheet.name, sheet.head_row, head, message, mend)


def _unknown(
    sheet: RawSheet, head: str, columns: Sequence[Column], spellings: Mapping[str, Column]
) -> RowError:
    near = difflib.get_close_matches(head_key(head), list(spellings), n=1, cutoff=0.6)
    guess = f"Did you mean {spellings[near[0]].name!r}? " if near else ""
    names = ", ".join(c.name for c in columns)
    return _head_error(sheet, head, "no such column here", f"{guess}Known: {names}.")
