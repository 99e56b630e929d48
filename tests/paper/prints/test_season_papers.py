"""Papers of the season: what they tell is what their reports tell."""

from datetime import date

import pytest

import seed_demo
from service.errors import NotFound
from service.paper.prints.registry import PAPERS
from service.paper.prints.season.ordering import told
from service.paper.prints.table import Measured, Paper, Row, Says, Unsolved, Wanted
from service.planning.issuing.books import Hand
from service.planning.issuing.issuing import issue
from service.planning.season.reels import RAN_OUT
from service.planning.season.schemas import OrderOut
from service.reports import REPORTS, ReportAsk
from service.season.counting.taking import Counted, begin, count
from service.season.counting.taking import Hand as Counter
from service.store.work import Store
from tests.paper.prints.conftest import paper

TODAY = seed_demo.AS_OF


def rows_of(made: Paper) -> list[Row]:
    return [row for block in made.blocks for row in block.rows]


def row(made: Paper, key: str, value: object) -> Row:
    [found] = [one for one in rows_of(made) if one.cells.get(key) == value]
    return found


def reported(store: Store, name: str, show: str | None = None) -> list[dict[str, object]]:
    with store.reading() as session:
        return [one.model_dump() for one in REPORTS[name].rows(session, ReportAsk(TODAY, show))]


def test_the_take_list_goes_bin_by_bin_and_says_what_cannot_go(season: Store) -> None:
    made, report = paper(season, "take-list", "TL"), reported(season, "take-list", "TL")
    assert sorted(str(one.cells["tag"]) for one in rows_of(made)) == sorted(str(r["tag"]) for r in report)
    stuck = [r["tag"] for r in report if r["tag"] and r["waits_for"]]
    assert made.first == Says(
        "take-list-stuck",
        {"count": sum(int(str(r["count"])) for r in report), "stuck": len(stuck), "due": 0, "gone": 0},
    )
    late = row(made, "tag", "PS-02")
    assert (late.state, late.says) == ("over", "PS-02 is with CO, 22 days overdue (due 2026-11-03)")
    assert late.cells["elements"] == "TL-01, TL-02, TL-03, TL-04, TL-05, TL-06, TL-07, TL-08"
    bins = [{one.cells["bin"] for one in block.rows} for block in made.blocks]
    assert all(len(one) == 1 for one in bins)
    assert len({str(one) for one in bins}) == len(bins) > 1


def test_what_nobody_wrote_out_is_not_taken_for_gone(season: Store) -> None:
    """SQ has been at work since 2026-11-09."""
    made = paper(season, "take-list", "SQ")
    assert made.first.key == "take-list-due"
    assert (
        made.first.values["due"]
        == made.first.values["count"]
        == sum(int(str(r["count"])) for r in reported(season, "take-list", "SQ"))
    )


def test_what_went_already_stands_at_the_end_of_the_take_list(changing_season: Store) -> None:
    hand = Hand("deck", TODAY)
    changing_season.write(lambda session: issue(session, "TL", ["PS-11"], hand, TODAY), "deck")
    made = paper(changing_season, "take-list", "TL")
    assert made.first.values["gone"] == 1
    last = made.blocks[-1]
    assert last.title == Says("gone-already")
    assert [(one.cells["tag"], one.cells["went-on"], one.state) for one in last.rows] == [
        ("PS-11", TODAY, "")
    ]


def test_the_return_list_begins_with_the_latest_and_whom_it_hurts(season: Store) -> None:
    made = paper(season, "return-list", None)
    assert made.first.key == "return-list-late"
    assert {name: made.first.values[name] for name in ("late", "first", "days")} == {
        "late": 2, "first": "DC-03", "days": 22,
    }  # fmt: skip
    assert made.rows == len(reported(season, "return-list"))
    # PS-02 is to feed the eight portholes of TL, 24 W each.
    [told_of] = row(made, "tag", "PS-02").tells
    assert told_of.key == "late-and-hurts"
    assert told_of.values["load_w"] == pytest.approx(192.0)
    assert (told_of.values["shows"], told_of.values["day"]) == ("TL", date(2027, 1, 4))
    assert row(made, "tag", "DC-03").tells == (Says("late", {**told_of.values, "shows": "", "day": None,
                                                            "elements": "", "load_w": 0}),)  # fmt: skip


def test_gear_of_a_show_that_is_struck_is_told_apart(season: Store) -> None:
    made = paper(season, "return-list", "FR")
    assert made.first.key == "return-list-struck"
    [block] = made.blocks
    assert (block.state, block.says) == ("tight", Says("struck-and-out", {"day": date(2026, 11, 23)}))


