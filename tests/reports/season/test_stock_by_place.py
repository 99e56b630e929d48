"""What lies where, over the demonstration season: its sheets say which bin each thing lives in."""

import seed_demo
from service.reports.report import ReportAsk
from service.reports.season import stock_by_place
from service.store.work import Store


def told(store: Store, production: str | None = None) -> dict[tuple[str, str], stock_by_place.Row]:
    with store.reading() as session:
        rows = stock_by_place.rows(session, ReportAsk(seed_demo.AS_OF, production))
    return {(row.place, row.item): row for row in rows}


def test_a_bin_says_what_is_in_it_and_who_has_the_rest(season: Store) -> None:
    found = told(season)
    # B4 is the bin of the eight S96, all of them at home; B1 that of the six S320, all of them out.
    assert (found["B4", "S96"].here, found["B4", "S96"].out) == (8, 0)
    assert (found["B1", "S320"].here, found["B1", "S320"].out) == (0, 6)
    assert found["B1", "S320"].out_with == ["CO", "FR", "SQ"]


def test_what_is_faulty_is_there_but_not_sound(season: Store) -> None:
    row = next(r for r in told(season).values() if "PS-52" in r.tags)
    assert (row.here, row.sound) == (1, 0)


def test_tape_is_told_in_metres_and_adds_up_to_the_shelf(season: Store) -> None:
    # 31.5 m of the four-colour tape, as the reels of the season add up to.
    metres = sum(row.here for (_, item), row in told(season).items() if item == "RGBW24")
    assert metres == 31.5


def test_of_one_show_only_the_bins_its_gear_came_from_are_told(season: Store) -> None:
    assert {place for place, _ in told(season, "co")} == {"B1", "C1"}
