"""A cut ticked off, taken back, and a reel that holds less than its book says."""

from typing import Annotated, Any

from fastapi import APIRouter, Form, Path
from starlette.responses import Response

from service.errors import ServiceError
from service.planning.cutting.doing import do_step, found_um, report_short, undo_step
from service.planning.cutting.schemas import ReelShort, StepDone
from service.stock.ledger.reels import Entry
from service.web.cutting.pages import Name, Number, Typed, address, plan_page
from service.web.frame.forms import asked, refused
from service.web.frame.pages import PageRoute, ReaderDep, go
from service.web.frame.wishes import signed

Step = Annotated[int, Path(ge=1, le=10**6)]


def _done(
    number: Number, step: Step, reader: ReaderDep, reel: Typed = "", offcut_tag: Typed = "", name: Name = ""
) -> Response:
    by = reader.by_name(name)

    def action(session: Any) -> str:
        entry = Entry(by, reader.today, "")
        marked = do_step(session, number, step, said.reel, said.offcut_tag, entry)
        return marked.plan.number or ""

    try:
        said = asked(StepDone, reel=reel.strip(), offcut_tag=offcut_tag.strip())
        printed = reader.desk.store.write(action, by=by)
    except ServiceError as error:
        typed = {"step": str(step), "reel": reel, "offcut_tag": offcut_tag}
        return plan_page(reader, number, refused(error, "reel", "offcut_tag"), typed=typed)
    return signed(go(f"{address(printed)}?done={step}#next"), name)


def _undo(number: Number, step: Step, reader: ReaderDep) -> Response:
    def action(session: Any) -> str:
        entry = Entry(reader.by, reader.today, reader.say("cut-by-mistake"))
        return undo_step(session, number, step, entry).plan.number or ""

    try:
        printed = reader.desk.store.write(action, by=reader.by)
    except ServiceError as error:
        return plan_page(reader, number, refused(error))
    return go(f"{address(printed)}?undone={step}#next")


def _short(
    number: Number,
    reader: ReaderDep,
    reel: Typed = "",
    found_mm: Typed = "",
    note: Annotated[str, Form(max_length=400)] = "",
    name: Name = "",
) -> Response:
    by = reader.by_name(name)
    made: list[tuple[int, str]] = []

    def action(session: Any) -> None:
        entry = Entry(by, reader.today, said.note)
        plan = report_short(session, number, said.reel, found_um(said.found_mm), entry, reader.today)
        made.append((plan.id, plan.number or ""))

    try:
        said = asked(ReelShort, reel=reel.strip(), found_mm=found_mm.strip(), note=note)
        reader.desk.store.write(action, by=by)
    except ServiceError as error:
        typed = {"short": reel, "found_mm": found_mm, "note": note}
        return plan_page(reader, number, refused(error, "found_mm"), typed=typed)
    reader.desk.submit_cuts(made[-1][0])
    return signed(go(address(made[-1][1])), name)


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    step = "/cutting/{number}/steps/{step}"
    routes.add_api_route(f"{step}/done", _done, methods=["POST"])
    routes.add_api_route(f"{step}/undo", _undo, methods=["POST"])
    routes.add_api_route("/cutting/{number}/short", _short, methods=["POST"])
    return routes
