"""Cut plans of the demonstration season over HTTP: what TW and TL need, lots that do not fit, a reel promised
twice, and a day at the bench. Values: worked by hand from the drawings of the season."""

import csv
import io
import itertools
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx
import psycopg
import pytest

from service.planning.cutting.needing import ReelsNeeded, needs_of
from service.planning.cutting.reading import read_question
from service.store.work import Store
from tests.acceptance.conftest import bring_season
from tests.api.conftest import serving
from tests.planning.cutting.shop import TODAY

_numbers = itertools.count(1)
WAIT = {"Prefer": "wait=60", "X-By": "Head"}


@dataclass(frozen=True, slots=True)
class Season:
    """A client of a service over a season of its own, and the store behind it."""

    client: httpx.Client
    store: Store

    def plan(self, *codes: str, **how: Any) -> dict[str, Any]:
        """A plan worked out while we wait."""
        said = self.post("/cut-plans", {"productions": codes, **how}, 201)
        found: dict[str, Any] = said.json()
        assert (found["status"], found["error"]) == ("draft", None)
        return found

    def keep(self, number: str) -> None:
        tag = self.client.get(f"/cut-plans/{number}").headers["etag"]
        said = self.client.post(f"/cut-plans/{number}/keep", headers={"If-Match": tag})
        assert (said.status_code, said.json()["status"]) == (200, "kept"), said.text

    def post(self, path: str, body: Any = None, status: int = 200, **headers: str) -> httpx.Response:
        said = self.client.post(path, json=body or {}, headers=WAIT | headers)
        assert said.status_code == status, said.text
        return said

    def steps(self, number: str) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = self.client.get(f"/cut-plans/{number}/steps").json()
        return found


def _fresh(request: pytest.FixtureRequest, folder: Path) -> str:
    if request.param == "sqlite":
        path = folder / "season.db"
        shutil.copy(request.getfixturevalue("sqlite_template"), path)
        return f"sqlite:///{path}"
    server = request.getfixturevalue("postgres_template")
    name = f"cutting_{next(_numbers)}"
    with psycopg.connect(f"postgresql://{server}/template1", autocommit=True) as admin:
        admin.execute(f"CREATE DATABASE {name} TEMPLATE clean STRATEGY file_copy".encode())
    return f"postgresql://{server}/{name}"


def _season(url: str) -> Iterator[Season]:
    store = Store(url)
    bring_season(store)
    with serving(url) as base, httpx.Client(base_url=f"{base}/api/v1", timeout=90) as client:
        yield Season(client, store)
    store.close()


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def season(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Season]:
    """Plans are made in it, and none is kept."""
    yield from _season(_fresh(request, tmp_path_factory.mktemp("cutting")))


@pytest.fixture(params=["sqlite", "postgresql"])
def bench(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Season]:
    """A season of this test's own, to be cut in."""
    yield from _season(_fresh(request, tmp_path))


def tape(plan: dict[str, Any], tag: str) -> dict[str, Any]:
    found: dict[str, Any] = next(one for one in plan["tapes"] if one["tape"] == tag)
    return found


def test_colour_tape_for_two_shows_takes_eight_new_reels_of_which_two_are_on_order(season: Season) -> None:
    # 67.7 m in 36 pieces; 31.5 m on the shelf, short 36.2 m: at least ceil(36.2 / 5) = 8 reels.
    found = tape(season.plan("TW", "TL"), "RGBW24")
    assert (found["pieces"], found["needed_m"], found["met"]) == (36, 67.7, 36)
    assert (found["new_reels"], found["bounds"]["new_reels"], found["is_proven"]) == (8, 8, True)
    assert (found["on_order"], found["to_buy"], found["price"]) == (2, 6, 6 * 84.0)
    assert found["opened_reels"] == ["R-101", "R-102", "R-103", "R-104", "R-105"]
    # 31.5 + 40 - 67.7 = 3.8 m are left over, and each 4.8 m piece leaves 0.2 m of its reel.
    assert (found["left_m"], found["scrap_m"]) == (3.4, 0.4)


def test_what_tidewrack_alone_needs_of_colour_tape_is_on_the_shelf(season: Season) -> None:
    found = tape(season.plan("TW"), "RGBW24")
    assert (found["needed_m"], found["new_reels"], found["met"]) == (11.7, 0, 6)
    assert (found["others"], found["others_m"]) == (["TL"], 56.0)
    assert found["short_for_others_m"] == pytest.approx(56.0 - found["left_m"])


