"""Places counted: begun, counted thing by thing, settled and closed. The lists are read as any others."""

from collections.abc import Callable, Sequence
from typing import Annotated, Any

from fastapi import APIRouter, Path, Request, Response
from pydantic import AfterValidator, BaseModel

from service.api.conventions.asking import JSON_BODY, By, DeskDep
from service.api.conventions.etags import IfMatch, etag, expected
from service.api.conventions.formats import CSV_ANSWER, Accept, model_sheet, wants_csv
from service.api.conventions.repeats import IdempotencyKey, asked, response
from service.desk import Desk
from service.season.counting.records import Outcome, Stocktake
from service.season.counting.schemas import (
    AcceptAsk,
    BeginAsk,
    CountAsk,
    CountedOut,
    CountUndoAsk,
    LookForAsk,
    StocktakeLineOut,
    StocktakeOut,
)
from service.season.counting.settling import Settled, accept, look_for
from service.season.counting.taking import Counted, Hand, begin, close, count, find_stocktake
from service.season.counting.telling import counted_out, lines_out, stocktakes_out
from service.season.counting.undoing import undo
from service.store.base import sound
from service.store.keys import Answer, once

ROOT = "/api/v1/stocktakes"
Name = Annotated[
    str,
    Path(
        max_length=80,
        description="number of the stocktake, as ST-004 or 4; or the tag of a place, for the one open there",
        examples=["ST-001"],
    ),
    AfterValidator(sound),
]


def _once(
    desk: Desk, by: str, mark: Any, act: Callable[[Any], tuple[BaseModel, int, str | None]]
) -> Response:
    """What the act answers: the answer, its status, and the address of what it made."""

    def action(session: Any) -> Answer:
        answer, status, location = act(session)
        return Answer(status, answer.model_dump_json().encode(), location=location)

    return response(desk.store.write(lambda session: once(session, mark, action), by=by))


def _begin(
    ask: BeginAsk, request: Request, desk: DeskDep, by: By, idempotency_key: IdempotencyKey = None
) -> Response:
    mark, hand = asked(request, by, idempotency_key, ask.model_dump_json().encode()), Hand(by, desk.today())

    def act(session: Any) -> tuple[BaseModel, int, str | None]:
        stocktake = begin(session, ask.place, hand, ask.note)
        return stocktakes_out(session, [stocktake])[0], 201, f"{ROOT}/{stocktake.id}"

    return _once(desk, by, mark, act)


def counts_of(ask: CountAsk) -> list[Counted]:
    return [
        Counted(one.tag, one.found, one.state.lower(), one.length_mm, one.pitches, one.note)
        for one in ask.counts
    ]


def _count(
    name: Name, ask: CountAsk, request: Request, desk: DeskDep, by: By, idempotency_key: IdempotencyKey = None
) -> Response:
    mark, hand = asked(request, by, idempotency_key, ask.model_dump_json().encode()), Hand(by, desk.today())

    def act(session: Any) -> tuple[BaseModel, int, str | None]:
        lines = count(session, name, counts_of(ask), hand)
        return counted_out(session, find_stocktake(session, name), lines, hand.day), 200, None

    return _once(desk, by, mark, act)


def _settle(desk: Desk, by: str, mark: Any, name: str, settle: Callable[[Any, Hand], Settled]) -> Response:
    hand = Hand(by, desk.today())

    def act(session: Any) -> tuple[BaseModel, int, str | None]:
        done = settle(session, hand)
        stocktake = find_stocktake(session, name)
        return counted_out(session, stocktake, done.lines, hand.day, done.refused), 200, None

    return _once(desk, by, mark, act)


def _accept(
    name: Name,
    ask: AcceptAsk,
    request: Request,
    desk: DeskDep,
    by: By,
    idempotency_key: IdempotencyKey = None,
) -> Response:
    mark = asked(request, by, idempotency_key, ask.model_dump_json().encode())
    return _settle(
        desk, by, mark, name, lambda session, hand: accept(session, name, ask.tags, hand, ask.each)
    )


def _look_for(
    name: Name, ask: LookForAsk, request: Request, desk: DeskDep, by: By,
    idempotency_key: IdempotencyKey = None,
) -> Response:  # fmt: skip
    mark = asked(request, by, idempotency_key, ask.model_dump_json().encode())
    return _settle(desk, by, mark, name, lambda session, _hand: look_for(session, name, ask.tags, ask.each))


