"""Cut plans asked for, kept, and done cut by cut. They are never solved inside a request."""

import asyncio
import json
import re
import time
from collections.abc import Callable
from typing import Annotated, Any

from fastapi import APIRouter, Path, Request, Response
from pydantic import AfterValidator, TypeAdapter
from starlette.concurrency import run_in_threadpool

from service.api.conventions.asking import JSON_BODY, By, DeskDep, Number
from service.api.conventions.etags import IfMatch, IfNoneMatch, expected, unchanged
from service.api.conventions.formats import CSV_ANSWER, Accept, model_sheet, spoken, wants_csv
from service.api.conventions.repeats import IdempotencyKey, asked, response
from service.api.lists import add_list
from service.api.plans import LOOK_S, Prefer, seconds_to_wait
from service.api.reports import Production
from service.desk import Desk
from service.planning.cutting.actions import (
    CutAsk,
    abandon_cut_plan,
    ask_for_cut_plan,
    find_cut_plan,
    is_under_way,
    keep_cut_plan,
)
from service.planning.cutting.doing import Marked, do_step, found_um, report_short, undo_step
from service.planning.cutting.lists import CUT_PLANS
from service.planning.cutting.marking import kept_steps, plan_steps
from service.planning.cutting.reading import find_productions
from service.planning.cutting.records import CutPlan
from service.planning.cutting.schemas import (
    CutPlanOut,
    CutPlanRequest,
    CutStepOut,
    ReelShort,
    StepAnswer,
    StepDone,
)
from service.planning.cutting.telling import plan_out, step_answer
from service.stock.ledger.reels import Entry
from service.store.base import sound
from service.store.changing import refuse_stale
from service.store.keys import Answer, once

ROOT = "/api/v1/cut-plans"
_MARKS = re.compile(r'-\d+"')
PLAN, STEP = TypeAdapter(CutPlanOut), TypeAdapter(StepAnswer)
STEPS = TypeAdapter(list[CutStepOut])
PlanNumber = Annotated[
    str,
    Path(max_length=40, description="number of the cut plan: CP-004, or 4", examples=["CP-001"]),
    AfterValidator(sound),
]


async def _ask(
    wanted: CutPlanRequest,
    request: Request,
    desk: DeskDep,
    by: By,
    prefer: Prefer = None,
    idempotency_key: IdempotencyKey = None,
) -> Response:
    mark = asked(request, by, idempotency_key, wanted.model_dump_json().encode())
    ask = CutAsk(
        wanted.productions,
        wanted.tapes or (),
        wanted.may_buy,
        wanted.deadline_s or desk.deadline_s,
        wanted.note,
    )
    make = lambda session: ask_for_cut_plan(session, ask, by, desk.today())  # noqa: E731
    answer = await run_in_threadpool(_queue, desk, by, mark, make)
    return await _promised(desk, answer, prefer)


async def _short(
    number: PlanNumber,
    said: ReelShort,
    request: Request,
    desk: DeskDep,
    by: By,
    prefer: Prefer = None,
    idempotency_key: IdempotencyKey = None,
) -> Response:
    mark = asked(request, by, idempotency_key, said.model_dump_json().encode())
    entry, length_um = Entry(by, desk.today(), said.note), found_um(said.found_mm)
    make = lambda session: report_short(session, number, said.reel, length_um, entry, desk.today())  # noqa: E731
    answer = await run_in_threadpool(_queue, desk, by, mark, make)
    return await _promised(desk, answer, prefer)


def _queue(desk: Desk, by: str, mark: Any, make: Callable[[Any], CutPlan]) -> Answer:
    made: list[int] = []

    def ask(session: Any) -> Answer:
        plan = make(session)
        made.append(plan.id)
        body = plan_out(session, plan).model_dump_json().encode()
        return Answer(202, body, location=f"{ROOT}/{plan.number}")

    answer = desk.store.write(lambda session: once(session, mark, ask), by=by)
    if not answer.is_replayed:
        desk.submit_cuts(made[-1])  # a try before the last was rolled back, its plan with it
    return answer


async def _promised(desk: Desk, answer: Answer, prefer: str | None) -> Response:
    """The promise of a plan, or the plan itself where the caller waits and it is worked out in time."""
    wait_s = seconds_to_wait(prefer)
    give_up = time.monotonic() + wait_s
    number = json.loads(answer.body)["number"]
    while time.monotonic() < give_up:
        body = await run_in_threadpool(_worked_out, desk, number)
        if body is not None:
            answer = Answer(201, body, location=answer.location, is_replayed=answer.is_replayed)
            break
        await asyncio.sleep(LOOK_S)
    said = response(answer)
    if wait_s:
        said.headers["Preference-Applied"] = f"wait={wait_s}"
    return said


def _worked_out(desk: Desk, number: str) -> bytes | None:
    with desk.store.reading() as session:
        plan = find_cut_plan(session, number)
        return None if is_under_way(plan) else plan_out(session, plan).model_dump_json().encode()


def _one(number: PlanNumber, desk: DeskDep, if_none_match: IfNoneMatch = None) -> Response:
    with desk.store.reading() as session:
        plan = find_cut_plan(session, number)
        told = plan_out(session, plan)
    # Marks on its steps are no change of the plan itself, and yet it reads otherwise.
    tag = f'"{plan.version}-{told.done}"'
    return unchanged(if_none_match, tag) or spoken(PLAN, told, {"ETag": tag})


