"""A really running service on a free loopback port, over each of the two real databases."""

import itertools
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import httpx
import psycopg
import pytest
import uvicorn
from sqlalchemy import event

from service.app import LARGEST_BODY, create_app
from service.config import Settings
from service.store.work import Store
from service.tables import METADATA
from tests import builders as build

TODAY = date(2026, 11, 25)
_numbers = itertools.count(1)


@contextmanager
def serving(
    database_url: str,
    largest_body: int = LARGEST_BODY,
    busy_ms: int | None = None,
    today: date = TODAY,
) -> Iterator[str]:
    """The address of the whole service, served from another thread until the block ends.

    `busy_ms`: how long SQLite waits for another's lock, where a test cannot wait as long as the service does.
    """
    app = create_app(Settings(database_url=database_url, today=today), largest_body)
    if busy_ms is not None:
        engine = app.state.desk.store.engine
        engine.dispose()
        event.listen(engine, "connect", lambda line, _: line.execute(f"PRAGMA busy_timeout = {busy_ms}"))
    listener = socket.socket()
    listener.bind(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="on"))
    thread = threading.Thread(target=server.run, args=([listener],))
    thread.start()
    while not server.started and thread.is_alive():
        time.sleep(0.005)
    try:
        yield f"http://127.0.0.1:{listener.getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join()
        listener.close()


@contextmanager
def away(store: Store) -> Iterator[None]:
    """The database cannot be used inside the block: the server lets nobody in, or the file is damaged."""
    if store.is_sqlite:
        path = Path(store.url.removeprefix("sqlite:///"))
        store.close()
        sound = path.read_bytes()
        path.write_bytes(b"Dear all, the reel is empty. " * 1000)
        yield
        path.write_bytes(sound)
        return
    server, _, name = store.url.rpartition("/")
    store.close()
    with psycopg.connect(f"{server}/template1", autocommit=True) as admin:
        admin.execute(f"ALTER DATABASE {name} ALLOW_CONNECTIONS false".encode())
        admin.execute("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s", [name])
        yield
        admin.execute(f"ALTER DATABASE {name} ALLOW_CONNECTIONS true".encode())


@dataclass(frozen=True, slots=True)
class Service:
    """A client of the running service, and the store behind it for building things."""

    client: httpx.Client
    store: Store
    base: str

    def get(self, path: str, **headers: str) -> httpx.Response:
        return self.client.get("/api/v1" + path, headers={k.replace("_", "-"): v for k, v in headers.items()})

    def patch(self, path: str, body: object, **headers: str) -> httpx.Response:
        named = {k.replace("_", "-"): v for k, v in headers.items()}
        return self.client.patch("/api/v1" + path, json=body, headers=named)


@pytest.fixture(scope="session", params=["sqlite", "postgresql"])
def running(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """One service for all tests that leave the database as a database: starting one takes far longer than
    emptying it."""
    if request.param == "sqlite":
        path = tmp_path_factory.mktemp("api") / "house.db"
        shutil.copy(request.getfixturevalue("sqlite_template"), path)
        url = f"sqlite:///{path}"
    else:
        server = request.getfixturevalue("postgres_template")
        with psycopg.connect(f"postgresql://{server}/template1", autocommit=True) as admin:
            name = f"api_{next(_numbers)}"
            admin.execute(f"CREATE DATABASE {name} TEMPLATE clean STRATEGY file_copy".encode())
        url = f"postgresql://{server}/{name}"
    store = Store(url)
    with serving(url) as base, httpx.Client(base_url=base, timeout=30) as client:
        yield Service(client, store, base)
    store.close()


@pytest.fixture
def service(running: Service) -> Service:
    """The running service over an empty database."""
    with running.store.writing("tests") as session:
        for table in reversed(METADATA.sorted_tables):
            session.execute(table.delete())
    return running


@pytest.fixture
def house(service: Service) -> build.House:
    """The small house of the builders, in the database of the running service."""
    with service.store.writing("tests") as session:
        return build.a_house(session)
