"""What could stand in for a unit; one put in the place of another; and that taken back."""

from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request, Response
from pydantic import AfterValidator, TypeAdapter

from service.api.conventions.asking import JSON_BODY, AsOf, By, DeskDep, Tag
from service.api.conventions.etags import IfMatch, IfNoneMatch, etag, expected, meant, unchanged
from service.api.conventions.formats import CSV_ANSWER, Accept, model_sheet, spoken, wants_csv
from service.api.conventions.repeats import IdempotencyKey, asked, response
from service.api.lists import add_list
from service.errors import NotFound
from service.planning.swapping.acting.doing import swap, swap_etag
from service.planning.swapping.acting.lists import SWAPS
from service.planning.swapping.acting.telling import find_swap, swap_out
from service.planning.swapping.acting.undoing import undo
from service.planning.swapping.asking import answered, rows_of
from service.planning.swapping.reading import find_unit, read_question
from service.planning.swapping.schemas import SwapAsk, SwapOut, SwappedOut, SwapRow, SwapsOut
from service.stock.gear import GearKind
from service.stock.gear_queries import BATTERIES, DECODERS, ENCLOSURES, SUPPLIES
from service.store.base import sound
from service.store.changing import refuse_stale
from service.store.keys import Answer, once

_FOUND, _SWAP = TypeAdapter(SwapsOut), TypeAdapter(SwapOut)
_KINDS = (
    (SUPPLIES, GearKind.SUPPLY),
    (DECODERS, GearKind.DECODER),
    (BATTERIES, GearKind.BATTERY),
    (ENCLOSURES, GearKind.ENCLOSURE),
)
SwapNumber = Annotated[
    str,
    Path(max_length=40, description="number of the swap: S-004, or 4", examples=["S-001"]),
    AfterValidator(sound),
]
Show = Annotated[
    str | None,
    Query(
        max_length=80,
        description="show code, where several kept plans have the unit on that day",
        examples=["SQ"],
    ),
    AfterValidator(lambda code: code if code is None else sound(code)),
]


def _refuse_other(session: Any, tag: str, kind: GearKind, one: str) -> None:
    if find_unit(session, tag).kind != kind:
        raise NotFound(f"{tag} is not {one}", f"Ask for /api/v1/l/{tag} to see what it is.")


def _add_unit(routes: APIRouter, plural: str, one: str, kind: GearKind) -> None:
    def candidates(
        tag: Tag,
        desk: DeskDep,
        as_of: AsOf,
        production: Show = None,
        accept: Accept = None,
    ) -> Response:
        with desk.store.reading() as session:
            _refuse_other(session, tag, kind, one)
            question = read_question(session, tag, production, as_of)
            headers = {"Vary": "Accept", "ETag": f'"{swap_etag(question)}"'}
            found = answered(question)
        if wants_csv(accept):
            return model_sheet(SwapRow, rows_of(found), headers)
        return spoken(_FOUND, found, headers)

    def done(
        tag: Tag,
        ask: SwapAsk,
        request: Request,
        desk: DeskDep,
        by: By,
        if_match: IfMatch = None,
        idempotency_key: IdempotencyKey = None,
    ) -> Response:
        tags = meant(if_match)
        mark = asked(request, by, idempotency_key, ask.model_dump_json().encode())

        def action(session: Any) -> Answer:
            _refuse_other(session, tag, kind, one)
            told = swap(session, tag, ask, desk.today(), by, tags)
            return Answer(201, told.model_dump_json().encode(), location=f"/api/v1/swaps/{told.number}")

        return response(desk.store.write(lambda session: once(session, mark, action), by=by))

    path = f"/{plural}/{{tag}}/swaps"
    routes.add_api_route(
        path, candidates, response_model=SwapsOut, responses=CSV_ANSWER,
        summary=f"What could stand in for {one}, the best first",
        description="Free, sound units, then those to be had for a while, then what a show that is dark "
        "tonight could lend; each is judged by every limit of the house as if it were in. CSV also has what "
        "will not do. The ETag is of the unit and what hangs on it: a swap wants it as If-Match.",
    )  # fmt: skip
    if kind is not GearKind.ENCLOSURE:
        routes.add_api_route(
            path, done, methods=["POST"], status_code=201, response_model=SwappedOut, dependencies=JSON_BODY,
            summary=f"Put another in the place of {one}",
            description="In the kept plan, on the new unit's hold, with a fault record of the old one and a "
            "note for the next crew: all of it, or nothing.",
        )  # fmt: skip


def _one(number: SwapNumber, desk: DeskDep, if_none_match: IfNoneMatch = None) -> Response:
    with desk.store.reading() as session:
        found = find_swap(session, number)
        told, tag = swap_out(session, found), etag(found.version)
    return unchanged(if_none_match, tag) or spoken(_SWAP, told, {"ETag": tag})


def _undo(
    number: SwapNumber,
    request: Request,
    desk: DeskDep,
    by: By,
    if_match: IfMatch = None,
    idempotency_key: IdempotencyKey = None,
) -> Response:
    versions = expected(if_match)
    mark = asked(request, by, idempotency_key)

    def action(session: Any) -> Answer:
        held = find_swap(session, number, is_held=True)
        refuse_stale(held.number or number, held.version, versions)
        told = swap_out(session, undo(session, number, by))
        return Answer(200, told.model_dump_json().encode())

    return response(desk.store.write(lambda session: once(session, mark, action), by=by))


def router() -> APIRouter:
    routes = APIRouter(tags=["swaps"])
    for listing, kind in _KINDS:
        _add_unit(routes, listing.plural, listing.one, kind)
    add_list(routes, SWAPS)
    routes.add_api_route("/swaps/{number}", _one, response_model=SwapOut, summary="A swap")
    routes.add_api_route(
        "/swaps/{number}/undo", _undo, methods=["POST"], response_model=SwapOut,
        summary="Take a swap back, if nothing that it changed was changed since",
    )  # fmt: skip
    return routes
