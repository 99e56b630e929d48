"""The page of a supply, a battery or a decoder."""

from typing import Annotated

from fastapi import APIRouter, Path
from markupsafe import Markup
from starlette.responses import Response

from service.planning.serving.asking import serving
from service.stock.gear_queries import BATTERIES, DECODERS, SUPPLIES
from service.store import listing as lists
from service.store.listing import Listing
from service.web.frame.pages import PageRoute, ReaderDep
from service.web.gear.views import in_show

Tag = Annotated[str, Path(max_length=80)]
GEAR: tuple[Listing, ...] = (SUPPLIES, DECODERS, BATTERIES)


def _add_unit(routes: APIRouter, listing: Listing) -> None:
    def unit(tag: Tag, reader: ReaderDep) -> Response:
        with reader.desk.store.reading() as session:
            row, _ = lists.one(session.connection(), listing, tag)
            served = serving(session, tag, reader.today)
        shows = [in_show(one, reader) for one in served]
        return reader.page(
            "gear/unit.html",
            unit=row,
            one=listing.one,
            plural=listing.plural,
            shows=shows,
            Markup=Markup,
        )

    routes.add_api_route(f"/{listing.plural}/{{tag}}", unit)


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    for listing in GEAR:
        _add_unit(routes, listing)
    return routes
