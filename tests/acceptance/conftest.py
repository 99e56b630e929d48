"""The demonstration season, brought in once on each database, for tests that only read it."""

import itertools
import shutil
from collections.abc import Iterator

import psycopg
import pytest

import seed_demo
from service.paper.bring_in import NAMES, Brought, bring_in
from service.paper.reading import read_path
from service.store.work import Store

_numbers = itertools.count(1)


def bring_season(store: Store) -> Brought:
    """The sheets of the season through the same door as anybody's own."""
    reading = read_path(seed_demo.folder(), NAMES)
    return store.write(lambda session: bring_in(session, reading.sheets, "demo", seed_demo.AS_OF), "demo")


@pytest.fixture(scope="session", params=["sqlite", "postgresql"])
def season(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """The season as it is on 2026-11-25. Read it; to change something use `changing_season`."""
    if request.param == "sqlite":
        path = tmp_path_factory.mktemp("season") / "season.db"
        shutil.copy(request.getfixturevalue("sqlite_template"), path)
        url = f"sqlite:///{path}"
    else:
        server = request.getfixturevalue("postgres_template")
        # More than one folder of tests may ask for a season of its own.
        name = f"season_{next(_numbers)}"
        with psycopg.connect(f"postgresql://{server}/template1", autocommit=True) as admin:
            admin.execute(f"CREATE DATABASE {name} TEMPLATE clean STRATEGY file_copy".encode())
        url = f"postgresql://{server}/{name}"
    store = Store(url)
    bring_season(store)
    yield store
    store.close()


@pytest.fixture
def changing_season(store: Store) -> Store:
    """The season in a database of this test's own."""
    bring_season(store)
    return store
