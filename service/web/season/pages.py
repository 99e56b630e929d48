"""The season."""

from collections.abc import Sequence

from fastapi import APIRouter
from pydantic import BaseModel
from starlette.responses import Response

from service.paper.out.books import WORKBOOK, report_book
from service.paper.out.grids import report_csv
from service.planning.season.asking import days_of, season_shortages
from service.planning.season.clashing import clashes
from service.planning.season.items import METRE
from service.planning.season.reading import read_season
from service.planning.season.schemas import ShortageOut
from service.reports.report import ReportAsk
from service.reports.season.shortages import REPORT
from service.web.frame.pages import PageRoute, Reader, ReaderDep
from service.web.paper.files import file_of
from service.web.season.chart import chart


def _season(reader: ReaderDep) -> Response:
    with reader.desk.store.reading() as session:
        season = read_season(session, reader.today)
    days = days_of(None, None, reader.today)
    short = season_shortages(season, days)
    return reader.page(
        "season/season.html",
        has_shows=bool(season.shows),
        chart=chart(season),
        headline=headline(short, reader) if season.shows else reader.say("season-unknown"),
        lede=lede(short, reader) if season.shows else reader.say("season-unknown-why"),
        short=short,
        clashes=clashes(season, days),
        amount=lambda unit, quantity: amount(unit, quantity, reader),
        wanting=lambda one: wanting(one, reader),
        taking_back=taking_back,
    )


def _csv(reader: ReaderDep) -> Response:
    text = report_csv(REPORT.row, _taken(reader)[1])
    return file_of(text, "text/csv; charset=utf-8", _file_name(reader, "csv"))


def _workbook(reader: ReaderDep) -> Response:
    ask, rows = _taken(reader)
    book = report_book(REPORT, ask, rows, {"rows": len(rows)})
    return file_of(book, WORKBOOK, _file_name(reader, "xlsx"))


def _taken(reader: Reader) -> tuple[ReportAsk, Sequence[BaseModel]]:
    """The report that the page tells, in the units of the house: it is for reckoning, not for reading."""
    ask = ReportAsk(reader.today, today=reader.today)
    with reader.desk.store.reading() as session:
        return ask, REPORT.rows(session, ask)


def _file_name(reader: Reader, ending: str) -> str:
    return f"{REPORT.name}-{reader.today.isoformat()}.{ending}"


def headline(short: list[ShortageOut], reader: Reader) -> str:
    """The first thing to know of the season."""
    if not short:
        return reader.say("season-enough")
    first = min(short, key=lambda one: (max(one.from_on, reader.today), -one.short))
    key = "season-short-now" if first.from_on <= reader.today else "season-short"
    return reader.say(
        key, item=first.item, short=amount(first.unit, first.short, reader), day=reader.day(first.from_on)
    )


def lede(short: list[ShortageOut], reader: Reader) -> str:
    now = sum(1 for one in short if one.from_on <= reader.today)
    if not short:
        return reader.say("season-enough-why")
    return reader.say("season-count", count=len({one.item for one in short}), now=now)


def amount(unit: str, quantity: float, reader: Reader) -> str:
    """Pieces as they are counted, a length with its unit as the reader reads it."""
    return reader.length(quantity) if unit == METRE else f"{quantity:g}"


def wanting(one: ShortageOut, reader: Reader) -> list[str]:
    """Who wants it and how much, the most first."""
    shares = zip(one.wanted_shows, one.wanted_each, strict=True)
    return [f"{who} {amount(one.unit, quantity, reader)}" for who, quantity in shares]


def taking_back(one: ShortageOut) -> list[tuple[str, list[str]]]:
    """From which show to take which overdue units back, so that the shortage ends."""
    found: dict[str, list[str]] = {}
    for tag, who in zip(one.back_tags, one.back_from, strict=True):
        found.setdefault(who, []).append(tag)
    return list(found.items())


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/season", _season)
    routes.add_api_route("/season.csv", _csv)
    routes.add_api_route("/season.xlsx", _workbook)
    return routes
