"""What is done to reels over HTTP, and the whole life of each."""

from collections.abc import Callable
from typing import Annotated, Any

from fastapi import APIRouter, Body, Path, Request, Response
from pydantic import AfterValidator, TypeAdapter

from service.api.conventions.asking import JSON_BODY, By, DeskDep, Tag
from service.api.conventions.etags import IfMatch, IfNoneMatch, expected, unchanged
from service.api.conventions.formats import CSV_ANSWER, Accept, model_sheet, spoken, wants_csv
from service.api.conventions.repeats import IdempotencyKey, asked, fingerprint, response
from service.shows.ledger import doing
from service.shows.ledger.doing import Doer
from service.shows.ledger.history import history
from service.shows.ledger.schemas import (
    Act,
    BackAsk,
    CutAsk,
    DoneOut,
    HistoryOut,
    HistoryRowOut,
    JoinAsk,
    OffcutAsk,
    OpenAsk,
    RecountAsk,
    RecoverAsk,
    ScrapAsk,
    SettleAsk,
)
from service.store.base import sound
from service.store.keys import Answer, once

HISTORY = TypeAdapter(HistoryOut)
CutNumber = Annotated[
    str,
    Path(max_length=40, description="number of the ledger row on paper", examples=["K-074"]),
    AfterValidator(sound),
]
Doing = Callable[[Any, str, Any, Doer], DoneOut]
ONCE = "Refused whole, with what would mend it. `If-Match`, where given, names the version of the reel."


def _add(
    routes: APIRouter, path: str, ask: type[Act], do: Doing, summary: str, key: Any = Tag, bare: bool = False
) -> None:
    """POST of one act. `key`: what its address names; `bare`: without a body it is done by its defaults."""

    def act(
        request: Request,
        key: str,
        said: Any,
        desk: DeskDep,
        by: By,
        if_match: IfMatch = None,
        idempotency_key: IdempotencyKey = None,
    ) -> Response:
        mark = asked(request, by, idempotency_key, said.model_dump_json(exclude_unset=True).encode())
        doer = Doer(by, desk.today(), None if if_match is None else expected(if_match))

        def once_done(session: Any) -> Answer:
            return Answer(200, do(session, key, said, doer).model_dump_json().encode())

        return response(desk.store.write(lambda session: once(session, mark, once_done), by=by))

    def bare_act(
        request: Request,
        key: str,
        desk: DeskDep,
        by: By,
        said: Any = None,
        if_match: IfMatch = None,
        idempotency_key: IdempotencyKey = None,
    ) -> Response:
        return act(request, key, said or ask(), desk, by, if_match, idempotency_key)

    endpoint: Callable[..., Response] = bare_act if bare else act
    body: Any = ask | None if bare else ask
    endpoint.__annotations__.update({"key": key, "said": Annotated[body, Body()]})
    routes.add_api_route(
        path, endpoint, methods=["POST"], response_model=DoneOut, summary=summary, description=ONCE,
        dependencies=JSON_BODY,
    )  # fmt: skip


def _life(key: Tag, desk: DeskDep, accept: Accept = None, if_none_match: IfNoneMatch = None) -> Response:
    as_csv = wants_csv(accept)
    with desk.store.reading() as session:
        life = history(session, key)
    found = model_sheet(HistoryRowOut, life.rows, {}) if as_csv else spoken(HISTORY, life, {})
    # A piece moves on without its reel: the tag is taken from what is said.
    tag = f'"{fingerprint([bytes(found.body)])[:20]}"'
    found.headers.update({"ETag": tag, "Vary": "Accept"})
    return unchanged(if_none_match, tag) or found


def router() -> APIRouter:
    routes = APIRouter(tags=["ledger"])
    reel = "/reels/{key}"
    routes.add_api_route(
        f"{reel}/ledger", _life, response_model=HistoryOut, responses=CSV_ANSWER,
        summary="The whole life of a reel: every row with what was left, and where each length is now",
    )  # fmt: skip
    _add(routes, f"{reel}/open", OpenAsk, doing.open_reel, "Open a sealed reel", bare=True)
    _add(routes, f"{reel}/cuts", CutAsk, doing.cut, "Cut a piece or scrap off a reel")
    _add(routes, f"{reel}/offcuts", OffcutAsk, doing.make_offcut, "Make an offcut: a reel of its own")
    _add(routes, f"{reel}/joins", JoinAsk, doing.join, "Join another reel of the same tape and lot on to it")
    _add(routes, f"{reel}/scrap", ScrapAsk, doing.scrap, "Scrap a length, or all that is left", bare=True)
    _add(routes, f"{reel}/recount", RecountAsk, doing.recount, "Say the length that was measured")
    cut = "/cuts/{key}"
    _add(
        routes, f"{cut}/undo", BackAsk, doing.take_back, "Take a row back: what was cut is on its reel again",
        bare=True, key=CutNumber,
    )  # fmt: skip
    _add(
        routes, f"{cut}/settle", SettleAsk, doing.settle, "Settle a disputed row: counted, or void for good",
        key=CutNumber,
    )  # fmt: skip
    _add(
        routes, "/elements/{key}/recovered", RecoverAsk, doing.recover,
        "Bring a piece of a struck element back as an offcut", bare=True,
    )  # fmt: skip
    return routes
