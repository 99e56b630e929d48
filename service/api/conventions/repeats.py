"""Idempotency-Key: a request that is sent twice is done once, and answered the same both times."""

import hashlib
from collections.abc import Iterable
from typing import Annotated

from fastapi import Header, Request, Response

from service.store.keys import Answer, Asked

IdempotencyKey = Annotated[
    str | None,
    Header(
        min_length=1,
        max_length=255,
        pattern=r"^[\x21-\x7e]+$",
        description="a key of your own; the same request with the same key is done once",
    ),
]


def asked(request: Request, by: str, key: str | None, *parts: bytes) -> Asked | None:
    """Names the request by its method, address and `parts` of its body."""
    if key is None:
        return None
    address = f"{request.method} {request.url.path}?{request.url.query}"
    return Asked(by, key, fingerprint([address.encode(), *parts]))


def fingerprint(parts: Iterable[bytes]) -> str:
    whole = hashlib.sha256()
    for part in parts:
        # each part's length goes in too, so that no two bodies can be cut alike
        whole.update(len(part).to_bytes(8, "big"))
        whole.update(part)
    return whole.hexdigest()


def response(answer: Answer, **more: str) -> Response:
    """The answer with its headers; `more`: further ones."""
    headers = more | ({"Location": answer.location} if answer.location else {})
    if answer.is_replayed:
        headers["Idempotency-Replayed"] = "true"
    return Response(answer.body, answer.status, headers, answer.media_type)
