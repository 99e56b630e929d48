"""Where a caller starts, whether the service lives and is ready, and where a label leads."""

from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Path
from fastapi.responses import RedirectResponse
from pydantic import BaseModel, Field

from service import __version__
from service.api.conventions.asking import DeskDep, Tag
from service.api.conventions.paging import MOST
from service.api.problems import ProblemKind, kinds
from service.errors import NotFound
from service.stock.gear_queries import whereabouts
from service.store import schema

ROOT = "/api/v1"


class Index(BaseModel):
    """Where everything is."""

    version: str = Field(description="version of the service")
    as_of: str = Field(description="the day that questions are asked for when no as_of is given")
    openapi: str = Field(description="address of the description for programs")
    lists: list[str] = Field(description="addresses of lists; one thing is below them, by tag or number")
    largest_body_bytes: int = Field(description="largest body taken, in bytes")
    largest_page: int = Field(description="rows of a list at most in one answer")


class State(BaseModel):
    state: str = Field(description="ok")


def router(plurals: list[str]) -> APIRouter:
    """Index, problems and labels, below /api/v1."""
    routes = APIRouter(tags=["index"])

    def index(desk: DeskDep) -> Any:
        return Index(
            version=__version__,
            as_of=desk.today().isoformat(),
            openapi=f"{ROOT}/openapi.json",
            lists=[f"{ROOT}/{plural}" for plural in plurals],
            largest_body_bytes=desk.largest_body,
            largest_page=MOST,
        )

    def problems() -> Any:
        return kinds()

    def problem(
        code: Annotated[str, Path(max_length=40, description="the code a refusal carries")],
    ) -> Any:
        for kind in kinds():
            if kind.code == code:
                return kind
        raise NotFound(f"there is no problem {code}", f"See {ROOT}/problems.")

    routes.add_api_route("", index, response_model=Index, summary="Where everything is")
    routes.add_api_route("/problems", problems, response_model=list[ProblemKind], summary="Kinds of problem")
    routes.add_api_route("/problems/{code}", problem, response_model=ProblemKind, summary="A kind of problem")
    routes.add_api_route(
        "/l/{tag}", label, status_code=307, response_class=RedirectResponse, summary="Where a label leads"
    )
    return routes


def label(tag: Tag, desk: DeskDep) -> RedirectResponse:
    """A label's tag, in any letter case, leads to the thing it is on."""
    with desk.store.lookup() as asker:
        plural, printed = whereabouts(asker, tag)
    return RedirectResponse(f"{ROOT}/{plural}/{quote(printed, safe='')}", 307)


def health() -> APIRouter:
    """/livez and /readyz, above the API."""
    routes = APIRouter()

    async def livez() -> Any:
        return State(state="ok")

    def readyz(desk: DeskDep) -> Any:
        with desk.store.lookup() as asker:
            schema.refuse_unless(asker, desk.head)
        return State(state="ok")

    routes.add_api_route("/livez", livez, response_model=State, summary="The process lives", tags=["health"])
    routes.add_api_route("/readyz", readyz, response_model=State, summary="It can answer", tags=["health"])
    return routes
