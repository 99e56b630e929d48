"""The demonstration season, and empty houses to bring it into by one door or another."""

import itertools
import shutil
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest

from service.store.work import Store
from tests.acceptance.conftest import changing_season, season

__all__ = ["changing_season", "season"]
_numbers = itertools.count(1)


@pytest.fixture
def two_houses(sqlite_template: Path, postgres_template: str, tmp_path: Path) -> Iterator[dict[str, Store]]:
    """An empty database of each sort."""
    path, name = tmp_path / "empty.db", f"empty_{next(_numbers)}"
    shutil.copy(sqlite_template, path)
    with psycopg.connect(f"postgresql://{postgres_template}/template1", autocommit=True) as admin:
        admin.execute(f"CREATE DATABASE {name} TEMPLATE clean STRATEGY file_copy".encode())
        houses = {
            "sqlite": Store(f"sqlite:///{path}"),
            "postgresql": Store(f"postgresql://{postgres_template}/{name}"),
        }
        yield houses
        for store in houses.values():
            store.close()
        admin.execute(f"DROP DATABASE {name} WITH (FORCE)".encode())
