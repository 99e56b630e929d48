"""A line to the service that breaks: between client and service, told for each request what goes wrong."""

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

PASS = "pass"
LOST = "the request never arrives"
UNANSWERED = "done, and the answer is lost"
SILENT = "done, and no answer comes until the client gives up"


@dataclass(frozen=True, slots=True)
class Request:
    method: str
    path: str
    headers: dict[str, str]
    body: bytes


@dataclass
class Line:
    """`plan`: what becomes of the next requests, in order; a text that starts with HTTP is the whole answer,
    given without asking the service. When the plan is through, everything passes."""

    url: str
    plan: list[str] = field(default_factory=list)
    seen: list[Request] = field(default_factory=list)

    def breaks(self, *plan: str) -> None:
        self.plan[:] = plan
        self.seen.clear()


def answer(status: str, body: str = "", **headers: str) -> str:
    """An answer of something that stands before the service."""
    named = "".join(f"{name.replace('_', '-')}: {value}\r\n" for name, value in headers.items())
    length = f"content-length: {len(body)}\r\nconnection: close\r\n"
    return f"HTTP/1.1 {status}\r\n{named}{length}\r\n{body}"


@contextmanager
def broken_line(to: str) -> Iterator[Line]:
    door = socket.create_server(("127.0.0.1", 0))
    line = Line(f"http://127.0.0.1:{door.getsockname()[1]}")
    calls: list[threading.Thread] = []

    def listen() -> None:
        with suppress(OSError):
            while True:
                caller, _ = door.accept()
                calls.append(threading.Thread(target=_carry, args=(caller, line, to)))
                calls[-1].start()

    listener = threading.Thread(target=listen)
    listener.start()
    try:
        yield line
    finally:
        door.shutdown(socket.SHUT_RDWR)
        door.close()
        for thread in [listener, *calls]:
            thread.join()


def _carry(caller: socket.socket, line: Line, to: str) -> None:
    """One request and its answer, then the line is closed."""
    with caller, suppress(OSError):
        raw = _read_request(caller)
        if not raw:
            return
        head, _, body = raw.partition(b"\r\n\r\n")
        first, *named = head.decode("latin-1").split("\r\n")
        method, path, _ = first.split(" ")
        headers = {n.lower(): v.strip() for n, _, v in (one.partition(":") for one in named)}
        line.seen.append(Request(method, path, headers, body))
        what = line.plan.pop(0) if line.plan else PASS
        if what == LOST:
            return
        if what.startswith("HTTP"):
            caller.sendall(what.encode())
            return
        said = _ask(urlsplit(to), head, body)
        if what == PASS:
            caller.sendall(said)
        elif what == SILENT:
            caller.recv(1)  # until the client hangs up


def _read_request(caller: socket.socket) -> bytes:
    held = b""
    while b"\r\n\r\n" not in held:
        piece = caller.recv(65536)
        if not piece:
            return b""
        held += piece
    head, _, body = held.partition(b"\r\n\r\n")
    lines = head.decode("latin-1").lower().split("\r\n")
    length = next((int(one.split(":")[1]) for one in lines if one.startswith("content-length:")), 0)
    while len(body) < length:
        body += caller.recv(65536)
    return head + b"\r\n\r\n" + body


def _ask(to: Any, head: bytes, body: bytes) -> bytes:
    lines = [one for one in head.split(b"\r\n") if not one.lower().startswith(b"connection:")]
    with socket.create_connection((to.hostname, to.port)) as service:
        service.sendall(b"\r\n".join([*lines, b"Connection: close"]) + b"\r\n\r\n" + body)
        said = b""
        while piece := service.recv(65536):
            said += piece
    return said
