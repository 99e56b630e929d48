"""A row of the record as people read it: what each figure is, and the figure in the reader's own units."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from service.kinds.columns import Column
from service.kinds.kind import Kind
from service.kinds.registry import KINDS
from service.store.listing import Listing
from service.units import ENDINGS, ending_of, show_um
from service.web.frame.pages import DAY, Reader

# Told elsewhere on the page, or of no use to who reads it.
UNTOLD = frozenset({"tag", "code", "changed_at", "delivery_id"})
KINDS_BY_PLURAL: Mapping[str, Kind] = {
    kind.listing.plural: kind for kind in KINDS if kind.listing is not None
}


def record(listing: Listing, row: Mapping[str, Any], reader: Reader) -> Sequence[tuple[str, str]]:
    """(what, how much) of every field that says something."""
    kind = KINDS_BY_PLURAL.get(listing.plural)
    columns = {column.field or column.key: column for column in kind.columns} if kind else {}
    return [
        _told(field.name, columns.get(field.name), row[field.name], reader)
        for field in listing.fields
        if field.name not in UNTOLD and row[field.name] not in (None, "", [], ())
    ]


def _told(name: str, column: Column | None, value: Any, reader: Reader) -> tuple[str, str]:
    if column is None:
        return head(name), said(name, value, reader)
    if column.scale != 1.0:  # kept as a share, and entered as what the column says
        return column.name, reader.figure(value * column.scale, column.unit)
    return column.name, said(name, value, reader)


def head(name: str) -> str:
    """The name of a field as a heading, without its unit.

    >>> head("received_m"), head("is_class2"), head("cut_from")
    ('Received', 'Class2', 'Cut from')
    """
    unit = ending_of(name)
    bare = name.removesuffix(unit if ENDINGS.get(unit) else "").removeprefix("is_").replace("_", " ")
    return bare[:1].upper() + bare[1:]


def said(name: str, value: object, reader: Reader) -> str:
    """A figure with its unit, a day, yes or no; all else as it stands, for somebody wrote it so."""
    if isinstance(value, bool):
        return reader.say("yes" if value else "no")
    if isinstance(value, datetime):
        return reader.moment(value)
    if isinstance(value, date):
        return reader.day(value)
    if isinstance(value, list | tuple):
        return ", ".join(said("", one, reader) for one in value)
    if isinstance(value, int | float):
        measure = ENDINGS.get(ending_of(name))
        if name.endswith("_mm"):
            return show_um(round(value * 1000), reader.wishes.units)
        if measure is not None:
            unit, parts = measure
            return reader.figure(value / parts, unit)
        return f"{value:g}"
    text = str(value)
    return reader.told(text) if DAY.fullmatch(text) else text
