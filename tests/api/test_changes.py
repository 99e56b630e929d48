"""Changes: only on the version meant, on record, and refused in plain words."""

import httpx
import pytest

from service.shows.records import PieceCut
from tests import builders as build
from tests.api.conftest import Service

pytestmark = pytest.mark.usefixtures("house")


def refusal(answer: httpx.Response) -> tuple[int, str]:
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["mend"]
    return answer.status_code, answer.json()["code"]


def test_a_change_is_answered_with_the_thing_and_its_new_version(service: Service) -> None:
    answer = service.patch("/elements/sq-1", {"name": "attic", "priority": 1}, if_match='"1"', x_by="Bench")
    assert answer.status_code == 200
    assert (answer.json()["name"], answer.json()["priority"]) == ("attic", 1)
    assert answer.headers["etag"] == '"2"'
    assert service.get("/elements/SQ-1").json() == answer.json()
    last = service.get("/elements/SQ-1/history").json()[-1]
    assert (last["by"], last["before"]) == ("Bench", {"name": "upper window", "priority": 3})
    assert last["after"] == {"name": "attic", "priority": 1}


def test_a_change_without_if_match_is_refused(service: Service) -> None:
    assert refusal(service.patch("/elements/SQ-1", {"name": "x"})) == (428, "no-precondition")


def test_a_change_of_a_version_gone_by_is_refused_and_does_nothing(service: Service) -> None:
    assert service.patch("/elements/SQ-1", {"name": "first"}, if_match='"1"').status_code == 200
    for old in ('"1"', 'W/"2"', '"odd"'):
        assert refusal(service.patch("/elements/SQ-1", {"name": "second"}, if_match=old)) == (412, "stale")
    assert service.get("/elements/SQ-1").json()["name"] == "first"
    assert service.patch("/elements/SQ-1", {"name": "third"}, if_match='"7", "2"').status_code == 200
    assert service.patch("/elements/SQ-1", {"name": "fourth"}, if_match="*").status_code == 200


def test_a_change_that_changes_nothing_leaves_the_version(service: Service) -> None:
    answer = service.patch("/elements/SQ-1", {"name": "upper window"}, if_match='"1"')
    assert answer.headers["etag"] == '"1"'


def test_a_run_takes_a_lead_in_any_unit_exactly(service: Service) -> None:
    """16 ft is 4.8768 m exactly (international foot, 0.3048 m)."""
    answer = service.patch(
        "/elements/SQ-1/runs/1", {"lead_m": "16 ft", "lead_gauge": "16 AWG"}, if_match='"1"'
    )
    run = answer.json()["runs"][0]
    assert (run["lead_m"], run["lead_gauge"], answer.headers["etag"]) == (4.8768, "16 AWG", '"2"')
    bare = service.patch("/elements/SQ-1/runs/1", {"lead_m": 2.5, "feed_style": "both"}, if_match='"2"')
    assert bare.json()["runs"][0]["lead_m"] == 2.5
    assert [c["kind"] for c in service.get("/elements/SQ-1/history").json()][-2:] == ["runs", "runs"]


@pytest.mark.parametrize(
    ("path", "body", "where", "said"),
    [
        ("", {"priority": 10}, "#/priority", "Allowed from 1 to 9"),
        ("", {"status": "glowing"}, "#/status", "asked, drawn"),
        ("", {"is_dimmed": "yes"}, "#/is_dimmed", "true or false"),
        ("", {"runs": [{"pieces": [{}]}]}, "#/runs/0/pieces/0/drawn_mm", "missing"),
        ("", {"name": 7}, "#/name", "text is expected"),
        ("", {"name": "a\x00b"}, "#/name", "control characters"),
        ("", {"tag": "SQ-9"}, "#/tag", "not known here"),
        ("", {"runs": [{"pieces": [{"drawn_mm": "2 A"}]}]}, "#/runs/0/pieces/0/drawn_mm", "2 A"),
        ("", {"colour": "red"}, "#/colour", "not known here"),
        ("", {"cap_pct": 0}, "#/cap_pct", "Allowed from 1% to 100%"),
        ("", [], "#", "an object is expected"),
        ("/runs/1", {"lead_m": "5"}, "#/lead_m", "unit"),
        ("/runs/1", {"lead_m": "9**9**9**9 m"}, "#/lead_m", ""),
        ("/runs/1", {"lead_m": "-1 m"}, "#/lead_m", ""),
        ("/runs/1", {"lead_m": 1e300}, "#/lead_m", ""),
        ("/runs/1", {"lead_m": "2 A"}, "#/lead_m", ""),
        ("/runs/1", {"lead_gauge": "thick"}, "#/lead_gauge", ""),
    ],
)
def test_a_value_that_cannot_be_used_is_pointed_at(
    service: Service, path: str, body: object, where: str, said: str
) -> None:
    answer = service.patch(f"/elements/SQ-1{path}", body, if_match='"1"')
    assert refusal(answer) == (422, "bad-request")
    (fault,) = answer.json()["errors"]
    assert fault["pointer"] == where
    assert said in fault["detail"]
    assert service.get("/elements/SQ-1").headers["etag"] == '"1"'


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ({"tape": "T-NONE"}, "T-NONE is not a tape"),
        ({"place": "nowhere"}, "nowhere is not a place"),
        ({"scenic_unit": "Boat"}, "Boat is not a scenic unit"),
        ({"wired": "red amber"}, "no emitter 'amber'"),
        ({"cap_pct": 60}, "who signed it"),
    ],
)
def test_a_change_that_points_nowhere_is_refused_in_words(
    service: Service, body: dict[str, object], said: str
) -> None:
    answer = service.patch("/elements/SQ-1", body, if_match='"1"')
    assert refusal(answer) == (422, "bad-values")
    assert said in answer.json()["detail"]
    assert answer.json()["errors"][0]["pointer"] == f"#/{next(iter(body))}"