def test_reels_needed_for_buying_are_reels_and_not_metres(season: Season) -> None:
    with season.store.reading() as session:
        (found,) = needs_of(read_question(session, ["TW", "TL"], TODAY, ["RGBW24"]))
        question = read_question(session, ["TW", "TL"], TODAY)
        assert needs_of(read_question(session, ["TW", "TL"], TODAY, ["CW24X"])) == []
    assert (found.new_reels, found.least_new_reels, found.on_order, found.to_buy) == (8, 8, 2, 6)
    assert (found.longest_piece_m, found.unmet, found.one_lot) == (5.0, 0, ())
    every: dict[str, ReelsNeeded] = {need.tape: need for need in needs_of(question)}
    assert {tag: need.to_buy for tag, need in every.items() if need.new_reels} == {"RGBW24": 6, "TW24": 2}
    assert every["TW24"].one_lot == (
        "Ask for one lot: new 1, new 2 must match for TW horizon.",
        "1 reel of lot T-26B, which is on the shelf, would do instead of the 2 new ones: "
        "ask for that lot first.",
    )


def test_tape_that_is_enough_in_metres_is_not_enough_in_one_lot_each(season: Season) -> None:
    # Portholes 8 x 1.25 m take two reels of T-26B, the horizon 2 x 4.0 m two of one lot: T-26B has three.
    found = tape(season.plan("TW", "TL", may_buy=False), "TW24")
    assert (found["needed_m"], found["met"], found["pieces"]) == (20.4, 12, 14)
    assert [(u["element"], u["piece"], u["why"]) for u in found["unmet"]] == [
        ("TW-12", 1, "no lot yields all of its match group"),
        ("TW-12", 2, "no lot yields all of its match group"),
    ]
    assert found["unmet"][0]["mend"] == "Buy 1 of lot T-26E or new reels of one lot for TW horizon."
    assert {(y["group"], y["lot"]): y["yields_all"] for y in found["lots"]} == {
        ("TL portholes", "T-26B"): True,
        ("TL portholes", "T-26E"): False,
        ("TW horizon", "T-26B"): True,
        ("TW horizon", "T-26E"): False,
    }
    bought = tape(season.plan("TW", "TL"), "TW24")
    assert (bought["met"], bought["to_buy"]) == (14, 2)
    assert any("1 reel of lot T-26B, which is on the shelf" in note for note in bought["notes"])


def test_the_reel_that_is_promised_twice_is_told_with_the_other_lot(season: Season) -> None:
    found = tape(season.plan("TW", "TL"), "WW24")
    assert found["notes"] == [
        "R-111 is promised to TL 3200 mm and TW 800 mm and has 3600 mm left: 400 mm short; "
        "R-112 has 5000 mm and is of another lot (W-26D)."
    ]
    assert (found["met"], found["opened_reels"], found["new_reels"]) == (12, ["R-112"], 0)
    # TL's 3.2 m are not taken for TW: 0.4 m are left of R-111.
    alone = season.plan("TW", tapes=["WW24"])
    assert [s["cut_mm"] for s in season.steps(alone["number"]) if s["reel"] == "R-111"] in ([], [200.0] * 2)


def test_lots_that_yield_a_group_are_told_from_those_with_more_metres(season: Season) -> None:
    found = tape(season.plan("TW"), "NW24")
    assert [(y["lot"], y["on_hand_m"], y["yields_all"], y["missing_pieces"]) for y in found["lots"]] == [
        ("N-26A", 8.4, False, 1),
        ("N-26C", 7.4, True, 0),
    ]
    assert found["lots"][0]["says"].startswith("this lot has more metres but not the pieces")
    assert {s["lot"] for s in season.steps(season.plan("TW")["number"]) if s["tape"] == "NW24"} == {"N-26C"}


def test_a_plan_is_promised_at_once_and_the_same_request_makes_one(season: Season) -> None:
    body, key = {"productions": ["TW"], "tapes": ["UV24"]}, {"Idempotency-Key": "uv-1", "X-By": "Head"}
    promised = season.client.post("/cut-plans", json=body, headers=key)
    assert (promised.status_code, promised.json()["status"]) == (202, "working")
    again = season.client.post("/cut-plans", json=body, headers=key)
    assert again.headers["idempotency-replayed"] == "true"
    assert again.headers["location"] == promised.headers["location"]
    number = promised.json()["number"]
    assert promised.headers["location"] == f"/api/v1/cut-plans/{number}"
    listed = season.client.get("/cut-plans", params={"sort": "-number", "limit": 1}).json()
    assert [(row["number"], row["productions"], row["by"]) for row in listed] == [
        (number, [{"production": "TW"}], "Head")
    ]


