"""A show's tape and gear from the order to the count after the strike, over HTTP, day by day."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from typing import Any

import httpx
import pytest

from tests.acceptance.season.doors import Doors, Row, only
from tests.api.conftest import serving

CODES = ["TW", "TL"]
ORDER = "PO-2612-1"
REPORTS = ("stock-use", "usage", "return-list", "take-list", "order-list", "commitments", "spares",
           "season-line", "cut-list", "stocktake")  # fmt: skip


class Day:
    """One day of the house: what is done, and what the reports say that evening."""

    def __init__(self, doors: Doors, monkeypatch: pytest.MonkeyPatch) -> None:
        self.doors = doors
        self.monkeypatch = monkeypatch

    @contextmanager
    def of(self, day: str) -> Iterator["Day"]:
        self.monkeypatch.setenv("WATTWRIGHT_TODAY", day)
        url = self.doors.database
        with (
            serving(url, today=date.fromisoformat(day)) as base,
            httpx.Client(base_url=f"{base}/api/v1", timeout=90, headers={"X-By": "bench"}) as client,
        ):
            yield Day(replace(self.doors, client=client), self.monkeypatch)

    def get(self, path: str) -> Any:
        said = self.doors.client.get(path)
        assert said.status_code == 200, said.text
        return said.json()

    def post(self, path: str, body: Any = None, status: int = 200, **headers: str) -> Any:
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        said = self.doors.client.post(path, json={} if body is None else body, headers=named)
        assert said.status_code == status, (path, body, said.text)
        return said.json()


def order_and_receive(day: Day) -> None:
    """As the order list says: 7 reels of colour tape beside the 2 on order; for the horizon one reel more
    of the lot on the shelf."""
    wanted = {row["item"]: row["quantity"] for row in day.doors.report("order-list") if row["kind"] == "tape"}
    assert wanted == {"RGBW24": 7, "TW24": 2, "UV24": 1, "PX12": 1}
    for line, (tape, count, lot) in enumerate([("RGBW24", 7, "C-26P"), ("TW24", 1, "T-26B")], 1):
        body = {"order_number": ORDER, "line": line, "what": tape, "quantity": count, "reel_m": 5,
                "ordered_on": "2026-12-01", "due_on": "2026-12-22", "lot": lot}  # fmt: skip
        day.post("/order-lines", body, 201)
        note = {"number": f"DN-{line}", "order": ORDER, "line": line, "quantity": count}
        came = day.post("/deliveries", note, 201)
        assert [day.get(f"/reels/{reel['tag']}")["lot"] for reel in came["reels"]] == [lot] * count
        assert day.post("/deliveries", note, 200) == came, "the same note is received once"
    day.post("/deliveries", {"number": "DN-3", "order": "PO-2611-1", "line": 1, "quantity": 2}, 201)
    more = {"number": "DN-4", "order": "PO-2611-1", "line": 1, "quantity": 1}
    assert day.doors.client.post("/deliveries", json=more).status_code == 409, "all of it came"
    left = [row["item"] for row in day.doors.report("order-list") if row["kind"] == "tape"]
    assert left == ["UV24", "PX12"]


def plan_cuts(day: Day) -> str:
    made = day.post("/cut-plans", {"productions": CODES}, 201, Prefer="wait=80")
    assert (made["status"], made["is_proven"], made["error"]) == ("draft", True, None)
    assert [(tape["tape"], tape["met"], tape["to_buy"]) for tape in made["tapes"] if tape["unmet"]] == []
    assert sum(tape["to_buy"] for tape in made["tapes"]) == 0, "everything is on the shelf"
    kept = day.post(f"/cut-plans/{made['number']}/keep", status=200, If_Match="*")
    assert kept["status"] == "kept"
    number: str = made["number"]
    return number


def mark(day: Day, step: Row) -> Any:
    return day.post(f"/cut-plans/{step['plan']}/steps/{step['step']}/done")


def cut_it_all(day: Day, first: str) -> None:
    """R-123 turns out to hold 4.4 m: the rest of its tape is planned again, and all pieces are cut."""
    slats = [step for step in day.get(f"/cut-plans/{first}/steps") if step["tape"] == "NW24"]
    mark(day, slats[0])
    short = day.post(
        f"/cut-plans/{first}/short", {"reel": "r-123", "found_mm": "4.4 m"}, 201, Prefer="wait=80"
    )
    assert (short["status"], short["only_tapes"], short["tapes"][0]["pieces"]) == ("kept", ["NW24"], 5)
    before = {reel["tag"]: reel["left_m"] for reel in day.get("/reels?limit=200")}
    cut_m: dict[str, float] = dict.fromkeys(before, 0.0)
    for step in day.get("/cut-steps"):
        answer = mark(day, step)
        cut_m[step["reel"]] += step["cut_mm"] / 1000
    assert answer["pieces_left"] == 0
    assert day.doors.report("cut-list") == []
    after = {reel["tag"]: reel["left_m"] for reel in day.get("/reels?limit=200")}
    assert {tag: round(before[tag] - cut_m[tag], 3) for tag in before} == {
        tag: round(left_m, 3) for tag, left_m in after.items()
    }
    assert min(after.values()) >= 0
    stands = {row["status"] for code in CODES for row in day.get(f"/elements?production={code}&limit=200")}
    assert stands == {"cut"}
    # 67.7 m of colour tape in 36 pieces; two of 4.8 m left 0.2 m each.
    used = [row for row in day.doors.report("usage") if row["tape"] == "RGBW24" and row["month"] == "2026-12"]
    assert (sum(row["pieces"] for row in used), round(sum(row["used_m"] for row in used), 3)) == (36, 67.7)


def bring_back(day: Day) -> None:
    """All that other shows have: two of it 76 days late."""
    out = [row for row in day.doors.report("return-list") if row["production"] != "TL"]
    back = day.post("/returns", {"tags": [row["tag"].lower() for row in out if row["tag"]]})
    late = {row["tag"]: row["days_late"] for row in back["done"] if row["days_late"] > 60}
    assert late == {"DC-03": 76, "PS-02": 76}
    assert [row["tag"] for row in day.doors.report("return-list") if row["production"] != "TL"] == []


def issue(day: Day) -> None:
    """By tag in small letters; the one that is faulty stays, with what to take instead."""
    tags = [row["tag"] for row in day.doors.report("take-list", production="TL") if row["tag"]]
    said = day.post("/productions/tl/issue", {"tags": [tag.lower() for tag in tags], "each": True})
    assert [row["tag"].upper() for row in said["refused"]] == ["PS-52"]
    assert said["refused"][0]["mend"]
    assert sorted(row["tag"] for row in said["done"]) == sorted(set(tags) - {"PS-52"})
    twice = day.doors.client.post("/productions/TL/issue", json={"tags": ["dc-01"]})
    assert twice.status_code == 409
    had = only(day.doors.report("commitments", production="TL"), item="S384")
    assert had["tags"] == ["PS-11", "PS-12"]


def swap(day: Day) -> None:
    offered = day.get("/supplies/PS-12/swaps")
    # Output 2 of PS-12 is over: PS-01 mends that and comes first, another S384 leaves it as it is.
    assert offered["candidates"][0]["unit"] == "PS-01"
    assert "PS-13" in [one["unit"] for one in offered["candidates"]]
    body = {"swap_for": "ps-13", "found": "hums"}
    done = day.post("/supplies/ps-12/swaps", body, 201, If_Match="*")
    assert (done["old"], done["new"], done["production"]) == ("PS-12", "PS-13", "TL")
    assert day.get("/supplies/PS-12")["state"] == "faulty"
    feed = day.get("/elements/TL-13/feed")
    assert [source["supply"] for source in feed["sources"]] == ["PS-13"]
    assert [row["symptom"] for row in day.get("/faults") if row["number"] == done["fault"]] == ["hums"]


def strike(day: Day) -> str:
    """All comes back but one decoder, one supply hums, and a column's tape is an offcut again."""
    out = [row["tag"] for row in day.doors.report("return-list", production="TL")]
    assert "PS-13" in out
    day.post("/returns", {"tags": ["ps-11"], "found": "fan rattles", "state": "suspect"})
    day.post("/returns", {"tags": [tag for tag in out if tag not in {"DC-06", "PS-11", "PS-12"}]})
    gone = day.post("/missing", {"tags": ["dc-06"], "what": "not on the truck"})
    assert gone["done"][0]["state"] == "missing"
    still = only(day.doors.report("return-list", production="TL"), tag="DC-06")
    assert still["state"] == "missing"
    struck = {"to": "struck", "despite": "nobody marked it as built"}
    day.post("/elements/TL-17/steps", struck, If_Match="*")
    piece = day.post("/elements/TL-17/recovered", {"length_m": "1.4 m"})
    offcut: str = piece["reel"]["tag"]
    assert (piece["reel"]["state"], piece["reel"]["left_m"]) == ("offcut", 1.4)
    month = only(day.doors.report("usage"), month="2027-04", tape="RGBW24")
    assert month["recovered_m"] == 1.4
    return offcut


