"""Pages rendered: one environment, one set of headers, refusals as pages too."""

import gzip
import re
from collections.abc import Callable, Coroutine, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import partial
from pathlib import Path
from typing import Annotated, Any
from urllib.parse import quote

from anyio import to_thread
from fastapi import Depends, Request
from fastapi.exceptions import RequestValidationError
from fastapi.routing import APIRoute
from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Match

from service import errors
from service.desk import Desk
from service.store.audit import person
from service.store.types import utc_now
from service.units import US, show, show_um, to_si
from service.web.frame import files
from service.web.frame.faults import in_words
from service.web.frame.mending import here, leads_to
from service.web.frame.said import believe, remember
from service.web.frame.wishes import Wishes, own_name, wishes_of
from service.web.frame.words import say

FOLDER = Path(__file__).parents[1] / "templates"
# Nothing is loaded from elsewhere, and nothing is written into a page that could run or restyle it.
POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; font-src 'self'; "
    "connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cache-Control": "no-store",
    "Vary": "Cookie, Accept-Encoding",
    # Asked for as soon as the answer begins: nothing can be drawn before it is there.
    "Link": f"<{files.address('site.css')}>; rel=preload; as=style",
}
DAY = re.compile(r"(?<![\w./-])(\d{4}-\d\d-\d\d)(?![\w-])")
FIGURE = re.compile(
    r"(?<![\w./-])(?:(?P<first>-?\d+(?:\.\d+)?)(?P<and> to | or ))?"
    r"(?P<number>-?\d+(?:\.\d+)?) (?P<unit>m|mm|°C|W/m)(?![\w²³/])"
)
HOUSE_UNITS = {"m": "m", "°C": "degC", "W/m": "W/m"}
IDLE_ZEROS = re.compile(r"(?<![\w./-])(\d+)(?:\.0+|(\.\d*?[1-9])0+)(?= (?:W|A|V|m|Wh|Ah|%)(?![\w/]))")
QUOTED = re.compile(r"((?<!\w)'.*?'(?!\w))")  # what somebody typed, or is to type: it stays as it is
WORTH_PACKING = 500  # bytes; below, packing makes it larger
STATUS: dict[type[errors.ServiceError], int] = {
    errors.NotFound: 404,
    errors.Busy: 503,
    errors.StoreUnavailable: 503,
    errors.WrongVersion: 503,
    errors.Stale: 409,
    errors.ServiceError: 422,
}


