"""What one look-up costs over HTTP beside the least it could cost: `python -m tests.bench.bench_feed`.

Asked is GET /api/v1/elements/{tag}/feed at ten times the demonstration season, on both databases. The floor
is a bare route of the ASGI toolkit below the framework: a plain function, the raw driver, the same
statements, and the same rows as JSON. Both are asked back to back in every round; the ratio is that of their
medians, and its median over the rounds is what counts. Nobody signs in yet, so no sign-in is in either.
"""

import csv
import http.client
import io
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
from datetime import date
from itertools import chain
from pathlib import Path
from typing import Any

import psycopg
import uvicorn
from psycopg.rows import dict_row
from sqlalchemy import event
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from service.app import create_app
from service.cli.serve import seldom_collected
from service.config import Settings
from service.paper.bring_in import bring_in
from service.planning import queries
from service.store import schema
from service.store.work import Store
from tests.paper.house import read
from tests.postgres import postgres

TODAY = date(2026, 11, 25)
COPIES, ROUNDS, ASKED, WARM = 10, 60, 60, 200
TARGET = 2.5
SHARED = frozenset(
    {"battery_models", "decoder_models", "supply_models", "tapes", "wire", "venues", "house_rules"}
)
SEASON = Path(__file__).resolve().parents[2] / "seed_demo"


def season_times(copies: int) -> Iterator[dict[str, str]]:
    """The sheets of the demonstration season, and of the same season again with other tags."""
    sheets = {
        path.stem: list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"))))
        for path in sorted(SEASON.glob("*.csv"))
    }
    own = {row[0] for name, rows in sheets.items() if name not in SHARED for row in rows[1:]}
    for copy in range(copies):
        texts = {}
        for name, rows in sheets.items():
            if copy and name in SHARED:
                continue
            text = io.StringIO()
            body = ([f"{cell}-{copy}" if copy and cell in own else cell for cell in row] for row in rows[1:])
            csv.writer(text).writerows([rows[0], *body])
            texts[name] = text.getvalue()
        yield texts


def fill(url: str) -> list[str]:
    """Bring ten seasons in; the tags of every element that is fed then."""
    store = Store(url)
    schema.upgrade(store.engine)
    for texts in season_times(COPIES):
        with store.writing("bench") as session:
            bring_in(session, read(texts).sheets, "bench", TODAY)
    with store.lookup() as connection:
        connection.exec_driver_sql("ANALYZE")
    store.close()
    return fed(url)


def fed(url: str) -> list[str]:
    """The tags of every element that a kept plan feeds."""
    store = Store(url)
    with store.lookup() as connection:
        rows = connection.exec_driver_sql(
            "SELECT DISTINCT e.tag FROM elements e JOIN runs r ON r.element_id = e.id"
            " JOIN allotments a ON a.run_id = r.id JOIN plans p ON p.id = a.plan_id"
            " WHERE p.status = 'kept' ORDER BY e.tag"
        )
        tags = [row[0] for row in rows]
    store.close()
    return tags


def recorded(url: str, tags: list[str]) -> dict[str, list[tuple[str, Any]]]:
    """What the service has its driver do for each element: the statements and their values."""
    store = Store(url)
    said: list[tuple[str, Any]] = []

    def note(_line: Any, _cursor: Any, statement: str, values: Any, *_: Any) -> None:
        said.append((statement, values))

    event.listen(store.engine, "before_cursor_execute", note)
    found = {}
    with store.lookup() as connection:
        for tag in tags:
            said.clear()
            queries.feed_of(connection, tag)
            found[tag.upper()] = list(said)
    store.close()
    return found


def floor(url: str) -> Starlette:
    """The least there is between HTTP and these rows."""
    asks = recorded(url, fed(url))
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
            for statement, values in asks[request.path_params["tag"].upper()]
        ]
        return Response(json.dumps(rows, default=str), media_type="application/json")

    return Starlette(routes=[Route("/api/v1/elements/{tag}/feed", look_up)])


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
    command = [sys.executable, "-m", "tests.bench.bench_feed", which, url]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        client = http.client.HTTPConnection("127.0.0.1", int(process.stdout.readline()), timeout=30)
        yield client
        client.close()
        process.stdin.close()


def ask(client: http.client.HTTPConnection, tags: list[str], count: int) -> list[float]:
    """Milliseconds of each of `count` look-ups, one after another on one connection."""
    took = []
    for n in range(count):
        start = time.perf_counter()
        client.request("GET", f"/api/v1/elements/{tags[n % len(tags)]}/feed")
        answer = client.getresponse()
        answer.read()
        took.append(1000 * (time.perf_counter() - start))
        assert answer.status == 200
    return took


def measure(name: str, url: str) -> None:
    tags = fill(url)
    own, least = [], []
    with served("ours", url) as ours, served("floor", url) as bare:
        for client in (ours, bare):
            ask(client, tags, WARM)
        for _ in range(ROUNDS):
            least.append(ask(bare, tags, ASKED))
            own.append(ask(ours, tags, ASKED))
    middle = statistics.median
    ratios = sorted(middle(o) / middle(f) for o, f in zip(own, least, strict=True))
    whole_own, whole_least = sorted(chain(*own)), sorted(chain(*least))
    print(
        f"{name:<11}{len(tags):>5} fed elements   ours p50 {middle(whole_own):.2f} p99"
        f" {whole_own[int(0.99 * len(whole_own))]:.2f} ms   floor p50 {middle(whole_least):.2f} p99"
        f" {whole_least[int(0.99 * len(whole_least))]:.2f} ms   ratio {middle(ratios):.2f}"
        f" ({ratios[0]:.2f} to {ratios[-1]:.2f}; wanted: at most {TARGET})",
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
