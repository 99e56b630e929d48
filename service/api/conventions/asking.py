"""Who asks, of which store, as of which day: what endpoints take from the request."""

import json
from collections.abc import Iterator
from datetime import date
from typing import Annotated, Any

from fastapi import Depends, Header, Path, Query, Request
from fastapi.dependencies.models import Dependant
from fastapi.exceptions import RequestValidationError
from fastapi.routing import APIRoute
from pydantic import AfterValidator, BaseModel
from starlette.exceptions import HTTPException

from service.desk import Desk
from service.planning.schemas import Day
from service.store.base import sound

LARGEST_ID = 2**31 - 1  # what both databases hold in a whole-number key
STRANGER = "api"


def desk(request: Request) -> Desk:
    found: Desk = request.app.state.desk
    return found


async def _desk(request: Request) -> Desk:
    # async, so that no second thread is taken for it
    return desk(request)


DeskDep = Annotated[Desk, Depends(_desk)]


async def _by(
    x_by: Annotated[
        str | None,
        Header(max_length=80, description="your name for the record; not proven until people sign in"),
        AfterValidator(lambda name: name if name is None else sound(name)),
    ] = None,
) -> str:
    return (x_by or "").strip() or STRANGER


By = Annotated[str, Depends(_by)]
Tag = Annotated[
    str,
    Path(max_length=80, description="a tag, in any letter case"),
    AfterValidator(sound),
]
Number = Annotated[int, Path(ge=1, le=LARGEST_ID, description="its number in the store")]


async def _as_of(
    desk: DeskDep,
    as_of: Annotated[
        Day | None, Query(description="the day the question is asked for; today if not given")
    ] = None,
) -> date:
    return as_of or desk.today()


AsOf = Annotated[date, Depends(_as_of)]


async def only_known_parameters(request: Request) -> None:
    """Refuses a query parameter that nothing reads: misspelt, it would look as if it were in force."""
    route = request.scope["route"]
    if not request.query_params or "parameters" in (route.openapi_extra or {}):
        return  # a list reads its own, and refuses what it does not know
    known = parameters_of(route)
    for name in request.query_params:
        if name not in known:
            takes = f"it takes {', '.join(known)}" if known else "it takes none"
            said = f"{name} is not a parameter of this address; {takes}"
            fault = {"type": "unknown_parameter", "loc": ("query",), "msg": said, "ctx": {"unknown": name}}
            raise RequestValidationError([fault])


def parameters_of(route: APIRoute) -> tuple[str, ...]:
    """The query parameters a route reads; what a list may be asked is one model of several."""
    return tuple(dict.fromkeys(_parameters(route.dependant)))


def _parameters(reader: Dependant) -> Iterator[str]:
    for field in reader.query_params:
        kind = field.field_info.annotation
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            yield from kind.model_fields
        else:
            yield field.alias
    for other in reader.dependencies:
        yield from _parameters(other)


async def json_body(request: Request) -> None:
    """Refuses a body that does not say it is JSON, or says a thing twice; no body at all needs no name."""
    if request.headers.get("content-length", "0") == "0" and "transfer-encoding" not in request.headers:
        return
    kind = request.headers.get("content-type", "").split(";")[0].strip().lower()
    if kind not in {"application/json", "application/merge-patch+json"}:
        said = f"{kind} is not taken here" if kind else "the body does not say what it is"
        raise HTTPException(415, said, {"Accept-Patch": "application/json, application/merge-patch+json"})
    body = await request.body()
    if body:
        json.loads(body, object_pairs_hook=_said_once)


def _said_once(pairs: list[tuple[str, Any]]) -> None:
    """Refuses a name that an object has twice: one of the two would be dropped without a word."""
    seen: set[str] = set()
    for name, _ in pairs:
        if name in seen:
            said = f"{name} stands twice in the body"
            raise RequestValidationError([{"type": "twice", "loc": ("body",), "msg": said}])
        seen.add(name)


async def multipart_body(request: Request) -> None:
    """Refuses a body that is not a form with files."""
    kind = request.headers.get("content-type", "").split(";")[0].strip().lower()
    if kind != "multipart/form-data":
        raise HTTPException(
            415, "files are sent as multipart/form-data", {"Accept-Post": "multipart/form-data"}
        )


JSON_BODY: list[Any] = [Depends(json_body)]
MULTIPART_BODY: list[Any] = [Depends(multipart_body)]
KNOWN_PARAMETERS: list[Any] = [Depends(only_known_parameters)]
