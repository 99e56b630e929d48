"""Swaps through the API, on the demonstration season."""

import httpx
import pytest

from tests.acceptance.conftest import bring_season
from tests.api.conftest import Service


@pytest.fixture
def season(service: Service) -> Service:
    bring_season(service.store)
    return service


def post(season: Service, path: str, body: object = None, **headers: str) -> httpx.Response:
    named = {"X-By": "Deck"} | {name.replace("_", "-"): value for name, value in headers.items()}
    return season.client.post(f"/api/v1{path}", json=body, headers=named)


SWAP = {"swap_for": "BT-03", "found": "dies in act two"}


def test_candidates_are_answered_with_a_tag_that_a_swap_wants(season: Service) -> None:
    found = season.get("/batteries/bt-11/swaps")
    assert found.status_code == 200
    assert [c["unit"] for c in found.json()["candidates"]] == ["BT-03", "BT-01", "BT-13", "BT-12"]

    assert post(season, "/batteries/BT-11/swaps", SWAP).status_code == 428
    done = post(season, "/batteries/BT-11/swaps", SWAP, If_Match=found.headers["ETag"])
    assert (done.status_code, done.headers["Location"]) == (201, "/api/v1/swaps/S-001")
    assert done.json()["mends"][0].startswith("BT-11 gives 32.32 Wh")
    again = post(season, "/batteries/BT-03/swaps", {"swap_for": "BT-13"}, If_Match=found.headers["ETag"])
    assert (again.status_code, again.json()["code"]) == (412, "stale")


def test_a_swap_sent_twice_is_done_once(season: Service) -> None:
    first = post(season, "/batteries/BT-11/swaps", SWAP, If_Match="*", Idempotency_Key="half")
    second = post(season, "/batteries/BT-11/swaps", SWAP, If_Match="*", Idempotency_Key="half")
    assert (second.status_code, second.json()) == (201, first.json())
    assert second.headers["Idempotency-Replayed"] == "true"
    assert len(season.get("/swaps").json()) == 1
    other = post(
        season, "/batteries/BT-11/swaps", SWAP | {"found": "x"}, If_Match="*", Idempotency_Key="half"
    )
    assert other.json()["code"] == "key-reused"


def test_the_swap_is_on_record_and_taken_back(season: Service) -> None:
    post(season, "/batteries/BT-11/swaps", SWAP, If_Match="*")
    one = season.get("/swaps/s-001")
    assert (one.json()["old"], one.json()["new"], one.json()["swapped_by"]) == ("BT-11", "BT-03", "Deck")
    [row] = season.get("/swaps?production=SQ&is_undone=false").json()
    assert (row["why"], row["fault"]) == ("dies in act two", "FL-001")
    sheet = season.get("/swaps", Accept="text/csv").text.splitlines()
    assert sheet[1].startswith("S-001,SQ,1,BT-11,BT-03,dies in act two,FL-001,N-001,2026-11-25,Deck")

    assert post(season, "/swaps/S-001/undo").status_code == 428
    assert post(season, "/swaps/S-001/undo", If_Match='"99"').status_code == 412
    back = post(season, "/swaps/S-001/undo", If_Match=one.headers["ETag"], Idempotency_Key="back")
    assert (back.status_code, back.json()["undone_by"]) == (200, "Deck")
    twice = post(season, "/swaps/S-001/undo", If_Match=one.headers["ETag"], Idempotency_Key="back")
    assert twice.json() == back.json()
    assert season.get("/faults").json() == []
    assert season.get("/swaps?is_undone=true").json()[0]["undone_by"] == "Deck"
    assert season.get("/swaps/S-009").status_code == 404


@pytest.mark.parametrize(
    ("path", "body", "status", "said"),
    [
        ("/supplies/PS-25/swaps", {"swap_for": "PS-13", "found": "hums"}, 409, "carries 4.16 A"),
        ("/supplies/PS-25/swaps", {"swap_for": "PS-41", "found": "hums"}, 409, "12 V class"),
        ("/supplies/BT-11/swaps", SWAP, 404, "BT-11 is not a supply"),
        ("/batteries/BT-11/swaps", {"swap_for": "BT-13"}, 422, "nobody said what is wrong"),
        ("/batteries/BT-11/swaps", {}, 422, "swap_for"),
        ("/batteries/BT-11/swaps", SWAP | {"state": "good"}, 422, "state"),
        ("/batteries/BT-11/swaps", SWAP | {"despite_limits": "no"}, 422, "despite_limits"),
        ("/batteries/BT-11/swaps", SWAP | {"swop": 1}, 422, "swop"),
    ],
)
def test_a_swap_that_cannot_be_is_a_problem_with_a_mend(
    season: Service, path: str, body: object, status: int, said: str
) -> None:
    refused = post(season, path, body, If_Match="*")
    assert refused.status_code == status, refused.text
    assert said in refused.text
    assert refused.json()["mend"]
    assert season.get("/swaps").json() == []


def test_candidates_as_a_sheet_also_say_what_will_not_do(season: Service) -> None:
    sheet = season.get("/decoders/DC-32/swaps", Accept="text/csv").text.splitlines()
    assert sheet[0].split(",")[:4] == ["unit", "model", "does", "last_on"]
    assert sheet[1].startswith("DC-31,D12,lent,2027-01-03,NL-DK,ok")
    assert any(line.startswith("DC-21,D5,no,") for line in sheet)


def test_on_another_day_the_show_may_have_to_be_named(season: Service) -> None:
    asked = "/decoders/DC-32/swaps?as_of=2027-01-10"
    assert season.get(asked).status_code == 422
    assert season.get(f"{asked}&production=TL").json()["production"] == "TL"


def test_a_box_says_what_is_in_it_and_is_not_swapped(season: Service) -> None:
    assert season.get("/enclosures/EN-2/swaps").json()["inside"] == ["DC-32", "PS-25"]
    assert post(season, "/enclosures/EN-2/swaps", SWAP, If_Match="*").status_code == 405
