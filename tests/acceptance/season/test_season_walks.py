"""Two questions that people ask of the demonstration season, walked from door to door: what to buy, and what
clashes. Figures: worked by hand from its sheets."""

import shlex
from collections import Counter, defaultdict
from collections.abc import Sequence

import pytest

from tests.acceptance.season.doors import Doors, Row, in_cells, only

NINE = ["DC-01", "DC-02", "DC-09", "DC-10", "DC-11", "DC-12", "DC-32", "DC-43", "PS-06"]
COLOUR = "RGBW24"
# TW: 3 × 0.9, 5.0, 2 × 2.0. TL: ribs 10 × 2.0 and 2 × 2.2, heart 4 × 1.0, kelp 12 × 1.5, waterline 2 × 4.8.
PIECES_MM = {5000: 1, 4800: 2, 2200: 2, 2000: 12, 1500: 12, 1000: 4, 900: 3}
SHELF_MM = {"R-101": 5000, "R-102": 5000, "R-103": 5000, "R-104": 5000, "R-105": 5000,
            "R-106": 3400, "R-107": 2200, "R-108": 900}  # fmt: skip


def cuts_by_reel(steps: Sequence[Row]) -> dict[str, list[float]]:
    found: dict[str, list[float]] = defaultdict(list)
    for step in steps:
        if step["tape"] == COLOUR and step["kind"] == "piece":
            found[step["reel"]].append(step["cut_mm"])
    return found


def test_what_to_buy_for_two_shows(own_doors: Doors) -> None:
    doors = own_doors
    # 67.7 m wanted, 31.5 m there: 36.2 m short, at least ceil(36.2 / 5) = 8 reels; two are on order.
    said = doors.client.post(
        "/cut-plans", json={"productions": ["TW", "TL"], "tapes": [COLOUR]}, headers={"Prefer": "wait=60"}
    )
    assert said.status_code == 201, said.text
    [tape] = said.json()["tapes"]
    assert (tape["pieces"], tape["needed_m"], tape["met"]) == (36, 67.7, 36)
    assert (tape["bounds"]["new_reels"], tape["new_reels"]) == (8, 8)
    assert (tape["on_order"], tape["to_buy"]) == (2, 6)
    # 31.5 + 8 × 5.0 − 67.7 = 3.8 m over; each piece of 4.8 m leaves 0.2 m, too short to keep.
    assert (tape["scrap_m"], tape["left_m"]) == (0.4, 3.4)

    number = said.json()["number"]
    steps = doors.client.get(f"/cut-plans/{number}/steps").json()
    assert doors.sheet(f"/cut-plans/{number}/steps") == [in_cells(step) for step in steps]
    listed = doors.wattwright("cut", "list", number, "--json", "--database", doors.database)
    assert listed.document == steps
    cuts = cuts_by_reel(steps)
    assert Counter(mm for lengths in cuts.values() for mm in lengths) == PIECES_MM
    assert [reel for reel, mm in cuts.items() if sum(mm) > SHELF_MM.get(reel, 5000)] == []
    whole = [reel for reel in cuts if SHELF_MM.get(reel, 5000) == 5000]
    assert (len(whole), len([reel for reel in whole if reel in SHELF_MM])) == (13, 5)

    typed = doors.wattwright(
        *shlex.split(f"cut plan TW TL --tape {COLOUR} --json --database {doors.database}")
    )
    figures = ("pieces", "met", "new_reels", "on_order", "to_buy", "scrap_m", "left_m", "bounds")
    assert typed.code == 0
    assert [typed.document["tapes"][0][name] for name in figures] == [tape[name] for name in figures]


def test_what_to_order_and_by_which_day(doors: Doors) -> None:
    """2027-01-04 less 21 days of lead and 3 of receiving; what TW alone needs is on the shelf."""
    orders = doors.asked("/season/orders", "buy")
    row = only(orders, item=COLOUR)

    assert (row["least_reels"], row["quantity"], row["spare"], row["sold_as"]) == (8, 7, 1, "reel")
    assert (row["needed_from"], row["order_by"]) == ("2027-01-04", "2026-12-11")
    assert (row["order_by_alone"], row["late_days"]) == ("2026-12-04", 0)
    assert (row["wanted"], row["usable"], row["due_in"]) == (67.7, 31.5, 10.0)
    assert (row["price_each"], row["cost"]) == (84.0, 588.0)
    assert doors.report("order-list") == orders


