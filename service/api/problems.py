"""Every refusal as problem details (RFC 9457): what was refused, and one sentence on how to put it right.

Never a traceback, and never a bare 500 for something a caller can cause.
"""

import dataclasses
import logging
import uuid
from collections.abc import Mapping, Sequence
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel, ConfigDict, Field
from starlette.exceptions import HTTPException

from service import errors
from service.kinds.expected import expected
from service.limits.findings import Finding
from service.reports.over_limit import as_row

LOG = logging.getLogger("wattwright.api")
MEDIA_TYPE = "application/problem+json"
TYPES = "/api/v1/problems"
RETRY_S = 1

STATUS: dict[type[errors.ServiceError], tuple[int, str]] = {
    errors.NotFound: (404, "Not found"),
    errors.BadQuantity: (422, "A quantity that cannot be used"),
    errors.BadRequest: (422, "A request that cannot be read"),
    errors.BadQuestion: (422, "A request that cannot be read"),
    errors.BadFile: (422, "A file that is not kept"),
    errors.EmptyFile: (422, "An empty file"),
    errors.FileTooLarge: (413, "A file that is too large"),
    errors.WrongFileKind: (415, "A kind of file that is not kept"),
    errors.BadSheets: (422, "Sheets that could not be brought in"),
    errors.BadValues: (422, "Values that cannot be"),
    errors.BadSetting: (500, "A wrong setting"),
    errors.Refused: (409, "Refused by a rule"),
    errors.AlreadyExists: (409, "Already in use"),
    errors.InUse: (409, "Something else depends on it"),
    errors.OffCutPitch: (409, "Not a whole number of cut pitches"),
    errors.ReelTooShort: (409, "Not enough tape on the reel"),
    errors.OverLimit: (409, "Over a limit"),
    errors.NoSteadyState: (409, "A run that no volts satisfy"),
    errors.StepRefused: (409, "A step that may not be taken"),
    errors.RefusedTags: (409, "Units that are refused"),
    errors.NotFree: (409, "Units that are not free"),
    errors.NotOut: (409, "Units that are not out"),
    errors.BookChanged: (409, "Changed in the book since it was counted"),
    errors.Undecided: (409, "Stopped before an answer was found"),
    errors.StaleSnapshot: (409, "Stock, dates or feeds changed meanwhile"),
    errors.Stale: (412, "Changed since you read it"),
    errors.NoPrecondition: (428, "A change needs If-Match"),
    errors.KeyReused: (422, "Idempotency-Key used before"),
    errors.Busy: (503, "Busy"),
    errors.StoreUnavailable: (503, "The database cannot be used"),
    errors.WrongVersion: (503, "The database has another version"),
}
# Refusals of the protocol itself, by status: code, title, how to put it right.
PROTOCOL: dict[int, tuple[str, str, str]] = {
    400: ("bad-http", "A request that cannot be read", "Check the request line, headers and body."),
    403: (
        "forbidden",
        "Not allowed from there",
        "Ask from this machine, with a client that is not a web page.",
    ),
    404: ("not-found", "Not found", "Start at /api/v1, which lists every address."),
    405: ("method-not-allowed", "Not with this method", "Use a method named in the Allow header."),
    406: ("not-acceptable", "No such format", "Accept application/json or text/csv."),
    413: ("too-large", "Too large", "Send less at once: the limit is stated in /api/v1."),
    415: ("wrong-content-type", "Wrong kind of body", "Name the kind of body in Content-Type."),
    422: ("bad-request", "A request that cannot be read", "Correct what is named and send it again."),
    500: ("fault", "A fault of this service", "Try again; if it stays, report the reference."),
    503: ("busy", "Busy", "Try again in a moment."),
}


class Problem(BaseModel):
    """Problem details (RFC 9457). Some problems carry more: `errors`, `findings`."""

    model_config = ConfigDict(extra="allow")

    type: str = Field(
        description="address of what this kind of problem means", examples=["/api/v1/problems/not-found"]
    )
    title: str = Field(description="the kind of problem", examples=["Not found"])
    status: int = Field(description="HTTP status", examples=[404])
    detail: str = Field(description="what was refused here", examples=["there is no supply PS-99"])
    code: str = Field(description="the kind, for programs; it never changes", examples=["not-found"])
    mend: str = Field(
        description="one sentence: how to put it right", examples=["Look the tag up in the list."]
    )
    instance: str = Field(description="the address asked", examples=["/api/v1/supplies/PS-99"])


class ProblemKind(BaseModel):
    """One kind of problem."""

    code: str = Field(description="the kind, for programs; it never changes")
    status: int = Field(description="HTTP status it comes with")
    title: str = Field(description="what it means")


def kinds() -> list[ProblemKind]:
    """Every kind of problem there is, by code."""
    known = {e.code: ProblemKind(code=e.code, status=s, title=t) for e, (s, t) in STATUS.items()}
    for status, (code, title, _) in PROTOCOL.items():
        known.setdefault(code, ProblemKind(code=code, status=status, title=title))
    return sorted(known.values(), key=lambda kind: kind.code)


def answer(
    request: Request,
    status: int,
    code: str,
    title: str,
    said: tuple[str, str],
    headers: Mapping[str, str] | None = None,
    **more: Any,
) -> Response:
    """`said`: the detail and the mend."""
    problem = Problem(
        type=f"{TYPES}/{code}",
        title=title,
        status=status,
        detail=said[0],
        code=code,
        mend=said[1],
        instance=request.url.path,
        **more,
    )
    return JSONResponse(problem.model_dump(mode="json"), status, headers, MEDIA_TYPE)


