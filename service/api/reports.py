"""Every report there is, as JSON with its day and its summary, as CSV or as a workbook."""

import hashlib
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Header, Query, Response
from pydantic import AfterValidator, BaseModel, Field, create_model
from starlette.exceptions import HTTPException

from service.api.conventions.asking import AsOf, DeskDep
from service.api.conventions.etags import IfNoneMatch, unchanged
from service.api.conventions.formats import CSV, JSON, best_of, model_sheet
from service.paper.out.books import WORKBOOK, report_book
from service.planning.schemas import Day
from service.reports import REPORTS, Report, ReportAsk
from service.store.base import sound

Production = Annotated[
    str | None,
    Query(max_length=80, description="one production, by its code; all if not given"),
    AfterValidator(lambda code: code if code is None else sound(code)),
]


KINDS = (JSON, CSV, WORKBOOK)
AcceptAny = Annotated[
    str | None, Header(description=f"application/json (the default), text/csv or {WORKBOOK}")
]
ANSWERS: dict[int | str, dict[str, Any]] = {
    200: {
        "content": {
            CSV: {"schema": {"type": "string"}},
            WORKBOOK: {"schema": {"type": "string", "format": "binary"}},
        }
    }
}
Span = tuple[date | None, date | None]
_NO_SPAN: Span = (None, None)


async def _span(
    from_on: Annotated[Day | None, Query(alias="from", description="first day; `as_of` if not given")] = None,
    to_on: Annotated[
        Day | None, Query(alias="to", description="last day, which counts too; the first if not given")
    ] = None,
) -> Span:
    return from_on, to_on


async def _one_day() -> Span:
    return _NO_SPAN


class ReportHead(BaseModel):
    """A report that can be asked for."""

    name: str = Field(description="name in its address")
    title: str = Field(description="title")


def shape_of(report: Report) -> type[BaseModel]:
    """What the report is answered as: the day, the whole in a few figures, cautions, and the rows."""
    fields: dict[str, Any] = {
        "title": (str, Field(description="title")),
        "as_of": (str, Field(description="the day it is of")),
        "production": (str | None, Field(description="the production it is of; null: all")),
        "summary": (dict[str, Any], Field(description="the whole in a few figures")),
        "cautions": (list[str], Field(description="what to mind before acting on it")),
        "rows": (list[report.row], Field(description="its rows, in order")),  # type: ignore[name-defined]
    }
    return create_model("".join(word.capitalize() for word in report.name.split("-")) + "Report", **fields)


def _add(routes: APIRouter, report: Report) -> None:
    shape = shape_of(report)

    def answer(
        desk: DeskDep,
        as_of: AsOf,
        production: Production = None,
        everything: Annotated[bool, Query(description="also what is in order, and what is history")] = False,
        span: Annotated[Span, Depends(_span if report.spans else _one_day)] = _NO_SPAN,
        accept: AcceptAny = None,
        if_none_match: IfNoneMatch = None,
    ) -> Response:
        kind = best_of(KINDS, accept)
        if kind is None:
            raise HTTPException(406, "none of JSON, CSV and a workbook is acceptable to you")
        ask = ReportAsk(as_of, production, everything, desk.today(), *span)
        with desk.store.reading() as session:
            rows = report.rows(session, ask)
            summary = report.summary(session, ask, rows)
        if kind == CSV:
            found = model_sheet(report.row, rows, {})
        elif kind == WORKBOOK:
            name = f'attachment; filename="{report.name}-{as_of.isoformat()}.xlsx"'
            content = report_book(report, ask, rows, summary)
            found = Response(content, media_type=WORKBOOK, headers={"Content-Disposition": name})
        else:
            said = shape(
                title=report.title, as_of=as_of.isoformat(), production=production, summary=summary,
                cautions=list(report.cautions), rows=rows,
            )  # fmt: skip
            found = Response(said.model_dump_json(), media_type="application/json")
        # Nothing carries the version of a report: its tag is taken from what it says.
        tag = f'"{hashlib.sha256(bytes(found.body)).hexdigest()[:20]}"'
        found.headers.update({"ETag": tag, "Vary": "Accept"})
        return unchanged(if_none_match, tag) or found

    routes.add_api_route(
        f"/reports/{report.name}",
        answer,
        response_model=shape,
        responses=ANSWERS,
        summary=report.title,
    )


def _names() -> Any:
    return [ReportHead(name=report.name, title=report.title) for report in REPORTS.values()]


def router() -> APIRouter:
    routes = APIRouter(tags=["reports"])
    routes.add_api_route("/reports", _names, response_model=list[ReportHead], summary="The reports")
    for report in REPORTS.values():
        _add(routes, report)
    return routes
