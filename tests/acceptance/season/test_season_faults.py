"""What is wrong with the demonstration season, told alike at every door. Figures: worked by hand from its
sheets."""

import pytest

from tests.acceptance.season.doors import Doors, only

NINE = ["DC-01", "DC-02", "DC-09", "DC-10", "DC-11", "DC-12", "DC-32", "DC-43", "PS-06"]
TL_LATER = ("TL", 16, "2027-01-20", True)


def shortages(doors: Doors, **query: str) -> list[dict[str, object]]:
    options = " ".join(f"--{name} {value}" for name, value in query.items())
    return doors.asked("/season/shortages", f"season short {options}", **query)


def test_two_units_are_22_days_overdue_and_one_hurts_a_show(doors: Doors) -> None:
    """Due back 2026-11-03; portholes: 8 × 24.00 W hang on PS-02 from 2027-01-04."""
    late = doors.report("return-list", production="CO")

    assert [(row["tag"], row["standing"], row["days_late"], row["due_on"]) for row in late] == [
        ("DC-03", "overdue", 22, "2026-11-03"),
        ("PS-02", "overdue", 22, "2026-11-03"),
    ]
    assert [(row["hurts"], row["hurts_from"], row["hurts_w"]) for row in late] == [
        ([], None, 0.0),
        (["TL"], "2027-01-04", 192.0),
    ]
    assert late[1]["hurts_elements"] == [f"TL-{n:02d}" for n in range(1, 9)]


def test_four_colour_tape_is_short_by_36_2_m_or_26_2_with_what_is_on_order(doors: Doors) -> None:
    row = only(shortages(doors), item="RGBW24")

    assert (row["wanted"], row["usable"], row["due_in"]) == (67.7, 31.5, 10.0)
    assert (row["short_undelivered"], row["short"]) == (36.2, 26.2)
    assert (row["from_on"], row["clears_on"]) == ("2027-01-04", None)


def test_nine_units_are_named_twice_for_sixteen_days(doors: Doors) -> None:
    row = only(doors.asked("/season/clashes", "season clashes"), kind="twice")

    assert (row["other"], row["production"], row["tags"]) == ("SQ", "TL", NINE)
    assert (row["from_on"], row["to_on"], row["days"], row["clears_on"]) == (
        "2027-01-04", "2027-01-19", 16, "2027-01-20",
    )  # fmt: skip
    assert moved(row) == TL_LATER


def moved(row: dict[str, object]) -> tuple[object, ...]:
    """The cheapest move of dates, and whether nothing remains with it."""
    return row["move_production"], row["move_days"], row["move_needed_from"], row["removes"]


@pytest.mark.parametrize(
    ("item", "wanted", "usable", "short", "if_back"),
    [("D4", 19.0, 12.0, 7.0, 6.0), ("S320", 8.0, 5.0, 3.0, 2.0)],
)
def test_decoders_and_supplies_are_short_while_two_shows_overlap(
    doors: Doors, item: str, wanted: float, usable: float, short: float, if_back: float
) -> None:
    row = only(shortages(doors, **{"from": "2026-12-01"}), item=item)

    assert (row["wanted"], row["usable"], row["short"]) == (wanted, usable, short)
    assert row["short_if_back"] == if_back
    assert (row["from_on"], row["clears_on"]) == ("2027-01-04", "2027-01-20")
    assert moved(row) == TL_LATER


def test_one_reel_is_promised_for_0_4_m_more_than_it_has(doors: Doors) -> None:
    row = only(shortages(doors), item="R-111")

    assert (row["wanted"], row["usable"], row["short"], row["lot"]) == (4.0, 3.6, 0.4, "W-26B")
    assert row["wanted_by"] == ["TL 3.2", "TW 0.8"]
    other = doors.client.get("/reels/R-112").json()
    assert (other["left_m"], other["lot"]) == (5.0, "W-26D")


def test_a_piece_entered_twice_would_take_a_reel_below_nothing(doors: Doors) -> None:
    """5.0 − 4 × 1.3 = −0.2 m; without the disputed row 1.1 m."""
    life = doors.document("/reels/R-119/ledger", "reel history R-119")
    sheet = doors.sheet("/reels/R-119/ledger")

    assert round(sum(row["change_m"] for row in life["rows"]), 6) == -0.2
    assert (life["reel"]["left_m"], life["rows"][-1]["left_m"]) == (1.1, 1.1)
    twice = [(row["number"], row["is_disputed"]) for row in life["rows"] if row["element"] == "SQ-10"]
    assert twice == [("K-071", False), ("K-074", True)]
    assert "counted it makes R-119 -0.2 m" in life["rows"][-1]["note"]
    assert [row["is_disputed"] for row in sheet] == ["no", "no", "no", "no", "yes"]
    assert [row["change_m"] for row in sheet] == ["5.0", "-1.3", "-1.3", "-1.3", "-1.3"]


