"""What if: a question that stores nothing."""

from fastapi import APIRouter, Response
from pydantic import TypeAdapter

from service.api.conventions.asking import JSON_BODY, AsOf, By, DeskDep
from service.api.conventions.formats import CSV_ANSWER, Accept, model_sheet, spoken, wants_csv
from service.kinds.actions import Hand
from service.reports.supposing.asking import what_if
from service.reports.supposing.schemas import SupposedOut, SupposedRow, WhatIf

_SHAPE = TypeAdapter(SupposedOut)


def _ask(ask: WhatIf, desk: DeskDep, by: By, as_of: AsOf, accept: Accept = None) -> Response:
    with desk.store.supposing(by) as session:
        found = what_if(session, ask, Hand(by, desk.today()), as_of)
    if wants_csv(accept):
        return model_sheet(SupposedRow, found.findings, {})
    return spoken(_SHAPE, found, {"Vary": "Accept"})


def router() -> APIRouter:
    routes = APIRouter(tags=["what if"])
    routes.add_api_route(
        "/what-if",
        _ask,
        methods=["POST"],
        response_model=SupposedOut,
        responses=CSV_ANSWER,
        summary="What would follow, without storing anything",
        description="Things added, changed, retired and feeds moved, one after another, by the rules of the "
        "real actions; then the findings, marked as supposed and set against today's. CSV has the findings.",
        dependencies=JSON_BODY,
    )
    return routes