def _environment() -> Environment:
    made = Environment(
        loader=FileSystemLoader(FOLDER),
        autoescape=select_autoescape(),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["path"] = lambda text: quote(str(text), safe="")
    made.filters["person"] = person
    made.globals["file"] = files.address
    made.globals["keeper"] = f"/sw.js?edition={files.edition()}"
    return made


ENVIRONMENT = _environment()


@dataclass(frozen=True, slots=True)
class Reader:
    """Who reads, what they wish, and where they are. Every page handler takes one."""

    request: Request
    desk: Desk
    wishes: Wishes

    @property
    def today(self) -> date:
        return self.desk.today()

    @property
    def by(self) -> str:
        return self.wishes.signs_as

    def by_name(self, typed: str) -> str:
        """Who acts: the name typed in the form, else the one that this device signs with."""
        return own_name(typed) or self.by

    def say(self, key: str, **values: Any) -> str:
        """Words of the reader's language."""
        return say(key, values, self.wishes.language)

    def refuse(self, kind: type[errors.ServiceError], key: str, /, **values: Any) -> errors.ServiceError:
        """A refusal of the pages' own: what is wrong stands under `key`, how to mend it under `key`-mend."""
        return kind(self.say(key, **values), self.say(f"{key}-mend", **values))

    def length(self, metres: float | None) -> str:
        """A length as the reader reads it."""
        return "" if metres is None else show(metres, "m", self.wishes.units)

    def day(self, day: date | None) -> str:
        return day_in_words(day)

    def moment(self, at: datetime) -> str:
        """An instant by the clock of the house."""
        return moment_in_words(at.astimezone(self.request.app.state.zone))

    def told(self, text: str | None) -> str:
        """A sentence of the rooms behind, with its days and figures as the reader reads them, and what to do
        as it is done here."""
        return here(told(text or "", self.wishes.units), self.wishes.language)

    def figure(self, value: float | None, unit: str, digits: int | None = None) -> str:
        return "" if value is None else show(value, unit, self.wishes.units, digits)

    def render(self, template: str, **what: Any) -> str:
        """The text of a page."""
        return ENVIRONMENT.get_template(template).render(
            reader=self,
            say=self.say,
            wishes=self.wishes,
            path=self.request.url.path,
            here=self._here(),
            made=utc_now(),
            today=self.today,
            length=self.length,
            figure=self.figure,
            day=day_in_words,
            moment=self.moment,
            told=self.told,
            **what,
        )

    async def in_thread(self, does: Callable[..., Response], *what: Any) -> Response:
        """Work that waits for the database, where the form had to be waited for first."""
        return await to_thread.run_sync(partial(does, *what))

    def page(self, template: str, status: int = 200, **what: Any) -> Response:
        """The page, packed where the browser takes that."""
        body = self.render(template, **what).encode()
        headers = dict(HEADERS)
        takes = self.request.headers.get("accept-encoding", "")
        if len(body) >= WORTH_PACKING and "gzip" in takes:
            body, headers["Content-Encoding"] = gzip.compress(body, 6), "gzip"
        return HTMLResponse(body, status, headers)

    def _here(self) -> str:
        url = self.request.url
        return f"{url.path}?{url.query}" if url.query else url.path


def reader_of(request: Request) -> Reader:
    """The reader of this request; the house's units are what the service was set to."""
    desk: Desk = request.app.state.desk
    return Reader(request, desk, wishes_of(request, request.app.state.units))


async def _reader(request: Request) -> Reader:
    # async, so that no second thread is taken for it
    return reader_of(request)


ReaderDep = Annotated[Reader, Depends(_reader)]


def day_in_words(day: date | None) -> str:
    """
    >>> day_in_words(date(2026, 11, 5))
    '5 Nov 2026'
    """
    return "" if day is None else f"{day.day} {day:%b %Y}"


def moment_in_words(at: datetime) -> str:
    """
    >>> moment_in_words(datetime(2026, 11, 5, 19, 2))
    '5 Nov, 19:02'
    """
    return f"{at.day} {at:%b, %H:%M}"


def told(text: str, units: str) -> str:
    """
    >>> told("8.000 m until 2026-11-05, 256.00 W of 5.20 A", "metric")
    '8 m until 5 Nov 2026, 256 W of 5.2 A'
    >>> told("4.8 m of R-2026-11-05 at 1.5 mm²", "us")
    '15.75 ft of R-2026-11-05 at 1.5 mm²'
    >>> told("42.1 °C at 4.8 W/m, from -40 to 120 °C", "us")
    '107.8 °F at 1.46 W/ft, from -40 °F to 248 °F'
    >>> told("2000 mm, cut each 50 mm", "us")
    '6.56 ft, cut each 1.97 in'
    >>> told("PS-05's lead of 2.0 m: '4,8 m' is no length, write for example '4.8 m'", "us")
    "PS-05's lead of 6.56 ft: '4,8 m' is no length, write for example '4.8 m'"
    """
    return "".join(part if place % 2 else _told(part, units) for place, part in enumerate(QUOTED.split(text)))


def _told(text: str, units: str) -> str:
    said = DAY.sub(lambda found: _day_told(found[1]), text)
    if units == US:
        said = FIGURE.sub(_in_us, said)
    return IDLE_ZEROS.sub(lambda found: found[1] + (found[2] or ""), said)


def _in_us(found: re.Match[str]) -> str:
    first = f"{_one_in_us(found['first'], found['unit'])}{found['and']}" if found["first"] else ""
    return first + _one_in_us(found["number"], found["unit"])


def _one_in_us(number: str, unit: str) -> str:
    if unit == "mm":
        return show_um(round(Decimal(number) * 1000), US)
    return show(to_si(f"{number} {unit}", HOUSE_UNITS[unit]), HOUSE_UNITS[unit], US)


def _day_told(text: str) -> str:
    try:
        return day_in_words(date.fromisoformat(text))
    except ValueError:
        return text


def head_of(answer: Response) -> Response:
    """An answer without its body; one that goes on for long is never begun."""
    bare = Response(status_code=answer.status_code)
    bare.raw_headers = answer.raw_headers
    return bare


def go(path: str) -> Response:
    """After a form was taken: the page that shows what came of it."""
    return remember(RedirectResponse(path, 303, {"Cache-Control": "no-store"}), path)


class PageRoute(APIRoute):
    """A route whose refusals are pages that say what, where and how to mend it. HEAD is answered as GET."""

    def __init__(self, path: str, endpoint: Callable[..., Any], **more: Any) -> None:
        methods = set(more.pop("methods", None) or {"GET"})
        super().__init__(path, endpoint, methods=methods | {"HEAD"} if "GET" in methods else methods, **more)

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        inner = super().get_route_handler()

        async def handled(request: Request) -> Response:
            believe(request)
            try:
                answer = await inner(request)
                return head_of(answer) if request.method == "HEAD" else answer
            except errors.ServiceError as error:
                return refusal(request, error, belongs_to=_of_form(request))
            except RequestValidationError as error:
                return refusal(request, _unreadable(request, error), belongs_to=_of_form(request))

        return handled


def _of_form(request: Request) -> str:
    return nearest_page(request) if request.method == "POST" else ""


def nearest_page(request: Request) -> str:
    """The page above an address that only takes a form: "/shelf/out" for "/shelf/out/undo". "" where there is
    none."""
    steps = request.scope["path"].split("/")
    for count in range(len(steps) - 1, 1, -1):
        path = "/".join(steps[:count])
        scope = {**request.scope, "method": "GET", "path": path}
        if any(route.matches(scope)[0] is Match.FULL for route in request.app.routes):
            return quote(path)
    return ""


def _unreadable(request: Request, error: RequestValidationError) -> errors.BadRequest:
    reader = reader_of(request)
    said = (in_words(fault, _name(fault["loc"]), reader.wishes.language)[0] for fault in error.errors())
    return errors.BadRequest("; ".join(said), reader.say("refused-go-back"))


def _name(place: Sequence[int | str]) -> str:
    """Of the field: what comes first after where it was sent, for behind that are places in a list.

    >>> _name(("body", "tags", 3)), _name(("body",))
    ('tags', '')
    """
    return str(place[1]) if len(place) > 1 else ""


def status_of(error: errors.ServiceError) -> int:
    """What a browser is told of a refusal."""
    return next(STATUS[kind] for kind in type(error).__mro__ if kind in STATUS)


def refusal(
    request: Request, error: errors.ServiceError, status: int | None = None, belongs_to: str = ""
) -> Response:
    """A page that says why not. `belongs_to`: the page to go to, where one is known."""
    status, belongs_to = status or status_of(error), belongs_to or leads_to(error.mend)
    return reader_of(request).page(
        "refused.html", status, error=error, answered=status, rows=_rows(error), belongs_to=belongs_to
    )


def _rows(error: errors.ServiceError) -> list[errors.RowError]:
    return list(error.errors) if isinstance(error, errors.BadValues | errors.BadSheets) else []
