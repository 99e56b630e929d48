"""What moved since a day, a plan or a print; prints on record; the re-label list."""

from collections.abc import Callable, Sequence
from types import GenericAlias
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, TypeAdapter

from service.api.conventions.asking import JSON_BODY, AsOf, By, DeskDep, Tag
from service.api.conventions.formats import CSV_ANSWER, Accept, model_sheet, spoken, wants_csv
from service.api.conventions.repeats import IdempotencyKey, asked, response
from service.planning.since.asking import Span, prints, record_print, relabel, since
from service.planning.since.schemas import NewPrint, PrintOut, RelabelOut, SinceOut
from service.store.keys import Answer, once

_POINT = "a day as YYYY-MM-DD (at its end), plan:N or print:N"
Since = Annotated[str, Query(max_length=40, description=f"from when: {_POINT}", examples=["2026-11-20"])]
Until = Annotated[
    str | None, Query(max_length=40, description=f"to when: {_POINT}; now, if not given", examples=["plan:2"])
]
Rows = Callable[[Any, str, Span, Any], Sequence[BaseModel]]


def _add(routes: APIRouter, path: str, rows: Rows, row: type[BaseModel], said: str) -> None:
    many: Any = GenericAlias(list, (row,))
    shape: TypeAdapter[Any] = TypeAdapter(many)

    def answer(tag: Tag, desk: DeskDep, since: Since, until: Until = None, accept: Accept = None) -> Response:
        with desk.store.reading() as session:
            found = rows(session, tag, Span(since, until), desk.end_of)
        if wants_csv(accept):
            return model_sheet(row, found, {})
        return spoken(shape, found, {"Vary": "Accept"})

    routes.add_api_route(
        f"/productions/{{tag}}/{path}", answer, response_model=many, responses=CSV_ANSWER, summary=said
    )


def _print(
    request: Request,
    tag: Tag,
    new: NewPrint,
    desk: DeskDep,
    by: By,
    as_of: AsOf,
    idempotency_key: IdempotencyKey = None,
) -> Response:
    mark = asked(request, by, idempotency_key, new.model_dump_json().encode())

    def action(session: Any) -> Answer:
        return Answer(201, record_print(session, tag, new.paper, by, as_of).model_dump_json().encode())

    return response(desk.store.write(lambda session: once(session, mark, action), by=by))


def _prints(tag: Tag, desk: DeskDep) -> Any:
    with desk.store.reading() as session:
        return prints(session, tag)


def router() -> APIRouter:
    routes = APIRouter(tags=["changes"])
    _add(routes, "changes", since, SinceOut, "What moved in a show since a day, a plan or a print")
    _add(routes, "relabel", relabel, RelabelOut, "Leads whose labels are out of date, by place")
    routes.add_api_route(
        "/productions/{tag}/prints", _print, methods=["POST"], status_code=201, response_model=PrintOut,
        summary="Put a print on record; its number is the revision on the paper", dependencies=JSON_BODY,
    )  # fmt: skip
    routes.add_api_route(
        "/productions/{tag}/prints", _prints, response_model=list[PrintOut], summary="Prints of a show"
    )
    return routes
