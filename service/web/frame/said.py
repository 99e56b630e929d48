"""What an address says was done is believed only of the browser that has just done it."""

from hashlib import sha256
from urllib.parse import unquote, unquote_plus, urlsplit

from fastapi import Request
from starlette.responses import Response

SAID = frozenset({"done", "undone", "kept", "again"})
COOKIE = "said"
SHORT_S = 60  # enough for a slow link; a page that is opened later tells how things stand, not what was done


def remember(answer: Response, address: str) -> Response:
    """The answer that leads to an address, which may say there what was done."""
    parts = urlsplit(address)
    if _without(parts.query) != parts.query:
        digest = _digest(unquote(parts.path), parts.query)
        answer.set_cookie(COOKIE, digest, max_age=SHORT_S, samesite="lax", httponly=True)
    return answer


def believe(request: Request) -> None:
    """Leaves out of the address what it says was done, unless a form has just led this browser to it."""
    query = request.scope["query_string"].decode("latin-1")
    rest = _without(query)
    if rest != query and request.cookies.get(COOKIE) != _digest(request.scope["path"], query):
        request.scope["query_string"] = rest.encode("latin-1")


def silent(address: str) -> str:
    """The address without what it says was done."""
    path, _, query = address.partition("?")
    rest = _without(query)
    return f"{path}?{rest}" if rest else path


def _without(query: str) -> str:
    """
    >>> _without("only=over&done=all&%64one=this")
    'only=over'
    """
    return "&".join(pair for pair in query.split("&") if unquote_plus(pair.partition("=")[0]) not in SAID)


def _digest(path: str, query: str) -> str:
    return sha256(f"{path}?{query}".encode()).hexdigest()
