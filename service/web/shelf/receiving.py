"""A delivery taken in, looked at, taken back."""

from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Path, Query
from starlette.responses import Response

from service.errors import BadRequest, ServiceError
from service.kinds import actions
from service.kinds.actions import Hand
from service.kinds.receiving.deliveries import DELIVERIES
from service.reports.shelf.arriving import came_lately, delivery_of, to_come
from service.season.receiving.actions import receive
from service.season.receiving.schemas import DeliveryAsk
from service.stock.gear_queries import whereabouts
from service.web.frame.forms import Refusal, Typed, asked, refused, tags_in
from service.web.frame.pages import PageRoute, Reader, ReaderDep, go
from service.web.frame.wishes import signed

Number = Annotated[int, Path(ge=1, le=10**9)]
Word = Annotated[str, Query(max_length=400)]
FIELDS = ("number", "line", "quantity", "lot", "place", "tags", "received_on", "note")


def _ask(reader: ReaderDep, order: Word = "", undone: Word = "") -> Response:
    return _form(reader, {"line": order}, undone=undone)


def _form(
    reader: Reader, typed: dict[str, str], refusal: Refusal | None = None, undone: str = ""
) -> Response:
    with reader.desk.store.reading() as session:
        lines, lately = to_come(session), came_lately(session)
    return reader.page(
        "shelf/receive.html",
        200 if refusal is None else refusal.status,
        lines=lines,
        lately=lately,
        values=dict.fromkeys(FIELDS, "") | typed,
        refusal=refusal,
        headline=reader.say("receive-head", count=len(lines)),
        undone=undone,
    )


def _receive(reader: ReaderDep, typed: Typed) -> Response:
    by = reader.by_name(typed.get("name", ""))

    def action(session: Any) -> tuple[int, bool]:
        found = receive(session, ask, by, reader.today)
        session.flush()
        return found.delivery.id, found.is_repeat

    try:
        ask = _read(typed, reader)
        number, is_repeat = reader.desk.store.write(action, by=by)
    except ServiceError as error:
        return _form(reader, typed, refused(error, *FIELDS))
    answer = go(f"/shelf/deliveries/{number}?{'again' if is_repeat else 'done'}=yes")
    return signed(answer, typed.get("name", ""))


def _read(typed: dict[str, str], reader: Reader) -> DeliveryAsk:
    order, _, line = typed.get("line", "").rpartition(" · ")
    if not order:
        raise reader.refuse(BadRequest, "receive-no-line")
    return asked(
        DeliveryAsk,
        number=typed.get("number"),
        order=order,
        line=line,
        quantity=typed.get("quantity"),
        received_on=typed.get("received_on"),
        lot=typed.get("lot"),
        place=typed.get("place"),
        tags=tags_in(typed.get("tags", "")) or None,
        note=typed.get("note"),
    )


def _one(number: Number, reader: ReaderDep, done: Word = "", again: Word = "") -> Response:
    return _delivery(reader, number, done=bool(done), again=bool(again))


def _delivery(
    reader: Reader, number: int, refusal: Refusal | None = None, done: bool = False, again: bool = False
) -> Response:
    with reader.desk.store.reading() as session:
        row, version = delivery_of(session, number)
        tags = [one["tag"] for one in (*row["reels"], *row["units"])]
        plural = whereabouts(session.connection(), tags[0])[0] if tags else ""
    return reader.page(
        "shelf/delivery.html",
        200 if refusal is None else refusal.status,
        row=row,
        version=version,
        tags=tags,
        plural=plural,
        refusal=refusal,
        done=done,
        again=again,
    )


def _undo(number: Number, reader: ReaderDep, typed: Typed) -> Response:
    version = typed.get("version", "")
    expected = frozenset({int(version)}) if version.isdecimal() else None

    def action(session: Any) -> str:
        row, _ = actions.retire(session, DELIVERIES, number, expected, Hand(reader.by, reader.today))
        return str(row["number"])

    try:
        note = reader.desk.store.write(action, by=reader.by)
    except ServiceError as error:
        return _delivery(reader, number, refused(error))
    return go(f"/shelf/receive?undone={quote(note, safe='')}")


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/shelf/receive", _ask)
    routes.add_api_route("/shelf/receive", _receive, methods=["POST"])
    routes.add_api_route("/shelf/deliveries/{number}", _one)
    routes.add_api_route("/shelf/deliveries/{number}/undo", _undo, methods=["POST"])
    return routes
