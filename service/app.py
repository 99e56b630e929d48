"""The service put together: the only place where settings, store, solvers and endpoints meet."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import cache
from typing import Any

from anyio import to_thread
from fastapi import APIRouter, FastAPI
from starlette.routing import BaseRoute

from service import __version__
from service.api import (
    attachments,
    changes,
    examples,
    index,
    kinds,
    lists,
    plans,
    problems,
    reports,
    sheets,
    steps,
)
from service.api.conventions.asking import KNOWN_PARAMETERS
from service.api.conventions.gate import Gate
from service.api.questions import calculators, dark, feeds, since, supposing, volts
from service.api.season import cuts, deliveries, issuing, ledger, lines, stocktakes, swaps
from service.config import Settings
from service.desk import Desk
from service.planning.working import Workshop
from service.reports.standing.remembering import Remembered, RememberedShows
from service.store import schema
from service.store.work import Store
from service.web.bring_in import pages as bring_in_pages
from service.web.bring_in.held import Held
from service.web.cutting import doing as cutting_doing
from service.web.cutting import pages as cutting_pages
from service.web.find import pages as find_pages
from service.web.frame import choosing, files
from service.web.frame.lost import answer_the_lost, page_of
from service.web.gear import pages as gear_pages
from service.web.help import first as first_pages
from service.web.help import pages as help_pages
from service.web.kept import pages as kept_pages
from service.web.paper import labels as label_pages
from service.web.paper import pages as paper_pages
from service.web.records import pages as record_pages
from service.web.season import pages as season_pages
from service.web.shelf import counting as shelf_counting
from service.web.shelf import moving as shelf_moving
from service.web.shelf import pages as shelf_pages
from service.web.shelf import receiving as shelf_receiving
from service.web.shows import editing as show_editing
from service.web.shows import mends as show_mends
from service.web.shows import pages as show_pages
from service.web.shows import plans as show_plans
from service.web.swap import pages as swap_pages
from service.web.things import pages as thing_pages

# More threads only fight for the interpreter: look-ups get slower from here on, not faster.
SQLITE_THREADS, POSTGRES_THREADS = 4, 8
LARGEST_BODY = 20 * 2**20
ABOUT = """Lights of a season: tape, supplies, decoders, batteries, and what feeds what.

Figures are in the unit their name ends in: `load_w` in watts, `lead_m` in metres, `left_pitches` in whole cut
pitches. Where text with a unit is taken, such as `16 ft`, a bare number is in the field's own unit. Times are
UTC (RFC 3339), days are days. Every refusal is a problem (RFC 9457) with a `mend`. Nobody signs in yet: the
service answers this machine only, and names in `X-By` are taken on trust.

Mains, heat and batteries can kill and burn: figures here support, and never replace, local codes and the
judgement of a licensed electrician."""


class Service(FastAPI):
    """The application; its published description also says what a problem looks like."""

    def openapi(self) -> dict[str, Any]:
        if self.openapi_schema is None:
            described = super().openapi()
            shapes = described["components"]["schemas"]
            shapes["Problem"] = problems.Problem.model_json_schema()
            # The framework promises an answer of its own to what it cannot read; ours is a problem too.
            for name in ("HTTPValidationError", "ValidationError"):
                shapes.pop(name, None)
            for operations in described["paths"].values():
                for operation in operations.values():
                    operation["responses"].pop("422", None)
            examples.add_examples(described)
        return super().openapi()


PROBLEMS: dict[int | str, dict[str, Any]] = {
    said: {
        "description": what,
        "content": {problems.MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}},
    }
    for said, what in (("4XX", "refused: a problem says why and what to do"), ("5XX", "not now, or a fault"))
}

# Asked in this order: an address that a room has to itself comes before those of things at large.
PAGES = (
    files,
    choosing,
    find_pages,
    kept_pages,
    paper_pages,
    label_pages,
    bring_in_pages,
    help_pages,
    first_pages,
    swap_pages,
    gear_pages,
    season_pages,
    shelf_pages,
    shelf_receiving,
    shelf_counting,
    shelf_moving,
    cutting_pages,
    cutting_doing,
    record_pages,
    show_editing,
    show_plans,
    show_mends,
    show_pages,
    thing_pages,
)


def create_app(settings: Settings, largest_body: int = LARGEST_BODY) -> FastAPI:
    """The service for these settings. The database must be there and up to date."""
    store = Store(settings.database_url, may_be_new=False)
    schema.check(store.engine)
    workshop = Workshop(store, settings.as_of, processes=settings.solver_processes)

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        threads = SQLITE_THREADS if store.is_sqlite else POSTGRES_THREADS
        to_thread.current_default_thread_limiter().total_tokens = threads
        await to_thread.run_sync(workshop.resume)
        yield
        workshop.close()
        store.close()

    app = Service(
        title="Wattwright",
        version=__version__,
        description=ABOUT,
        lifespan=lifespan,
        openapi_url=f"{index.ROOT}/openapi.json",
        docs_url=None,
        redoc_url=None,
        routes=_routes(settings.largest_attachment),
    )
    app.state.desk = Desk(
        store,
        settings.as_of,
        workshop.submit,
        schema.newest(),
        largest_body,
        settings.solve_deadline_s,
        settings.end_of,
        workshop.submit_cuts,
        workshop.solved,
        Remembered(),
        RememberedShows(),
    )
    app.state.units = settings.units.value.lower()
    app.state.zone = settings.zone
    app.state.held = Held()
    problems.install(app)
    answer_the_lost(app)
    app.add_middleware(Gate, largest_body=largest_body, page_of=page_of)
    return app


@cache
def _routes(largest_attachment: int) -> list[BaseRoute]:
    """Everything that the service answers: the programs' side first, then the pages.

    Two services in one process share them: a route finds its database by the request.
    """
    rooms = APIRouter(responses=PROBLEMS)
    rooms.include_router(index.router([listing.plural for listing in lists.LISTINGS]), prefix=index.ROOT)
    for part in (lists, kinds, steps, changes, dark, since, supposing, feeds, volts, plans, reports, sheets):
        rooms.include_router(part.router(), prefix=index.ROOT, dependencies=KNOWN_PARAMETERS)
    for part in (cuts, deliveries, issuing, ledger, lines, stocktakes, swaps):
        rooms.include_router(part.router(), prefix=index.ROOT, dependencies=KNOWN_PARAMETERS)
    rooms.include_router(calculators.router(), prefix=index.ROOT, dependencies=KNOWN_PARAMETERS)
    photos = attachments.router(largest_attachment)
    rooms.include_router(photos, prefix=index.ROOT, dependencies=KNOWN_PARAMETERS)
    rooms.include_router(index.health())
    for pages in PAGES:
        rooms.include_router(pages.router())
    return list(rooms.routes)
