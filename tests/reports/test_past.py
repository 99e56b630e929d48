"""What happened to an element and to a unit, on the demonstration season."""

from datetime import date

from service.kinds.sheets.gear import BATTERIES, DECODERS
from service.kinds.sheets.shows import ELEMENTS
from service.planning.swapping.acting.doing import swap
from service.planning.swapping.acting.undoing import undo
from service.planning.swapping.schemas import SwapAsk
from service.reports.past import Happening, past_of_element, past_of_unit
from service.store.work import Store
from tests.acceptance.conftest import changing_season, season

__all__ = ["changing_season", "season"]
TODAY = date(2026, 11, 25)
BEFORE, AFTER = "BT-11 · 1, DC-44 · 1", "BT-03 · 1, DC-44 · 1"


def of_element(store: Store, tag: str) -> list[Happening]:
    with store.reading() as session:
        return past_of_element(session, ELEMENTS, tag)


def kinds(found: list[Happening], *wanted: str) -> list[str]:
    return [one.kind for one in found if one.kind in wanted]


def test_a_plan_is_told_with_what_fed_it_then_whatever_was_swapped_since(changing_season: Store) -> None:
    ask = SwapAsk(swap_for="BT-03", found="swollen")
    changing_season.write(lambda session: swap(session, "BT-11", ask, TODAY, "deck"), "deck")

    found = of_element(changing_season, "SQ-23")
    told = [one for one in found if one.kind in ("kept", "swapped", "moved")]
    assert [one.kind for one in told] == ["swapped", "kept"]
    assert (told[0].what["before"], told[0].what["after"]) == (BEFORE, AFTER)
    assert (told[0].swap, told[0].by) == ("S-001", "deck")
    assert told[1].what["feed"] == BEFORE


def test_what_was_taken_back_is_told_twice_the_newest_first(changing_season: Store) -> None:
    ask = SwapAsk(swap_for="BT-03", found="swollen")
    changing_season.write(lambda session: swap(session, "BT-11", ask, TODAY, "deck"), "deck")
    changing_season.write(lambda session: undo(session, "S-001", "desk"), "desk")

    told = [one for one in of_element(changing_season, "SQ-23") if one.swap]
    assert [(one.kind, one.by) for one in told] == [("swapped-back", "desk"), ("swapped", "deck")]
    assert told[0].what["after"] == BEFORE


def test_an_element_that_no_swap_touched_says_nothing_of_it(changing_season: Store) -> None:
    ask = SwapAsk(swap_for="BT-03", found="swollen")
    changing_season.write(lambda session: swap(session, "BT-11", ask, TODAY, "deck"), "deck")
    assert kinds(of_element(changing_season, "SQ-09"), "swapped", "kept", "moved") == ["kept"]


def test_a_unit_is_told_its_faults_swaps_and_where_it_went(changing_season: Store) -> None:
    ask = SwapAsk(swap_for="BT-03", found="swollen")
    changing_season.write(lambda session: swap(session, "BT-11", ask, TODAY, "deck"), "deck")
    with changing_season.reading() as session:
        old, new = (past_of_unit(session, BATTERIES, tag) for tag in ("BT-11", "BT-03"))
    assert {"fault", "swapped", "returned"} <= {one.kind for one in old}
    assert next(one for one in old if one.kind == "fault").what["what"] == "swollen"
    assert {"swapped", "issued"} <= {one.kind for one in new}
    assert "fault" not in {one.kind for one in new}


def test_a_unit_that_was_never_used_has_only_its_own_steps(season: Store) -> None:
    with season.reading() as session:
        assert {one.kind for one in past_of_unit(session, DECODERS, "DC-07")} <= {"step", "issued"}