def test_the_order_list_is_worked_out_after_the_store_was_read(season: Store) -> None:
    wanted = Wanted(TODAY, TODAY, lambda _day: None, None)
    with season.reading() as session:
        asked = PAPERS["order-list"].make(session, wanted)
    assert isinstance(asked, Unsolved)
    made = asked.solved_by(lambda job, *given: job(*given))
    report = reported(season, "order-list")
    assert sorted(str(one.cells["item"]) for one in rows_of(made)) == sorted(str(r["item"]) for r in report)
    # Portholes, horizon and jar shelves: 20.4 m wanted of 22.5 m, and yet two reels, for the lots.
    strip = row(made, "item", "TW24")
    assert (strip.cells["how-many"], strip.cells["order"]) == (
        2,
        Says("order-reel", {"count": 2, "spare": 0}),
    )
    assert strip.cells["need"] == Measured(20.4, "m")
    assert str(strip.cells["one-lot"]).startswith("Ask for one lot")


def order(**said: object) -> OrderOut:
    plain = {
        "act": "buy", "item": "TW24", "kind": "tape", "quantity": 7, "sold_as": "reel", "packs": None,
        "spare": 1, "order_by": date(2026, 12, 11), "order_by_alone": None, "late_days": 0,
        "comes_on": date(2026, 12, 19), "needed_from": date(2027, 1, 4), "needed_to": None,
        "wanted_by": ["TL"], "unit": "m", "wanted": 67.7, "usable": 31.5, "due_in": 10.0, "short": 26.2,
        "least_reels": 8, "one_lot": "", "lead_days": 21, "price_each": 84.0, "cost": 588.0,
        "hire_weeks": None, "instead": "", "unknown": "",
    }  # fmt: skip
    return OrderOut.model_validate(plain | said)


def test_a_count_that_is_not_proven_is_said_first_and_beside_it() -> None:
    assert told([order()]).first == Says(
        "order-list-some",
        {"count": 1, "late": 0, "unproven": 0, "first": "", "day": date(2026, 12, 11)},
    )
    made = told([order(), order(item="NW24", unknown=f"whether 6 reels would do: {RAN_OUT}")])
    assert (made.first.key, made.first.values["unproven"]) == ("order-list-unproven", 1)
    assert row(made, "item", "TW24").state == ""
    open_ = row(made, "item", "NW24")
    assert (open_.state, [one.key for one in open_.tells]) == ("none", ["order-unproven"])
    priceless = told([order(unknown="price", cost=None, price_each=None)]).blocks[0].rows[0]
    assert (priceless.state, [one.key for one in priceless.tells]) == ("", ["order-blank"])


def test_what_is_late_and_may_be_ordered_twice_is_told() -> None:
    said = "2 on PO-1 are late since 2026-12-18 and not counted"
    found = told([order(late_orders=[said])]).blocks[0].rows[0]
    assert (found.tells, found.cells["late-orders"]) == ((Says("order-not-come", {"said": said}),), said)


def test_what_comes_too_late_is_told_before_what_is_not_known() -> None:
    late = order(late_days=3, unknown="price", cost=None, price_each=None, instead="move TL 3 days later")
    made = told([order(item="NW24"), late])
    assert (made.first.key, made.first.values["first"]) == ("order-list-late", "TW24")
    found = row(made, "item", "TW24")
    assert (found.state, [one.key for one in found.tells]) == (
        "over", ["order-late", "order-blank", "order-instead"],
    )  # fmt: skip
    assert made.blocks[0].notes == [Says("costs-known", {"cost": "588.00", "blank": 1})]


def test_acts_stand_apart_and_sums_are_of_what_is_ordered() -> None:
    hired = order(act="hire", item="S320", kind="supply", sold_as="piece", quantity=2, unit="piece", spare=0)
    gone = order(
        act="too late", item="D4", kind="decoder", sold_as="piece", quantity=0, cost=None, unit="piece"
    )
    made = told([hired, order(), gone])
    assert [block.title for block in made.blocks] == [Says("act-buy"), Says("act-hire"), Says("act-too-late")]
    assert made.blocks[0].notes == [Says("costs", {"cost": "588.00"})]
    assert made.blocks[2].notes == []
    assert row(made, "item", "D4").cells["order"] == ""
    assert row(made, "item", "S320").cells["need"] == Measured(67.7, "")


def test_the_stocktake_sheet_has_what_is_to_count_and_what_differs(changing_season: Store) -> None:
    assert paper(changing_season, "stocktake-sheet", None).first.key == "stocktake-sheet-none"
    hand = Counter("Ada", TODAY)
    number = str(changing_season.write(lambda session: begin(session, "A1", hand).number, "Ada"))
    made = paper(changing_season, "stocktake-sheet", None)
    lines = rows_of(made)
    assert lines
    assert made.first == Says("stocktake-sheet-count", {"count": len(lines), "differs": 0, "missing": 0})
    tag = str(lines[0].cells["tag"])
    gone = Counted(tag, is_found=False)
    changing_season.write(lambda session: count(session, number, [gone], hand), "Ada")
    made = paper(changing_season, "stocktake-sheet", None)
    assert made.first.key == "stocktake-sheet-differs"
    assert row(made, "tag", tag).state == "over"


def test_a_show_that_is_not_there_is_refused(season: Store) -> None:
    for name in ("take-list", "return-list", "order-list"):
        with pytest.raises(NotFound):
            paper(season, name, "XX")
