"""No answer costs more statements because the house is larger."""

from collections.abc import Iterator
from contextlib import contextmanager

import httpx
import pytest
from sqlalchemy import Engine, event

import seed_demo
from service.paper.bring_in import bring_in
from service.store.work import Store
from tests.api.conftest import serving
from tests.bench.bench_feed import season_times
from tests.paper.house import read

# What is asked for by its own number or name: a plan, a sheet, a file.
FILLED = {"number": "1", "run": "1", "code": "not-found", "name": "loads", "output": "1"}


@contextmanager
def counted() -> Iterator[list[str]]:
    """Every statement that reaches any database inside the block."""
    said: list[str] = []

    def note(_c: object, _k: object, statement: str, *_: object) -> None:
        said.append(statement)

    event.listen(Engine, "before_cursor_execute", note)
    try:
        yield said
    finally:
        event.remove(Engine, "before_cursor_execute", note)


def addresses(client: httpx.Client) -> Iterator[str]:
    """Every address that is read, with a thing that is there in its place."""
    paths = client.get("/api/v1/openapi.json").json()["paths"]
    keys: dict[str, str] = {}
    for address in client.get("/api/v1").json()["lists"]:
        for row in client.get(address, params={"limit": 1}).json():
            keys[address] = str(row.get("tag") or row.get("code") or row["id"])
    keys |= {"/api/v1/elements": "SQ-09", "/api/v1/productions": "SQ", "/api/v1/supplies": "PS-25"}
    for path, methods in sorted(paths.items()):
        if "get" not in methods:
            continue
        owner = path.partition("/{")[0]
        filled = path
        for name in ("key", "tag"):
            filled = filled.replace(f"{{{name}}}", keys.get(owner, "SQ-09"))
        for name, value in FILLED.items():
            filled = filled.replace(f"{{{name}}}", value)
        yield filled


def costs(store: Store) -> dict[str, int]:
    with serving(store.url) as base, httpx.Client(base_url=base, timeout=120) as client:
        found = {}
        for address in addresses(client):
            query = {"kind": "supplies"} if address.endswith("/labels") else {}
            client.get(address, params=query)
            with counted() as said:
                answer = client.get(address, params=query)
            assert answer.status_code < 500, address
            found[address] = len(said)
    return found


@pytest.mark.parametrize("where", ["sqlite", "postgresql"])
def test_a_house_three_times_as_large_costs_no_more_statements(
    where: str, two_houses: dict[str, Store]
) -> None:
    store = two_houses[where]
    seasons = list(season_times(3))
    store.write(_bring(seasons[0]), "tests")
    once = costs(store)
    for more in seasons[1:]:
        store.write(_bring(more), "tests")
    thrice = costs(store)
    assert {a: (n, thrice[a]) for a, n in once.items() if thrice[a] > n} == {}
    assert sum(once.values()) > len(once)


def _bring(texts: dict[str, str]):  # type: ignore[no-untyped-def]
    return lambda session: bring_in(session, read(texts).sheets, "tests", seed_demo.AS_OF)
