"""Long lists in pages: a cursor says where to go on, and the Link header (RFC 8288) leads there."""

import base64
import binascii
import hashlib
import json
from typing import Any
from urllib.parse import urlencode

from fastapi import Request
from pydantic import BaseModel, ConfigDict, Field, model_validator
from pydantic_core import PydanticCustomError

from service.errors import BadRequest
from service.store.listing import Listing

LIMIT, MOST = 100, 200
LARGEST = 2**63 - 1


class Asked(BaseModel):
    """What every list may be asked. Each list adds its filters; a name it does not know is refused."""

    model_config = ConfigDict(extra="forbid")

    limit: int = Field(LIMIT, ge=1, le=MOST, description="rows at most")
    cursor: str | None = Field(None, max_length=800, description="where to go on, as the Link header gave it")

    @model_validator(mode="before")
    @classmethod
    def only_known_names(cls, given: Any) -> Any:
        unknown = sorted(set(given) - set(cls.model_fields)) if isinstance(given, dict) else []
        if unknown:
            raise PydanticCustomError(
                "unknown_parameter",
                "{unknown} is not a parameter of this list; it takes {known}",
                {"unknown": unknown[0], "known": ", ".join(cls.model_fields)},
            )
        return given

    def filters(self) -> dict[str, Any]:
        chosen = self.model_dump(exclude_none=True)
        return {name: value for name, value in chosen.items() if name not in {"limit", "cursor"}}


def _mark(listing: Listing, asked: Asked, scope: str) -> str:
    """Ties a cursor to its list and filters."""
    said = json.dumps([listing.plural, scope, asked.filters()], sort_keys=True, default=str)
    return hashlib.sha256(said.encode()).hexdigest()[:12]


def start(listing: Listing, asked: Asked, scope: str = "") -> list[Any] | None:
    """The place to go on from; None: the beginning."""
    if asked.cursor is None:
        return None
    try:
        padded = asked.cursor + "=" * (-len(asked.cursor) % 4)
        mark, *after = json.loads(base64.urlsafe_b64decode(padded.encode("ascii")))
    except (ValueError, TypeError, RecursionError, binascii.Error) as error:
        raise _strange() from error
    fits = len(after) == len(listing.order) and all(
        _is_like(value, column.type.python_type) for value, column in zip(after, listing.order, strict=True)
    )
    if mark != _mark(listing, asked, scope) or not fits:
        raise _strange()
    return list(after)


def _is_like(value: Any, kind: type) -> bool:
    if isinstance(value, str):
        return kind is str and "\x00" not in value
    return type(value) is int and kind is int and abs(value) <= LARGEST


def _strange() -> BadRequest:
    return BadRequest(
        "that cursor is not of this list with these filters", "Begin again without a cursor, and follow Link."
    )


def next_link(
    request: Request, listing: Listing, asked: Asked, after: list[Any] | None, scope: str = ""
) -> dict[str, str]:
    """The Link header to the next page; none on the last."""
    if after is None:
        return {}
    cursor = json.dumps([_mark(listing, asked, scope), *after], separators=(",", ":")).encode()
    query = dict(request.query_params) | {
        "cursor": base64.urlsafe_b64encode(cursor).decode().rstrip("="),
        "limit": str(asked.limit),
    }
    return {"Link": f'<{request.url.path}?{urlencode(query)}>; rel="next"'}