def _keep(number: PlanNumber, desk: DeskDep, by: By, if_match: IfMatch = None) -> Response:
    versions = _versions(if_match)

    def action(session: Any) -> CutPlanOut:
        plan = find_cut_plan(session, number, lock=True)
        refuse_stale(f"{plan.number}", plan.version, versions)
        return plan_out(session, keep_cut_plan(session, number, desk.today()))

    return _told(desk.store.write(action, by=by))


def _abandon(number: PlanNumber, desk: DeskDep, by: By) -> Response:
    return _told(
        desk.store.write(lambda session: plan_out(session, abandon_cut_plan(session, number)), by=by)
    )


def _versions(if_match: str | None) -> frozenset[int] | None:
    """The version in front of the count of marks."""
    return expected(None if if_match is None else _MARKS.sub('"', if_match))


def _told(plan: CutPlanOut) -> Response:
    return spoken(PLAN, plan, {"ETag": f'"{plan.version}-{plan.done}"'})


def _steps(number: PlanNumber, desk: DeskDep, accept: Accept = None) -> Response:
    with desk.store.reading() as session:
        rows = plan_steps(session, find_cut_plan(session, number))
    if wants_csv(accept):
        return model_sheet(CutStepOut, rows, {})
    return spoken(STEPS, rows, {"Vary": "Accept"})


def _kept_steps(desk: DeskDep, production: Production = None, accept: Accept = None) -> Response:
    with desk.store.reading() as session:
        code = find_productions(session, [production])[0].tag if production else None
        rows = [step for step in kept_steps(session, code) if not step.is_done]
    if wants_csv(accept):
        return model_sheet(CutStepOut, rows, {})
    return spoken(STEPS, rows, {"Vary": "Accept"})


def _done(
    number: PlanNumber,
    step: Number,
    request: Request,
    desk: DeskDep,
    by: By,
    said: StepDone | None = None,
    idempotency_key: IdempotencyKey = None,
) -> Response:
    said = said or StepDone()
    mark = asked(request, by, idempotency_key, said.model_dump_json().encode())
    entry = Entry(by, said.cut_on or desk.today(), said.note)

    def action(session: Any) -> Answer:
        return _answer(session, do_step(session, number, step, said.reel, said.offcut_tag, entry))

    return response(desk.store.write(lambda session: once(session, mark, action), by=by))


def _undo(
    number: PlanNumber,
    step: Number,
    request: Request,
    desk: DeskDep,
    by: By,
    idempotency_key: IdempotencyKey = None,
) -> Response:
    mark = asked(request, by, idempotency_key)
    entry = Entry(by, desk.today(), "marked by mistake")

    def action(session: Any) -> Answer:
        return _answer(session, undo_step(session, number, step, entry))

    return response(desk.store.write(lambda session: once(session, mark, action), by=by))


def _answer(session: Any, marked: Marked) -> Answer:
    return Answer(200, STEP.dump_json(step_answer(session, marked)))


def router() -> APIRouter:
    routes = APIRouter(tags=["cutting"])
    plan, step = "/cut-plans/{number}", "/cut-plans/{number}/steps/{step}"
    add_list(routes, CUT_PLANS)
    routes.add_api_route(
        "/cut-plans", _ask, methods=["POST"], status_code=202, response_model=CutPlanOut,
        dependencies=JSON_BODY, summary="Ask which piece comes off which reel: worked out beside the service",
        description="Pieces that are cut already are left. What others were promised by name, and what other "
        "kept plans cut, is not taken.",
        responses={201: {"model": CutPlanOut, "description": "worked out within the time waited"}},
    )  # fmt: skip
    routes.add_api_route(plan, _one, response_model=CutPlanOut, summary="A cut plan in figures, tape by tape")
    routes.add_api_route(
        f"{plan}/keep", _keep, methods=["POST"], response_model=CutPlanOut,
        summary="Keep a draft: the bench works from it; other plans give up these pieces",
    )  # fmt: skip
    routes.add_api_route(
        f"{plan}/abandon", _abandon, methods=["POST"], response_model=CutPlanOut,
        summary="Abandon a plan: its reels are free again, what it cut stays cut",
    )  # fmt: skip
    routes.add_api_route(
        f"{plan}/steps", _steps, response_model=list[CutStepOut], responses=CSV_ANSWER,
        summary="The cuts of a plan in marking order, with labels",
    )  # fmt: skip
    routes.add_api_route(
        "/cut-steps", _kept_steps, response_model=list[CutStepOut], responses=CSV_ANSWER,
        summary="What kept plans still cut, in marking order",
    )  # fmt: skip
    routes.add_api_route(
        f"{step}/done", _done, methods=["POST"], response_model=StepAnswer, dependencies=JSON_BODY,
        summary="Mark a cut as made: it is written into the ledger of its reel",
    )  # fmt: skip
    routes.add_api_route(
        f"{step}/undo", _undo, methods=["POST"], response_model=StepAnswer,
        summary="Take back the mark of the last cut of a reel",
    )  # fmt: skip
    routes.add_api_route(
        f"{plan}/short", _short, methods=["POST"], status_code=202, response_model=CutPlanOut,
        dependencies=JSON_BODY,
        summary="Say that a reel holds less than its book: what is left of its tape is planned again",
        description="The length found is counted; cuts done stay. The new plan is kept in the place of this "
        "one as soon as it is worked out.",
        responses={201: {"model": CutPlanOut, "description": "worked out within the time waited"}},
    )  # fmt: skip
    return routes