def test_other_tape_changes_the_whole_pitches_of_what_is_not_cut(service: Service) -> None:
    """2 m drawn: 40 pitches of 50 mm; on tape cut every 62.5 mm, 32 inside and 32 to cover."""
    with service.store.writing("tests") as session:
        build.a_tape(session, (("white", 9.6),), tag="T-W", pitch_um=62_500)
    refused = service.patch("/elements/SQ-1", {"tape": "t-w"}, if_match='"1"')
    assert "no emitter 'red'" in refused.json()["detail"]
    answer = service.patch("/elements/SQ-1", {"tape": "t-w", "wired": "white"}, if_match='"1"')
    piece = answer.json()["runs"][0]["pieces"][0]
    assert (answer.json()["tape"], piece["cut_pitches"], piece["cut_mm"]) == ("T-W", 32, 2000.0)
    undecided = service.patch("/elements/SQ-1", {"tape": None}, if_match='"2"').json()
    assert (undecided["tape"], undecided["wired"]) == (None, "none")
    assert undecided["runs"][0]["pieces"][0]["cut_pitches"] is None


def test_the_fit_rule_rounds_to_whole_pitches_inside_over_or_nearest(service: Service) -> None:
    """Drawn 3.33 m, cut every 50 mm: 66 inside, 67 to cover, 67 nearest (3.33 / 0.05 = 66.6)."""
    with service.store.writing("tests") as session:
        element = build.an_element(session, tag="SQ-3", runs=((1,),))
        element.runs[0].pieces[0].drawn_um = 3_330_000
    for fit, pitches in (("cover", 67), ("inside", 66), ("nearest", 67)):
        answer = service.patch("/elements/SQ-3", {"fit": fit}, if_match="*")
        assert answer.json()["runs"][0]["pieces"][0]["cut_pitches"] == pitches


def test_tape_that_is_cut_already_stays(service: Service, house: build.House) -> None:
    with service.store.writing("tests") as session:
        cut = build.a_cut(session, session.merge(house.reel), 40)
        session.add(PieceCut(piece_id=house.element.runs[0].pieces[0].id, cut_id=cut.id))
        build.a_tape(session, (("white", 9.6),), tag="T-W", pitch_um=62_500)
    answer = service.patch("/elements/SQ-1", {"tape": "T-W", "wired": "white"}, if_match='"1"')
    assert refusal(answer) == (409, "in-use")
    assert service.patch("/elements/SQ-1", {"fit": "cover"}, if_match='"1"').status_code == 200


def test_a_group_is_made_by_its_first_member(service: Service) -> None:
    answer = service.patch(
        "/elements/SQ-1", {"match_group": "cornice", "control_group": "all"}, if_match='"1"'
    )
    assert (answer.json()["match_group"], answer.json()["control_group"]) == ("cornice", "all")
    assert (
        service.patch("/elements/SQ-1", {"match_group": None}, if_match='"2"').json()["match_group"] is None
    )


def test_a_supply_found_faulty_says_why_and_can_be_mended(service: Service) -> None:
    wordless = service.patch("/supplies/ps-1", {"state": "faulty"}, if_match='"1"')
    assert refusal(wordless) == (422, "bad-values")
    note = {"state": "faulty", "state_note": "hiccups at half load", "home": "store"}
    faulty = service.patch("/supplies/ps-1", note, if_match='"1"').json()
    assert (faulty["state"], faulty["home"]) == ("faulty", "STORE")
    good = service.patch("/supplies/PS-1", {"state": "good", "state_note": ""}, if_match='"2"')
    assert (good.json()["state"], good.headers["etag"]) == ("good", '"3"')


def test_only_a_battery_has_a_charge_to_measure(service: Service) -> None:
    with service.store.writing("tests") as session:
        build.a_battery(session, tag="BT-1")
    measured = service.patch("/batteries/BT-1", {"measured_ah": "9200 mAh", "cycles": 41}, if_match="*")
    assert (measured.json()["measured_ah"], measured.json()["cycles"]) == (9.2, 41)
    assert service.patch("/decoders/DC-1", {"measured_ah": 9}, if_match="*").status_code == 422


def test_a_tag_of_another_kind_is_not_found(service: Service) -> None:
    assert refusal(service.patch("/decoders/PS-1", {"state": "good"}, if_match="*")) == (404, "not-found")
    assert refusal(service.patch("/elements/SQ-1/runs/2", {"lead_m": 1}, if_match="*")) == (404, "not-found")


def test_a_body_must_be_json_and_say_so(service: Service) -> None:
    def send(body: bytes, kind: str | None) -> httpx.Response:
        headers = {"if-match": '"1"'} | ({"content-type": kind} if kind else {})
        return service.client.patch("/api/v1/elements/SQ-1", content=body, headers=headers)

    assert refusal(send(b"{}", "text/plain")) == (415, "wrong-content-type")
    assert refusal(send(b"{}", None)) == (415, "wrong-content-type")
    assert refusal(send(b'{"name": ', "application/json")) == (422, "bad-request")
    assert refusal(send(b"[" * 100_000, "application/json"))[0] in {400, 422}
    assert refusal(send(b'{"priority": ' + b"9" * 5000 + b"}", "application/json"))[0] in {400, 422}
    assert refusal(send(b"\xff\xfe", "application/json"))[0] in {400, 422}
    assert refusal(send(rb'{"name": "\ud800"}', "application/json")) == (422, "bad-request")
    assert send(b'{"name": "roof"}', "application/merge-patch+json").status_code == 200
