"""What feeds this element, what does this piece of gear feed, what goes dark if it is pulled."""

from collections.abc import Callable
from types import GenericAlias
from typing import Any

from fastapi import APIRouter, Response
from pydantic import BaseModel, Field, TypeAdapter

from service.api.conventions.asking import JSON_BODY, By, DeskDep, Number, Tag
from service.api.conventions.etags import IfMatch, IfNoneMatch, meant, unchanged
from service.api.conventions.formats import CSV_ANSWER, Accept, model_sheet, spoken, wants_csv
from service.limits.lookup import Lookup
from service.planning.moving import move_feed
from service.planning.queries import dark_if_pulled, fed_by_outlet, fed_by_unit, feed_of
from service.planning.schemas import DarkOut, FedOut, FeedMove, FeedOut, own_part, whole_etag
from service.planning.serving.asking import show_on
from service.reports.loads import weigh_boxed
from service.reports.over_limit import Row, as_row
from service.stock.gear import GearKind

FEED = TypeAdapter(FeedOut)
Asks = Callable[[Any, str], list[dict[str, Any]]]


class MovedOut(FeedOut):
    """The feed as it now is, and everything in the show that is over a limit with it."""

    over: list[Row] = Field(description="what is over a limit in the show now")


def _feed(tag: Tag, desk: DeskDep, if_none_match: IfNoneMatch = None) -> Response:
    with desk.store.lookup() as connection:
        found = feed_of(connection, tag)

    def around(code: str) -> Lookup:
        today = desk.today()
        with desk.store.reading() as session:
            return desk.shows.of(session, code, today, today).around

    answer = spoken(FEED, weigh_boxed(found, around), {})
    answer.headers["ETag"] = f'"{whole_etag(found["etag"], bytes(answer.body))}"'
    return unchanged(if_none_match, answer.headers["ETag"]) or answer


def _move(
    tag: Tag, wanted: FeedMove, response: Response, desk: DeskDep, by: By, if_match: IfMatch = None
) -> Any:
    tags = meant(if_match)

    def action(session: Any) -> dict[str, Any]:
        today = desk.today()
        over = move_feed(session, tag, wanted, today, _meant_for(session, tag, tags))
        feed = feed_of(session.connection(), tag)
        weigh_boxed(feed, lambda code: show_on(session, code, today, today).around)  # as it is about to be
        return feed | {"over": [as_row(f) for f in over]}

    found = desk.store.write(action, by=by)
    response.headers["ETag"] = f'"{whole_etag(found["etag"], bytes(spoken(FEED, found, {}).body))}"'
    return found


def _meant_for(session: Any, tag: str, tags: frozenset[str] | None) -> str | None:
    """The one tag that counts of those sent: the feed's own where it is among them."""
    if tags is None:
        return None
    own = feed_of(session.connection(), tag)["etag"]
    sent = {own_part(each) for each in tags}
    return own if own in sent else min(sent, default="")


def _add_rows(routes: APIRouter, path: str, asks: Asks, row: type[BaseModel], says: str) -> None:
    def rows(tag: Tag, desk: DeskDep, response: Response, accept: Accept = None) -> Any:
        with desk.store.lookup() as connection:
            found = asks(connection, tag)
        if wants_csv(accept):
            return model_sheet(row, found, {})
        response.headers["Vary"] = "Accept"
        return found

    routes.add_api_route(
        path, rows, response_model=GenericAlias(list, (row,)), responses=CSV_ANSWER, summary=says
    )


def _add_gear(routes: APIRouter, plural: str, fed: Asks, what: str) -> None:
    _add_rows(routes, f"/{plural}/{{tag}}/feeds", fed, FedOut, f"What {what} feeds")
    _add_rows(
        routes,
        f"/{plural}/{{tag}}/dark",
        lambda connection, tag: dark_if_pulled(connection, fed(connection, tag)),
        DarkOut,
        f"What goes dark if {what} is pulled",
    )


def _by_unit(kind: GearKind) -> Asks:
    return lambda connection, tag: fed_by_unit(connection, tag, (kind,))


def _output(tag: Tag, number: Number, desk: DeskDep, response: Response, accept: Accept = None) -> Any:
    with desk.store.lookup() as connection:
        found = fed_by_unit(connection, tag, (GearKind.SUPPLY,), number)
    if wants_csv(accept):
        return model_sheet(FedOut, found, {})
    response.headers["Vary"] = "Accept"
    return found


def router() -> APIRouter:
    routes = APIRouter(tags=["feeds"])
    routes.add_api_route(
        "/elements/{tag}/feed", _feed, response_model=FeedOut, summary="What feeds an element"
    )
    routes.add_api_route(
        "/elements/{tag}/feed", _move, methods=["PATCH"], response_model=MovedOut,
        summary="Move or lock a kept feed by hand", dependencies=JSON_BODY,
    )  # fmt: skip
    _add_gear(routes, "supplies", _by_unit(GearKind.SUPPLY), "a supply")
    _add_gear(routes, "decoders", _by_unit(GearKind.DECODER), "a decoder")
    _add_gear(routes, "batteries", _by_unit(GearKind.BATTERY), "a battery")
    _add_gear(routes, "outlets", fed_by_outlet, "an outlet")
    routes.add_api_route(
        "/supplies/{tag}/outputs/{number}/feeds", _output, response_model=list[FedOut],
        responses=CSV_ANSWER, summary="What one output of a supply feeds",
    )  # fmt: skip
    return routes
