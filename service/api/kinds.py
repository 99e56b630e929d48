"""Things of every kind made, changed, retired and brought back: addresses read from the registry."""

from collections.abc import Callable
from dataclasses import asdict
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Body, Query, Request, Response
from pydantic import BaseModel, Field, TypeAdapter

from service.api.conventions.asking import JSON_BODY, By, DeskDep, Number, Tag
from service.api.conventions.etags import IfMatch, etag, expected
from service.api.conventions.formats import CSV_ANSWER, Accept, model_sheet, spoken, wants_csv
from service.api.conventions.repeats import IdempotencyKey, asked, response
from service.api.lists import model_of, row_shape
from service.desk import Desk
from service.errors import BadRequest
from service.kinds import actions
from service.kinds.actions import Hand
from service.kinds.bodies import change_body, new_body, said
from service.kinds.kind import Kind
from service.kinds.registry import KINDS
from service.paper.labels import labels
from service.store.keys import Answer, once
from service.store.listing import Row

ROOT = "/api/v1"
FIRST = etag(1)


def _location(kind: Kind, row: Row) -> str:
    assert kind.listing is not None
    return f"{ROOT}/{kind.listing.plural}/{quote(str(row[kind.listing.key_name]), safe='')}"


def _hand(desk: Desk, by: str) -> Hand:
    return Hand(by, desk.today())


def _add_make(routes: APIRouter, kind: Kind) -> None:
    listing = kind.listing
    assert listing is not None

    def make(
        request: Request, new: Any, desk: DeskDep, by: By, idempotency_key: IdempotencyKey = None
    ) -> Response:
        values = said(kind, new)
        mark = asked(request, by, idempotency_key, new.model_dump_json(exclude_unset=True).encode())

        def action(session: Any) -> Answer:
            row, _ = actions.make(session, kind, values, _hand(desk, by))
            body = row_shape(listing).dump_json(row_shape(listing).validate_python(row))
            return Answer(201, body, location=_location(kind, row))

        made = desk.store.write(lambda session: once(session, mark, action), by=by)
        return response(made, ETag=FIRST)

    make.__annotations__["new"] = Annotated[new_body(kind), Body()]
    routes.add_api_route(
        f"/{listing.plural}",
        make,
        methods=["POST"],
        status_code=201,
        response_model=model_of(listing),
        summary=f"Make {listing.one}",
        description=f"A new one: {kind.row_is}. Answered with its address in Location.",
        dependencies=JSON_BODY,
    )


def _add_change(routes: APIRouter, kind: Kind) -> None:
    listing = kind.listing
    assert listing is not None

    def change(key: str, body: Any, desk: DeskDep, by: By, if_match: IfMatch = None) -> Response:
        versions, values = expected(if_match), said(kind, body)
        if not values:
            raise BadRequest("the change names nothing", "Name at least one value to change.")
        return _answer(
            kind, desk, by, lambda s: actions.change(s, kind, key, values, versions, _hand(desk, by))
        )

    _key(change, kind)
    change.__annotations__["body"] = Annotated[change_body(kind), Body()]
    routes.add_api_route(
        f"/{listing.plural}/{{key}}",
        change,
        methods=["PATCH"],
        response_model=model_of(listing),
        summary=f"Change {listing.one}",
        description="Only what is named is changed; null empties what may be empty.",
        dependencies=JSON_BODY,
    )


def _add_retire(routes: APIRouter, kind: Kind) -> None:
    listing = kind.listing
    assert listing is not None

    def retire(key: str, desk: DeskDep, by: By, if_match: IfMatch = None) -> Response:
        versions = expected(if_match)
        return _answer(kind, desk, by, lambda s: actions.retire(s, kind, key, versions, _hand(desk, by)))

    def restore(key: str, desk: DeskDep, by: By, if_match: IfMatch = None) -> Response:
        versions = expected(if_match)
        return _answer(kind, desk, by, lambda s: actions.restore(s, kind, key, versions))

    _key(retire, kind)
    _key(restore, kind)
    what = "retired: its tag is never used again" if listing.is_tagged else "taken out"
    routes.add_api_route(
        f"/{listing.plural}/{{key}}",
        retire,
        methods=["DELETE"],
        response_model=model_of(listing),
        summary=f"Take {listing.one} out of use",
        description=f"It is {what}, unless something in use depends on it; what it did stays on record. "
        "Answered with the thing as it was.",
    )
    if listing.is_tagged:
        routes.add_api_route(
            f"/{listing.plural}/{{key}}/restore",
            restore,
            methods=["POST"],
            response_model=model_of(listing),
            summary=f"Bring {listing.one} back into use",
            description="For what was retired by mistake, or was found again.",
        )


def _key(endpoint: Callable[..., Any], kind: Kind) -> None:
    # The framework reads annotations; this one is only known once the kind is.
    assert kind.listing is not None
    endpoint.__annotations__["key"] = Tag if kind.listing.is_tagged else Number


def _answer(kind: Kind, desk: Desk, by: str, action: Callable[[Any], tuple[Row, int]]) -> Response:
    assert kind.listing is not None
    row, version = desk.store.write(action, by=by)
    return spoken(row_shape(kind.listing), row, {"ETag": etag(version)})


class LabelOut(BaseModel):
    """What is printed on a thing."""

    tag: str = Field(description="its tag, large")
    kind: str = Field(description="what it is")
    line_1: str = Field(description="first line below the tag")
    line_2: str = Field(description="second line below it")
    address: str = Field(description="where its code leads, on this service")


def _labels(
    desk: DeskDep,
    kind: Annotated[str, Query(max_length=40, description="kind of thing, as in its address: supplies")],
    tag: Annotated[
        list[str] | None, Query(max_length=500, description="only these tags; every one in use if none")
    ] = None,
    accept: Accept = None,
) -> Response:
    with desk.store.reading() as session:
        rows = [asdict(label) for label in labels(session, kind, tag or ())]
    if wants_csv(accept):
        return model_sheet(LabelOut, rows, {})
    return spoken(LABELS, rows, {"Vary": "Accept"})


LABELS = TypeAdapter(list[LabelOut])


def router() -> APIRouter:
    """Routes for every kind that is written through the API."""
    routes = APIRouter(tags=["things"])
    routes.add_api_route(
        "/labels",
        _labels,
        response_model=list[LabelOut],
        responses=CSV_ANSWER,
        summary="What is printed on things of a kind",
    )
    for kind in KINDS:
        if kind.listing is not None and kind.is_written:
            _add_make(routes, kind)
            _add_change(routes, kind)
            _add_retire(routes, kind)
    return routes
