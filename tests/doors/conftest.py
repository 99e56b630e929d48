"""The demonstration season, and empty houses to bring it into by one door or another."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.store.work import Store
from tests.acceptance.conftest import changing_season, season
from tests.postgres import Databases

__all__ = ["changing_season", "season"]


@pytest.fixture
def two_houses(
    sqlite_template: Path, postgres_databases: Databases, tmp_path: Path
) -> Iterator[dict[str, Store]]:
    """An empty database of each sort."""
    path = tmp_path / "empty.db"
    shutil.copy(sqlite_template, path)
    with postgres_databases.lent() as url:
        houses = {"sqlite": Store(f"sqlite:///{path}"), "postgresql": Store(url)}
        yield houses
        for store in houses.values():
            store.close()
