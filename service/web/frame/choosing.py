"""How pages look on this device: chosen, and kept there."""

from typing import Annotated

from fastapi import APIRouter, Form
from starlette.responses import Response

from service.web.frame.pages import PageRoute, ReaderDep, go
from service.web.frame.said import silent
from service.web.frame.wishes import OFF, Look, keep, own_path


def _look(look: Annotated[Look, Form()], back: Annotated[str, Form()] = "/") -> Response:
    answer = go(silent(own_path(back)))
    keep(answer, "look", look)
    return answer


def _ask(reader: ReaderDep) -> Response:
    return reader.page("wishes.html")


def _wish(
    units: Annotated[str, Form(max_length=10)] = "",
    name: Annotated[str, Form(max_length=80)] = "",
    keys: Annotated[str, Form(max_length=10)] = "",
) -> Response:
    answer = go("/wishes")
    keep(answer, "keys", OFF if keys == OFF else "")
    keep(answer, "units", units)
    keep(answer, "name", name)
    return answer


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/wishes/look", _look, methods=["POST"])
    routes.add_api_route("/wishes", _ask)
    routes.add_api_route("/wishes", _wish, methods=["POST"])
    return routes
