"""The season."""

from fastapi import APIRouter
from starlette.responses import Response

from service.planning.season.asking import days_of, season_shortages
from service.planning.season.clashing import clashes
from service.planning.season.reading import read_season
from service.planning.season.schemas import ShortageOut
from service.web.frame.pages import PageRoute, Reader, ReaderDep
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
    )


def headline(short: list[ShortageOut], reader: Reader) -> str:
    """The first thing to know of the season."""
    if not short:
        return reader.say("season-enough")
    first = min(short, key=lambda one: (max(one.from_on, reader.today), -one.short))
    key = "season-short-now" if first.from_on <= reader.today else "season-short"
    return reader.say(key, item=first.item, short=amount(first, first.short), day=reader.day(first.from_on))


def lede(short: list[ShortageOut], reader: Reader) -> str:
    now = sum(1 for one in short if one.from_on <= reader.today)
    if not short:
        return reader.say("season-enough-why")
    return reader.say("season-count", count=len({one.item for one in short}), now=now)


def amount(one: ShortageOut, quantity: float) -> str:
    """
    >>> from types import SimpleNamespace as S
    >>> amount(S(unit="m"), 1.5), amount(S(unit="piece"), 2.0)
    ('1.5 m', '2')
    """
    return f"{quantity:g} m" if one.unit == "m" else f"{quantity:g}"


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/season", _season)
    return routes
