"""What a list may be asked, read from its description: any of several values of a field, a least and a most,
a text that is found, what is retired, what has changed."""

import difflib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import lru_cache
from typing import Any, Protocol

from sqlalchemy import ColumnElement, false, func, or_, true

from service.errors import BadQuestion
from service.store.base import tag_key
from service.store.dialect import CodePoints
from service.store.lists import values
from service.store.lists.description import Field, Filter, Listing
from service.store.lists.tags import key_of

MOST_VALUES = 500
MEASURED = (int, float, Decimal, date, datetime)  # types that have a least and a most
Chosen = Mapping[str, Any]


class Question(Protocol):
    """One thing a list may be asked: its name in the address, how it is read, what it leaves."""

    @property
    def name(self) -> str: ...
    @property
    def doc(self) -> str: ...
    @property
    def shape(self) -> dict[str, Any]: ...
    def read(self, given: Sequence[str]) -> Any: ...
    def where(self, value: Any) -> ColumnElement[bool]: ...


@dataclass(frozen=True, slots=True, eq=False)
class AnyOf:
    """Equal to one of the values given; nothing at all stands for a blank."""

    name: str
    of: Any
    about: str
    kind: Any
    is_tag: bool = False
    stored: Callable[[Any], Any] | None = None

    @property
    def doc(self) -> str:
        how = ", in any letter case" if self.is_tag else ""
        return f"only those with this, or with one of several separated by commas{how}: {self.about}"

    @property
    def shape(self) -> dict[str, Any]:
        listed = {"type": "array", "items": values.json_type(self.kind)}
        return {"schema": listed, "style": "form", "explode": False}

    def read(self, given: Sequence[str]) -> tuple[Any, ...]:
        read = values.reader(self.kind, self.name)
        found = [v for text in given for v in values.several(text)]
        if len(found) > MOST_VALUES:
            raise ValueError(f"at most {MOST_VALUES} values are expected")
        return tuple(None if v == "" else self._as_stored(read(v)) for v in found)

    def _as_stored(self, value: Any) -> Any:
        if self.stored is not None:
            return self.stored(value)
        return tag_key(value) if self.is_tag else value

    def where(self, value: tuple[Any, ...]) -> ColumnElement[bool]:
        wanted = [v for v in value if v not in (None, "")]
        parts: list[ColumnElement[bool]] = []
        if wanted:
            parts.append(self.of == wanted[0] if len(wanted) == 1 else self.of.in_(wanted))
        if len(wanted) < len(value):
            parts.append(self.of.is_(None))
            if self.kind is str:
                parts.append(self.of == "")
        return or_(*parts) if parts else false()


@dataclass(frozen=True, slots=True, eq=False)
class Bound:
    """At least, or at most, a value; blanks are neither."""

    field: Field
    is_least: bool

    @property
    def name(self) -> str:
        return f"{self.field.name}_{'min' if self.is_least else 'max'}"

    @property
    def doc(self) -> str:
        return f"only those with at {'least' if self.is_least else 'most'} this: {self.field.doc}"

    @property
    def shape(self) -> dict[str, Any]:
        return {"schema": values.json_type(self.field.answered_as)}

    def read(self, given: Sequence[str]) -> Any:
        value = values.reader(self.field.answered_as, self.field.name)(given[-1].strip())
        return value if self.field.stored is None else self.field.stored(value)

    def where(self, value: Any) -> ColumnElement[bool]:
        found: ColumnElement[bool] = self.field.of >= value if self.is_least else self.field.of <= value
        return found


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """A text that stands somewhere in the row, in any letter case."""

    fields: tuple[Field, ...]
    name: str = "q"

    @property
    def doc(self) -> str:
        where = ", ".join(f.name for f in self.fields)
        return f"only those in which this text is found, in any letter case, in one of: {where}"

    @property
    def shape(self) -> dict[str, Any]:
        return {"schema": {"type": "string", "maxLength": values.LONGEST_TEXT}}

    def read(self, given: Sequence[str]) -> str:
        return str(values.reader(str)(given[-1])).strip()

    def where(self, value: str) -> ColumnElement[bool]:
        # The databases fold only the letters of ASCII alike; the others that are asked for are folded here.
        wanted = "".join(one.lower() if len(one.lower()) == 1 else one for one in value)
        large = {one.upper(): one for one in wanted if not one.isascii() and len(one.upper()) == 1}
        parts = []
        for field in self.fields:
            folded: ColumnElement[Any] = func.lower(CodePoints(field.of))
            for upper, lower in large.items():
                if upper != lower:
                    folded = func.replace(folded, upper, lower)
            parts.append(folded.contains(wanted, autoescape=True))
        return or_(*parts)


