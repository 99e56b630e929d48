"""Answers outside any page, in words for a browser; programs keep the problems they know."""

import json
from typing import Any

from fastapi import FastAPI, Request
from starlette.exceptions import HTTPException
from starlette.responses import Response

from service.errors import BadRequest, NotFound, ServiceError
from service.web.frame.pages import Reader, head_of, nearest_page, reader_of, refusal
from service.web.frame.words import shortened

OF_PROGRAMS = "/api/"


def answer_the_lost(app: FastAPI) -> None:
    """Have what no route answers, and what fails, come as a page to somebody who looks at pages."""
    protocol: Any = app.exception_handlers[HTTPException]
    fault: Any = app.exception_handlers[Exception]

    async def lost(request: Request, error: Exception) -> Response:
        assert isinstance(error, HTTPException)
        page = page_of(request, error.status_code, error.detail)
        if page is None:
            answer: Response = await protocol(request, error)
            return answer
        page.headers.update(error.headers or {})
        return page

    async def failed(request: Request, error: Exception) -> Response:
        answer: Response = await fault(request, error)
        if not _looks_at_pages(request):
            return answer
        reader = reader_of(request)
        said = reader.say("refused-fault", reference=json.loads(bytes(answer.body))["reference"])
        return _sent(request, refusal(request, ServiceError(said, reader.say("refused-fault-mend")), 500))

    app.add_exception_handler(HTTPException, lost)
    app.add_exception_handler(Exception, failed)


def page_of(request: Request, status: int, detail: str) -> Response | None:
    """The page for a refusal of the protocol itself; None for a program."""
    if not _looks_at_pages(request):
        return None
    reader = reader_of(request)
    error = _in_words(reader, status, detail)
    belongs_to = nearest_page(request) if status == 405 else ""
    return _sent(request, refusal(request, error, status, belongs_to))


def _looks_at_pages(request: Request) -> bool:
    takes = request.headers.get("accept", "")
    return "text/html" in takes and not request.url.path.startswith(OF_PROGRAMS)


def _sent(request: Request, page: Response) -> Response:
    return head_of(page) if request.method == "HEAD" else page


def _in_words(reader: Reader, status: int, detail: str) -> ServiceError:
    path = shortened(reader.request.url.path)
    most = f"{reader.desk.largest_body / 2**20:.3g}"
    if status == 404:
        return NotFound(reader.say("refused-nowhere", path=path), reader.say("refused-nowhere-mend"))
    only = "only-form" if reader.request.method in ("GET", "HEAD") else "no-form"
    known = {400: "broken", 403: "gate", 405: only, 413: "too-large"}
    key = f"refused-{known.get(status, 'other')}"
    return BadRequest(reader.say(key, path=path, most=most, why=detail), reader.say(f"{key}-mend"))