@pytest.mark.parametrize(
    ("body", "status", "said"),
    [
        ({"productions": ["XX"]}, 404, "there is no production XX"),
        ({"productions": ["TW"], "tapes": ["XX"]}, 404, "there is no tape XX"),
        ({"productions": []}, 422, "productions"),
        ({"productions": ["TW"], "buy": True}, 422, "buy"),
    ],
)
def test_what_cannot_be_planned_is_refused(season: Season, body: Any, status: int, said: str) -> None:
    before = len(season.client.get("/cut-plans").json())
    refused = season.client.post("/cut-plans", json=body)
    assert (refused.status_code, said in refused.text) == (status, True)
    assert refused.json()["mend"]
    assert len(season.client.get("/cut-plans").json()) == before


def test_a_show_without_a_kept_plan_is_told_how_to_make_one(season: Season) -> None:
    report = season.client.get("/reports/cut-list", params={"production": "TW"}).json()
    assert report["rows"] == []
    assert report["summary"]["pieces_in_no_kept_plan"] == ("TW 25; make one: wattwright cut plan TW --keep")
    assert "Cut with the power off" in report["cautions"][0]


def test_a_day_at_the_bench(bench: Season) -> None:
    number = bench.plan("TW", "TL")["number"]
    unkept = bench.client.post(f"/cut-plans/{number}/steps/1/done", json={})
    assert (unkept.status_code, unkept.json()["mend"]) == (409, "Keep it first.")
    bench.keep(number)
    slats = [s for s in bench.steps(number) if s["tape"] == "NW24"]
    assert [(s["reel"], s["element"], s["mark_mm"], s["left_mm"]) for s in slats][:3] == [
        ("R-120", "TW-08", 1100.0, 1300.0),
        ("R-120", "TW-08", 2200.0, 200.0),
        ("R-120", None, 2400.0, 0.0),
    ]
    first = bench.post(
        f"/cut-plans/{number}/steps/{slats[0]['step']}/done", {}, 200, **{"Idempotency-Key": "k1"}
    )
    again = bench.post(
        f"/cut-plans/{number}/steps/{slats[0]['step']}/done", {}, 200, **{"Idempotency-Key": "k1"}
    )
    assert again.headers["idempotency-replayed"] == "true"
    assert again.content == first.content
    assert (first.json()["step"]["cut"], first.json()["element_status"]) == ("K-106", "drawn")
    twice = bench.client.post(f"/cut-plans/{number}/steps/{slats[0]['step']}/done", json={})
    assert (twice.status_code, twice.json()["code"]) == (409, "step-refused")
    assert bench.client.get("/reels/R-120").json()["left_m"] == 1.3

    # R-123 turns out to hold 4.4 m, not 5.0: just its four slats, and nothing is left over.
    made = bench.post(f"/cut-plans/{number}/short", {"reel": "R-123", "found_mm": "4.4 m"}, 201).json()
    assert (made["status"], made["supersedes"], made["only_tapes"]) == ("kept", number, ["NW24"])
    slats_left = [(s["reel"], s["element"], s["left_mm"]) for s in bench.steps(made["number"])]
    assert slats_left[:2] == [("R-120", "TW-08", 200.0), ("R-120", None, 0.0)]
    assert slats_left[-1] == ("R-123", "TW-08", 0.0)
    assert tape(made, "NW24")["pieces"] == 5, "one slat is cut"
    assert [s for s in bench.steps(number) if s["tape"] == "NW24" and not s["is_done"]] == []
    off = bench.client.post(f"/cut-plans/{number}/short", json={"reel": "R-131", "found_mm": 1234})
    assert (off.status_code, off.json()["code"]) == (409, "off-cut-pitch")

    undone = bench.client.post(f"/cut-plans/{number}/steps/{slats[0]['step']}/undo")
    assert (undone.status_code, undone.json()["step"]["is_done"]) == (200, False)


def test_the_cut_list_is_sorted_by_tape_lot_reel_and_longest_first(bench: Season) -> None:
    bench.keep(bench.plan("TW", "TL")["number"])
    whole = bench.client.get("/reports/cut-list").json()
    rows = whole["rows"]
    places = [(row["tape"], row["lot"] or "~", row["reel"]) for row in rows if row["lot"]]
    assert places == sorted(places)
    for _, own in itertools.groupby(rows, key=lambda row: (row["tape"], row["reel"])):
        lengths = [row["cut_mm"] for row in own if row["element"]]
        assert lengths == sorted(lengths, reverse=True)
    assert (whole["summary"]["cuts"], len(rows)) == (80, 83)
    assert "pieces_in_no_kept_plan" not in whole["summary"]
    only = bench.client.get("/reports/cut-list", params={"production": "TW"}, headers={"Accept": "text/csv"})
    table = list(csv.DictReader(io.StringIO(only.text)))
    assert {row["production"] for row in table} == {"TW", ""}
    assert table[0]["label"] == "TW-08/1 · 1100 mm · NW24 · lot N-26C"
    steps = bench.client.get("/cut-steps", params={"production": "TW"}).json()
    assert len(steps) == len(table)
