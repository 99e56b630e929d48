"""What may be written of a thing, one figure at a time: its name, form, unit and range. Sheets, the command
line and the API all read it from here."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum, StrEnum
from functools import lru_cache
from typing import Any, TypedDict, Unpack


class Form(StrEnum):
    TEXT = "text"
    TAG = "tag"
    CHOICE = "one of"
    YES_NO = "yes or no"
    WHOLE = "whole number"
    NUMBER = "number"
    SHARE = "share"  # 0 to 1, or with a % sign
    QUANTITY = "quantity"
    LENGTH = "length"  # whole micrometres
    GAUGE = "wire size"
    MONEY = "money"
    DATE = "date"
    MOMENT = "moment"
    LIST = "list"
    EMITTERS = "emitters"
    RUNS = "lengths"  # of pieces, run by run
    INGRESS = "ingress rating"
    CHANNELS = "channels"
    SOURCE = "tag or any MODEL"


@lru_cache(maxsize=1024)
def _key(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a sheet. `unit` is the house unit; `bare_unit` that of a bare number under a head
    without a unit, or "" when a bare number may not stand there. `low` and `high` in the house unit.

    `field`: its name in the API, and in the list that answers the thing; `scale`: house units in one unit of
    that field; `read`: its value from a row of that list, where it is not simply the field. `part`: the rows
    that belong to the thing and hold this figure; the API takes those rows instead. `is_fixed`: said once,
    when the thing is made. `is_short`: another way of saying what other columns say; never written out.
    `many`: one value for each row of a part, in order; one alone counts for all. `for_plan`: no plan chooses
    the thing while it is blank.
    """

    name: str
    form: Form
    doc: str
    required: bool = False
    unit: str = ""
    bare_unit: str = ""
    example: str = ""
    choices: type[Enum] | tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    also: tuple[str, ...] = ()  # other heads it goes by
    default: str = ""  # what a blank means, in words
    field: str = ""
    scale: float = 1.0
    read: Callable[[Mapping[str, Any]], object] | None = None
    part: str = ""
    is_fixed: bool = False
    is_short: bool = False
    many: bool = False
    for_plan: bool = False

    @property
    def key(self) -> str:
        """The name by which loaders ask for it: "Rated W" is rated_w."""
        return _key(self.name)

    @property
    def api_name(self) -> str:
        return self.field or self.key

    @property
    def values(self) -> tuple[str, ...]:
        if isinstance(self.choices, tuple):
            return self.choices
        return tuple(str(member.value) for member in self.choices)


class More(TypedDict, total=False):
    """What every kind of column may add."""

    required: bool
    example: str
    also: tuple[str, ...]
    default: str
    field: str
    scale: float
    read: Callable[[Mapping[str, Any]], object]
    part: str
    is_fixed: bool
    is_short: bool
    many: bool
    for_plan: bool


def length(name: str, doc: str, low: float, high: float, **more: Unpack[More]) -> Column:
    """A length must say its unit, in the head or in the cell: a bare 16 could be feet or metres."""
    return Column(name, Form.LENGTH, doc, unit="m", low=low, high=high, **more)


def quantity(name: str, unit: str, doc: str, low: float, high: float, **more: Unpack[More]) -> Column:
    """A figure with one usual unit, which a bare number is taken to be in."""
    return Column(name, Form.QUANTITY, doc, unit=unit, bare_unit=unit, low=low, high=high, **more)


def per_metre(name: str, unit: str, doc: str, low: float, high: float, **more: Unpack[More]) -> Column:
    """A figure per length must say its unit, for the same reason as a length."""
    return Column(name, Form.QUANTITY, doc, unit=unit, low=low, high=high, **more)


def whole(name: str, doc: str, low: int, high: int, **more: Unpack[More]) -> Column:
    return Column(name, Form.WHOLE, doc, low=low, high=high, **more)


def text(name: str, doc: str, longest: int = 400, **more: Unpack[More]) -> Column:
    return Column(name, Form.TEXT, doc, high=longest, **more)


def choice(name: str, choices: type[Enum] | tuple[str, ...], doc: str, **more: Unpack[More]) -> Column:
    return Column(name, Form.CHOICE, doc, choices=choices, **more)


def yes_no(name: str, doc: str, **more: Unpack[More]) -> Column:
    return Column(name, Form.YES_NO, doc, **more)


def day(name: str, doc: str, **more: Unpack[More]) -> Column:
    return Column(name, Form.DATE, doc, **more)


def tag(name: str, doc: str, **more: Unpack[More]) -> Column:
    return Column(name, Form.TAG, doc, **more)
