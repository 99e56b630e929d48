"""Is there enough: the line of a thing, shortages, clashes, commitments, and what if."""

from collections.abc import Callable, Sequence
from types import GenericAlias
from typing import Annotated, Any

from fastapi import APIRouter, Query, Response
from pydantic import AfterValidator, BaseModel, TypeAdapter

from service.api.conventions.asking import JSON_BODY, AsOf, DeskDep
from service.api.conventions.formats import CSV_ANSWER, Accept, model_sheet, spoken, wants_csv
from service.api.reports import Production
from service.planning.schemas import Day
from service.planning.season.asking import Days, commitments, days_of, season_line, season_shortages
from service.planning.season.clashing import clashes
from service.planning.season.items import Season
from service.planning.season.ordering import read_orders
from service.planning.season.reading import read_season
from service.planning.season.reels import suggested_orders
from service.planning.season.schemas import (
    ClashOut,
    CommitmentOut,
    LineStepOut,
    OrderOut,
    SeasonLineOut,
    SeasonQuestion,
    SeasonSupposed,
    ShortageOut,
)
from service.planning.season.supposing import season_what_if
from service.store.base import sound

Text = AfterValidator(sound)
Item = Annotated[
    str,
    Query(max_length=80, description="tag of a model, a tape or a reel, in any letter case", examples=["D4"]),
    Text,
]
Lot = Annotated[
    str | None,
    Query(max_length=40, description="one lot of that tape; all if not given", examples=["C-26F"]),
    AfterValidator(lambda lot: lot if lot is None else sound(lot)),
]
First = Annotated[Day | None, Query(alias="from", description="first day; `as_of` if not given")]
Last = Annotated[
    Day | None, Query(alias="to", description="last day, which counts too; as far as is known if not given")
]
_LINE, _SUPPOSED = TypeAdapter(SeasonLineOut), TypeAdapter(SeasonSupposed)
_ORDERS = TypeAdapter(list[OrderOut])
SOLVE_S = 30.0  # for all tapes together; a count that is not proven by then is told as it stands
_VARY = {"Vary": "Accept"}
Rows = Callable[[Season, Days, str | None], Sequence[BaseModel]]


def _line(
    desk: DeskDep,
    as_of: AsOf,
    item: Item,
    lot: Lot = None,
    from_on: First = None,
    to_on: Last = None,
    accept: Accept = None,
) -> Response:
    as_csv = wants_csv(accept)
    with desk.store.reading() as session:
        season = read_season(session, as_of, desk.today(), with_names=False)
    found = season_line(season, item, lot, days_of(from_on, to_on, as_of))
    return model_sheet(LineStepOut, found.steps, {}) if as_csv else spoken(_LINE, found, _VARY)


def _add(routes: APIRouter, path: str, rows: Rows, row: type[BaseModel], said: str, more: str) -> None:
    many: Any = GenericAlias(list, (row,))
    shape: TypeAdapter[Any] = TypeAdapter(many)

    def answer(
        desk: DeskDep,
        as_of: AsOf,
        production: Production = None,
        from_on: First = None,
        to_on: Last = None,
        accept: Accept = None,
    ) -> Response:
        as_csv = wants_csv(accept)
        days = days_of(from_on, to_on, as_of)
        with desk.store.reading() as session:
            season = read_season(session, as_of, desk.today(), with_names=rows is not season_shortages)
        found = rows(season, days, production)
        return model_sheet(row, found, {}) if as_csv else spoken(shape, found, _VARY)

    routes.add_api_route(
        f"/season/{path}", answer, response_model=many, responses=CSV_ANSWER, summary=said, description=more
    )


def _what_if(ask: SeasonQuestion, desk: DeskDep, as_of: AsOf, accept: Accept = None) -> Response:
    as_csv = wants_csv(accept)
    with desk.store.reading() as session:
        season = read_season(session, as_of, desk.today())
    found = season_what_if(season, ask, as_of)
    return model_sheet(ShortageOut, found.shortages, {}) if as_csv else spoken(_SUPPOSED, found, _VARY)


def _orders(desk: DeskDep, as_of: AsOf, accept: Accept = None) -> Response:
    as_csv = wants_csv(accept)
    with desk.store.reading() as session:
        question = read_orders(session, as_of, desk.today())
    found = desk.solved(suggested_orders, question, SOLVE_S)
    return model_sheet(OrderOut, found, {}) if as_csv else spoken(_ORDERS, found, _VARY)


def router() -> APIRouter:
    routes = APIRouter(tags=["season"])
    routes.add_api_route(
        "/season/line", _line, response_model=SeasonLineOut, responses=CSV_ANSWER,
        summary="One model, tape, lot or reel through a span of days",
        description="Wanted against owned, sound and due in, step by step, with every shortage, the day it "
        "clears and the cheapest move of dates that removes it. CSV has the steps.",
    )  # fmt: skip
    _add(
        routes, "shortages", season_shortages, ShortageOut, "What is short, from when, and when it clears",
        "Days are half-open inside, both counting here; an order counts from the day it is due.",
    )  # fmt: skip
    _add(
        routes, "clashes", clashes, ClashOut, "Units that two shows have on the same days, or overdue",
        "By tag, whether held or in use by a kept plan.",
    )  # fmt: skip
    _add(
        routes, "commitments", commitments, CommitmentOut, "What each show has of each thing, and when",
        "Of each model and tape the larger of what is held and what is in use or drawn counts.",
    )  # fmt: skip
    routes.add_api_route(
        "/season/what-if", _what_if, methods=["POST"], response_model=SeasonSupposed, responses=CSV_ANSWER,
        summary="The season with shows on other days, other quantities or gear back; nothing is stored",
        description="What begins or ends with its show moves with it; what has days of its own keeps them. "
        "CSV has what would be short.",
        dependencies=JSON_BODY,
    )  # fmt: skip
    routes.add_api_route(
        "/season/orders", _orders, response_model=list[OrderOut], responses=CSV_ANSWER,
        summary="What to order or hire so that no show is short, and by when",
        description="Reels are counted piece by piece, with a spare longest piece of each tape. An order "
        "that would come too late says so, and by how many days. Nothing is ordered.",
    )  # fmt: skip
    return routes
