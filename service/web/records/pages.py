"""Add a thing, change a thing, take it out of use."""

from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Form, Path, Request
from starlette.datastructures import FormData
from starlette.responses import Response

from service.errors import BadRequest, BadValues, NotFound, Refused, RowError, ServiceError, Stale
from service.kinds import actions
from service.kinds.actions import Hand
from service.kinds.kind import Kind, Values
from service.kinds.registry import KINDS
from service.store import listing as lists
from service.web.frame.pages import PageRoute, Reader, ReaderDep, go, status_of
from service.web.records.forms import Field, beside, columns_asked, fields, loose, read, texts

Tag = Annotated[str, Path(max_length=80)]
Plural = Annotated[str, Path(max_length=40)]
CORRECTABLE = (BadValues, Refused, BadRequest, Stale)
LONGEST_NUMBER = 9  # digits; no number or version of ours is longer
# In the order in which a house that is new to this says what it has.
OWNED = ("tapes", "supply models", "decoder models", "battery models", "supplies", "decoders", "batteries")
STORE = ("reels", "places", "wire", "boxes", "outlets", "venues", "connectors", "people")
SHOWS = ("productions", "scenic units", "elements", "control lines", "holds", "orders", "notes")


async def _typed(request: Request) -> dict[str, str]:
    form: FormData = await request.form()
    return {key: value for key, value in form.items() if isinstance(value, str)}


def _kind(plural: str, reader: Reader) -> Kind:
    for kind in KINDS:
        if kind.listing is not None and kind.listing.plural == plural and kind.is_written:
            return kind
    raise reader.refuse(NotFound, "refused-no-kind", kind=plural)


def _choose(reader: ReaderDep) -> Response:
    by_name = {kind.name: kind for kind in KINDS if kind.listing is not None and kind.is_written}
    groups = [[by_name[name] for name in names if name in by_name] for names in (OWNED, STORE, SHOWS)]
    return reader.page("records/choose.html", groups=groups)


def _ask_new(plural: Plural, reader: ReaderDep) -> Response:
    kind = _kind(plural, reader)
    start = dict(reader.request.query_params.items())
    return _form(
        reader,
        kind,
        fields(columns_asked(kind, True), start, units=reader.wishes.units),
        f"/add/{plural}{_then(reader)}",
    )


async def _make(plural: Plural, reader: ReaderDep) -> Response:
    kind = _kind(plural, reader)
    typed = await _typed(reader.request)
    return await reader.in_thread(_made, reader, kind, typed)


def _made(reader: Reader, kind: Kind, typed: dict[str, str]) -> Response:
    columns = columns_asked(kind, True)

    def action(session: Any) -> lists.Row:
        row, _ = actions.make(session, kind, values, Hand(reader.by, reader.today))
        return row

    try:
        values = read(columns, typed, reader.say, reader.wishes.units)
        row = reader.desk.store.write(action, by=reader.by)
    except CORRECTABLE as error:
        form = fields(columns, typed, _rows(error), reader.wishes.units)
        address = f"/add/{_plural(kind)}{_then(reader)}"
        return _form(reader, kind, form, address, error=error)
    return go("/first" if _then(reader) else _home(kind, row) + "?done=added")


def _then(reader: Reader) -> str:
    """What leads back to the first steps of a house, for somebody who came from there."""
    return "?then=first" if reader.request.query_params.get("then") == "first" else ""


def _ask_change(plural: Plural, tag: Tag, reader: ReaderDep) -> Response:
    kind = _kind(plural, reader)
    columns = columns_asked(kind, False)
    typed, _ = _as_it_stands(reader, kind, tag)
    form = fields(columns, typed, units=reader.wishes.units)
    return _form(reader, kind, form, f"/{plural}/{quote(tag, safe='')}/change", typed, tag)


def _as_it_stands(reader: Reader, kind: Kind, tag: str) -> tuple[dict[str, str], Values]:
    """What the form of a thing would say of it now, its version among it; and the values behind that."""
    assert kind.listing is not None
    with reader.desk.store.lookup() as connection:
        row, version = lists.one(connection, kind.listing, _key(kind, tag, reader))
    values = kind.values_of(row)
    said = texts(columns_asked(kind, False), values, reader.wishes.units)
    return said | {"version": str(version)}, values


