"""What holds for every address: problems for every error, who may knock, sizes, health."""

import socket
import threading
from pathlib import Path
from urllib.parse import urlsplit

import httpx
import pytest
from sqlalchemy import text

from service.api.problems import STATUS, kinds
from service.errors import Fault, ServiceError, Unreachable
from service.store.work import Store
from tests import builders as build
from tests.api.conftest import Service, away, serving


def every_refusal(kind: type[ServiceError]) -> set[type[ServiceError]]:
    return {k for below in kind.__subclasses__() for k in {below} | every_refusal(below)}


def test_every_refusal_of_the_house_has_a_status() -> None:
    """But for the two that only a client tells, of a service that did not answer or failed."""
    of_the_house = {kind for kind in every_refusal(ServiceError) if kind.__module__ == "service.errors"}
    assert of_the_house - {Unreachable, Fault} == set(STATUS)


def test_every_kind_of_problem_can_be_looked_up(service: Service) -> None:
    listed = service.get("/problems").json()
    assert {"not-found", "stale", "bad-sheets", "method-not-allowed"} <= {kind["code"] for kind in listed}
    assert len(listed) == len(kinds())
    for kind in listed:
        assert service.get(f"/problems/{kind['code']}").json() == kind
    assert service.get("/problems/none").status_code == 404


@pytest.mark.parametrize(
    ("method", "path", "status", "code"),
    [
        ("GET", "/nowhere", 404, "not-found"),
        ("GET", "/api/v1/nowhere", 404, "not-found"),
        ("DELETE", "/api/v1/reels", 405, "method-not-allowed"),
        ("PUT", "/livez", 405, "method-not-allowed"),
    ],
)
def test_an_address_or_method_that_is_not_there_is_a_problem(
    service: Service, method: str, path: str, status: int, code: str
) -> None:
    answer = service.client.request(method, path)
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert answer.json()["instance"] == path
    assert (status == 405) == ("allow" in answer.headers)


def test_a_fault_of_ours_shows_a_reference_and_no_traceback(store: Store, database_url: str) -> None:
    """A table taken away under the service: nothing a caller can cause, and still no traceback."""
    with store.writing("tests") as session:
        session.connection().exec_driver_sql("ALTER TABLE venues RENAME TO hidden")
    with serving(database_url) as base:
        answer = httpx.get(f"{base}/api/v1/venues")
    assert (answer.status_code, answer.json()["code"]) == (500, "fault")
    assert answer.json()["reference"]
    for word in ("Traceback", "sqlalchemy", "venues.id", database_url):
        assert word not in answer.text


def test_the_service_lives_and_is_ready(service: Service) -> None:
    assert service.client.get("/livez").json() == {"state": "ok"}
    assert service.client.get("/readyz").json() == {"state": "ok"}
    assert service.client.get("/", follow_redirects=True).json()["as_of"] == "2026-11-25"


def test_a_database_of_another_version_is_not_ready(store: Store, database_url: str) -> None:
    with serving(database_url) as base:
        for change in ("UPDATE alembic_version SET version_num = '9999'", "DROP TABLE alembic_version"):
            with store.writing("tests") as session:
                session.connection().exec_driver_sql(change)
            answer = httpx.get(f"{base}/readyz")
            assert (answer.status_code, answer.json()["code"]) == (503, "wrong-version")
        assert httpx.get(f"{base}/livez").status_code == 200


def test_a_database_that_goes_away_is_a_problem_and_comes_back(database_url: str, store: Store) -> None:
    with store.writing("tests") as session:
        build.a_place(session, tag="A1")
    with serving(database_url) as base, httpx.Client(base_url=base, timeout=30) as client:
        assert client.get("/api/v1/places/A1").status_code == 200
        # What SQLite has read once it still knows; it meets the damage where it must look again.
        looked_at_first = () if store.is_sqlite else ("/readyz", "/api/v1/places/A1")
        with away(store):
            for path in (*looked_at_first, "/api/v1/elements", "/api/v1/holds"):
                answer = client.get(path)
                assert (answer.status_code, answer.json()["code"]) == (503, "store-unavailable"), path
                assert answer.json()["mend"]
            assert client.get("/livez").status_code == 200
        assert client.get("/readyz").status_code == 200


def test_a_database_busy_for_too_long_asks_to_come_back(tmp_path: Path, sqlite_template: Path) -> None:
    """Somebody holds the only write lock of the file and does not let go."""
    path = tmp_path / "held.db"
    path.write_bytes(sqlite_template.read_bytes())
    store = Store(f"sqlite:///{path}")
    with store.writing("tests") as session:
        build.a_supply(session, tag="PS-1")
    with (
        serving(store.url, busy_ms=20) as base,
        httpx.Client(base_url=base, timeout=30) as client,
        store.writing("x") as held,
    ):
        held.execute(text("SELECT 1"))  # the transaction begins with its first statement
        answer = client.patch("/api/v1/supplies/PS-1", json={"where_note": "pit"}, headers={"if-match": "*"})
        assert (answer.status_code, answer.json()["code"]) == (503, "busy")
        assert answer.headers["retry-after"] == "1"
    store.close()


def test_a_body_that_is_too_large_is_refused(database_url: str) -> None:
    with serving(database_url, largest_body=1000) as base, httpx.Client(base_url=base) as client:
        headers = {"if-match": "*", "content-type": "application/json"}
        for body in (b" " * 1001, iter([b" " * 600] * 2)):
            answer = client.patch("/api/v1/elements/SQ-1", content=body, headers=headers)
            assert (answer.status_code, answer.json()["code"]) == (413, "too-large")


@pytest.mark.parametrize(
    ("method", "headers"),
    [
        ("GET", {"host": "lights.example.org"}),
        ("GET", {"host": "10.0.0.7:8042"}),
        ("PATCH", {"origin": "http://example.org"}),
        ("PATCH", {"origin": "null"}),
        ("PATCH", {"sec-fetch-site": "cross-site"}),
        ("PATCH", {"sec-fetch-site": "same-site"}),
    ],
)
def test_pages_from_elsewhere_are_kept_out(service: Service, method: str, headers: dict[str, str]) -> None:
    answer = service.client.request(method, "/api/v1/elements/SQ-1", json={}, headers=headers)
    assert (answer.status_code, answer.json()["code"]) == (403, "forbidden")


def test_the_house_s_own_pages_and_programs_are_let_in(service: Service) -> None:
    own = {"origin": service.base, "sec-fetch-site": "same-origin", "if-match": "*"}
    assert service.client.patch("/api/v1/elements/SQ-1", json={"priority": 1}, headers=own).status_code == 404
    assert service.client.get("/livez", headers={"host": "localhost"}).status_code == 200


def test_bytes_that_are_not_http_end_quietly(service: Service) -> None:
    where = urlsplit(service.base)
    with socket.create_connection((where.hostname or "", where.port or 0), timeout=5) as line:
        line.sendall(b"\x16\x03\x01 hello\r\n\r\n")
        assert b"Traceback" not in line.recv(4096)
    assert service.client.get("/livez").status_code == 200


def test_many_who_ask_at_once_are_all_answered(service: Service) -> None:
    with service.store.writing("tests") as session:
        build.a_house(session)
    found: list[int] = []

    def ask() -> None:
        with httpx.Client(base_url=service.base, timeout=30) as client:
            found.extend(client.get("/api/v1/elements/SQ-1").status_code for _ in range(20))

    crew = [threading.Thread(target=ask) for _ in range(8)]
    for one in crew:
        one.start()
    for one in crew:
        one.join()
    assert found == [200] * 160
