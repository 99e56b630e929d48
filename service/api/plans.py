"""Plans asked for, watched, compared, kept and cancelled. They are never solved inside a request."""

import asyncio
import json
import re
import time
import zlib
from typing import Annotated, Any

from fastapi import APIRouter, Header, Request, Response
from starlette.concurrency import run_in_threadpool

from service.api.conventions.asking import JSON_BODY, By, DeskDep, Number, Tag
from service.api.conventions.etags import IfMatch, IfNoneMatch, etag, expected, unchanged
from service.api.conventions.formats import CSV_ANSWER, Accept, model_sheet, wants_csv
from service.api.conventions.repeats import IdempotencyKey, asked, response
from service.api.lists import add_list
from service.desk import Desk
from service.planning.actions import UNDER_WAY, PlanAsk, ask_for_plan, cancel_plan, find_plan, keep_plan
from service.planning.comparing import changes, plan_feeds, plan_row, plan_unfed
from service.planning.lists import PLANS, of_production
from service.planning.records import Plan
from service.planning.schemas import ChangeOut, PlanDetail, PlanOut, PlanRequest
from service.planning.snapshot.show import find_production, kept_plan
from service.season.queries import PRODUCTIONS
from service.store.changing import refuse_stale
from service.store.keys import Answer, once
from service.store.listing import id_of

LONGEST_WAIT_S = 60
LOOK_S = 0.1

Prefer = Annotated[
    str | None,
    Header(description=f"wait=n: answer when it is done, or after n seconds (at most {LONGEST_WAIT_S})"),
]


def _address(row: dict[str, Any]) -> str:
    return f"/api/v1/productions/{row['production']}/plans/{row['number']}"


def seconds_to_wait(prefer: str | None) -> int:
    """How long the caller will wait.

    >>> [seconds_to_wait(said) for said in ("respond-async, wait=10", "wait=99999", None)]
    [10, 60, 0]
    """
    found = re.search(r"(?:^|[,;\s])wait\s*=\s*(\d{1,9})", prefer or "")
    return min(int(found[1]), LONGEST_WAIT_S) if found else 0


async def _ask(
    code: Tag,
    request: Request,
    desk: DeskDep,
    by: By,
    wanted: PlanRequest | None = None,
    prefer: Prefer = None,
    idempotency_key: IdempotencyKey = None,
) -> Response:
    wanted = wanted or PlanRequest(deadline_s=None)
    mark = asked(request, by, idempotency_key, wanted.model_dump_json().encode())
    answer = await run_in_threadpool(_queue, desk, code, wanted, by, mark)
    wait_s = seconds_to_wait(prefer)
    if wait_s:
        answer = await _when_done(desk, code, answer, wait_s)
    said = response(answer)
    if wait_s:
        said.headers["Preference-Applied"] = f"wait={wait_s}"
    return said


def _queue(desk: Desk, code: str, wanted: PlanRequest, by: str, mark: Any) -> Answer:
    made: list[int] = []

    def ask(session: Any) -> Answer:
        values = wanted.model_dump()
        values["deadline_s"] = wanted.deadline_s or desk.deadline_s
        plan = ask_for_plan(session, code, PlanAsk(**values), by)
        made.append(plan.id)
        row = plan_row(plan, find_production(session, code))
        return Answer(202, PlanOut(**row).model_dump_json().encode(), location=_address(row))

    answer = desk.store.write(lambda session: once(session, mark, ask), by=by)
    if not answer.is_replayed:
        desk.submit(made[-1])  # a try before the last was rolled back, its plan with it
    return answer


async def _when_done(desk: Desk, code: str, answer: Answer, wait_s: int) -> Answer:
    """The finished plan instead of the promise of one, if it is finished in time."""
    number = json.loads(answer.body)["number"]
    give_up = time.monotonic() + wait_s
    while time.monotonic() < give_up:
        row = await run_in_threadpool(_row, desk, code, number)
        if row is not None:
            body = PlanDetail(**row).model_dump_json().encode()
            return Answer(201, body, location=_address(row), is_replayed=answer.is_replayed)
        await asyncio.sleep(LOOK_S)
    return answer