def count(day: Day, offcut: str) -> None:
    """The bin of the decoders: the missing one lies in it, and another is not there."""
    begun = day.post("/stocktakes", {"place": "c1"}, 201)
    lines = [row["tag"] for row in day.get("/stocktakes/C1/lines")]
    assert "DC-01" in lines
    here = [tag for tag in lines if tag not in {"DC-02", "DC-06"}]
    counts = [{"tag": tag} for tag in here]
    counts += [{"tag": "dc-06", "state": "good"}, {"tag": "dc-02", "found": False}]
    day.post("/stocktakes/C1/counts", {"counts": counts})
    found = {row["tag"]: row["outcome"] for row in day.doors.report("stocktake")}
    assert found == {"DC-02": "differs", "DC-06": "differs"}
    day.post("/stocktakes/C1/look-for", {"tags": ["DC-02"]})
    day.post("/stocktakes/C1/accept", {})
    closed = day.post("/stocktakes/C1/close", If_Match="*")
    assert (closed["number"], closed["status"]) == (begun["number"], "closed")
    assert [day.get(f"/decoders/{tag}")["state"] for tag in ("DC-06", "DC-02")] == ["good", "good"]
    assert day.get(f"/reels/{offcut}")["left_m"] == 1.4


def test_the_life_of_a_shows_tape_and_gear(own_doors: Doors, monkeypatch: pytest.MonkeyPatch) -> None:
    house = Day(own_doors, monkeypatch)

    with house.of("2026-12-01") as day:
        order_and_receive(day)
        cut_it_all(day, plan_cuts(day))
    with house.of("2027-01-18") as day:
        bring_back(day)
        issue(day)
    with house.of("2027-02-20") as day:
        swap(day)
        rows = day.doors.report("spares", production="TL", as_of="2027-02-21")
        after = only(rows, item="S384")
        assert (after["in_show"], after["free"], after["verdict"]) == (2, 0, "short")
    with house.of("2027-04-02") as day:
        count(day, strike(day))
        for name in REPORTS:
            day.doors.report(name)
        assert day.doors.asked("/season/clashes", "season clashes") == []
