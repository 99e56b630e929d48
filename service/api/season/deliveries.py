"""Deliveries taken in over HTTP, and undone."""

from typing import Any

from fastapi import APIRouter, Request, Response

from service.api.conventions.asking import JSON_BODY, By, DeskDep, Number
from service.api.conventions.etags import IfMatch, etag, expected
from service.api.conventions.formats import spoken
from service.api.conventions.repeats import IdempotencyKey, asked, response
from service.api.lists import model_of, row_shape
from service.kinds import actions
from service.kinds.actions import Hand
from service.kinds.receiving.deliveries import DELIVERIES
from service.season.receiving.actions import receive
from service.season.receiving.queries import DELIVERIES as LISTING
from service.season.receiving.schemas import DeliveryAsk
from service.store import listing as lists
from service.store.keys import Answer, once

ROOT = "/api/v1/deliveries"


def received(session: Any, ask: DeliveryAsk, hand: Hand) -> tuple[dict[str, Any], bool]:
    """The delivery as it is listed, and whether it was received before."""
    found = receive(session, ask, hand.by, hand.today)
    session.flush()
    row, _ = lists.one(session, LISTING, found.delivery.id)
    return row, found.is_repeat


def _receive(
    request: Request, ask: DeliveryAsk, desk: DeskDep, by: By, idempotency_key: IdempotencyKey = None
) -> Response:
    mark = asked(request, by, idempotency_key, ask.model_dump_json(exclude_unset=True).encode())

    def take_in(session: Any) -> Answer:
        row, is_repeat = received(session, ask, Hand(by, desk.today()))
        body = row_shape(LISTING).dump_json(row_shape(LISTING).validate_python(row))
        return Answer(200 if is_repeat else 201, body, location=f"{ROOT}/{row['id']}")

    return response(desk.store.write(lambda session: once(session, mark, take_in), by=by))


def _undo(key: Number, desk: DeskDep, by: By, if_match: IfMatch = None) -> Response:
    versions, hand = expected(if_match), Hand(by, desk.today())
    row, version = desk.store.write(
        lambda session: actions.retire(session, DELIVERIES, key, versions, hand), by=by
    )
    return spoken(row_shape(LISTING), row, {"ETag": etag(version)})


def router() -> APIRouter:
    routes = APIRouter(tags=["ledger"])
    routes.add_api_route(
        "/deliveries", _receive, methods=["POST"], status_code=201, response_model=model_of(LISTING),
        summary="Receive what came of an order line into stock", dependencies=JSON_BODY,
        description="Makes sealed reels, or sound units. The same delivery note with the same is answered as "
        "before and changes nothing; with anything else it is refused.",
        responses={200: {"model": model_of(LISTING), "description": "received before, with the same"}},
    )  # fmt: skip
    routes.add_api_route(
        "/deliveries/{key}", _undo, methods=["DELETE"], response_model=model_of(LISTING),
        summary="Undo a delivery while nothing of it was used",
        description="Its reels are emptied by a row that says so, and with its units retired. Answered with "
        "the delivery as it was.",
    )  # fmt: skip
    return routes
