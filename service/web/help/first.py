"""From nothing to a first plan: what is done, and what comes next."""

from dataclasses import dataclass
from urllib.parse import quote

from fastapi import APIRouter
from starlette.responses import Response

from service.reports.standing.beginning import Beginning, Step, beginning
from service.web.frame.pages import PageRoute, Reader, ReaderDep


@dataclass(frozen=True, slots=True)
class Told:
    """A step with where it is taken. `is_sent`: it is a form that is sent, not a page to go to; blank `path`:
    it cannot be taken yet."""

    step: Step
    path: str
    is_sent: bool = False


def _first(reader: ReaderDep) -> Response:
    with reader.desk.store.reading() as session:
        found = beginning(session)
    steps = [_told(found, step) for step in found.steps]
    return reader.page(
        "help/first.html",
        found=found,
        steps=steps,
        next=next((one for one in steps if one.step.is_next), None),
        head=_head(found, reader),
    )


def _head(found: Beginning, reader: Reader) -> str:
    if found.is_over:
        return reader.say("first-over")
    return reader.say("first-some" if found.done else "first-none", done=found.done, count=len(found.steps))


def _told(found: Beginning, step: Step) -> Told:
    show = f"/productions/{quote(found.show, safe='')}" if found.show else ""
    if step.name == "productions":
        return Told(step, "/productions/new")
    if step.name == "elements":
        return Told(step, f"{show}/elements" if show else "")
    if step.name == "plan":
        return Told(step, f"{show}/plans" if show and not step.is_done else "", is_sent=True)
    if step.name == "keep":
        return Told(step, f"{show}/plans/{found.plan}" if found.plan and not step.is_done else "")
    return Told(step, f"/add/{step.name}?then=first")


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/first", _first)
    return routes
