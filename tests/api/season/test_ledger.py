"""Reels over HTTP: each act once, whole, at the version meant; and the life of a reel as JSON and CSV."""

import csv
import io

import httpx
import pytest

from service.shows.records import ElementStatus, PieceCut
from service.stock.records import ReelState
from tests import builders as build
from tests.api.conftest import Service


@pytest.fixture
def bench(service: Service) -> Service:
    """R-119, 1.1 m left: the second of two rows for SQ-10 is disputed. R-121, 4.3 m of the same lot."""
    with service.store.writing("bench") as session:
        tape = build.a_tape(session, tag="NW24")
        show = build.a_production(session, tag="SQ")
        window = build.an_element(session, show, ((26,),), tag="SQ-10", tape=tape)
        build.an_element(session, show, ((26,),), tag="SQ-13", tape=tape, status=ElementStatus.DRAWN)
        reel = build.a_reel(session, tape, tag="R-119", lot="N-26A", state=ReelState.OPEN)
        for number, pitches, is_disputed in (("K-071", 26, False), ("K-073", 52, False), ("K-074", 26, True)):
            row = build.a_cut(session, reel, pitches, number=number, is_disputed=is_disputed)
            if number != "K-073":
                session.add(PieceCut(piece_id=window.runs[0].pieces[0].id, cut_id=row.id))
        build.a_reel(session, tape, tag="R-121", lot="N-26A", left_pitches=86, state=ReelState.OPEN)
        build.a_reel(session, tape, tag="R-130", lot="N-26C")
    return service


def post(service: Service, path: str, body: object = None, **headers: str) -> httpx.Response:
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return service.client.post(f"/api/v1{path}", json=body, headers=named)


def left(service: Service, tag: str) -> float:
    return float(service.get(f"/reels/{tag}").json()["left_m"])


def test_the_second_entry_of_one_cut_is_refused_below_nothing_and_then_void(bench: Service) -> None:
    """Counted, the disputed row for SQ-10 would leave R-119 at -0.2 m; outside the balance it has 1.1 m."""
    refused = post(bench, "/cuts/K-074/settle", {"counts": True})
    assert (refused.status_code, refused.json()["code"]) == (409, "reel-too-short")
    assert "counted, K-074 would leave R-119 at -200 mm" in refused.json()["detail"]
    assert refused.json()["mend"] == "Void K-074 if it is a second entry of K-071, or take K-071 back."
    assert left(bench, "R-119") == pytest.approx(1.1)
    done = post(bench, "/cuts/k-074/settle", {"counts": False, "note": "entered twice"}, X_By="bench 2")
    assert (done.status_code, done.json()["said"]) == (200, "K-074 is void, by K-075; R-119 has 1100 mm left")
    assert done.json()["rows"][0]["entered_by"] == "bench 2"
    rows = bench.get("/reels/R-119/ledger").json()["rows"]
    assert [(r["number"], r["is_disputed"], r["left_m"], r["undone_by"]) for r in rows[-2:]] == [
        ("K-074", True, 1.1, "K-075"),
        ("K-075", True, 1.1, None),
    ]


def test_the_same_request_sent_twice_cuts_once(bench: Service) -> None:
    body = {"element": "SQ-13", "note": "bench 1"}
    first = post(bench, "/reels/R-121/cuts", body, Idempotency_Key="cut-13")
    again = post(bench, "/reels/R-121/cuts", body, Idempotency_Key="cut-13")
    assert first.json()["said"] == "1300 mm off R-121 for SQ-13 piece 1 (K-075); 3000 mm left"
    assert (again.json(), again.headers["Idempotency-Replayed"]) == (first.json(), "true")
    assert left(bench, "R-121") == pytest.approx(3.0)
    other = post(bench, "/reels/R-121/cuts", {"length_m": 1}, Idempotency_Key="cut-13")
    assert (other.status_code, other.json()["code"]) == (422, "key-reused")


def test_a_cut_meant_for_a_reel_as_it_was_is_refused(bench: Service) -> None:
    version = bench.get("/reels/R-121").headers["ETag"]
    assert post(bench, "/reels/R-121/cuts", {"length_m": "100 mm"}, If_Match=version).status_code == 200
    stale = post(bench, "/reels/R-121/cuts", {"length_m": "100 mm"}, If_Match=version)
    assert (stale.status_code, left(bench, "R-121")) == (412, 4.2)