def _row(desk: Desk, code: str, number: int) -> dict[str, Any] | None:
    """The plan in full, or None while it is under way."""
    with desk.store.reading() as session:
        plan = find_plan(session, code, number)
        return None if plan.status in UNDER_WAY else _detail(session, code, plan)


def _detail(session: Any, code: str, plan: Plan) -> dict[str, Any]:
    row = plan_row(plan, find_production(session, code))
    return row | {"feeds": plan_feeds(session, plan), "unfed": plan_unfed(session, plan)}


def _plan_etag(plan: Plan) -> str:
    """The version; while it is worked out, its progress too, which is no change worth a version."""
    if plan.status not in UNDER_WAY:
        return etag(plan.version)
    progress = json.dumps(plan.progress, sort_keys=True).encode()
    return f'"{plan.version}-{zlib.crc32(progress):08x}"'


def _one(
    code: Tag, number: Number, desk: DeskDep, response: Response, if_none_match: IfNoneMatch = None
) -> Any:
    with desk.store.reading() as session:
        plan = find_plan(session, code, number)
        tag = _plan_etag(plan)
        known = unchanged(if_none_match, tag)
        row = None if known else _detail(session, code, plan)
    response.headers["ETag"] = tag
    return known or row


def _cancel(code: Tag, number: Number, desk: DeskDep, by: By, response: Response) -> Any:
    def action(session: Any) -> tuple[dict[str, Any], str]:
        plan = cancel_plan(session, code, number)
        return plan_row(plan, find_production(session, code)), _plan_etag(plan)

    row, response.headers["ETag"] = desk.store.write(action, by=by)
    return row


def _keep(
    code: Tag, number: Number, desk: DeskDep, by: By, response: Response, if_match: IfMatch = None
) -> Any:
    versions = expected(if_match)

    def action(session: Any) -> tuple[dict[str, Any], str]:
        plan = find_plan(session, code, number, lock=True)
        refuse_stale(f"plan {number}", plan.version, versions)
        plan = keep_plan(session, code, number, desk.today())
        return _detail(session, code, plan), etag(plan.version)

    row, response.headers["ETag"] = desk.store.write(action, by=by)
    return row


def _changes(code: Tag, number: Number, desk: DeskDep, response: Response, accept: Accept = None) -> Any:
    with desk.store.reading() as session:
        plan = find_plan(session, code, number)
        found = changes(session, kept_plan(session, plan.production_id), plan)
    rows = [
        {"element": c.element, "run": c.run, "change": c.change, "before": c.before, "after": c.after}
        for c in found
    ]
    if wants_csv(accept):
        return model_sheet(ChangeOut, rows, {})
    response.headers["Vary"] = "Accept"
    return rows


def _of_production(asker: Any, code: str) -> Any:
    return of_production(id_of(asker, PRODUCTIONS, code))


def router() -> APIRouter:
    routes = APIRouter(tags=["plans"])
    plans, plan = "/productions/{code}/plans", "/productions/{code}/plans/{number}"
    routes.add_api_route(
        plans, _ask, methods=["POST"], status_code=202, response_model=PlanOut, dependencies=JSON_BODY,
        summary="Ask for a plan: it is worked out beside the service",
        responses={201: {"model": PlanDetail, "description": "worked out within the time waited"}},
    )  # fmt: skip
    add_list(routes, PLANS, PRODUCTIONS, _of_production)
    routes.add_api_route(plan, _one, response_model=PlanDetail, summary="A plan, its feeds and what is dark")
    routes.add_api_route(
        f"{plan}/cancel", _cancel, methods=["POST"], response_model=PlanOut, summary="Cancel a plan under way"
    )
    routes.add_api_route(
        f"{plan}/keep", _keep, methods=["POST"], response_model=PlanDetail,
        summary="Keep a draft: the crew works from it from now on",
    )  # fmt: skip
    routes.add_api_route(
        f"{plan}/changes", _changes, response_model=list[ChangeOut], responses=CSV_ANSWER,
        summary="What the plan changes against the kept one",
    )  # fmt: skip
    return routes
