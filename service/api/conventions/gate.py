"""Who may knock while nobody signs in: clients on this machine, and no web page from elsewhere.

The service listens on a loopback address only. A web page of anybody's could still reach it through the
browser of somebody on this machine, by a name that points here or by a form that posts here.
"""

import ipaddress

from fastapi import Request
from starlette.types import ASGIApp, Receive, Scope, Send

from service.api.problems import of_protocol

SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
OWN_SITES = frozenset({"same-origin", "none"})


class Gate:
    """Refuses a Host that is not this machine, and changes asked for by other sites' pages."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "http":
            request = Request(scope)
            detail = refusal(request.method, dict(request.headers))
            if detail:
                await of_protocol(request, 403, detail)(scope, receive, send)
                return
        await self.app(scope, receive, send)


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