@dataclass(frozen=True, slots=True, eq=False)
class Retired:
    """Whether things that were taken out of use are listed."""

    of: Any
    name: str = "retired"
    doc: str = "no (as it is when not asked): only what is in use; yes: only what is retired; all: both"

    @property
    def shape(self) -> dict[str, Any]:
        return {"schema": {"type": "string", "enum": ["no", "yes", "all"], "default": "no"}}

    def read(self, given: Sequence[str]) -> str:
        if given[-1] not in ("no", "yes", "all"):
            raise ValueError("one of 'no', 'yes', 'all' is expected")
        return given[-1]

    def where(self, value: str) -> ColumnElement[bool]:
        if value == "all":
            return true()
        found: ColumnElement[bool] = self.of.is_not(None) if value == "yes" else self.of.is_(None)
        return found


@dataclass(frozen=True, slots=True, eq=False)
class Since:
    """Changed at an instant or later."""

    of: Any
    name: str = "changed_since"
    doc: str = "only those made or changed at this instant (RFC 3339, with its zone) or later"

    @property
    def shape(self) -> dict[str, Any]:
        return {"schema": values.json_type(datetime)}

    def read(self, given: Sequence[str]) -> datetime:
        return values.instant(given[-1].strip())

    def where(self, value: datetime) -> ColumnElement[bool]:
        found: ColumnElement[bool] = self.of >= value
        return found


@lru_cache
def questions(listing: Listing) -> dict[str, Question]:
    """Everything the list may be asked beside its order and its pages, by name."""
    found: dict[str, Question] = {}
    named = {one.name: one for one in listing.filters}
    scalars = [f for f in listing.fields if values.is_scalar(f.answered_as)]
    for field in scalars:
        if field.shown is None or field.stored is not None:
            found[field.name] = _any_of(field, named.pop(field.name, None))
    for one in named.values():
        found[one.name] = AnyOf(one.name, one.of, one.doc, one.kind, one.is_tag)
    for field in scalars:
        if field.answered_as in MEASURED and (field.shown is None or field.stored is not None):
            least, most = Bound(field, is_least=True), Bound(field, is_least=False)
            found |= {least.name: least, most.name: most}
    texts = tuple(f for f in scalars if f.answered_as is str and f.shown is None)
    if texts:
        found["q"] = Found(texts)
    table = getattr(listing.id, "expression", listing.id).table
    if "retired_on" in table.c:
        found["retired"] = Retired(table.c.retired_on)
    since = listing.dated if listing.dated is not None else table.c.changed_at
    found["changed_since"] = Since(since)
    return found


def _any_of(field: Field, known: Filter | None) -> AnyOf:
    tag = key_of(field.of)
    if known is not None and known.is_tag:
        return AnyOf(field.name, known.of, known.doc, str, is_tag=True)
    if tag is not None:
        return AnyOf(field.name, tag, field.doc, str, is_tag=True)
    return AnyOf(field.name, field.of, field.doc, field.answered_as, stored=field.stored)


def read(listing: Listing, given: Iterable[tuple[str, str]]) -> dict[str, Any]:
    """The values asked for, by name. Raises BadQuestion with everything that cannot be read."""
    known = questions(listing)
    texts: dict[str, list[str]] = {}
    for name, text in given:
        texts.setdefault(name, []).append(text)
    chosen: dict[str, Any] = {}
    faults = []
    for name, own in texts.items():
        question = known.get(name)
        if question is None:
            faults.append((name, unknown(listing, name)))
            continue
        try:
            chosen[name] = question.read(own)
        except (ValueError, OverflowError) as error:
            faults.append((name, f"{name}: {error}"))
    if faults:
        raise BadQuestion(faults)
    return chosen


ALWAYS = ("limit", "cursor", "sort", "as_of")  # what every list may be asked


def names(listing: Listing) -> tuple[str, ...]:
    """Every name that may stand in the address of the list."""
    return (*ALWAYS, *questions(listing))


def unknown(listing: Listing, name: str) -> str:
    """That the list cannot be asked this, and what it can be."""
    bounds = {n for n, one in questions(listing).items() if isinstance(one, Bound)}
    near = difflib.get_close_matches(name, names(listing), n=1)
    guess = f"did you mean {near[0]}? " if near else ""
    known = ", ".join(n for n in names(listing) if n not in bounds)
    return (
        f"{name} is not a parameter of this list; {guess}it takes {known};"
        " numbers and days also with _min and _max"
    )


def conditions(listing: Listing, chosen: Chosen) -> list[ColumnElement[bool]]:
    """What a row must be, to be what was asked for. Things taken out of use are left out unless asked for."""
    known = questions(listing)
    if "retired" in known:
        chosen = {"retired": "no"} | dict(chosen)
    return [known[name].where(value) for name, value in chosen.items()]
