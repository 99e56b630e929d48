"""Changes to elements, runs and gear. Each needs If-Match, and answers with the thing as it now is."""

from typing import Any

from fastapi import APIRouter, Response

from service.api.conventions.asking import JSON_BODY, By, DeskDep, Number, Tag
from service.api.conventions.etags import IfMatch, etag, expected
from service.api.lists import model_of
from service.shows.actions import change_element, change_run
from service.shows.queries import ELEMENTS
from service.shows.schemas import ElementChange, RunChange
from service.stock.actions import change_unit
from service.stock.gear import GearKind
from service.stock.gear_queries import BATTERIES, DECODERS, SUPPLIES
from service.stock.schemas import BatteryChange, UnitChange
from service.store.listing import Listing, Row, one


def _patch_element(
    tag: Tag, change: ElementChange, response: Response, desk: DeskDep, by: By, if_match: IfMatch = None
) -> Any:
    versions = expected(if_match)

    def action(session: Any) -> tuple[Row, int]:
        element = change_element(session, tag, change, versions)
        return one(session, ELEMENTS, element.tag)

    row, version = desk.store.write(action, by=by)
    response.headers["ETag"] = etag(version)
    return row


def _patch_run(
    tag: Tag,
    number: Number,
    change: RunChange,
    response: Response,
    desk: DeskDep,
    by: By,
    if_match: IfMatch = None,
) -> Any:
    versions = expected(if_match)

    def action(session: Any) -> tuple[Row, int]:
        element = change_run(session, tag, number, change, versions)
        return one(session, ELEMENTS, element.tag)

    row, version = desk.store.write(action, by=by)
    response.headers["ETag"] = etag(version)
    return row


def _add_units(routes: APIRouter, kind: GearKind, listing: Listing, shape: type[UnitChange]) -> None:
    def patch(
        tag: Tag, change: UnitChange, response: Response, desk: DeskDep, by: By, if_match: IfMatch = None
    ) -> Any:
        versions = expected(if_match)

        def action(session: Any) -> tuple[Row, int]:
            unit = change_unit(session, kind, tag, change, versions, desk.today())
            return one(session, listing, unit.tag)

        row, version = desk.store.write(action, by=by)
        response.headers["ETag"] = etag(version)
        return row

    patch.__annotations__["change"] = shape
    routes.add_api_route(
        f"/{listing.plural}/{{tag}}",
        patch,
        methods=["PATCH"],
        response_model=model_of(listing),
        summary=f"Change {listing.one}",
        dependencies=JSON_BODY,
    )


def router() -> APIRouter:
    routes = APIRouter(tags=["changes"])
    answered = model_of(ELEMENTS)
    routes.add_api_route(
        "/elements/{tag}", _patch_element, methods=["PATCH"], response_model=answered,
        summary="Change an element", dependencies=JSON_BODY,
    )  # fmt: skip
    routes.add_api_route(
        "/elements/{tag}/runs/{number}", _patch_run, methods=["PATCH"], response_model=answered,
        summary="Change a run of an element", dependencies=JSON_BODY,
    )  # fmt: skip
    _add_units(routes, GearKind.SUPPLY, SUPPLIES, UnitChange)
    _add_units(routes, GearKind.DECODER, DECODERS, UnitChange)
    _add_units(routes, GearKind.BATTERY, BATTERIES, BatteryChange)
    return routes
