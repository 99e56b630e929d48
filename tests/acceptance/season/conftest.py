"""The demonstration season behind a running service, to be read, or to be changed."""

from collections.abc import Iterator

import httpx
import pytest

from service.store.work import Store
from tests.acceptance.season.doors import Doors
from tests.api.conftest import serving
from tests.cli.conftest import Command, bare_environment, wattwright

__all__ = ["bare_environment", "wattwright"]


@pytest.fixture(scope="session")
def answering(season: Store) -> Iterator[str]:
    with serving(season.url) as base:
        yield base


@pytest.fixture
def doors(
    answering: str,
    season: Store,
    wattwright: Command,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Doors]:
    """The season as it is on 2026-11-25, at every door. Read it only."""
    monkeypatch.setenv("WATTWRIGHT_TODAY", "2026-11-25")
    with httpx.Client(base_url=f"{answering}/api/v1", timeout=60) as client:
        yield Doors(client, season.url, wattwright)


@pytest.fixture
def own_doors(
    changing_season: Store, wattwright: Command, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Doors]:
    """The same over a database of this test's own."""
    monkeypatch.setenv("WATTWRIGHT_TODAY", "2026-11-25")
    url = changing_season.url
    with serving(url) as base, httpx.Client(base_url=f"{base}/api/v1", timeout=90) as client:
        yield Doors(client, url, wattwright)
