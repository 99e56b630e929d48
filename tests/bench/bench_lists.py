"""A page of 200 rows over HTTP beside the least it could cost: `python -m tests.bench.bench_lists`.

Asked are lists of ten times the demonstration season, on both databases, one caller at a time. The floor is a
bare route of the ASGI toolkit below the framework: a plain function, the raw driver, the same statements, and
the same rows as JSON. Both are asked back to back in every round; the ratio is that of their medians, and its
median over the rounds is what counts. Nobody signs in yet, so no sign-in is in either.
"""

import http.client
import json
import socket
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from typing import Any

import psycopg
import uvicorn
from psycopg.rows import dict_row
from sqlalchemy import event
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from service.api.conventions.paging import read_asked
from service.api.lists import LISTINGS
from service.app import create_app
from service.cli.serve import seldom_collected
from service.config import Settings
from service.store.listing import page
from service.store.work import Store
from tests.bench.bench_feed import TODAY, fill
from tests.postgres import postgres

ROUNDS, ASKED, WARM = 25, 12, 40
TARGET = 2.0
ASKS = (
    ("supplies", "limit=200"),
    ("reels", "limit=200"),
    ("cuts", "limit=200"),
    ("runs", "limit=200"),
    ("elements", "limit=200"),
    ("elements", "limit=200&sort=-priority,name&status=installed,drawn,working&q=a"),
)


def recorded(url: str, plural: str, query: str) -> list[tuple[str, Any]]:
    """What the service has its driver do for the page: the statements and their values."""
    store = Store(url)
    said: list[tuple[str, Any]] = []

    def note(_line: Any, _cursor: Any, statement: str, values: Any, *_: Any) -> None:
        said.append((statement, values))

    listing = next(one for one in LISTINGS if one.plural == plural)
    asked = read_asked(listing, (tuple(part.split("=")) for part in query.split("&")))  # type: ignore[misc]
    event.listen(store.engine, "before_cursor_execute", note)
    with store.lookup() as asker:
        rows = page(asker, listing, asked.chosen, None, asked.limit, sort=asked.sort).rows
    store.close()
    assert len(rows) == asked.limit, f"{len(rows)} rows of {plural}"
    return said


def floor(url: str) -> Starlette:
    """The least there is between HTTP and these rows."""
    asks = {f"{plural}?{query}": recorded(url, plural, query) for plural, query in ASKS}
    here = threading.local()

    def line() -> Any:
        if not hasattr(here, "line"):
            if url.startswith("sqlite"):
                here.line = sqlite3.connect(url.removeprefix("sqlite:///"))
                here.line.row_factory = sqlite3.Row
            else:
                here.line = psycopg.connect(url, autocommit=True, row_factory=dict_row)
        return here.line

    def look_up(request: Request) -> Response:
        rows = [
            [dict(row) for row in line().execute(statement, values).fetchall()]
            for statement, values in asks[f"{request.path_params['plural']}?{request.url.query}"]
        ]
        return Response(json.dumps(rows, default=str), media_type="application/json")

    return Starlette(routes=[Route("/api/v1/{plural}", look_up)])


def serve(which: str, url: str) -> None:
    """In a process of its own: answer until the other end hangs up."""
    app: Any = floor(url) if which == "floor" else create_app(Settings(database_url=url, today=TODAY))
    door = socket.create_server(("127.0.0.1", 0))
    print(door.getsockname()[1], flush=True)
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", access_log=False))

    def stop_when_alone() -> None:
        sys.stdin.read()
        server.should_exit = True

    threading.Thread(target=stop_when_alone, daemon=True).start()
    with nullcontext() if which == "floor" else seldom_collected():
        server.run(sockets=[door])


@contextmanager
def served(which: str, url: str) -> Iterator[http.client.HTTPConnection]:
    command = [sys.executable, "-m", "tests.bench.bench_lists", which, url]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        client = http.client.HTTPConnection("127.0.0.1", int(process.stdout.readline()), timeout=30)
        yield client
        client.close()
        process.stdin.close()


def ask(client: http.client.HTTPConnection, path: str, count: int) -> list[float]:
    """Milliseconds of each of `count` pages, one after another on one connection."""
    took = []
    for _ in range(count):
        start = time.perf_counter()
        client.request("GET", path)
        answer = client.getresponse()
        answer.read()
        took.append(1000 * (time.perf_counter() - start))
        assert answer.status == 200
    return took


def measure(name: str, url: str) -> None:
    fill(url)
    middle = statistics.median
    with served("ours", url) as ours, served("floor", url) as bare:
        for plural, query in ASKS:
            path = f"/api/v1/{plural}?{query}"
            own, least = [], []
            for client in (ours, bare):
                ask(client, path, WARM)
            for _ in range(ROUNDS):
                least.append(ask(bare, path, ASKED))
                own.append(ask(ours, path, ASKED))
            ratios = sorted(middle(o) / middle(f) for o, f in zip(own, least, strict=True))
            print(
                f"{name:<11}{plural:<9} ours p50 {middle(map(middle, own)):6.2f} ms   floor p50"
                f" {middle(map(middle, least)):6.2f} ms   ratio {middle(ratios):.2f}"
                f" ({ratios[0]:.2f} to {ratios[-1]:.2f}; wanted: at most {TARGET})   {query}",
                flush=True,
            )


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        measure("SQLite", f"sqlite:///{folder}/bench.db")
    with postgres() as server:
        measure("PostgreSQL", f"postgresql://{server}/postgres")


if __name__ == "__main__":
    if len(sys.argv) == 3:
        serve(sys.argv[1], sys.argv[2])
    else:
        main()
