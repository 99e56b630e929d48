"""Every list and every single thing, read from the one description each has in its room."""

from collections.abc import Callable
from functools import lru_cache
from types import GenericAlias
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from pydantic import AfterValidator, BaseModel, Field, TypeAdapter, create_model

from service.api.conventions.asking import LARGEST_ID, DeskDep, Number, Tag, sound_text
from service.api.conventions.etags import IfNoneMatch, etag, unchanged
from service.api.conventions.formats import CSV_ANSWER, Accept, listing_sheet, spoken, wants_csv
from service.api.conventions.paging import Asked, next_link, start
from service.planning import lists as planning
from service.season import queries as season
from service.shows import queries as shows
from service.shows import upkeep_queries
from service.stock import fitting_queries, gear_queries, queries
from service.store import listing as lists
from service.store.history import HISTORY, of_thing
from service.store.listing import Child, Listing, Page

LISTINGS: tuple[Listing, ...] = (
    *queries.LISTINGS,
    *fitting_queries.LISTINGS,
    *gear_queries.LISTINGS,
    *season.LISTINGS,
    *shows.LISTINGS,
    *planning.LISTINGS,
    *upkeep_queries.LISTINGS,
    HISTORY,
)


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


@lru_cache
def rows_shape(listing: Listing) -> TypeAdapter[Any]:
    rows: Any = GenericAlias(list, (model_of(listing),))
    return TypeAdapter(rows)


@lru_cache
def asked_of(listing: Listing) -> type[Asked]:
    """What the list may be asked: its filters, beside the limit and the cursor."""
    shape: dict[str, Any] = {}
    for known in listing.filters:
        kind = known.kind
        if kind is str:
            kind = Annotated[str, AfterValidator(sound_text), Field(max_length=120)]
        if kind is int:
            kind = Annotated[int, Field(ge=-LARGEST_ID, le=LARGEST_ID)]
        shape[known.name] = (kind | None, Field(None, description=f"only those with this: {known.doc}"))
    return create_model(_camel(f"{listing.plural} asked"), __base__=Asked, **shape)


def read_page(
    desk: DeskDep, listing: Listing, asked: Asked, scope: str, narrow: Callable[[Any], Any] | None = None
) -> Page:
    """One page; rows and what belongs to them come from one snapshot. `narrow`: a further condition, told
    by what it must look up first."""
    after = start(listing, asked, scope)
    with desk.store.reading() if listing.children or narrow else desk.store.lookup() as asker:
        condition = narrow(asker) if narrow else None
        return lists.page(asker, listing, asked.filters(), after, asked.limit, condition)


def answer_page(
    request: Request, listing: Listing, asked: Asked, page: Page, scope: str, accept: str | None
) -> Response:
    """The page as JSON or CSV, with the way to the next one."""
    headers = next_link(request, listing, asked, page.after, scope)
    if wants_csv(accept):
        return listing_sheet(listing, page.rows, headers)
    return spoken(rows_shape(listing), page.rows, {"Vary": "Accept", **headers})


def add_list(
    router: APIRouter,
    listing: Listing,
    owner: Listing | None = None,
    narrow: Callable[[Any, Any], Any] | None = None,
) -> None:
    """GET of the list, or of the part of it that belongs to one thing of the list `owner`.

    `narrow(asker, key)`: the condition for that part.
    """
    asks, row = asked_of(listing), model_of(listing)

    def whole(request: Request, desk: DeskDep, asked: Asked, accept: Accept = None) -> Response:
        page = read_page(desk, listing, asked, "")
        return answer_page(request, listing, asked, page, "", accept)

    def part(request: Request, desk: DeskDep, key: str, asked: Asked, accept: Accept = None) -> Response:
        assert narrow is not None
        scope = str(key).upper()
        page = read_page(desk, listing, asked, scope, lambda asker: narrow(asker, key))
        return answer_page(request, listing, asked, page, scope, accept)

    endpoint: Callable[..., Any] = part if owner else whole
    _annotate(endpoint, asked=Annotated[asks, Query()])
    path = f"/{listing.plural}"
    if owner:
        _annotate(endpoint, key=_key(owner))
        path = f"/{owner.plural}/{{key}}{path}"
    router.add_api_route(
        path,
        endpoint,
        response_model=GenericAlias(list, (row,)),
        responses=CSV_ANSWER,
        summary=f"The {listing.plural} of {owner.one}" if owner else f"The {listing.plural}",
        description=listing.doc,
    )


def _key(listing: Listing) -> Any:
    return Tag if listing.is_tagged else Number


def _annotate(endpoint: Callable[..., Any], **kinds: Any) -> None:
    # The framework reads annotations; these are only known once the list is.
    endpoint.__annotations__.update(kinds)


def add_single(router: APIRouter, listing: Listing) -> None:
    """GET of one thing by its tag, in any letter case, or by its number where it has no tag."""

    def single(desk: DeskDep, key: str, if_none_match: IfNoneMatch = None) -> Response:
        with desk.store.reading() if listing.children else desk.store.lookup() as asker:
            row, version = lists.one(asker, listing, key)
        tag = etag(version)
        return unchanged(if_none_match, tag) or spoken(row_shape(listing), row, {"ETag": tag})

    _annotate(single, key=_key(listing))
    router.add_api_route(
        f"/{listing.plural}/{{key}}",
        single,
        response_model=model_of(listing),
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
