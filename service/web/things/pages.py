"""Where a label leads, and the page of anything that has no page of its own."""

from collections.abc import Callable, Mapping
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Path
from starlette.responses import RedirectResponse, Response

from service.kinds.registry import KINDS
from service.planning.queries import dark_if_pulled, fed_by_outlet
from service.reports.standing.beginning import is_begun
from service.stock.gear_queries import whereabouts
from service.store import listing as lists
from service.store.listing import Listing
from service.web.frame.pages import PageRoute, Reader, ReaderDep
from service.web.things.circuit import WORST_FIRST, carried
from service.web.things.record import record

Tag = Annotated[str, Path(max_length=80)]
API = "/api/v1"
OWN_PAGES = frozenset({"elements", "supplies", "decoders", "batteries", "productions"})
FEEDING: Mapping[str, Callable[[Any, str], list[dict[str, Any]]]] = {"outlets": fed_by_outlet}
LISTINGS: Mapping[str, Listing] = {
    kind.listing.plural: kind.listing for kind in KINDS if kind.listing is not None and kind.listing.is_tagged
}

CHANGED = frozenset(kind.listing.plural for kind in KINDS if kind.listing is not None and kind.is_written)


def _label(tag: Tag, reader: ReaderDep) -> Response:
    """From what a label says, in whatever letters, to the page of the thing; a program, to its record."""
    with reader.desk.store.lookup() as connection:
        plural, printed = whereabouts(connection, tag)
    root = "" if _wants_pages(reader) else API
    return RedirectResponse(f"{root}/{plural}/{quote(printed, safe='')}", 307, {"Vary": "Accept"})


def _start(reader: ReaderDep) -> Response:
    """To the feeds; where no plan was ever kept there are none, so to what comes first."""
    if not _wants_pages(reader):
        return RedirectResponse(API, 307, {"Vary": "Accept"})
    with reader.desk.store.reading() as session:
        path = "/find" if is_begun(session) else "/first"
    return RedirectResponse(path, 307, {"Vary": "Accept", "Cache-Control": "no-store"})


def _wants_pages(reader: Reader) -> bool:
    return "text/html" in reader.request.headers.get("accept", "")


def _add_thing(routes: APIRouter, plural: str, listing: Listing) -> None:
    def thing(tag: Tag, reader: ReaderDep) -> Response:
        feeding = FEEDING.get(plural)
        with reader.desk.store.lookup() as connection:
            row, _ = lists.one(connection, listing, tag)
            fed = [] if feeding is None else feeding(connection, tag)
            dark = dark_if_pulled(connection, fed)
        circuits = carried(fed, tag, reader) if plural == "outlets" else []
        return reader.page(
            "things/thing.html",
            tag=row[listing.key_name],
            one=listing.one,
            plural=plural,
            is_changed=plural in CHANGED,
            figures=record(listing, row, reader),
            name=row.get("name") or "",
            left=reader.length(row.get("left_m")),
            is_feeding=feeding is not None,
            fed=fed,
            dark=dark,
            circuits=circuits,
            worst=min(circuits, key=lambda circuit: WORST_FIRST.index(circuit.state), default=None),
        )

    routes.add_api_route(f"/{plural}/{{tag}}", thing)


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/", _start)
    routes.add_api_route("/l/{tag}", _label)
    routes.add_api_route("/L/{tag}", _label)
    for plural, listing in LISTINGS.items():
        if plural not in OWN_PAGES:
            _add_thing(routes, plural, listing)
    return routes
