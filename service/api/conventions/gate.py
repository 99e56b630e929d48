"""Who may knock while nobody signs in: clients on this machine, and no web page from elsewhere.

The service listens on a loopback address only. A web page of anybody's could still reach it through the
browser of somebody on this machine, by a name that points here or by a form that posts here.
"""

import ipaddress
from collections.abc import Callable

from fastapi import Request
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api.problems import of_protocol

SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
HEARD_OUT = 5  # times the largest body
OWN_SITES = frozenset({"same-origin", "none"})


class Gate:
    """Refuses a Host that is not this machine, changes asked for by other sites' pages, and large bodies."""

    def __init__(
        self, app: ASGIApp, largest_body: int, page_of: Callable[[Request, int, str], Response | None]
    ) -> None:
        """`page_of`: what somebody who looks at pages is told instead of a problem; None for a program."""
        self.app, self.largest_body, self.page_of = app, largest_body, page_of

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        detail = refusal(scope["method"], dict(headers))
        if detail:
            await self._refused(Request(scope), 403, detail)(scope, receive, send)
            return
        declared = headers.get("content-length", "")
        if declared.isdecimal() and int(declared) > self.largest_body:
            await self._hear_out(receive)
            await self._refused(Request(scope), 413, self._too_large())(scope, receive, send)
            return
        await self.app(scope, self._counted(receive), send)

    def _refused(self, request: Request, status: int, detail: str) -> Response:
        return self.page_of(request, status, detail) or of_protocol(request, status, detail)

    def _too_large(self) -> str:
        return f"the body is larger than {self.largest_body} bytes"

    async def _hear_out(self, receive: Receive) -> None:
        # A client that is cut off while it still sends never reads why; one that sends forever is cut off.
        heard = 0
        while heard <= HEARD_OUT * self.largest_body:
            message = await receive()
            heard += len(message.get("body", b"")) + 1
            if not message.get("more_body"):
                return

    def _counted(self, receive: Receive) -> Receive:
        """The same body, refused once more of it has come than is taken, whatever its head said."""
        heard = 0

        async def counted() -> Message:
            nonlocal heard
            message = await receive()
            heard += len(message.get("body", b""))
            if heard > self.largest_body:
                raise HTTPException(413, self._too_large())
            return message

        return counted


def refusal(method: str, headers: dict[str, str]) -> str:
    """Why the request is not let in; empty when it is.

    >>> refusal("GET", {"host": "127.0.0.1:8042"}), refusal("GET", {"host": "example.org"})
    ('', 'example.org is not a name of this machine')
    """
    host = headers.get("host", "")
    if not is_here(host):
        return f"{host or 'no host'} is not a name of this machine"
    if method in SAFE:
        return ""
    site = headers.get("sec-fetch-site")
    origin = headers.get("origin")
    if site is not None and site not in OWN_SITES:
        return "a web page from elsewhere may not change anything here"
    if site is None and origin is not None and origin.partition("://")[2] != host:
        return "a web page from elsewhere may not change anything here"
    return ""


def is_here(host: str) -> bool:
    """Whether a Host header names this machine.

    >>> [is_here(h) for h in ("localhost:8042", "[::1]:8042", "127.0.0.9", "10.0.0.1", "", "::1")]
    [True, True, True, False, False, True]
    """
    name = host.strip().lower()
    if name.startswith("["):
        name = name[1:].partition("]")[0]
    elif name.count(":") == 1:
        name = name.partition(":")[0]
    if name == "localhost":
        return True
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return False
