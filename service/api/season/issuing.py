"""Gear that goes out to a production and comes back, by tag."""

from collections.abc import Callable
from typing import Any

from fastapi import APIRouter, Request, Response
from pydantic import BaseModel

from service.api.conventions.asking import JSON_BODY, By, DeskDep, Tag
from service.api.conventions.repeats import IdempotencyKey, asked, response
from service.desk import Desk
from service.planning.issuing.books import Hand
from service.planning.issuing.issuing import issue
from service.planning.issuing.returning import Back, bring_back, set_missing
from service.planning.issuing.schemas import (
    IssueAsk,
    Issued,
    Missing,
    MissingAsk,
    ReturnAsk,
    Returned,
    UndoAsk,
    Undone,
)
from service.planning.issuing.undoing import undo
from service.stock.gear import UnitState
from service.store.keys import Answer, once

ALL = (
    "All of the tags or none of them, unless `each` is asked: then what cannot be done is named in `refused`."
)


def _answered(desk: Desk, by: str, mark: Any, act: Callable[[Any], BaseModel]) -> Response:
    """What the act answers; sent again with the same key, it is not done twice."""

    def action(session: Any) -> Answer:
        return Answer(200, act(session).model_dump_json().encode())

    return response(desk.store.write(lambda session: once(session, mark, action), by=by))


def _issue(
    code: Tag,
    ask: IssueAsk,
    request: Request,
    desk: DeskDep,
    by: By,
    idempotency_key: IdempotencyKey = None,
) -> Response:
    mark, today = asked(request, by, idempotency_key, ask.model_dump_json().encode()), desk.today()
    hand = Hand(by, ask.on or today, ask.each)
    return _answered(desk, by, mark, lambda session: issue(session, code, ask.tags, hand, today))


def _undo_issue(
    code: Tag,
    ask: UndoAsk,
    request: Request,
    desk: DeskDep,
    by: By,
    idempotency_key: IdempotencyKey = None,
) -> Response:
    mark = asked(request, by, idempotency_key, ask.model_dump_json().encode())
    hand = Hand(by, desk.today(), ask.each)
    return _answered(desk, by, mark, lambda session: undo(session, "issue", ask.tags, hand, code))


def _return(
    ask: ReturnAsk, request: Request, desk: DeskDep, by: By, idempotency_key: IdempotencyKey = None
) -> Response:
    mark, today = asked(request, by, idempotency_key, ask.model_dump_json().encode()), desk.today()
    state = UnitState(ask.state) if "state" in ask.model_fields_set else None
    how, hand = Back(ask.found, state, ask.place), Hand(by, ask.on or today, ask.each)
    return _answered(desk, by, mark, lambda session: bring_back(session, ask.tags, how, hand, today))


def _undo_return(
    ask: UndoAsk, request: Request, desk: DeskDep, by: By, idempotency_key: IdempotencyKey = None
) -> Response:
    mark = asked(request, by, idempotency_key, ask.model_dump_json().encode())
    hand = Hand(by, desk.today(), ask.each)
    return _answered(desk, by, mark, lambda session: undo(session, "return", ask.tags, hand))


def _missing(
    ask: MissingAsk, request: Request, desk: DeskDep, by: By, idempotency_key: IdempotencyKey = None
) -> Response:
    mark = asked(request, by, idempotency_key, ask.model_dump_json().encode())
    hand = Hand(by, desk.today(), ask.each)
    return _answered(desk, by, mark, lambda session: set_missing(session, ask.tags, ask.what, hand))


def router() -> APIRouter:
    routes = APIRouter(tags=["issue and return"])
    for address, act, shape, summary, doc in (
        (
            "/productions/{code}/issue", _issue, Issued, "Units go out to a production, by tag",
            "Each on its own hold, else drawn from what the production was promised of its model, else on a "
            f"new hold where nobody else is to have it. {ALL}",
        ),
        (
            "/productions/{code}/issue/undo", _undo_issue, Undone,
            "Take the last issue of units to a production back",
            f"Refused where the unit came back or was changed since. {ALL}",
        ),
        (
            "/returns", _return, Returned, "Units come back, by tag",
            "To its bin or the place named; with `found` it is set aside and a fault is opened. What was "
            "missing is found again. What was not out is refused, with where the book has it; so is a "
            f"`state` without a word of what was found. {ALL}",
        ),
        (
            "/returns/undo", _undo_return, Undone, "Take the last return of units back",
            "Of a unit that is missing, that it is on record as missing is taken back instead. Refused where "
            f"the unit went out again or was changed since. {ALL}",
        ),
        (
            "/missing", _missing, Missing, "Put units on record as missing",
            "A return, once they turn up, finds them again; a mistake is taken back by undoing the return. "
            f"{ALL}",
        ),
    ):  # fmt: skip
        routes.add_api_route(
            address, act, methods=["POST"], response_model=shape, summary=summary, description=doc,
            dependencies=JSON_BODY,
        )  # fmt: skip
    return routes
