"""The list of shows, and one show."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Path, Query
from starlette.responses import RedirectResponse, Response

from service.planning.finding.matching import plain
from service.reports.standing.listing import in_order, shows_on_record
from service.reports.standing.parts import Heading, Line, Standing
from service.web.frame.pages import PageRoute, Reader, ReaderDep
from service.web.shows.drawings import drawn, strip

Code = Annotated[str, Path(max_length=80)]
Typed = Annotated[str, Query(max_length=80)]
ONLY = ("dark", "over", "locked")


def standing_of(reader: Reader, code: str) -> Standing:
    with reader.desk.store.reading() as session:
        return reader.desk.standings.of(session, code, reader.today)


def _list(reader: ReaderDep) -> Response:
    with reader.desk.store.reading() as session:
        productions = shows_on_record(session)
        known = reader.desk.standings.of_all(session, productions, reader.today)
    groups = in_order([standing.heading for standing in known.values()], reader.today)
    faults = sum(heading.faults for heading in groups.now + groups.coming)
    return reader.page("shows/list.html", groups=groups, faults=faults)


def _shows(_reader: ReaderDep) -> Response:
    return RedirectResponse("/productions", 307)


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which elements of a show are told. `edit`: the one that is being changed."""

    only: str = ""
    typed: str = ""
    edit: str = ""

    def takes(self, line: Line) -> bool:
        if self.edit and line.tag == self.edit:
            return True
        is_meant = {
            "dark": not line.is_fed and line.is_wanted,
            "over": line.has_fault,
            "locked": line.is_locked,
        }.get(self.only, True)
        return is_meant and all(word in _known_by(line) for word in plain(self.typed).split())


def _known_by(line: Line) -> str:
    gear = " ".join(f"{way.supply} {way.decoder}" for way in line.ways)
    return plain(f"{line.tag} {line.name} {line.where} {line.tape} {gear}")


def told(standing: Standing, wanted: Wanted) -> list[tuple[str, list[Line]]]:
    """The elements wanted, by place."""
    rows = [(where, [line for line in lines if wanted.takes(line)]) for where, lines in standing.places]
    return [(where, lines) for where, lines in rows if lines]


def _show(
    code: Code,
    reader: ReaderDep,
    only: Typed = "",
    q: Typed = "",
    kept: Annotated[int, Query(ge=0)] = 0,
    done: Typed = "",
) -> Response:
    return show_page(reader, standing_of(reader, code), Wanted(only if only in ONLY else "", q), kept, done)


def show_page(
    reader: Reader, standing: Standing, wanted: Wanted, kept: int = 0, done: str = "", status: int = 200,
    **more: object,
) -> Response:  # fmt: skip
    """The page of a show; `more`: the form of the element that is being changed."""
    return reader.page(
        "shows/show.html",
        status,
        show=standing.heading,
        standing=standing,
        finding=finding_words(reader, standing.heading),
        rows=told(standing, wanted),
        wanted=wanted,
        bars=drawn(standing.bars),
        strips=[(universe, strip(universe)) for universe in standing.universes],
        kept=kept,
        done=done,
        **({"form": None} | more),
    )


def finding_words(reader: Reader, show: Heading) -> str:
    """How the show stands, in a sentence or two."""
    if not show.elements:
        return reader.say("show-struck" if show.listed else "show-empty")
    said = []
    if show.over_supplies:
        said.append(reader.say("show-over-supplies", count=show.over_supplies))
    if show.dark:
        said.append(reader.say("show-dark", count=show.dark))
    if show.faults and not show.over_supplies:
        said.append(reader.say("show-faults", count=show.faults))
    return " ".join(said) or reader.say("show-fine")


def _rows(code: Code, reader: ReaderDep, q: Typed = "") -> Response:
    standing = standing_of(reader, code)
    wanted = Wanted(typed=q)
    return reader.page(
        "shows/_rows.html", show=standing.heading, rows=told(standing, wanted), wanted=wanted, form=None
    )


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/shows", _shows)
    routes.add_api_route("/productions", _list)
    routes.add_api_route("/productions/{code}", _show)
    routes.add_api_route("/productions/{code}/rows", _rows)
    return routes
