"""The page of a supply, a battery or a decoder."""

from collections.abc import Sequence
from typing import Annotated

from fastapi import APIRouter, Path
from markupsafe import Markup
from starlette.responses import Response

from service.kinds.kind import Kind
from service.kinds.sheets.gear import BATTERIES, DECODERS, SUPPLIES
from service.ladder.picture import FEET, METRES
from service.planning.serving.asking import Serving, serving
from service.planning.serving.whereabouts import names_of_places, whereabouts
from service.reports.past import past_of_unit
from service.store import listing as lists
from service.units import US
from service.web.frame.pages import PageRoute, ReaderDep
from service.web.gear.decoders import decoder_shows
from service.web.gear.lying import lying
from service.web.gear.views import in_show
from service.web.things.past import past

Tag = Annotated[str, Path(max_length=80)]
GEAR: tuple[Kind, ...] = (SUPPLIES, DECODERS, BATTERIES)


def _add_unit(routes: APIRouter, kind: Kind) -> None:
    listing = kind.listing
    assert listing is not None

    def unit(tag: Tag, reader: ReaderDep) -> Response:
        with reader.desk.store.reading() as session:
            row, _ = lists.one(session.connection(), listing, tag)
            ruler = FEET if reader.wishes.units == US else METRES
            served = serving(session, tag, reader.today, reader.desk.shows.of, ruler)
            history = past(past_of_unit(session, kind, tag), reader)
            at = lying(whereabouts(session, tag, reader.today), reader)
            places = names_of_places(session, _places(served))
        if kind is DECODERS:
            return reader.page(
                "gear/decoder.html",
                unit=row,
                one=listing.one,
                shows=decoder_shows(tag, served, places, reader),
                at=at,
                history=history,
            )
        shows = [in_show(one, reader) for one in served]
        return reader.page(
            "gear/unit.html",
            unit=row,
            one=listing.one,
            plural=listing.plural,
            shows=shows,
            codes=list(dict.fromkeys((one.serving.show.production, one.serving.title) for one in shows)),
            history=history,
            at=at,
            places=places,
            Markup=Markup,
        )

    routes.add_api_route(f"/{listing.plural}/{{tag}}", unit)


def _places(served: Sequence[Serving]) -> set[str]:
    """Tags of the places where gear of those shows stands."""
    stood = {one.supply.place for one in served}
    return stood | {decoder.place for one in served for decoder in one.show.decoders}


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    for kind in GEAR:
        _add_unit(routes, kind)
    return routes
