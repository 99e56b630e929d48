"""How a kind and its values are named at the terminal."""

import difflib
from collections.abc import Callable, Iterable
from typing import Any, TypeVar

import click

from service.errors import BadRequest
from service.kinds.columns import Column, Form
from service.kinds.kind import Kind
from service.kinds.registry import KINDS
from service.paper.heads import head_key
from service.store.base import tag_key
from service.store.listing import Listing, Row

F = TypeVar("F", bound=Callable[..., object])
_WHOLE, _REAL = {Form.WHOLE}, {Form.NUMBER, Form.SHARE}
_TRUE, _FALSE = {"yes", "y", "true", "1"}, {"no", "n", "false", "0"}
NOTHING = {"", "-", "null"}  # what empties a value


def kind_named(name: str) -> Kind:
    """The kind by its address, its sheet's name or what one of it is called. Raises BadRequest."""
    listed = [kind for kind in KINDS if kind.listing]
    names = {head_key(other): kind for kind in listed for other in kind.also}
    names |= {head_key(own): kind for kind in listed for own in _own_names(kind)}
    found = names.get(head_key(name))
    if found is None:
        near = difflib.get_close_matches(head_key(name), list(names), n=1, cutoff=0.5)
        guess = f"Did you mean {plural(names[near[0]])}? " if near else ""
        raise BadRequest(f"there is no kind {name!r}", f"{guess}Known: {', '.join(map(plural, listed))}.")
    return found


def _own_names(kind: Kind) -> tuple[str, ...]:
    return plural(kind), kind.name, listing_of(kind).one.partition(" ")[2]


def listing_of(kind: Kind) -> Listing:
    assert kind.listing is not None
    return kind.listing


def plural(kind: Kind) -> str:
    return listing_of(kind).plural


def body(kind: Kind, given: Iterable[str]) -> dict[str, Any]:
    """What FIELD=VALUE words say, as the API takes it. A field goes by its name or by its sheet's head."""
    spelt = {head_key(name): column for column in kind.columns for name in _names(column)}
    said: dict[str, Any] = {}
    words: dict[str, str] = {}
    for word in given:
        name, equals, value = word.partition("=")
        if not equals:
            raise click.UsageError(f"{word!r} is not FIELD=VALUE.")
        column = spelt.get(head_key(name))
        if column is None:
            near = difflib.get_close_matches(head_key(name), list(spelt), n=1, cutoff=0.5)
            guess = f"Did you mean {spelt[near[0]].api_name}? " if near else ""
            known = ", ".join(dict.fromkeys(c.api_name for c in kind.columns))
            raise BadRequest(f"{plural(kind)} have no {name!r}", f"{guess}Known: {known}.")
        earlier = words.setdefault(column.api_name, name)
        if column.api_name in said and head_key(earlier) != head_key(name):
            raise click.UsageError(f"{earlier!r} and {name!r} are both the field {column.api_name}.")
        if column.api_name in said:
            raise click.UsageError(f"{column.api_name} is given twice.")
        said[column.api_name] = _value(column, value.strip())
    return said


def _names(column: Column) -> tuple[str, ...]:
    return (column.name, column.api_name, column.key, *column.also)


def _value(column: Column, text: str) -> Any:
    """Text as JSON would have it, where that is plain; what cannot be is left for the rules to refuse."""
    if text in NOTHING:
        return None
    if column.many or column.api_name == column.part:
        return text
    if column.form is Form.YES_NO and text.lower() in _TRUE | _FALSE:
        return text.lower() in _TRUE
    try:
        if column.form in _WHOLE:
            return int(text)
        if column.form in _REAL or (column.form is Form.QUANTITY and column.scale == 1.0):
            return float(text)
    except ValueError:
        pass
    return text


def kind_argument(command: F) -> F:
    return click.argument("kind", metavar="KIND")(command)


def values_argument(command: F) -> F:
    return click.argument("values", nargs=-1, metavar="FIELD=VALUE...")(command)


def named_key(kind: Kind, key: str, rows: Iterable[Row]) -> int | None:
    """The number of the thing without a tag that goes by that name, names with strokes between; those at its
    end that are blank need not be there."""
    wanted = tag_key(key).rstrip("/")
    for row in rows:
        if tag_key(kind.name_of(kind.values_of(row)).replace("\t", "/")).rstrip("/") == wanted:
            return int(row["id"])
    return None
