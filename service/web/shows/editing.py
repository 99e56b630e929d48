"""An element changed where it stands in the list, locked, or added; a show added."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Path, Request
from starlette.responses import Response

from service.errors import BadRequest, BadValues, NotFound, Refused, RowError, ServiceError, Stale
from service.kinds import actions
from service.kinds.actions import Hand
from service.kinds.bodies import taken
from service.kinds.sheets.scenery import SCENIC_UNITS
from service.kinds.sheets.season import PRODUCTIONS
from service.kinds.sheets.shows import ELEMENTS
from service.kinds.sheets.stock import VENUES
from service.planning.moving import move_feed
from service.planning.schemas import FeedMove
from service.reports.standing.choices import Choices, choices_for, is_venue, names_unit
from service.reports.standing.parts import Standing
from service.shows.queries import ELEMENTS as ELEMENTS_LIST
from service.store import listing as lists
from service.store.listing import Row
from service.units import METRIC, show, unit_in
from service.web.frame.pages import PageRoute, Reader, ReaderDep, go, status_of
from service.web.shows.pages import Code, Wanted, show_page, standing_of

Tag = Annotated[str, Path(max_length=80)]
LONGEST = 400
IN_PLACE = ("name", "scenic_unit", "place", "tape", "pieces", "lead", "lead_gauge", "priority", "note")
OF_NEW = ("tag", "name", "scenic_unit", "place", "tape", "pieces", "lead", "lead_gauge", "note")
OF_SHOW = ("code", "title", "venue", "load_in", "opening", "closing", "return_by")
OF_VENUE = "mains_v"
OF_NEW_SHOW = (*OF_SHOW, OF_VENUE)
OF_RUNS = ("lead", "lead_gauge")
CORRECTABLE = (BadValues, Refused, BadRequest, Stale)
LONGEST_VERSION = 9  # digits


@dataclass(frozen=True, slots=True)
class Filled:
    """A form: what stands in each field, what may be chosen, and what is wrong."""

    values: Mapping[str, str]
    choices: Choices
    tag: str = ""
    version: int = 0
    is_locked: bool = False
    has_feed: bool = False
    exact: Mapping[str, str] = field(default_factory=dict)  # the same in the house's own units
    faults: Mapping[str, str] = field(default_factory=dict)
    now: Mapping[str, str] = field(default_factory=dict)
    loose: tuple[str, ...] = ()
    refusal: ServiceError | None = None

    def refused(self, values: Mapping[str, str], error: ServiceError, reader: Reader) -> "Filled":
        """The same with what was typed, and why it was not taken; where somebody else changed it meanwhile,
        with what stands `now`."""
        rows = error.errors if isinstance(error, BadValues) else ()
        own = [row for row in rows if _field(row.column) in values]
        known = {_field(row.column): f"{_in_words(row, reader)}. {row.mend}" for row in own}
        others = tuple(f"{row.message}. {row.mend}" for row in rows if row not in own) if known else ()
        differs = {name: self.values[name] for name in values if values[name] != self.values[name]}
        now = differs if isinstance(error, Stale) else {}
        typed = dict(self.values) | dict(values)
        refusal = None if known else error
        return replace(self, values=typed, faults=known, now=now, loose=others, refusal=refusal)


def _in_words(row: RowError, reader: Reader) -> str:
    """What is wrong with a value, the value called as its field is."""
    called, _, rest = row.message.partition(" ")
    return f"{reader.say(f'field-{called}')} {rest}" if called == row.column else row.message


def _field(column: str | None) -> str:
    """The field of the form that a value's own name belongs to."""
    name = (column or "").partition(".")[0]
    return "pieces" if name == "runs" else name


async def _typed(request: Request) -> dict[str, str]:
    form = await request.form()
    return {name: str(value).strip()[:LONGEST] for name, value in form.items()}


Typed = Annotated[dict[str, str], Depends(_typed)]