def test_the_running_show_has_no_spare_of_two_models_and_enough_of_all_others(doors: Doors) -> None:
    rows = doors.report("spares", production="SQ", as_of="2026-12-02")

    assert {row["item"] for row in rows if row["verdict"] != "ok"} == {"S150L", "D5"}
    small, large = only(rows, item="S150L"), only(rows, item="D5")
    assert [(row["in_show"], row["needed"], row["free"], row["short"]) for row in (small, large)] == [
        (1, 1, 0, 1),
        (3, 1, 0, 1),
    ]
    assert "PS-52 faulty" in small["away"][0]
    assert small["mend"].startswith("mend PS-52; or 1 more S150L")
    # Of 14 two are out of reach, of the 12 left eight are in the show; ceil(10 % of 8) = 1.
    d4 = only(rows, item="D4")
    assert (d4["in_show"], d4["needed"], d4["free"]) == (8, 1, 4)


def test_wireless_decoders_and_24_v_packs_stay_short_after_two_shows_are_apart(doors: Doors) -> None:
    rows = shortages(doors, **{"from": "2027-01-20"})

    wireless, pack = only(rows, item="DW4"), only(rows, item="B24-6")
    assert (wireless["wanted"], wireless["usable"], wireless["short"]) == (6.0, 4.0, 2.0)
    assert wireless["wanted_by"] == ["TW 5", "TL 1"]
    assert (pack["wanted"], pack["usable"], pack["short"]) == (4.0, 3.0, 1.0)
    assert {row["clears_on"] for row in (wireless, pack)} == {"2027-03-09"}


def test_metres_are_enough_and_lots_are_not(doors: Doors) -> None:
    """Portholes 10.0 m, horizon 8.0 m, jar shelves 2.4 m of 22.5 m; each group takes two reels of one lot."""
    row = only(doors.report("order-list"), item="TW24")

    assert (row["wanted"], row["usable"], row["short"], row["quantity"]) == (20.4, 22.5, 0.0, 2)
    assert row["one_lot"] == (
        "Ask for one lot: new 1, new 2 must match for TW horizon. 1 reel of lot T-26B, which is on the "
        "shelf, would do instead of the 2 new ones: ask for that lot first."
    )


def test_every_shortage_says_when_it_clears_and_the_cheapest_move_that_removes_it(doors: Doors) -> None:
    """FR is struck and SQ plays: no move helps the first. What waits for tape, dates do not mend."""
    rows = shortages(doors)

    none = (None, None, None, None)
    assert [(row["item"], row["from_on"], row["clears_on"], row["short"], moved(row)) for row in rows] == [
        ("D4", "2026-11-25", "2026-12-01", 1.0, none),
        ("DW4", "2026-12-28", "2027-03-09", 4.0, ("TL", 16, "2027-01-20", False)),
        ("B24-6", "2026-12-28", "2027-03-09", 1.0, none),
        ("S150L", "2027-01-04", "2027-01-20", 1.0, TL_LATER),
        ("S320", "2027-01-04", "2027-01-20", 3.0, TL_LATER),
        ("D12", "2027-01-04", "2027-01-20", 1.0, TL_LATER),
        ("D4", "2027-01-04", "2027-01-20", 7.0, TL_LATER),
        ("RGBW24", "2027-01-04", None, 26.2, none),
        ("R-111", "2027-01-04", None, 0.4, none),
    ]
    assert doors.report("shortages") == rows


def test_thirteen_decoders_are_wanted_of_twelve_until_a_struck_show_is_back(doors: Doors) -> None:
    row = only(shortages(doors, to="2026-11-30"), item="D4")

    assert (row["wanted"], row["usable"], row["short"]) == (13.0, 12.0, 1.0)
    assert row["wanted_by"] == ["SQ 8", "FR 5"]
    assert (row["back"], row["back_tags"], row["back_from"]) == ("take DC-03 back from CO", ["DC-03"], ["CO"])


def test_wireless_decoders_are_short_by_three_then_four_then_two(doors: Doors) -> None:
    steps = doors.asked("/season/line", "season line DW4", item="DW4")

    assert [(step["from_on"], step["short"]) for step in steps if step["short"]] == [
        ("2026-12-28", 3.0),
        ("2027-01-04", 4.0),
        ("2027-01-20", 2.0),
    ]


def test_five_supplies_start_at_once_on_one_15_a_breaker(doors: Doors) -> None:
    """4 × 55 A + 60 A; running 5.10 A of 15 A × 0.80."""
    row = only(doors.report("circuits", production="FR"), outlet="SD1")

    assert (row["inrush_a"], round(row["load_a"], 2), row["limit_a"]) == (280.0, 5.1, 12.0)
    assert row["supplies"] == ["PS-04", "PS-21", "PS-22", "PS-23", "PS-24"]


def test_24_v_in_a_costume_is_told(doors: Doors) -> None:
    rows = doors.report("over-limit", production="FR")

    worn = [row for row in rows if row["code"] == "worn-volts" and row["subject"] == "FR-14"]
    assert [row["verdict"] for row in worn] == ["watch"]