def _undo(
    name: Name,
    ask: CountUndoAsk,
    request: Request,
    desk: DeskDep,
    by: By,
    idempotency_key: IdempotencyKey = None,
) -> Response:
    mark = asked(request, by, idempotency_key, ask.model_dump_json().encode())
    return _settle(desk, by, mark, name, lambda session, hand: undo(session, name, ask.tags, hand, ask.each))


def _lines(name: Name, desk: DeskDep, response: Response, accept: Accept = None) -> Any:
    return _told(desk, name, response, accept, ())


def _differences(name: Name, desk: DeskDep, response: Response, accept: Accept = None) -> Any:
    return _told(desk, name, response, accept, (Outcome.DIFFERS, Outcome.TO_LOOK_FOR))


def _told(desk: Desk, name: str, response: Response, accept: str | None, wanted: Sequence[Outcome]) -> Any:
    with desk.store.reading() as session:
        lines = lines_out(session, [find_stocktake(session, name)], desk.today(), wanted)
    if wants_csv(accept):
        return model_sheet(StocktakeLineOut, lines, {})
    response.headers["Vary"] = "Accept"
    return lines


def _end(desk: Desk, by: str, name: str, if_match: str | None, abandon: bool) -> Response:
    versions, hand = expected(if_match), Hand(by, desk.today())

    def action(session: Any) -> StocktakeOut:
        stocktake: Stocktake = close(session, name, hand, versions, abandon)
        return stocktakes_out(session, [stocktake])[0]

    said = desk.store.write(action, by=by)
    return Response(
        said.model_dump_json(), headers={"ETag": etag(said.version)}, media_type="application/json"
    )


def _close(name: Name, desk: DeskDep, by: By, if_match: IfMatch = None) -> Response:
    return _end(desk, by, name, if_match, abandon=False)


def _abandon(name: Name, desk: DeskDep, by: By, if_match: IfMatch = None) -> Response:
    return _end(desk, by, name, if_match, abandon=True)


def router() -> APIRouter:
    routes = APIRouter(tags=["stocktakes"])
    one = "/stocktakes/{name}"
    routes.add_api_route(
        "/stocktakes", _begin, methods=["POST"], status_code=201, response_model=StocktakeOut,
        dependencies=JSON_BODY, summary="Begin to count a place and the places inside it",
        description="Refused while a stocktake that counts any of them is open.",
    )  # fmt: skip
    for address, act, summary, doc in (
        (
            "counts", _count, "Count things, found or not",
            "Against the book of this moment; what the book has elsewhere becomes a line too. All or none.",
        ),
        (
            "accept", _accept, "Put the book right by what was counted",
            "Refused for what changed since it was counted, with what changed and by whom: count it again. "
            "What was not found is missing; a reel that was not found is written off.",
        ),
        (
            "look-for", _look_for, "Leave differences to look for",
            "The book stays as it is; they may be counted again, or accepted.",
        ),
        (
            "undo", _undo, "Take differences back that were accepted",
            "The book is as it was before, and they differ again; a recount in the ledger is taken back by a "
            "row. Only while the stocktake is open; refused for what was changed since, with by whom.",
        ),
    ):  # fmt: skip
        routes.add_api_route(
            f"{one}/{address}", act, methods=["POST"], response_model=CountedOut, dependencies=JSON_BODY,
            summary=summary, description=doc,
        )  # fmt: skip
    for address, end, summary in (
        ("close", _close, "Close a stocktake in which nothing is left to count or to settle"),
        ("abandon", _abandon, "Give a stocktake up; what was counted stays on record"),
    ):
        routes.add_api_route(
            f"{one}/{address}", end, methods=["POST"], response_model=StocktakeOut, summary=summary
        )
    for address, read, summary in (
        ("lines", _lines, "Everything that a stocktake counts, by tag"),
        ("differences", _differences, "What differs from the book, and what is to be looked for"),
    ):
        routes.add_api_route(
            f"{one}/{address}",
            read,
            response_model=list[StocktakeLineOut],
            responses=CSV_ANSWER,
            summary=summary,
        )
    return routes
