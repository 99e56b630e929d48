"""The list of cut plans, and one plan: worked out, weighed, kept."""

import asyncio
import json
from collections.abc import AsyncIterator
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Form, Path, Query
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response, StreamingResponse

from service.errors import ServiceError
from service.planning.cutting.actions import CutAsk, abandon_cut_plan, ask_for_cut_plan, keep_cut_plan
from service.planning.cutting.schemas import CutPlanOut, CutPlanRequest
from service.reports.bench.plans import Bench, bench
from service.reports.bench.sheet import Sheet, sheet_of
from service.units import METRIC, show, show_um
from service.web.cutting.drawings import by_tape
from service.web.frame.forms import Refusal, asked, refused
from service.web.frame.pages import PageRoute, Reader, ReaderDep, go
from service.web.frame.wishes import signed

Number = Annotated[str, Path(max_length=40)]
Name = Annotated[str, Form(max_length=80)]
Typed = Annotated[str, Form(max_length=400)]
LOOK_S = 0.4
# A stream that never ended would keep the service from stopping; the browser asks again by itself.
LONGEST_STREAM_S = 8.0
HEADERS = {"Cache-Control": "no-store", "X-Content-Type-Options": "nosniff", "X-Accel-Buffering": "no"}


def address(number: str) -> str:
    return f"/cutting/{quote(number, safe='')}"


def _list(reader: ReaderDep, all: Annotated[str, Query(max_length=8)] = "") -> Response:
    return _list_page(reader, is_all=bool(all))


def _list_page(
    reader: Reader, refusal: Refusal | None = None, chosen: tuple[str, ...] | None = None,
    may_buy: bool = True, is_all: bool = False,
) -> Response:  # fmt: skip
    with reader.desk.store.reading() as session:
        found = bench(session, reader.today, is_all)
    if chosen is None:
        chosen = tuple(show.code for show in found.shows if show.unplanned)
    return reader.page(
        "cutting/list.html",
        200 if refusal is None else refusal.status,
        bench=found,
        headline=headline(reader, found),
        refusal=refusal,
        chosen=chosen,
        may_buy=may_buy,
    )


def headline(reader: Reader, found: Bench) -> str:
    """What there is to cut."""
    if found.cuts:
        return reader.say("cutting-some", cuts=found.cuts, reels=found.reels)
    if found.unplanned:
        return reader.say("cutting-unplanned", count=found.unplanned)
    return reader.say("cutting-fine")


def _ask(
    reader: ReaderDep,
    productions: Annotated[list[str], Form()] = [],  # noqa: B006 - the framework copies it
    may_buy: Annotated[str, Form(max_length=8)] = "",
    name: Name = "",
) -> Response:
    by = reader.by_name(name)
    made: list[tuple[int, str]] = []

    def action(session: Any) -> None:
        ask = CutAsk(wanted.productions, (), wanted.may_buy, reader.desk.deadline_s)
        plan = ask_for_cut_plan(session, ask, by, reader.today)
        made.append((plan.id, plan.number or ""))

    try:
        wanted = asked(CutPlanRequest, productions=productions, may_buy=bool(may_buy))
        reader.desk.store.write(action, by=by)
    except ServiceError as error:
        return _list_page(reader, refused(error), tuple(productions), bool(may_buy))
    # A try before the last was rolled back, its plan with it.
    reader.desk.submit_cuts(made[-1][0])
    return signed(go(address(made[-1][1])), name)


def _plan(
    number: Number,
    reader: ReaderDep,
    done: Annotated[int, Query(ge=0)] = 0,
    undone: Annotated[int, Query(ge=0)] = 0,
) -> Response:
    return plan_page(reader, number, done=done, undone=undone)


def plan_page(
    reader: Reader, number: str, refusal: Refusal | None = None, done: int = 0, undone: int = 0,
    typed: dict[str, str] | None = None,
) -> Response:  # fmt: skip
    """The page of a plan. `typed`: what stood in the form that was refused."""
    with reader.desk.store.reading() as session:
        sheet = sheet_of(session, number)
    plan = sheet.plan
    status = 200 if refusal is None else refusal.status
    if plan.status == "working":
        return reader.page("cutting/working.html", status, plan=plan)
    steps = {step.step: step for step in sheet.steps}
    return reader.page(
        "cutting/sheet.html" if plan.status in ("kept", "done") else "cutting/draft.html",
        status,
        plan=plan,
        sheet=sheet,
        tapes=by_tape(sheet.reels),
        open_tape=_tape_of(sheet, typed or {}),
        head=_head(reader, sheet),
        goodness=_goodness(reader, plan),
        refusal=refusal,
        typed=typed or {},
        done=steps.get(done),
        undone=steps.get(undone),
        bench_length=lambda mm: bench_length(reader, mm),
    )