def _values(row: Row, units: str = METRIC) -> dict[str, str]:
    """What the fields of an element show; blank where its runs differ."""
    said = {name: "" if row.get(name) is None else str(row[name]) for name in IN_PLACE if name in row}
    runs = row["runs"]
    alike = {
        "lead": {run["lead_m"] for run in runs},
        "lead_gauge": {run["lead_gauge"] for run in runs},
        "feed_style": {str(run["feed_style"]) for run in runs},
    }
    one = {name: next(iter(found)) if len(found) == 1 else None for name, found in alike.items()}
    return said | {
        "pieces": _pieces(runs, units),
        "lead": "" if one["lead"] is None else _length(one["lead"], units),
        "lead_gauge": one["lead_gauge"] or "",
        "feed_style": one["feed_style"] or "",
    }


def _pieces(runs: list[dict[str, Any]], units: str) -> str:
    if units == METRIC:
        return ELEMENTS_LIST.children[0].text(runs)
    drawn = ("+".join(_figure(p["drawn_mm"] / 1000, units) for p in run["pieces"]) for run in runs)
    return f"{'; '.join(drawn)} {unit_in('m', units)}"  # the last unit named counts for all


def _figure(metres: float, units: str) -> str:
    """Near enough that nobody cuts otherwise for it."""
    return show(metres, "m", units, digits=4).partition(" ")[0]


def _length(metres: float, units: str) -> str:
    return f"{metres:g} m" if units == METRIC else f"{_figure(metres, units)} {unit_in('m', units)}"


def _form(reader: Reader, standing: Standing, tag: str) -> Filled:
    with reader.desk.store.reading() as session:
        row, version = lists.one(session, ELEMENTS_LIST, tag)
        choices = choices_for(session, standing.heading.code)
    if row["production"] != standing.heading.code:
        raise reader.refuse(NotFound, "refused-other-show", tag=row["tag"], show=row["production"])
    line = next((x for _, lines in standing.places for x in lines if x.tag == row["tag"]), None)
    is_locked, has_feed = (line.is_locked, bool(line.ways)) if line else (False, False)
    values, exact = _values(row, reader.wishes.units), _values(row)
    return Filled(values, choices, row["tag"], version, is_locked, has_feed, exact=exact)


def _edit(code: Code, tag: Tag, reader: ReaderDep) -> Response:
    standing = standing_of(reader, code)
    form = _form(reader, standing, tag)
    return show_page(reader, standing, Wanted(edit=form.tag), form=form)


def _change(code: Code, tag: Tag, reader: ReaderDep, typed: Typed) -> Response:
    standing = standing_of(reader, code)
    form = _form(reader, standing, tag)
    said = {name: typed[name] for name in IN_PLACE if name in typed}
    differs = {name: value or None for name, value in said.items() if value != form.values[name]}
    version = typed.get("version", "")
    is_one = version.isdecimal() and len(version) <= LONGEST_VERSION
    try:
        if differs:
            expected = frozenset({int(version)}) if is_one else None
            # What was not touched is to the last digit what it was.
            kept = {name: form.exact[name] for name, value in said.items() if value == form.values[name]}
            wanted = _with_runs(differs, said | kept, form)
            _write(reader, lambda s, hand: actions.change(s, ELEMENTS, tag, wanted, expected, hand))
    except CORRECTABLE as error:
        filled = form.refused(said, error, reader)
        return show_page(reader, standing, Wanted(edit=form.tag), status=status_of(error), form=filled)
    return go(f"{_address(standing.heading.code)}?done={quote(form.tag, safe='')}#{quote(form.tag, safe='')}")


def _with_runs(differs: dict[str, str | None], said: Mapping[str, str], form: Filled) -> Any:
    """Where the number of pieces may change, one lead is said for all of them."""
    wanted: dict[str, Any] = dict(differs)
    if "pieces" in wanted:
        alike = {name: said.get(name) for name in OF_RUNS} | {"feed_style": form.values["feed_style"]}
        wanted |= {name: value for name, value in alike.items() if value}
    return taken(ELEMENTS, _numbered(wanted), is_new=False)


def _numbered(wanted: dict[str, Any]) -> dict[str, Any]:
    priority = wanted.get("priority")
    is_number = isinstance(priority, str) and priority.isdecimal()
    return wanted | {"priority": int(priority)} if is_number and priority is not None else wanted


