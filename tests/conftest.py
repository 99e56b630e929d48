"""Real databases for every test that stores something: each such test runs on SQLite and on PostgreSQL."""

import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psycopg
import pytest
from hypothesis import settings
from sqlalchemy import Engine, event

from service.store import schema
from service.store.work import Store
from tests.no_skips import (
    pytest_collectreport,
    pytest_runtest_logreport,
    pytest_sessionfinish,
    pytest_terminal_summary,
)
from tests.postgres import Databases, postgres

__all__ = [
    "pytest_collectreport",
    "pytest_runtest_logreport",
    "pytest_sessionfinish",
    "pytest_terminal_summary",
]

# No test fails because the machine was busy.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


@event.listens_for(Engine, "connect")
def _backwards(connection: Any, _record: Any) -> None:
    """Rows that nobody asked for in an order come from SQLite in that of their numbers, and from PostgreSQL
    in any. Backwards, who rests on the one is found out on every run, and not on one in a hundred."""
    if isinstance(connection, sqlite3.Connection):
        connection.execute("PRAGMA reverse_unordered_selects = ON")


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    with postgres() as address:
        yield address


@pytest.fixture(scope="session")
def postgres_template(postgres_server: str) -> str:
    """An up-to-date, empty database that others are copied from."""
    store = Store(f"postgresql://{postgres_server}/postgres")
    schema.upgrade(store.engine)
    store.close()
    with psycopg.connect(f"postgresql://{postgres_server}/template1", autocommit=True) as connection:
        connection.execute("CREATE DATABASE clean TEMPLATE postgres STRATEGY file_copy")
    return postgres_server


@pytest.fixture(scope="session")
def postgres_databases(postgres_template: str) -> Databases:
    return Databases(postgres_template, "clean")


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("template") / "clean.db"
    store = Store(f"sqlite:///{path}")
    schema.upgrade(store.engine)
    with store.engine.execution_options(begin="none").connect() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    store.close()
    return path


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of an empty, up-to-date database that this test has to itself."""
    if request.param == "sqlite":
        path = tmp_path / "house.db"
        shutil.copy(request.getfixturevalue("sqlite_template"), path)
        yield f"sqlite:///{path}"
        return
    databases: Databases = request.getfixturevalue("postgres_databases")
    with databases.lent() as url:
        yield url


@pytest.fixture
def store(database_url: str) -> Iterator[Store]:
    store = Store(database_url)
    yield store
    store.close()
