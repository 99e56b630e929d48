"""The order a list is asked in: its keys, the place a page ended at, and what comes after that place."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from sqlalchemy import ColumnElement, String, and_, false, func, literal, or_, type_coerce

from service.errors import BadQuestion
from service.store.dialect import CodePoints
from service.store.lists import values
from service.store.lists.description import Field, Listing
from service.store.lists.tags import key_of

MOST_KEYS = 6
LONGEST = 400  # characters of a text that count in its order; ties go by the list's own order


@dataclass(frozen=True, slots=True, eq=False)
class Key:
    """One column of an order. `place`: what is compared; `order`: the same, as text is put in order."""

    place: ColumnElement[Any]
    order: ColumnElement[Any]
    kind: Any
    falls: bool = False
    may_be_blank: bool = False

    def clause(self) -> ColumnElement[Any]:
        way = self.order.desc() if self.falls else self.order.asc()
        return way.nulls_last() if self.may_be_blank else way

    def same(self, value: Any) -> ColumnElement[bool]:
        return self.place.is_(None) if value is None else self.place == self._bound(value)

    def beyond(self, value: Any) -> ColumnElement[bool]:
        """What stands after the value; blanks stand last, and nothing after them."""
        if value is None:
            return false()
        bound = self._bound(value)
        later = self.order < bound if self.falls else self.order > bound
        return or_(later, self.place.is_(None)) if self.may_be_blank else later

    def _bound(self, value: Any) -> ColumnElement[Any]:
        # Bound with its type: the bare words true and false cannot be compared.
        return literal(value, self.place.type)


def _key(column: Any, kind: Any, falls: bool = False, may_be_blank: bool = False) -> Key:
    place = getattr(column, "expression", column)
    if kind is str or isinstance(place.type, String):
        place = type_coerce(place, String())
        if may_be_blank:
            length = getattr(column.type, "length", None)
            cut = place if length and length <= LONGEST else func.substr(place, 1, LONGEST, type_=String())
            place = func.nullif(cut, "", type_=String())
        return Key(place, CodePoints(place), str, falls, may_be_blank)
    return Key(place, place, kind, falls, may_be_blank)


@lru_cache
def own_order(listing: Listing) -> tuple[Key, ...]:
    """The order the list has when no other is asked for; it ends in a column that is unique."""
    return tuple(_key(column, column.type.python_type) for column in listing.order)


def sortable(listing: Listing) -> tuple[Field, ...]:
    """The fields that an order may be asked by."""
    return tuple(f for f in listing.fields if values.is_scalar(f.answered_as))


@lru_cache(maxsize=256)
def keys(listing: Listing, sort: str | None) -> tuple[Key, ...]:
    """The order asked for, such as `-rated_w,tag`, then the list's own. Raises BadQuestion."""
    if sort is None:
        return own_order(listing)
    known = {f.name: f for f in sortable(listing)}
    found: dict[str, Key] = {}
    for part in sort.split(","):
        name = part.strip().removeprefix("-")
        field = known.get(name)
        if field is None:
            said = f"{name or 'nothing'} is not a field this list can be sorted by; it has {', '.join(known)}"
            raise BadQuestion([("sort", said)])
        found.setdefault(name, _of_field(field, part.strip().startswith("-")))
    if len(found) > MOST_KEYS:
        raise BadQuestion([("sort", f"a list is sorted by at most {MOST_KEYS} fields")])
    return *found.values(), *own_order(listing)


def _of_field(field: Field, falls: bool) -> Key:
    tag = key_of(field.of)
    if tag is not None:  # tags stand in the order in which they are compared, in any letter case
        return _key(tag, str, falls, field.may_be_blank)
    kind = field.answered_as
    return _key(field.of, kind, falls, field.may_be_blank or kind is str)


def beyond(order: Sequence[Key], after: Sequence[Any]) -> ColumnElement[bool]:
    """Strictly later in the order; spelled out, because row comparison cannot always use the index."""
    steps = []
    for n, key in enumerate(order):
        same = [k.same(v) for k, v in zip(order[:n], after, strict=False)]
        steps.append(and_(*same, key.beyond(after[n])))
    return or_(*steps)


def as_json(place: Sequence[Any]) -> list[Any]:
    """A place as a cursor carries it."""
    return [values.as_json(value) for value in place]


def from_json(order: Sequence[Key], place: Sequence[Any]) -> list[Any]:
    """The place again. Raises ValueError where it cannot be one of that order."""
    found = [values.from_json(value, key.kind) for key, value in zip(order, place, strict=True)]
    if any(value is None and not key.may_be_blank for key, value in zip(order, found, strict=True)):
        raise ValueError("a blank where none can be")
    return found