def of_protocol(
    request: Request, status: int, detail: str = "", mend: str = "", headers: Mapping[str, str] | None = None
) -> Response:
    """A refusal that no rule of the house made: a wrong method, a body too large."""
    code, title, usual = PROTOCOL.get(status, ("http", HTTPStatus(status).phrase, "Check the request."))
    return answer(request, status, code, title, (detail or title, mend or usual), headers)


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, errors.ServiceError)
    status, title = next(STATUS[kind] for kind in type(error).__mro__ if kind in STATUS)
    headers = {"Retry-After": str(RETRY_S)} if isinstance(error, errors.Busy) else None
    more: dict[str, Any] = {}
    if isinstance(error, errors.BadSheets):
        more["errors"] = [dataclasses.asdict(row) for row in error.errors]
    if isinstance(error, errors.BadQuestion):
        more["errors"] = [{"parameter": n, "detail": said, "code": error.code} for n, said in error.faults]
    if isinstance(error, errors.BadValues):
        more["errors"] = [_wrong_value(row) for row in error.errors]
    if isinstance(error, errors.RefusedTags):
        more["errors"] = [_refused_tag(row, error.code) for row in error.errors]
    if isinstance(error, errors.OverLimit):
        more["findings"] = [as_row(f).model_dump() for f in error.findings if isinstance(f, Finding)]
    mend = error.mend or "Read it again and correct the request."
    return answer(request, status, error.code, title, (error.message, mend), headers, **more)


def _wrong_value(fault: errors.RowError) -> dict[str, str]:
    where = pointer([fault.column]) if fault.column else "#"
    return {"pointer": where, "detail": fault.message, "mend": fault.mend, "code": errors.BadValues.code}


def _refused_tag(fault: errors.RowError, code: str) -> dict[str, str]:
    where = pointer([fault.column or "tags", fault.row or 0])
    return {"pointer": where, "detail": fault.message, "mend": fault.mend, "code": code}


async def _protocol(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    usual = HTTPStatus(error.status_code).phrase
    detail = error.detail if error.detail != usual else ""
    if isinstance(error.__cause__, RecursionError | UnicodeDecodeError):
        # The framework calls only bad syntax bad JSON.
        why = "too deeply nested" if isinstance(error.__cause__, RecursionError) else "not UTF-8"
        said = f"the body is not JSON: {why}"
        code, title, mend = PROTOCOL[422]
        faults = [{"pointer": "#", "detail": said, "code": "json"}]
        return answer(request, 422, code, title, (said, mend), errors=faults)
    if error.status_code == 404:
        detail = detail or f"there is nothing at {request.url.path}"
    if error.status_code == 405:
        detail = detail or f"{request.method} is not for {request.url.path}"
    return of_protocol(request, error.status_code, detail, headers=error.headers)


async def _unreadable(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    faults = [_fault(fault) for fault in error.errors()]
    code, title, mend = PROTOCOL[422]
    count = len(faults)
    detail = faults[0]["detail"] if count == 1 else f"{count} things in the request cannot be read"
    return answer(request, 422, code, title, (detail, mend), errors=faults)


def _fault(fault: Mapping[str, Any]) -> dict[str, str]:
    """Where it is (a JSON pointer into the body, or the name of a parameter or header) and what is wrong."""
    place, *path = fault["loc"]
    said = expected(fault)
    if fault["type"] == "extra_forbidden":
        said = f"{path[-1]} is not known here"
    if fault["type"] == "missing" and path:
        said = f"{path[-1]} is missing"
    if fault["type"] == "unknown_parameter":
        path = [fault["ctx"]["unknown"]]
    if fault["type"] == "json_invalid":
        return {"pointer": "#", "detail": f"the body is not JSON: {fault['ctx']['error']}", "code": "json"}
    where = (
        {"pointer": pointer(path)} if place == "body" else {_PLACES.get(place, place): str((*path, "")[0])}
    )
    return {**where, "detail": said, "code": str(fault["type"])}


_PLACES = {"query": "parameter", "path": "parameter", "header": "header", "cookie": "cookie"}


def pointer(path: Sequence[Any]) -> str:
    """A JSON pointer (RFC 6901) as a fragment.

    >>> pointer(["runs", 0, "lead/m"])
    '#/runs/0/lead~1m'
    """
    return "#" + "".join("/" + str(step).replace("~", "~0").replace("/", "~1") for step in path)


async def _fault_of_ours(request: Request, error: Exception) -> Response:
    # The server logs the traceback itself; this line ties it to what the caller was told.
    reference = uuid.uuid4().hex[:12]
    LOG.error("reference %s: %s %s: %s", reference, request.method, request.url.path, type(error).__name__)
    code, title, mend = PROTOCOL[500]
    return answer(request, 500, code, title, ("something unforeseen happened", mend), reference=reference)


def install(app: FastAPI) -> None:
    """Have every error answered as a problem."""
    app.add_exception_handler(errors.ServiceError, _refused)
    app.add_exception_handler(HTTPException, _protocol)
    app.add_exception_handler(RequestValidationError, _unreadable)
    app.add_exception_handler(Exception, _fault_of_ours)