def _write(reader: Reader, act: Callable[[Any, Hand], object]) -> None:
    hand = Hand(reader.by, reader.today)
    reader.desk.store.write(lambda session: act(session, hand), by=reader.by)


def _lock(code: Code, tag: Tag, reader: ReaderDep, typed: Typed) -> Response:
    wanted = FeedMove(locked=typed.get("locked") == "yes")
    tag = _form(reader, standing_of(reader, code), tag).tag
    reader.desk.store.write(lambda s: move_feed(s, tag, wanted, reader.today), by=reader.by)
    return go(f"{_address(code)}/elements/{quote(tag, safe='')}#{quote(tag, safe='')}")


def _address(code: str) -> str:
    return f"/productions/{quote(code, safe='')}"


def _ask_element(code: Code, reader: ReaderDep) -> Response:
    return _element_page(reader, code, Filled(dict.fromkeys(OF_NEW, ""), _choices(reader, code)))


def _choices(reader: Reader, code: str) -> Choices:
    with reader.desk.store.reading() as session:
        return choices_for(session, code)


def _element_page(reader: Reader, code: str, form: Filled, status: int = 200) -> Response:
    return reader.page("shows/element.html", status, show=standing_of(reader, code).heading, form=form)


def _add_element(code: Code, reader: ReaderDep, typed: Typed) -> Response:
    said = {name: typed.get(name, "") for name in OF_NEW}
    printed = standing_of(reader, code).heading.code

    def act(session: Any, hand: Hand) -> None:
        if said["scenic_unit"] and not names_unit(session, printed, said["scenic_unit"]):
            unit = taken(SCENIC_UNITS, {"production": printed, "name": said["scenic_unit"]}, is_new=True)
            actions.make(session, SCENIC_UNITS, unit, hand)
        given = {name: value for name, value in said.items() if value} | {"production": printed}
        actions.make(session, ELEMENTS, taken(ELEMENTS, given, is_new=True), hand)

    try:
        _write(reader, act)
    except CORRECTABLE as error:
        form = Filled(dict.fromkeys(OF_NEW, ""), _choices(reader, code)).refused(said, error, reader)
        return _element_page(reader, code, form, 422)
    if typed.get("again"):
        return go(f"{_address(printed)}/elements?done={quote(said['tag'], safe='')}")
    return go(f"{_address(printed)}?done={quote(said['tag'], safe='')}#{quote(said['tag'], safe='')}")


def _ask_show(reader: ReaderDep) -> Response:
    return reader.page("shows/new.html", form=Filled(dict.fromkeys(OF_NEW_SHOW, ""), _choices(reader, "")))


def _add_show(reader: ReaderDep, typed: Typed) -> Response:
    said = {name: typed.get(name, "") for name in OF_NEW_SHOW}

    def act(session: Any, hand: Hand) -> None:
        if said["venue"] and not is_venue(session, said["venue"]):
            venue = {"name": said["venue"]} | ({OF_VENUE: said[OF_VENUE]} if said[OF_VENUE] else {})
            actions.make(session, VENUES, taken(VENUES, venue, is_new=True), hand)
        given = {name: said[name] for name in OF_SHOW if said[name]}
        actions.make(session, PRODUCTIONS, taken(PRODUCTIONS, given, is_new=True), hand)

    try:
        _write(reader, act)
    except CORRECTABLE as error:
        form = Filled(dict.fromkeys(OF_NEW_SHOW, ""), _choices(reader, "")).refused(said, error, reader)
        return reader.page("shows/new.html", 422, form=form)
    return go(_address(said["code"]))


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    element = "/productions/{code}/elements/{tag}"
    routes.add_api_route("/productions/new", _ask_show)
    routes.add_api_route("/productions/new", _add_show, methods=["POST"])
    routes.add_api_route("/productions/{code}/elements", _ask_element)
    routes.add_api_route("/productions/{code}/elements", _add_element, methods=["POST"])
    routes.add_api_route(element, _edit)
    routes.add_api_route(element, _change, methods=["POST"])
    routes.add_api_route(f"{element}/lock", _lock, methods=["POST"])
    return routes
