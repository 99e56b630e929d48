"""Long lists in pages: a cursor says where to go on, and the Link header (RFC 8288) leads there."""

import base64
import binascii
import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from fastapi import Request

from service.errors import BadQuestion, BadRequest
from service.store.lists import askable, order, values
from service.store.lists.description import Listing

LIMIT, MOST = 100, 200
LONGEST_CURSOR = 24_000  # six texts of 400 characters, each of several bytes


@dataclass(frozen=True, slots=True)
class Asked:
    """What a list is asked: its filters by name, its order, its day, and which page."""

    chosen: dict[str, Any]
    said: str
    limit: int = LIMIT
    cursor: str | None = None
    sort: str | None = None
    as_of: date | None = None


def read_asked(listing: Listing, given: Iterable[tuple[str, str]]) -> Asked:
    """What the parameters of an address say. Raises BadQuestion with every one that cannot be."""
    texts = list(given)
    once = {name: text for name, text in texts if name in askable.ALWAYS}
    filters = [(name, text) for name, text in texts if name not in askable.ALWAYS]
    faults: list[tuple[str, str]] = []
    chosen: dict[str, Any] = {}
    try:
        chosen = askable.read(listing, filters)
    except BadQuestion as error:
        faults += error.faults
    limit, sort, as_of = LIMIT, once.get("sort"), None
    if "limit" in once and not (once["limit"].isdecimal() and 1 <= int(once["limit"][:9]) <= MOST):
        faults.append(("limit", f"limit: an integer from 1 to {MOST} is expected"))
    elif "limit" in once:
        limit = int(once["limit"])
    if "as_of" in once:
        try:
            as_of = values.day(once["as_of"])
        except ValueError as error:
            faults.append(("as_of", f"as_of: {error}"))
    try:
        order.keys(listing, sort)
    except BadQuestion as error:
        faults += error.faults
    if faults:
        raise BadQuestion(faults)
    said = json.dumps([sorted(filters), sort, once.get("as_of")])
    return Asked(chosen, said, limit, once.get("cursor"), sort, as_of)


def parameters(listing: Listing) -> list[dict[str, Any]]:
    """The parameters of the list as OpenAPI has them."""
    sorts = ", ".join(f.name for f in order.sortable(listing))
    always: dict[str, tuple[str, dict[str, Any]]] = {
        "limit": ("rows at most", {"type": "integer", "minimum": 1, "maximum": MOST, "default": LIMIT}),
        "cursor": ("where to go on, as the Link header gave it", {"type": "string"}),
        "sort": (
            "fields to sort by, separated by commas, a minus in front for the largest first; blanks come last"
            f" either way, text goes by code points. Of: {sorts}",
            {"type": "string"},
        ),
        "as_of": (
            "the list as it stood at the end of this day, in the house's time zone; a day to come is now",
            {"type": "string", "format": "date"},
        ),
    }
    shapes = [(name, doc, {"schema": shape}) for name, (doc, shape) in always.items()]
    shapes += [(name, one.doc, one.shape) for name, one in askable.questions(listing).items()]
    return [
        {"name": name, "in": "query", "required": False, "description": doc} | shape
        for name, doc, shape in shapes
    ]


def _mark(listing: Listing, asked: Asked, scope: str) -> str:
    """Ties a cursor to its list, filters, order and day."""
    said = json.dumps([listing.plural, scope, asked.said])
    return hashlib.sha256(said.encode()).hexdigest()[:12]


def start(listing: Listing, asked: Asked, scope: str = "") -> list[Any] | None:
    """The place to go on from; None: the beginning."""
    if asked.cursor is None:
        return None
    if len(asked.cursor) > LONGEST_CURSOR:
        raise _strange()
    try:
        padded = asked.cursor + "=" * (-len(asked.cursor) % 4)
        mark, *place = json.loads(base64.urlsafe_b64decode(padded.encode("ascii")))
        after = order.from_json(order.keys(listing, asked.sort), place)
    except (ValueError, TypeError, RecursionError, binascii.Error) as error:
        raise _strange() from error
    if mark != _mark(listing, asked, scope):
        raise _strange()
    return after


def _strange() -> BadRequest:
    return BadRequest(
        "that cursor is not of this list with these filters, this order and this day",
        "Begin again without a cursor, and follow Link.",
    )


def next_link(
    request: Request, listing: Listing, asked: Asked, after: list[Any] | None, scope: str = ""
) -> dict[str, str]:
    """The Link header to the next page; none on the last."""
    if after is None:
        return {}
    place = json.dumps(
        [_mark(listing, asked, scope), *order.as_json(after)], separators=(",", ":"), ensure_ascii=False
    )
    cursor = base64.urlsafe_b64encode(place.encode()).decode().rstrip("=")
    kept = [
        (name, text) for name, text in request.query_params.multi_items() if name not in ("cursor", "limit")
    ]
    query = urlencode([*kept, ("cursor", cursor), ("limit", str(asked.limit))])
    return {"Link": f'<{request.url.path}?{query}>; rel="next"'}