async def _change(plural: Plural, tag: Tag, reader: ReaderDep) -> Response:
    kind = _kind(plural, reader)
    typed = await _typed(reader.request)
    return await reader.in_thread(_changed, reader, kind, tag, typed)


def _changed(reader: Reader, kind: Kind, tag: str, typed: dict[str, str]) -> Response:
    columns = columns_asked(kind, False)
    version = typed.get("version", "")
    expected = frozenset({int(version)}) if _is_number(version) else frozenset[int]()
    values: Values = {}

    def action(session: Any) -> lists.Row:
        hand = Hand(reader.by, reader.today)
        row, _ = actions.change(session, kind, _key(kind, tag, reader), values, expected, hand)
        return row

    try:
        _, stands = _as_it_stands(reader, kind, tag)
        values |= read(columns, typed, reader.say, reader.wishes.units, stands)
        row = reader.desk.store.write(action, by=reader.by)
    except CORRECTABLE as error:
        address = f"/{_plural(kind)}/{quote(tag, safe='')}/change"
        form = fields(columns, typed, _rows(error), reader.wishes.units)
        if isinstance(error, Stale):
            now, _ = _as_it_stands(reader, kind, tag)
            form, typed = beside(form, now), typed | {"version": now["version"]}
        return _form(reader, kind, form, address, typed, tag, error)
    return go(_home(kind, row) + "?done=changed")


def _rows(error: ServiceError) -> tuple[RowError, ...]:
    return error.errors if isinstance(error, BadValues) else ()


def _form(
    reader: Reader, kind: Kind, form: list[Field], address: str, typed: dict[str, str] | None = None,
    tag: str = "", error: ServiceError | None = None,
) -> Response:  # fmt: skip
    whole = [] if error is None or isinstance(error, BadValues) else [error]
    faults = [] if error is None else [*loose(form, _rows(error)), *whole]
    return reader.page(
        "records/form.html", 200 if error is None else status_of(error), kind=kind,
        one=kind.listing.one if kind.listing else "", fields=form, address=address, tag=tag,
        version=(typed or {}).get("version", ""), faults=faults, is_refused=error is not None,
        is_stale=isinstance(error, Stale),
    )  # fmt: skip


def _is_number(text: str) -> bool:
    return text.isdecimal() and len(text) <= LONGEST_NUMBER


def _plural(kind: Kind) -> str:
    assert kind.listing is not None
    return kind.listing.plural


def _key(kind: Kind, tag: str, reader: Reader) -> str | int:
    assert kind.listing is not None
    if kind.listing.is_tagged:
        return tag
    if not _is_number(tag):
        raise reader.refuse(NotFound, "refused-no-number", tag=tag, kind=kind.listing.one)
    return int(tag)


def _home(kind: Kind, row: lists.Row) -> str:
    assert kind.listing is not None
    if not kind.listing.is_tagged:
        return f"/add/{kind.listing.plural}"
    return f"/{kind.listing.plural}/{quote(str(row[kind.listing.key_name]), safe='')}"


def _retire(
    plural: Plural, tag: Tag, reader: ReaderDep, version: Annotated[str, Form(max_length=12)] = ""
) -> Response:
    kind = _kind(plural, reader)
    expected = frozenset({int(version)}) if _is_number(version) else None

    def action(session: Any) -> None:
        actions.retire(session, kind, _key(kind, tag, reader), expected, Hand(reader.by, reader.today))

    reader.desk.store.write(action, by=reader.by)
    return go(f"/add/{plural}?done=retired")


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/add", _choose)
    routes.add_api_route("/add/{plural}", _ask_new)
    routes.add_api_route("/add/{plural}", _make, methods=["POST"])
    routes.add_api_route("/{plural}/{tag}/change", _ask_change)
    routes.add_api_route("/{plural}/{tag}/change", _change, methods=["POST"])
    routes.add_api_route("/{plural}/{tag}/retire", _retire, methods=["POST"])
    return routes
