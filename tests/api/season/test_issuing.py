"""Gear issued and brought back over HTTP."""

import httpx
import pytest

from tests import builders as build
from tests.api.conftest import Service

pytestmark = pytest.mark.usefixtures("house")


def post(service: Service, path: str, key: str = "", **body: object) -> httpx.Response:
    headers = {"X-By": "Ada"} | ({"Idempotency-Key": key} if key else {})
    return service.client.post(f"/api/v1{path}", json=body, headers=headers)


def test_units_go_out_and_come_back_by_tag(service: Service) -> None:
    went = post(service, "/productions/win/issue", tags=["ps-1", "DC-1"])
    assert went.status_code == 200, went.text
    assert [(row["tag"], row["production"], row["how"]) for row in went.json()["done"]] == [
        ("PS-1", "WIN", "new"),
        ("DC-1", "WIN", "new"),
    ]
    holds = service.get("/holds?unit=PS-1").json()
    assert [(row["production"], row["issued_on"], row["issued_by"]) for row in holds] == [
        ("WIN", "2026-11-25", "Ada")
    ]

    back = post(service, "/returns", tags=["PS-1"], found="fan does not turn", state="suspect")
    (row,) = back.json()["done"]
    assert (row["production"], row["state"], row["days_late"]) == ("WIN", "suspect", 0)
    assert service.get("/faults").json()[0]["number"] == row["fault"]
    assert service.get("/supplies/PS-1").json()["state"] == "suspect"

    undone = post(service, "/returns/undo", tags=["PS-1"]).json()["done"]
    assert undone == [{"tag": "PS-1", "undone": "return", "production": "WIN", "with_production": "WIN"}]
    assert service.get("/faults").json() == []
    assert post(service, "/productions/WIN/issue/undo", tags=["PS-1", "DC-1"]).status_code == 200
    assert service.get("/holds").json() == []


def test_a_refusal_names_every_tag_by_its_place_and_says_what_to_do(service: Service) -> None:
    post(service, "/productions/WIN/issue", tags=["PS-1"])
    with service.store.writing("tests") as session:
        build.a_production(session, tag="ICE")
        build.a_supply(session, tag="PS-77")
    answer = post(service, "/productions/ICE/issue", tags=["PS-77", "PS-1", "ZZ-9"])
    problem = answer.json()
    assert (answer.status_code, problem["code"]) == (409, "not-free")
    assert problem["detail"] == "PS-1 is with WIN until 2026-12-18; 1 more; nothing was issued"
    assert [(e["pointer"], e["detail"], e["code"]) for e in problem["errors"]] == [
        ("#/tags/1", "PS-1 is with WIN until 2026-12-18", "not-free"),
        ("#/tags/2", "nothing has the tag ZZ-9", "not-free"),
    ]
    assert all(error["mend"] for error in problem["errors"])

    answer = post(service, "/returns", tags=["DC-1"])
    assert (answer.status_code, answer.json()["code"]) == (409, "not-out")
    each = post(service, "/returns", tags=["DC-1", "PS-1"], each=True).json()
    assert ([row["tag"] for row in each["done"]], [row["tag"] for row in each["refused"]]) == (
        ["PS-1"],
        ["DC-1"],
    )


def test_the_same_request_sent_twice_is_done_once(service: Service) -> None:
    first = post(service, "/productions/WIN/issue", "monday-1", tags=["PS-1"])
    again = post(service, "/productions/WIN/issue", "monday-1", tags=["PS-1"])
    assert (again.status_code, again.json()) == (200, first.json())
    assert again.headers["Idempotency-Replayed"] == "true"
    assert post(service, "/productions/WIN/issue", tags=["PS-1"]).status_code == 409


def test_what_is_missing_is_found_again_by_its_return(service: Service) -> None:
    (row,) = post(service, "/missing", tags=["PS-1"], what="not in its bin").json()["done"]
    assert (row["tag"], row["state"], row["what"]) == ("PS-1", "missing", "not in its bin")
    assert post(service, "/missing", tags=["PS-1"]).status_code == 409
    (row,) = post(service, "/returns", tags=["PS-1"]).json()["done"]
    assert (row["production"], row["state"]) == (None, "good")
    assert post(service, "/missing", tags=["PS-1"]).status_code == 200
    (row,) = post(service, "/returns/undo", tags=["PS-1"]).json()["done"]
    assert row == {"tag": "PS-1", "undone": "missing", "production": None, "with_production": None}
    assert service.get("/supplies/PS-1").json()["state"] == "good"


def test_what_is_bad_comes_back_with_what_was_found_or_not_at_all(service: Service) -> None:
    post(service, "/productions/WIN/issue", tags=["PS-1"])
    for state in ("faulty", "suspect"):
        problem = post(service, "/returns", tags=["PS-1"], state=state, found=" ").json()
        assert (problem["status"], problem["code"]) == (422, "bad-request"), problem
        assert problem["detail"] == f"{state} without a word of what was found"
    assert service.get("/supplies/PS-1").json()["state"] == "good"
    assert service.get("/holds").json()[0]["returned_on"] is None


@pytest.mark.parametrize(
    ("path", "body", "status"),
    [
        ("/productions/NONE/issue", {"tags": ["PS-1"]}, 404),
        ("/productions/WIN/issue", {"tags": []}, 422),
        ("/productions/WIN/issue", {"tags": [""]}, 422),
        ("/productions/WIN/issue", {"tags": ["PS-1"], "on": "2026-11-26"}, 422),
        ("/productions/WIN/issue", {"tags": ["PS-1"], "place": "B1"}, 422),
        ("/returns", {"tags": ["PS-1"], "state": "good"}, 422),
        ("/returns", {"tags": ["PS-1"], "place": "NOWHERE"}, 422),
        ("/returns", {"tags": ["PS-\x00"]}, 422),
    ],
)
def test_what_cannot_be_asked_changes_nothing(
    service: Service, path: str, body: dict[str, object], status: int
) -> None:
    answer = post(service, path, "", **body)
    assert answer.status_code == status
    assert answer.json()["mend"]
    assert service.get("/holds").json() == []
