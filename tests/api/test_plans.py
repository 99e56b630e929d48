"""Plans over HTTP: asked for, waited for, compared, kept, cancelled."""

import csv
import io
import time

import pytest

from service.planning.records import PlanStatus
from tests import builders as build
from tests.api.conftest import Service


@pytest.fixture
def show(service: Service) -> build.House:
    """The small house with a second window that nothing feeds yet, and nothing kept."""
    with service.store.writing("tests") as session:
        house = build.a_house(session)
        house.plan.status = PlanStatus.SUPERSEDED
        build.an_element(
            session, house.production, tag="SQ-2", tape=house.tape, scenic_unit_id=house.scenic_unit.id
        )
        build.a_supply(session, tag="PS-2")
        build.a_decoder(session, tag="DC-2")
    return house


def ask(service: Service, body: object = None, **headers: str):  # type: ignore[no-untyped-def]
    named = {k.replace("_", "-"): v for k, v in headers.items()}
    return service.client.post("/api/v1/productions/win/plans", json=body or {}, headers=named)


def finished(service: Service, address: str) -> dict[str, object]:
    for _ in range(300):
        plan: dict[str, object] = service.client.get(address).json()
        if plan["status"] not in {"queued", "working"}:
            return plan
        time.sleep(0.1)
    raise AssertionError("the plan was not finished in thirty seconds")


@pytest.mark.usefixtures("show")
def test_a_plan_is_promised_at_once_worked_out_beside_and_kept(service: Service) -> None:
    promised = ask(service, x_by="Head")
    assert (promised.status_code, promised.json()["status"]) == (202, "queued")
    address = promised.headers["location"]
    plan = finished(service, address)
    assert (plan["status"], plan["unfed_w"], plan["by"], plan["number"]) == ("draft", 0.0, "Head", 2)
    assert [f["element"] for f in plan["feeds"]] == ["SQ-1", "SQ-2"]  # type: ignore[attr-defined]

    unread = service.client.post(f"{address}/keep")
    assert (unread.status_code, unread.json()["code"]) == (428, "no-precondition")
    stale = service.client.post(f"{address}/keep", headers={"if-match": '"1"'})
    assert (stale.status_code, stale.json()["code"]) == (412, "stale")
    tag = service.client.get(address).headers["etag"]
    assert service.client.get(address, headers={"if-none-match": tag}).status_code == 304
    before = service.client.get(f"{address}/changes").json()
    assert [(c["element"], c["change"], c["before"]) for c in before] == [
        ("SQ-1", "fed", None), ("SQ-2", "fed", None),
    ]  # fmt: skip
    kept = service.client.post(f"{address}/keep", headers={"if-match": tag})
    assert (kept.status_code, kept.json()["status"]) == (200, "kept"), kept.text
    assert service.client.get(f"{address}/changes").json() == []
    assert service.get("/elements/SQ-2/feed").json()["plan"] == 2
    twice = service.client.post(f"{address}/keep", headers={"if-match": kept.headers["etag"]})
    assert (twice.status_code, twice.json()["code"]) == (409, "refused")


@pytest.mark.usefixtures("show")
def test_a_caller_may_wait_for_the_plan(service: Service) -> None:
    done = ask(service, {"effort": 0.5}, prefer="wait=30")
    assert (done.status_code, done.json()["status"]) == (201, "draft")
    assert done.headers["preference-applied"] == "wait=30"
    assert done.json()["feeds"]
    assert service.client.get(done.headers["location"]).json() == done.json()


@pytest.mark.usefixtures("show")
def test_a_request_sent_twice_makes_one_plan(service: Service) -> None:
    first = ask(service, {"seed": 1}, idempotency_key="k-1")
    again = ask(service, {"seed": 1}, idempotency_key="k-1")
    assert (again.status_code, again.content) == (202, first.content)
    assert again.headers["location"] == first.headers["location"]
    assert again.headers["idempotency-replayed"] == "true"
    assert "idempotency-replayed" not in first.headers
    other = ask(service, {"seed": 2}, idempotency_key="k-1")
    assert (other.status_code, other.json()["code"]) == (422, "key-reused")
    assert len(service.get("/productions/WIN/plans").json()) == 2  # the one that was kept once, and this
    finished(service, first.headers["location"])


def test_the_plans_of_a_production_are_a_list_like_any_other(service: Service, show: build.House) -> None:
    with service.store.writing("tests") as session:
        for number in range(2, 6):
            build.a_plan(session, show.production, number=number, status=PlanStatus.FAILED)
        build.a_plan(session, build.a_production(session))
    page = service.get("/productions/win/plans?limit=3")
    assert [plan["number"] for plan in page.json()] == [1, 2, 3]
    assert [p["number"] for p in service.client.get(page.links["next"]["url"]).json()] == [4, 5]
    rows = list(
        csv.DictReader(
            io.StringIO(service.get("/productions/WIN/plans?status=failed", accept="text/csv").text)
        )
    )
    assert [row["number"] for row in rows] == ["2", "3", "4", "5"]
    assert rows[0]["to_on"] == "2026-12-18"


def test_only_what_is_under_way_can_be_cancelled(service: Service, show: build.House) -> None:
    with service.store.writing("tests") as session:
        build.a_plan(session, show.production, number=7, status=PlanStatus.QUEUED)
    address = "/api/v1/productions/WIN/plans"
    cancelled = service.client.post(f"{address}/7/cancel")
    assert (cancelled.status_code, cancelled.json()["status"]) == (200, "cancelled")
    again = service.client.post(f"{address}/7/cancel")
    assert (again.status_code, again.json()["code"]) == (409, "refused")
    undrafted = service.client.post(f"{address}/7/keep", headers={"if-match": "*"})
    assert (undrafted.status_code, undrafted.json()["code"]) == (409, "refused")


@pytest.mark.usefixtures("show")
def test_progress_is_seen_though_it_is_no_change_of_the_plan(service: Service) -> None:
    with service.store.writing("tests") as session:
        plan = build.a_plan(session, build.a_production(session, tag="X"), status=PlanStatus.QUEUED)
    first = service.get("/productions/X/plans/1").headers["etag"]
    with service.store.writing("tests") as session:
        session.connection().exec_driver_sql(
            f"UPDATE plans SET progress = '{{\"parts\": 3}}' WHERE id = {plan.id}"
        )
    assert service.get("/productions/X/plans/1", if_none_match=first).status_code == 200


@pytest.mark.usefixtures("show")
@pytest.mark.parametrize(
    ("body", "status", "code"),
    [
        ({"effort": 0}, 422, "bad-request"),
        ({"colour": "red"}, 422, "bad-request"),
        ({"from_on": "2026-12-01", "to_on": "2026-11-01"}, 422, "bad-request"),
        ({"from_on": "soon"}, 422, "bad-request"),
    ],
)
def test_a_plan_that_cannot_be_asked_for_is_refused(
    service: Service, body: object, status: int, code: str
) -> None:
    answer = ask(service, body)
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert len(service.get("/productions/WIN/plans").json()) == 1


@pytest.mark.parametrize(
    ("method", "path"),
    [
        ("GET", "/productions/NO/plans"),
        ("POST", "/productions/NO/plans"),
        ("GET", "/productions/NO/plans/1"),
        ("GET", "/productions/NO/plans/1/changes"),
        ("POST", "/productions/NO/plans/1/cancel"),
    ],
)
def test_a_production_or_plan_that_is_not_there_is_not_found(
    service: Service, method: str, path: str
) -> None:
    answer = service.client.request(method, "/api/v1" + path)
    assert (answer.status_code, answer.json()["code"]) == (404, "not-found")
