"""Volts along the runs of an element, as figures and as a drawing."""

from fastapi import APIRouter, Response
from pydantic import TypeAdapter

from service.api.conventions.asking import AsOf, DeskDep, Number, Tag
from service.api.conventions.formats import CSV_ANSWER, Accept, model_sheet, spoken, wants_csv
from service.api.questions.calculators import PICTURE, SVG
from service.planning.volts import RunVoltsOut, picture_of, volts_of

_RUNS = TypeAdapter(list[RunVoltsOut])


def _volts(tag: Tag, desk: DeskDep, as_of: AsOf, accept: Accept = None) -> Response:
    with desk.store.reading() as session:
        found = volts_of(session, tag, as_of)
    if wants_csv(accept):
        return model_sheet(RunVoltsOut, found, {})
    return spoken(_RUNS, found, {"Vary": "Accept"})


def _picture(tag: Tag, number: Number, desk: DeskDep, as_of: AsOf) -> Response:
    with desk.store.reading() as session:
        drawn = picture_of(session, tag, number, as_of)
    return Response(drawn, media_type=SVG)


def router() -> APIRouter:
    routes = APIRouter(tags=["feeds"])
    routes.add_api_route(
        "/elements/{tag}/volts", _volts, response_model=list[RunVoltsOut], responses=CSV_ANSWER,
        summary="Volts along every run of an element",
    )  # fmt: skip
    routes.add_api_route(
        "/elements/{tag}/volts/{number}", _picture, response_class=Response, responses=PICTURE,
        summary="The volts along one run, drawn",
    )  # fmt: skip
    return routes
