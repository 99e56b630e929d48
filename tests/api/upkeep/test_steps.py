"""Steps through the API, and what may come next."""

import httpx
import pytest

from service.shows.records import ElementStatus
from tests import builders as build
from tests.api.conftest import Service


@pytest.fixture
def lit(service: Service) -> Service:
    """SQ-1 works."""
    with service.store.writing("tests") as session:
        build.a_house(session).element.status = ElementStatus.WORKING
    return service


def step(service: Service, path: str, body: object, if_match: str = "*") -> httpx.Response:
    headers = {"If-Match": if_match, "X-By": "Ada"}
    return service.client.post(f"/api/v1{path}/steps", json=body, headers=headers)


def test_an_element_goes_dark_and_works_again(lit: Service) -> None:
    before = lit.get("/elements/SQ-1").headers["ETag"]
    dark = step(lit, "/elements/sq-1", {"to": "dark", "what": " no light at all "}, before)
    assert dark.status_code == 200
    assert (dark.json()["status"], dark.json()["status_note"]) == ("dark", "no light at all")
    assert dark.headers["ETag"] != before
    [fault] = lit.get("/faults?element=SQ-1&is_open=true").json()
    assert (fault["symptom"], fault["found_by"]) == ("no light at all", "Ada")
    assert step(lit, "/elements/SQ-1", {"to": "working", "what": "new lead"}).status_code == 200
    [fault] = lit.get("/faults?element=SQ-1&is_open=false").json()
    assert fault["fix"] == "new lead"

    path = lit.get("/elements/SQ-1/steps").json()
    assert (path["tag"], path["stands"], path["note"]) == ("SQ-1", "working", "new lead")
    assert [(s["by"], s["before"], s["to"], s["what"]) for s in path["steps"][-2:]] == [
        ("Ada", "working", "dark", "no light at all"), ("Ada", "dark", "working", "new lead"),
    ]  # fmt: skip
    assert [(n["to"], n["needs"]) for n in path["next"]] == [
        ("dark", "say what is seen"), ("struck", ""), ("cut from show", ""),
    ]  # fmt: skip


def test_a_step_without_its_word_or_off_the_path_is_a_problem_with_a_mend(lit: Service) -> None:
    wordless = step(lit, "/elements/SQ-1", {"to": "dark"})
    assert (wordless.status_code, wordless.json()["code"]) == (422, "bad-values")
    assert wordless.json()["errors"][0]["pointer"] == "#/what"
    off = step(lit, "/elements/SQ-1", {"to": "drawn"})
    assert (off.status_code, off.json()["code"]) == (409, "step-refused")
    assert "dark, struck, cut from show" in off.json()["mend"]
    despite = step(lit, "/elements/SQ-1", {"to": "drawn", "despite": "drawn anew after the cut"})
    assert despite.json()["status_note"] == "off the path: drawn anew after the cut"


def test_a_change_of_status_without_a_word_is_pointed_to_the_note(lit: Service) -> None:
    answer = lit.patch("/elements/SQ-1", {"status": "dark"}, if_match="*")
    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, "#/status_note")
    assert lit.get("/faults").json() == []


@pytest.mark.parametrize("plural", ["supplies/PS-1", "decoders/DC-1"])
def test_gear_takes_steps_too(lit: Service, plural: str) -> None:
    row = step(lit, f"/{plural}", {"to": "faulty", "what": "hums"}).json()
    assert (row["state"], row["state_note"]) == ("faulty", "hums")
    assert lit.get(f"/{plural}/steps").json()["steps"][-1]["to"] == "faulty"


def test_a_step_is_meant_for_a_version(lit: Service) -> None:
    bare = lit.client.post("/api/v1/elements/SQ-1/steps", json={"to": "dark", "what": "out"})
    assert bare.status_code == 428
    assert step(lit, "/elements/SQ-1", {"to": "dark", "what": "out"}, '"99"').status_code == 412


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"to": "dark", "why": "x"},
        {"to": 3},
        {"to": "dark", "what": "x" * 201},
        {"to": "dark", "despite": "no"},
    ],
)
def test_a_step_that_cannot_be_read_is_refused(lit: Service, body: object) -> None:
    assert step(lit, "/elements/SQ-1", body).status_code == 422
    unknown = step(lit, "/elements/SQ-1", {"to": "glowing"})
    assert (unknown.status_code, unknown.json()["code"]) == (422, "bad-request")


def test_what_has_no_path_has_no_steps(lit: Service) -> None:
    assert step(lit, "/tapes/T-RGBW", {"to": "dark"}).status_code in (404, 405)
    assert lit.get("/elements/SQ-99/steps").status_code == 404
