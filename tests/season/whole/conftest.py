"""The demonstration season on each database, to be copied for every life that is lived in it."""

import itertools
import shutil
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import psycopg
import pytest

from service.store.work import Store
from tests.acceptance.conftest import bring_season

Lives = Callable[[], AbstractContextManager[Store]]
_numbers = itertools.count(1)


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def lives(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Lives:
    """Opens the season in a database of its own, which is gone afterwards."""
    if request.param == "sqlite":
        folder = tmp_path_factory.mktemp("lives")
        shutil.copy(request.getfixturevalue("sqlite_template"), folder / "season.db")
        _fill(f"sqlite:///{folder / 'season.db'}")
        return lambda: _copied_file(folder)
    server = request.getfixturevalue("postgres_template")
    with psycopg.connect(f"postgresql://{server}/template1", autocommit=True) as admin:
        admin.execute("CREATE DATABASE lives TEMPLATE clean STRATEGY file_copy")
    _fill(f"postgresql://{server}/lives")
    return lambda: _copied_database(server)


def _fill(url: str) -> None:
    store = Store(url)
    bring_season(store)
    if store.is_sqlite:
        with store.engine.execution_options(begin="none").connect() as connection:
            connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    store.close()


@contextmanager
def _copied_file(folder: Path) -> Iterator[Store]:
    path = folder / f"life-{next(_numbers)}.db"
    shutil.copy(folder / "season.db", path)
    store = Store(f"sqlite:///{path}")
    yield store
    store.close()
    path.unlink()


@contextmanager
def _copied_database(server: str) -> Iterator[Store]:
    name = f"life_{next(_numbers)}"
    with psycopg.connect(f"postgresql://{server}/template1", autocommit=True) as admin:
        admin.execute(f"CREATE DATABASE {name} TEMPLATE lives STRATEGY file_copy".encode())
        store = Store(f"postgresql://{server}/{name}")
        yield store
        store.close()
        admin.execute(f"DROP DATABASE {name} WITH (FORCE)".encode())
