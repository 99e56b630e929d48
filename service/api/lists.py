"""Every list and every single thing, read from the one description each has in its room."""

from collections.abc import Callable
from datetime import date
from functools import lru_cache
from types import GenericAlias
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, Field, TypeAdapter, create_model

from service.api.conventions.asking import DeskDep, Number, Tag
from service.api.conventions.etags import IfNoneMatch, etag, unchanged
from service.api.conventions.formats import CSV_ANSWER, Accept, listing_sheet, spoken, spoken_rows, wants_csv
from service.api.conventions.paging import Asked, next_link, parameters, read_asked, start
from service.kinds.registry import KINDS
from service.planning.schemas import Day
from service.shows import queries as shows
from service.stock import fitting_queries, queries
from service.store import listing as lists
from service.store.history import HISTORY, of_thing
from service.store.listing import Child, Listing, Page

# What is listed but not written on its own: parts of things, files, and what was changed.
VIEWS = (shows.RUNS, fitting_queries.ATTACHMENTS, HISTORY)
LISTINGS: tuple[Listing, ...] = (*(kind.listing for kind in KINDS if kind.listing is not None), *VIEWS)


DayGoneBy = Annotated[
    Day | None,
    Query(description="as it stood at the end of this day, in the house's time zone; a day to come is now"),
]


def _camel(words: str) -> str:
    return "".join(word.capitalize() for word in words.replace("-", " ").replace("_", " ").split())


def _model(name: str, fields: tuple[lists.Field, ...], children: tuple[Child, ...]) -> type[BaseModel]:
    shape: dict[str, Any] = {
        f.name: (
            f.answered_as | None if f.may_be_blank else f.answered_as,
            Field(description=f.doc),
        )
        for f in fields
    }
    for child in children:
        row = _model(_camel(f"{name} {child.name}"), child.fields, child.children)
        shape[child.name] = (GenericAlias(list, (row,)), Field(description=child.doc))
    return create_model(name, **shape)


@lru_cache
def model_of(listing: Listing) -> type[BaseModel]:
    """What one row of the list is answered as."""
    return _model(_camel(listing.one.partition(" ")[2]), listing.fields, listing.children)


@lru_cache
def row_shape(listing: Listing) -> TypeAdapter[Any]:
    return TypeAdapter(model_of(listing))


def read_page(
    desk: DeskDep, listing: Listing, asked: Asked, scope: str, narrow: Callable[[Any], Any] | None = None
) -> Page:
    """One page; rows and what belongs to them come from one snapshot. `narrow`: a further condition, told
    by what it must look up first."""
    after = start(listing, asked, scope)
    before = None if asked.as_of is None else desk.end_of(asked.as_of)
    needs_snapshot = listing.children or narrow or before
    with desk.store.reading() if needs_snapshot else desk.store.lookup() as asker:
        condition = narrow(asker) if narrow else None
        return lists.page(asker, listing, asked.chosen, after, asked.limit, condition, asked.sort, before)


def answer_page(
    request: Request, listing: Listing, asked: Asked, page: Page, scope: str, accept: str | None
) -> Response:
    """The page as JSON or CSV, with the way to the next one."""
    headers = next_link(request, listing, asked, page.after, scope) | _day(asked.as_of)
    if wants_csv(accept):
        return listing_sheet(listing, page.rows, headers)
    return spoken_rows(page.rows, {"Vary": "Accept", **headers})


def _day(as_of: date | None) -> dict[str, str]:
    """The day the answer is of, where one was asked for."""
    return {} if as_of is None else {"As-Of": as_of.isoformat()}


def add_list(
    router: APIRouter,
    listing: Listing,
    owner: Listing | None = None,
    narrow: Callable[[Any, Any], Any] | None = None,
) -> None:
    """GET of the list, or of the part of it that belongs to one thing of the list `owner`.

    `narrow(asker, key)`: the condition for that part.
    """

    def whole(request: Request, desk: DeskDep, accept: Accept = None) -> Response:
        asked = read_asked(listing, request.query_params.multi_items())
        page = read_page(desk, listing, asked, "")
        return answer_page(request, listing, asked, page, "", accept)

    def part(request: Request, desk: DeskDep, key: str, accept: Accept = None) -> Response:
        assert narrow is not None
        scope = str(key).upper()
        asked = read_asked(listing, request.query_params.multi_items())
        page = read_page(desk, listing, asked, scope, lambda asker: narrow(asker, key))
        return answer_page(request, listing, asked, page, scope, accept)

    endpoint: Callable[..., Any] = part if owner else whole
    path = f"/{listing.plural}"
    if owner:
        _annotate(endpoint, key=_key(owner))
        path = f"/{owner.plural}/{{key}}{path}"
    router.add_api_route(
        path,
        endpoint,
        response_model=GenericAlias(list, (model_of(listing),)),
        responses=CSV_ANSWER,
        summary=f"The {listing.plural} of {owner.one}" if owner else f"The {listing.plural}",
        description=listing.doc,
        openapi_extra={"parameters": parameters(listing)},
    )


def _key(listing: Listing) -> Any:
    return Tag if listing.is_tagged else Number


def _annotate(endpoint: Callable[..., Any], **kinds: Any) -> None:
    # The framework reads annotations; these are only known once the list is.
    endpoint.__annotations__.update(kinds)


def add_single(router: APIRouter, listing: Listing) -> None:
    """GET of one thing by its tag, in any letter case, or by its number where it has no tag."""

    def single(
        desk: DeskDep,
        key: str,
        as_of: DayGoneBy = None,
        accept: Accept = None,
        if_none_match: IfNoneMatch = None,
    ) -> Response:
        before = None if as_of is None else desk.end_of(as_of)
        with desk.store.reading() if listing.children or before else desk.store.lookup() as asker:
            row, version = lists.one(asker, listing, key, before)
        headers = {"Vary": "Accept"} | _day(as_of)
        if as_of is None:  # of a day gone by nothing can be changed, so there is no version to change
            headers["ETag"] = etag(version)
            known = unchanged(if_none_match, etag(version))
            if known is not None:
                return known
        if wants_csv(accept):
            return listing_sheet(listing, [row], headers)
        return spoken(row_shape(listing), row, headers)

    _annotate(single, key=_key(listing))
    router.add_api_route(
        f"/{listing.plural}/{{key}}",
        single,
        response_model=model_of(listing),
        responses=CSV_ANSWER,
        summary=f"{listing.one.capitalize()}",
        description=listing.doc,
    )


def _history_of(listing: Listing) -> Callable[[Any, Any], Any]:
    return lambda asker, key: of_thing(listing, lists.id_of(asker, listing, key))


def _cuts_of_reel(asker: Any, key: str) -> Any:
    return shows.of_reel(lists.id_of(asker, queries.REELS, key))


def router() -> APIRouter:
    """Routes for every list."""
    routes = APIRouter(tags=["lists"])
    for listing in LISTINGS:
        add_list(routes, listing)
        add_single(routes, listing)
        if listing is not HISTORY:
            add_list(routes, HISTORY, listing, _history_of(listing))
    add_list(routes, shows.CUTS, queries.REELS, _cuts_of_reel)
    return routes