@pytest.mark.parametrize(
    ("path", "body", "status", "code", "mend"),
    [
        ("/reels/R-119/cuts", {"length_m": 1.15}, 409, "reel-too-short", "Take it from R-121 (4300 mm left"),
        ("/reels/R-119/cuts", {"length_m": "120 mm"}, 409, "off-cut-pitch", "Nearest: 100 mm and 150 mm."),
        ("/reels/R-119/cuts", {"length_m": "1.15"}, 422, "", ""),
        ("/reels/R-119/cuts", {"element": "SQ-10"}, 409, "refused", "Take K-071 back first"),
        ("/reels/R-119/cuts", {}, 422, "bad-request", "Give the length"),
        ("/reels/R-119/joins", {"other": "R-130"}, 409, "refused", "Open it first"),
        ("/reels/R-119/offcuts", {"length_m": 0.5, "tag": "r-121"}, 409, "already-exists", "choose another"),
        ("/reels/R-119/offcuts", {"length_m": 0.5, "place": "X"}, 422, "bad-request", "Name a place"),
        ("/reels/R-119/open", None, 409, "step-refused", "cut from it"),
        ("/reels/R-9/recount", {"length_m": 1}, 404, "not-found", "/api/v1/reels"),
        ("/cuts/K-999/undo", None, 404, "not-found", "/api/v1/cuts"),
        ("/cuts/K-071/settle", {"counts": True}, 409, "refused", "nothing to settle"),
        ("/elements/SQ-10/recovered", {}, 409, "in-use", "Take SQ-10 to struck first"),
    ],
)  # fmt: skip
def test_what_is_refused_says_how_to_mend_it_and_leaves_no_trace(
    bench: Service, path: str, body: object, status: int, code: str, mend: str
) -> None:
    before = bench.get("/cuts").json()
    refused = post(bench, path, body)
    assert (refused.status_code, refused.headers["Content-Type"]) == (status, "application/problem+json")
    assert mend in refused.json()["mend"]
    assert code in ("", refused.json()["code"])
    assert (bench.get("/cuts").json(), left(bench, "R-119")) == (before, 1.1)


def test_tape_goes_from_reel_to_reel_and_every_length_is_told(bench: Service) -> None:
    assert post(bench, "/reels/R-130/open").json()["reel"]["state"] == "open"
    offcut = post(bench, "/reels/R-121/offcuts", {"length_m": "900 mm"}).json()
    assert (offcut["other"]["tag"], offcut["other"]["left_m"]) == ("R-131", 0.9)
    joined = post(bench, "/reels/R-119/joins", {"other": "R-131"}).json()
    assert joined["said"] == "R-131 is joined on to R-119, 1100 mm from its hub; 2000 mm left"
    assert joined["joints"] == [
        {
            "from_hub_pitches": 22,
            "from_hub_m": 1.1,
            "kind": "made",
            "is_there": True,
            "note": "R-131 joined on",
        }
    ]
    assert post(bench, "/reels/R-119/recount", {"length_m": 1.97}).json()["reel"]["left_m"] == 1.95
    assert post(bench, "/reels/R-119/scrap", {"length_m": 0.1}).json()["reel"]["left_m"] == 1.85
    assert post(bench, "/cuts/K-079/undo").json()["reel"]["left_m"] == 1.95
    told = bench.get("/reels/R-131/ledger").json()
    assert [(r["kind"], r["change_m"], r["other"]) for r in told["rows"]] == [
        ("opening", 0.9, "R-121"), ("joined", -0.9, "R-119"),
    ]  # fmt: skip
    assert [kin["tag"] for kin in told["above"]] == ["R-121"]
    assert [row["is_there"] for row in bench.get("/reel-joins?reel=R-119").json()] == [True]


def test_the_life_of_a_reel_is_a_sheet_too_and_unchanged_while_nothing_happens(bench: Service) -> None:
    sheet = bench.get("/reels/r-119/ledger", Accept="text/csv")
    rows = list(csv.DictReader(io.StringIO(sheet.text)))
    assert [(r["number"], r["kind"], r["left_m"], r["element"]) for r in rows] == [
        ("", "opening", "5.0", ""),
        ("K-071", "piece", "3.7", "SQ-10"),
        ("K-073", "piece", "1.1", ""),
        ("K-074", "piece", "1.1", "SQ-10"),
    ]
    told = bench.get("/reels/R-119/ledger")
    assert bench.get("/reels/R-119/ledger", If_None_Match=told.headers["ETag"]).status_code == 304


def test_a_delivery_is_received_once_and_undone_while_nothing_was_used(bench: Service) -> None:
    with bench.store.writing("office") as session:
        tape = build.a_tape(session, tag="RGBW24")
        build.an_order_line(session, order_number="PO-1", line=1, tape_id=tape.id, quantity=2, lot="C-26F")
    body = {"number": "DN-1", "order": "PO-1", "line": 1, "quantity": 2, "tags": ["R-201", "R-202"]}
    first, again = post(bench, "/deliveries", body), post(bench, "/deliveries", body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.json() == first.json()
    assert [reel["tag"] for reel in first.json()["reels"]] == ["R-201", "R-202"]
    address = first.headers["Location"].removeprefix("/api/v1")
    assert bench.get(address).json()["lot"] == "C-26F"
    differs = post(bench, "/deliveries", body | {"quantity": 1, "tags": ["R-201"]})
    assert (differs.status_code, differs.json()["code"]) == (409, "already-exists")
    assert "quantity 2 then, 1 now" in differs.json()["detail"]
    more = post(bench, "/deliveries", body | {"number": "DN-2"})
    assert (more.status_code, more.json()["code"]) == (409, "refused")
    assert bench.client.delete(f"/api/v1{address}").status_code == 428
    post(bench, "/reels/R-201/open")
    used = bench.client.delete(f"/api/v1{address}", headers={"If-Match": "*"})
    assert (used.status_code, used.json()["code"]) == (409, "in-use")
