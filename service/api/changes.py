"""A change to one run of an element, which is answered with the element as it now is."""

from typing import Any

from fastapi import APIRouter, Response

from service.api.conventions.asking import JSON_BODY, By, DeskDep, Number, Tag
from service.api.conventions.etags import IfMatch, etag, expected
from service.api.lists import model_of
from service.shows.actions import change_run
from service.shows.queries import ELEMENTS
from service.shows.schemas import RunChange
from service.store.listing import Row, one


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


def router() -> APIRouter:
    routes = APIRouter(tags=["changes"])
    routes.add_api_route(
        "/elements/{tag}/runs/{number}", _patch_run, methods=["PATCH"], response_model=model_of(ELEMENTS),
        summary="Change a run of an element", dependencies=JSON_BODY,
    )  # fmt: skip
    return routes