def _tape_of(sheet: Sheet, typed: dict[str, str]) -> str:
    """The tape of the reel or the step whose form was refused."""
    for reel in sheet.reels:
        if typed.get("short") == reel.reel or any(typed.get("step") == str(s.step) for s in reel.steps):
            return reel.tape
    return ""


def bench_length(reader: Reader, length_mm: float | None) -> str:
    """A length to be measured on the bench, to the last millimetre; in feet beside it for who reads feet."""
    if length_mm is None:
        return ""
    exact = show_um(round(length_mm * 1000))
    if reader.wishes.units == METRIC:
        return exact
    return f"{exact} ({show(length_mm / 1000, 'm', reader.wishes.units, 3)})"


def _head(reader: Reader, sheet: Sheet) -> str:
    plan, left = sheet.plan, len(sheet.left)
    if plan.error or plan.status in ("superseded", "abandoned"):
        return reader.say("cut-plan-failed" if plan.error else f"cut-plan-{plan.status}", number=plan.number)
    if plan.status == "done":
        return reader.say("cut-plan-done", number=plan.number)
    if plan.status == "kept":
        waiting = {(reel.tape, reel.reel) for reel in sheet.reels if reel.waiting}
        return reader.say("cut-plan-left", count=left, reels=len(waiting))
    unmet = sum(len(tape.unmet) for tape in plan.tapes)
    pieces = sum(tape.pieces for tape in plan.tapes)
    if not pieces:
        return reader.say("cut-plan-nothing")
    if unmet:
        return reader.say("cut-plan-unmet", unmet=unmet, pieces=pieces)
    to_buy = sum(tape.to_buy for tape in plan.tapes)
    return reader.say("cut-plan-met", pieces=pieces, reels=len(sheet.reels), buy=to_buy)


def _goodness(reader: Reader, plan: CutPlanOut) -> str:
    if not plan.tapes:
        return ""
    if plan.is_proven:
        return reader.say("cut-plan-proven")
    gaps = [tape.gap_pct for tape in plan.tapes if tape.gap_pct is not None]
    if gaps:
        return reader.say("cut-plan-gap", gap=f"{max(gaps):g}")
    return reader.say("plan-stopped") if plan.stopped_early else ""


def _is_under_way(reader: Reader, number: str) -> bool:
    with reader.desk.store.reading() as session:
        return sheet_of(session, number).plan.status == "working"


async def _progress(number: Number, reader: ReaderDep) -> Response:
    is_under_way = await run_in_threadpool(_is_under_way, reader, number)

    async def events() -> AsyncIterator[str]:
        waited, goes_on = 0.0, is_under_way
        yield f"retry: 1000\ndata: {json.dumps({'ended': not goes_on})}\n\n"
        while goes_on and waited < LONGEST_STREAM_S:
            await asyncio.sleep(LOOK_S)
            waited += LOOK_S
            goes_on = await run_in_threadpool(_is_under_way, reader, number)
            if not goes_on:
                yield f"data: {json.dumps({'ended': True})}\n\n"

    return StreamingResponse(events(), media_type="text/event-stream", headers=HEADERS)


def _keep(number: Number, reader: ReaderDep, name: Name = "") -> Response:
    by = reader.by_name(name)

    def action(session: Any) -> str:
        return keep_cut_plan(session, number, reader.today).number or ""

    try:
        kept = reader.desk.store.write(action, by=by)
    except ServiceError as error:
        return plan_page(reader, number, refused(error))
    return signed(go(address(kept)), name)


def _abandon(number: Number, reader: ReaderDep) -> Response:
    try:
        reader.desk.store.write(lambda session: abandon_cut_plan(session, number).id, by=reader.by)
    except ServiceError as error:
        return plan_page(reader, number, refused(error))
    return go(address(number))


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/cutting", _list)
    routes.add_api_route("/cutting", _ask, methods=["POST"])
    plan = "/cutting/{number}"
    routes.add_api_route(plan, _plan)
    routes.add_api_route(f"{plan}/progress", _progress)
    routes.add_api_route(f"{plan}/keep", _keep, methods=["POST"])
    routes.add_api_route(f"{plan}/abandon", _abandon, methods=["POST"])
    return routes
