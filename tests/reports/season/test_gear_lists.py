"""The take list and the return list, over the demonstration season as it is on 2026-11-25."""

from datetime import date
from typing import Any

import pytest

import seed_demo
from service.errors import NotFound
from service.planning.issuing.books import Hand
from service.planning.issuing.issuing import issue
from service.planning.issuing.returning import Back, bring_back, set_missing
from service.reports import REPORTS, ReportAsk
from service.store.work import Store

TODAY = seed_demo.AS_OF


def listed(store: Store, name: str, code: str | None = None, **ask: Any) -> list[dict[str, Any]]:
    with store.reading() as session:
        day = ask.pop("as_of", TODAY)
        found = REPORTS[name].rows(session, ReportAsk(day, code, **ask))
    return [row.model_dump() for row in found]


def only(rows: list[dict[str, Any]], tag: str) -> dict[str, Any]:
    (row,) = [row for row in rows if row["tag"] == tag]
    return row


def test_what_should_be_back_is_chased_with_whom_it_hurts(season: Store) -> None:
    """F15: PS-02 and DC-03 were due back from CO on 2026-11-03; PS-02 feeds the portholes of TL, 8 × 24 W."""
    late = [row for row in listed(season, "return-list") if row["standing"] == "overdue"]

    assert [(row["tag"], row["production"], row["due_on"], row["days_late"]) for row in late] == [
        ("DC-03", "CO", date(2026, 11, 3), 22),
        ("PS-02", "CO", date(2026, 11, 3), 22),
    ]
    supply = only(late, "PS-02")
    assert (supply["hurts"], supply["hurts_from"]) == (["TL"], date(2027, 1, 4))
    assert supply["hurts_elements"] == [f"TL-0{n}" for n in range(1, 9)]
    assert supply["hurts_w"] == pytest.approx(192.0)
    assert supply["last_seen"] == "SL-DL (by the kept plan)"
    decoder = only(late, "DC-03")
    assert (decoder["hurts"], decoder["hurts_from"], decoder["hurts_w"]) == ([], None, 0)


def test_the_summary_counts_what_is_late(season: Store) -> None:
    report, ask = REPORTS["return-list"], ReportAsk(TODAY)
    with season.reading() as session:
        summary = report.summary(session, ask, report.rows(session, ask))
    assert (summary["overdue"], summary["hurts"]) == (2, ["TL"])


def test_a_show_that_is_struck_and_not_yet_late_is_told_apart(season: Store) -> None:
    """FR was struck on 2026-11-23 and its gear is due on the 30th."""
    rows = listed(season, "return-list", "fr")
    assert rows
    assert {(row["standing"], row["days_late"], row["due_on"]) for row in rows} == {
        ("after strike", 0, date(2026, 11, 30))
    }
    later = listed(season, "return-list", "FR", as_of=date(2026, 12, 2))
    assert {(row["standing"], row["days_late"]) for row in later} == {("overdue", 2)}


def test_gear_that_two_shows_are_to_have_is_listed_with_the_one_that_has_it(season: Store) -> None:
    """On 2027-01-10 SQ still has PS-06, though the days of TL began on the 4th."""
    rows = listed(season, "return-list", as_of=date(2027, 1, 10), today=date(2027, 1, 10))
    assert only(rows, "PS-06")["production"] == "SQ"
    assert only(rows, "PS-06")["hurts"] == ["TL"]


def test_what_came_back_is_listed_where_all_is_asked(season: Store) -> None:
    assert {row["tag"] for row in listed(season, "return-list", "CO")} == {"PS-02", "DC-03"}
    back = [row for row in listed(season, "return-list", "CO", everything=True) if row["returned_on"]]
    assert len(back) == 11
    assert {row["standing"] for row in back} == {"back"}


def test_the_take_list_names_units_and_what_is_still_to_be_chosen(season: Store) -> None:
    rows = listed(season, "take-list", "TL")
    supply = only(rows, "PS-02")
    assert (supply["item"], supply["bin"], supply["count"], supply["issued_on"]) == ("S320", "B1", 1, None)
    assert supply["used_for"] == [f"TL-0{n}" for n in range(1, 9)]
    assert supply["waits_for"] == "PS-02 is with CO, 22 days overdue (due 2026-11-03)"
    assert only(rows, "PS-52")["waits_for"].startswith("PS-52 is faulty")
    assert only(rows, "PS-11")["waits_for"] == ""
    anys = [(row["item"], row["count"], row["used_for"]) for row in rows if row["tag"] is None]
    assert anys == [("S320", 1, ["TL-25"]), ("D4", 1, ["TL-25"])]


def test_a_box_and_what_stands_in_it_go_out_together(season: Store) -> None:
    rows = listed(season, "take-list", "SQ")
    assert only(rows, "PS-25")["box"] == "EN-2"
    assert (only(rows, "EN-2")["item"], only(rows, "EN-2")["box"]) == ("", None)


def test_lists_follow_what_moves(changing_season: Store) -> None:
    store = changing_season
    hand = Hand("deck", TODAY)
    store.write(lambda s: issue(s, "TL", ["PS-11", "PS-03"], Hand("deck", TODAY, each=True), TODAY), "deck")
    store.write(lambda s: bring_back(s, ["PS-02"], Back(found="no output"), hand, TODAY), "deck")
    store.write(lambda s: set_missing(s, ["DC-03"], "", hand), "deck")

    take = listed(store, "take-list", "TL")
    assert (only(take, "PS-11")["issued_on"], only(take, "PS-11")["issued_by"]) == (TODAY, "deck")
    assert only(take, "PS-02")["waits_for"] == "PS-02 is faulty (no output)"
    back = listed(store, "return-list")
    assert [row["tag"] for row in back if row["days_late"]] == ["DC-03"]
    assert only(back, "DC-03")["state"] == "missing"
    assert only(back, "PS-11")["production"] == "TL"


def test_shows_that_are_over_take_nothing_more_unless_asked(season: Store) -> None:
    assert {row["production"] for row in listed(season, "take-list")} == {"SQ", "TW", "TL"}
    everything = listed(season, "take-list", everything=True)
    assert {row["production"] for row in everything} == {"CO", "FR", "SQ", "TW", "TL"}
    assert len({(row["production"], row["tag"], row["hold"]) for row in everything if row["tag"]}) == len(
        [row for row in everything if row["tag"]]
    )


@pytest.mark.parametrize("name", ["take-list", "return-list"])
def test_a_show_that_is_not_there_is_named(season: Store, name: str) -> None:
    with pytest.raises(NotFound, match="no production has the code 'NONE'"):
        listed(season, name, "NONE")
