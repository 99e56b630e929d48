"""What is dark now, and what things that are dark together have in common."""

from typing import Any

from fastapi import APIRouter, Response
from pydantic import Field, TypeAdapter

from service.api.conventions.asking import JSON_BODY, AsOf, DeskDep
from service.api.conventions.formats import CSV_ANSWER, Accept, model_sheet, spoken, wants_csv
from service.planning.dark.asking import causes_of, dark_list
from service.planning.dark.schemas import CauseOut, CausesOut, DarkAsk, DarkElementOut

_CAUSES, _LIST = TypeAdapter(CausesOut), TypeAdapter(list[DarkElementOut])


class CauseRow(CauseOut):
    """A cause as one line of a sheet: runs stand with blanks between them."""

    others: str = Field(description="what else it would darken")  # type: ignore[assignment]


def row_of(cause: CauseOut) -> dict[str, Any]:
    return cause.model_dump() | {"others": " ".join(other.run for other in cause.others)}


def _ask(ask: DarkAsk, desk: DeskDep, as_of: AsOf, accept: Accept = None) -> Response:
    with desk.store.reading() as session:
        found = causes_of(session, ask, as_of)
    if wants_csv(accept):
        return model_sheet(CauseRow, [row_of(cause) for cause in found.causes], {})
    return spoken(_CAUSES, found, {"Vary": "Accept"})


def _now(desk: DeskDep, accept: Accept = None) -> Response:
    with desk.store.reading() as session:
        rows = dark_list(session)
    if wants_csv(accept):
        return model_sheet(DarkElementOut, rows, {})
    return spoken(_LIST, rows, {"Vary": "Accept"})


def router() -> APIRouter:
    routes = APIRouter(tags=["feeds"])
    routes.add_api_route(
        "/dark", _now, response_model=list[DarkElementOut], responses=CSV_ANSWER,
        summary="What is dark now, the oldest first",
    )  # fmt: skip
    routes.add_api_route(
        "/dark", _ask, methods=["POST"], response_model=CausesOut, responses=CSV_ANSWER,
        summary="What dark things have in common, the likeliest cause first", dependencies=JSON_BODY,
    )  # fmt: skip
    return routes
