"""The feeds of a show worked out, watched, compared with what is kept, kept."""

import asyncio
import json
from collections.abc import AsyncIterator
from dataclasses import dataclass
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Form, Path
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response, StreamingResponse

from service.planning.actions import PlanAsk, ask_for_plan, cancel_plan, keep_plan
from service.planning.records import PlanStatus
from service.reports.standing.comparing import Compared, compared
from service.web.frame.pages import PageRoute, Reader, ReaderDep, go
from service.web.shows.drawings import share_pct
from service.web.shows.pages import Code, standing_of

Number = Annotated[int, Path(ge=1, le=10**9)]
LOOK_S = 0.4
# A stream that never ended would keep the service from stopping; the browser asks again by itself.
LONGEST_STREAM_S = 8.0
EFFORTS = {"quick": 0.3, "ordinary": 1.0, "hard": 5.0}
HEADERS = {"Cache-Control": "no-store", "X-Content-Type-Options": "nosniff", "X-Accel-Buffering": "no"}


def address(code: str, number: int) -> str:
    return f"/productions/{quote(code, safe='')}/plans/{number}"


def _work_out(
    code: Code,
    reader: ReaderDep,
    mend: Annotated[bool, Form()] = False,
    effort: Annotated[str, Form(max_length=20)] = "ordinary",
) -> Response:
    ask = PlanAsk(mend=mend, effort=EFFORTS.get(effort, 1.0), deadline_s=reader.desk.deadline_s)
    made: list[tuple[int, int]] = []

    def action(session: Any) -> int:
        plan = ask_for_plan(session, code, ask, reader.by)
        made.append((plan.id, plan.number))
        return plan.number

    number = reader.desk.store.write(action, by=reader.by)
    reader.desk.submit(made[-1][0])
    return go(address(code, number))


@dataclass(frozen=True, slots=True)
class Progress:
    """How far it is. `gap_pct`: weight of gear above the proven least; None: nothing is proven yet."""

    is_queued: bool
    parts_done: int
    parts: int
    done_pct: float
    gap_pct: float | None
    unfed: int
    seconds: float


def progress_of(row: dict[str, Any]) -> Progress:
    """Read from a plan that is under way.

    >>> progress_of({"status": "working", "progress": {"parts_done": 1, "parts": 4, "cost": 1100,
    ...     "bound": 1000, "unfed": 2, "seconds": 3.0}}).gap_pct
    10.0
    """
    told = row["progress"] or {}
    cost, bound = told.get("cost"), told.get("bound")
    gap = None if cost is None or not bound else max(0.0, round(100.0 * (cost / bound - 1.0), 1))
    parts_done, parts = told.get("parts_done", 0), told.get("parts", 0)
    return Progress(
        is_queued=row["status"] == PlanStatus.QUEUED,
        parts_done=parts_done,
        parts=parts,
        done_pct=share_pct(parts_done, parts),
        gap_pct=gap,
        unfed=told.get("unfed") or 0,
        seconds=told.get("seconds", 0.0),
    )


def _compared(reader: Reader, code: str, number: int) -> Compared:
    with reader.desk.store.reading() as session:
        return compared(session, code, number)


def _plan(code: Code, number: Number, reader: ReaderDep) -> Response:
    found = _compared(reader, code, number)
    show = standing_of(reader, code).heading
    if found.is_under_way:
        progress = progress_of(found.plan)
        return reader.page(
            "shows/working.html", show=show, plan=found.plan, progress=progress, said=_said(reader, progress)
        )
    return reader.page(
        "shows/plan.html",
        show=show,
        found=found,
        plan=found.plan,
        head=_head(reader, found),
        against=_against(reader, found),
        goodness=_goodness(reader, found.plan),
    )


def _head(reader: Reader, found: Compared) -> str:
    status = found.plan["status"]
    if status in (PlanStatus.FAILED, PlanStatus.CANCELLED):
        return reader.say(f"plan-{status}")
    if found.lit == found.elements:
        return reader.say("plan-all-fed", count=found.elements, supplies=found.supplies)
    return reader.say("plan-some-fed", fed=found.lit, count=found.elements, dark=found.elements - found.lit)


def _against(reader: Reader, found: Compared) -> str:
    """What it changes, in one sentence."""
    if found.same:
        return reader.say("plan-same")
    counts = (
        ("plan-moves", len(found.moved)),
        ("plan-feeds", len(found.fed)),
        ("plan-darkens", len(found.dark)),
        ("plan-readdresses", len(found.address)),
    )
    return ", ".join(reader.say(key, count=count) for key, count in counts if count) + "."


def _goodness(reader: Reader, plan: dict[str, Any]) -> str:
    if plan["is_proven"]:
        return reader.say("plan-proven")
    if plan["gap_pct"] is not None:
        return reader.say("plan-gap", gap=f"{plan['gap_pct']:g}")
    return reader.say("plan-stopped") if plan["stopped_early"] else ""


def _said(reader: Reader, progress: Progress) -> dict[str, str]:
    """The same figures in words."""
    if progress.is_queued:
        return {"parts": reader.say("working-queued"), "gap": "", "unfed": ""}
    parts = reader.say("working-parts", done=progress.parts_done, parts=progress.parts)
    return {
        "parts": parts if progress.parts else reader.say("working-begun"),
        "gap": reader.say("working-no-gap")
        if progress.gap_pct is None
        else reader.say("working-gap", gap=f"{progress.gap_pct:g}"),
        "unfed": reader.say("working-unfed", count=progress.unfed) if progress.unfed else "",
    }


def _look(reader: Reader, code: str, number: int) -> dict[str, Any]:
    """One look at a plan, as the browser is told of it."""
    found = _compared(reader, code, number)
    if not found.is_under_way:
        return {"ended": True}
    progress = progress_of(found.plan)
    return {
        "ended": False,
        "done_pct": progress.done_pct,
        "gap_pct": progress.gap_pct,
        "seconds": progress.seconds,
        **_said(reader, progress),
    }


async def _progress(code: Code, number: Number, reader: ReaderDep) -> Response:
    first = await run_in_threadpool(_look, reader, code, number)

    async def events() -> AsyncIterator[str]:
        told, waited = first, 0.0
        yield f"retry: 1000\ndata: {json.dumps(told)}\n\n"
        while not told["ended"] and waited < LONGEST_STREAM_S:
            await asyncio.sleep(LOOK_S)
            waited += LOOK_S
            now = await run_in_threadpool(_look, reader, code, number)
            if now != told:
                told = now
                yield f"data: {json.dumps(told)}\n\n"

    return StreamingResponse(events(), media_type="text/event-stream", headers=HEADERS)


def _cancel(code: Code, number: Number, reader: ReaderDep) -> Response:
    reader.desk.store.write(lambda session: cancel_plan(session, code, number), by=reader.by)
    return go(address(code, number))


def _keep(code: Code, number: Number, reader: ReaderDep) -> Response:
    reader.desk.store.write(lambda session: keep_plan(session, code, number, reader.today), by=reader.by)
    return go(f"/productions/{quote(code, safe='')}?kept={number}")


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    plan = "/productions/{code}/plans/{number}"
    routes.add_api_route("/productions/{code}/plans", _work_out, methods=["POST"])
    routes.add_api_route(plan, _plan)
    routes.add_api_route(f"{plan}/progress", _progress)
    routes.add_api_route(f"{plan}/cancel", _cancel, methods=["POST"])
    routes.add_api_route(f"{plan}/keep", _keep, methods=["POST"])
    return routes
