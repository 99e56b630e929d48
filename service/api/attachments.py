"""Photos and documents of things: sent, fetched and taken away."""

from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, File, Form, Request, Response, UploadFile
from fastapi.exceptions import RequestValidationError
from pydantic import AfterValidator, StringConstraints

from service.api.conventions.asking import MULTIPART_BODY, By, DeskDep, Number
from service.api.conventions.etags import IfMatch, IfNoneMatch, etag, expected, unchanged
from service.api.conventions.formats import spoken
from service.api.conventions.repeats import IdempotencyKey, asked, response
from service.api.lists import model_of, row_shape
from service.planning.schemas import Day
from service.stock.attaching import Sent, attach, body_of, sha256_of, take_away
from service.stock.fitting_queries import ATTACHMENTS
from service.store import listing as lists
from service.store.base import sound
from service.store.keys import Answer, once

ROOT = "/api/v1/attachments"
FIELDS = ("file", "about", "caption", "taken_on")
Words = Annotated[str, StringConstraints(strip_whitespace=True), AfterValidator(sound)]
# A file is only ever handed out to be kept: whatever opens it must not take it for a page of this service.
NEVER_RUN = {
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": "default-src 'none'; sandbox",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "private, no-cache",
}


async def only_known_fields(request: Request) -> None:
    """Refuses a field that nothing reads: misspelt, it would look as if it were kept."""
    form = await request.form()
    for name in form:
        if name not in FIELDS:
            said = f"{name} is not known here; it takes {', '.join(FIELDS)}"
            raise RequestValidationError([{"type": "extra_forbidden", "loc": ("body", name), "msg": said}])


def _add_post(routes: APIRouter, largest_bytes: int) -> None:
    def post(
        request: Request,
        file: Annotated[UploadFile, File(description="a picture, a PDF or plain text")],
        about: Annotated[
            Words, Form(min_length=1, max_length=80, description="tag of the thing, or code of the show")
        ],
        desk: DeskDep,
        by: By,
        caption: Annotated[Words, Form(max_length=400, description="what it shows")] = "",
        taken_on: Annotated[Day | None, Form(description="day it was taken")] = None,
        idempotency_key: IdempotencyKey = None,
    ) -> Response:
        sent = Sent(file.filename or "", file.file.read(), caption, taken_on)
        parts = (sent.name, about, caption, taken_on.isoformat() if taken_on else "")
        mark = asked(request, by, idempotency_key, sent.body, *(part.encode() for part in parts))

        def action(session: Any) -> Answer:
            number, is_new = attach(session, about, sent, by, largest_bytes)
            row, _ = lists.one(session, ATTACHMENTS, number)
            shape = row_shape(ATTACHMENTS)
            body = shape.dump_json(shape.validate_python(row))
            return Answer(201 if is_new else 200, body, location=f"{ROOT}/{number}")

        return response(desk.store.write(lambda session: once(session, mark, action), by=by))

    routes.add_api_route(
        "/attachments",
        post,
        methods=["POST"],
        status_code=201,
        response_model=model_of(ATTACHMENTS),
        summary="Keep a photo or document of a thing",
        description="Told by what is in it: JPEG, PNG, WebP, PDF, plain text or CSV. The same file on the "
        "same thing is kept once: sent again, it is answered with 200 and the one that is there.",
        dependencies=[*MULTIPART_BODY, Depends(only_known_fields)],
        responses={200: {"model": model_of(ATTACHMENTS), "description": "it was there already"}},
    )


def _file(number: Number, desk: DeskDep, if_none_match: IfNoneMatch = None) -> Response:
    with desk.store.lookup() as asker:
        tag = f'"{sha256_of(asker, number)}"'
        known = unchanged(if_none_match, tag)
        if known is not None:
            return known
        kept = body_of(asker, number)
    kind = f"{kept.media_type}; charset=utf-8" if kept.media_type.startswith("text/") else kept.media_type
    headers = NEVER_RUN | {"ETag": tag, "Content-Disposition": disposition(kept.file_name)}
    return Response(kept.body, headers=headers, media_type=kind)


def disposition(name: str) -> str:
    """A file to be kept under its own name (RFC 6266, RFC 8187).

    >>> disposition('H\u00f6he "2".png')
    'attachment; filename="H_he _2_.png"; filename*=UTF-8\\'\\'H%C3%B6he%20%222%22.png'
    """
    plain = "".join(c if c.isascii() and c not in '"\\' else "_" for c in name)
    return f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(name, safe='')}"


def _delete(number: Number, desk: DeskDep, by: By, if_match: IfMatch = None) -> Response:
    versions = expected(if_match)

    def action(session: Any) -> tuple[lists.Row, int]:
        row, version = lists.one(session, ATTACHMENTS, number)
        take_away(session, number, versions)
        return row, version

    row, version = desk.store.write(action, by=by)
    return spoken(row_shape(ATTACHMENTS), row, {"ETag": etag(version)})


def router(largest_bytes: int) -> APIRouter:
    """`largest_bytes`: the largest file that is kept."""
    routes = APIRouter(tags=["attachments"])
    _add_post(routes, largest_bytes)
    routes.add_api_route(
        "/attachments/{number}/file",
        _file,
        response_class=Response,
        responses={
            200: {"content": {"application/octet-stream": {}}, "description": "the file, as it was sent"}
        },
        summary="The file itself",
    )
    routes.add_api_route(
        "/attachments/{number}",
        _delete,
        methods=["DELETE"],
        response_model=model_of(ATTACHMENTS),
        summary="Take a photo or document away",
        description="The file is gone; that it was there stays on record. Answered with it as it was.",
    )
    return routes