def test_everything_that_one_show_clashes_with(doors: Doors) -> None:
    found = doors.asked("/season/clashes", "season clashes --production TL", production="TL")

    late, twice = only(found, kind="overdue"), only(found, kind="twice")
    assert len(found) == 2
    assert (late["tags"], late["overdue_days"], late["from_on"]) == (["PS-02"], 22, "2027-01-04")
    assert (twice["tags"], twice["days"], twice["clears_on"]) == (NINE, 16, "2027-01-20")
    # TL holds its units by tag, and one more by model for its placeholder: 11 of the 14.
    had = only(doors.report("commitments", production="TL"), item="D4")
    assert (had["held"], had["wanted"], had["short"]) == (11.0, 11.0, 7.0)
    assert bad_units(doors) == {"PS-02": "overdue", "PS-52": "unit-state"}


def bad_units(doors: Doors) -> dict[str, str]:
    rows = doors.report("over-limit", production="TL")
    return {
        row["subject"]: row["code"]
        for row in rows
        if row["code"] in {"unit-state", "overdue"} and row["verdict"] == "over"
    }


SUPPOSED = {"moves": [{"production": "TL", "needed_from": "2027-01-20"}]}


def test_a_later_day_is_supposed_to_remove_all_nine(doors: Doors) -> None:
    said = doors.client.post("/season/what-if", json=SUPPOSED).json()
    typed = doors.wattwright(
        "season", "what-if", "--move", "TL", "--needed-from", "2027-01-20", "--json",
        "--database", doors.database,
    )  # fmt: skip
    sheet = doors.client.post("/season/what-if", json=SUPPOSED, headers={"Accept": "text/csv"}).text

    assert typed.document == said
    assert [line.split(",")[1] for line in sheet.split("\r\n")[1:-1]] == [
        row["item"] for row in said["shortages"]
    ]
    assert [row["tags"] for row in said["clashes_gone"] if row["kind"] == "twice"] == [NINE]
    assert [(row["kind"], row["tags"]) for row in said["clashes"]] == [
        ("overdue", ["PS-02"]),
        ("overdue", ["DC-03"]),
    ]
    assert {"D12", "S150L", "S320"} <= {row["item"] for row in said["gone"]}
    d4 = only(said["items"], item="D4")
    assert (d4["short_before"], d4["short_after"]) == (7.0, 1.0)  # FR's, until 2026-11-30
    again = only(doors.asked("/season/clashes", "season clashes"), kind="twice")
    assert again["tags"] == NINE, "nothing was stored"


def test_the_show_is_moved_and_one_spare_is_left_to_find(own_doors: Doors) -> None:
    """Of 12 sound decoders TL has 11; ceil(10 % of 11) = 2 should be spare."""
    doors = own_doors
    row = doors.client.get("/productions/TL")
    moved = doors.client.patch(
        "/productions/TL", json={"needed_from": "2027-01-20"}, headers={"If-Match": row.headers["etag"]}
    )
    assert moved.status_code == 200, moved.text

    left = doors.asked("/season/clashes", "season clashes")
    assert [(row["kind"], row["tags"]) for row in left] == [("overdue", ["PS-02"]), ("overdue", ["DC-03"])]
    after = {"from": "2027-01-20"}
    short = doors.asked("/season/shortages", "season short --from 2027-01-20", **after)
    assert {row["item"] for row in short} == {"DW4", "B24-6", COLOUR, "R-111"}
    d4 = only(doors.report("spares", production="TL", as_of="2027-01-20"), item="D4")
    assert (d4["in_show"], d4["needed"], d4["free"], d4["short"]) == (11, 2, 1, 1)
    assert [gone.split(" ")[0] for gone in d4["away"]] == ["DC-03", "DC-07"]
    assert bad_units(doors) == {"PS-02": "overdue", "PS-52": "unit-state"}


@pytest.mark.parametrize("back", ["DC-03", "dc-03"])
def test_one_that_comes_back_leaves_six_short(doors: Doors, back: str) -> None:
    said = doors.client.post("/season/what-if", json={"back": [back]}).json()

    worst = max(row["short"] for row in said["shortages"] if row["item"] == "D4")
    assert worst == 6.0
