"""What is owned, sound, out, wanted and free on one day: pieces by model, metres by tape."""

from datetime import date
from typing import Any

import pytest

from service.reports import REPORTS, ReportAsk
from service.reports.stock_use import Row
from service.season.records import Production
from service.shows.records import PieceCut
from service.stock.gear import UnitState
from service.stock.records import ReelState
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage

COLUMNS = [
    "kind", "item", "unit", "owned", "usable", "out", "wanted", "free", "short", "season_short",
    "season_short_on", "least_on", "clears_on", "incoming", "longest_m", "wanted_by",
]  # fmt: skip


def used(store: Store, item: str, day: date = TODAY) -> dict[str, Any]:
    with store.reading() as session:
        rows = REPORTS["stock-use"].rows(session, ReportAsk(day))
    [row] = [row for row in rows if isinstance(row, Row) and row.item == item]
    return row.model_dump()


def figures(row: dict[str, Any]) -> tuple[float, ...]:
    return tuple(row[name] for name in ("owned", "usable", "out", "wanted", "free", "short"))


@pytest.fixture
def stage(store: Store) -> Stage:
    """Six S320, two of them faulty or missing; three D4; WIN runs on the day."""
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=6, decoders=3)
        stage.supplies[4].state, stage.supplies[5].state = UnitState.FAULTY, UnitState.MISSING
        return stage


def hold(store: Store, show: Production, **what: Any) -> None:
    with store.writing("tests") as session:
        build.a_hold(session, show, **what)


@pytest.mark.usefixtures("stage")
def test_what_is_not_sound_is_owned_and_not_usable(store: Store) -> None:
    row = used(store, "S320")

    assert (row["kind"], row["unit"]) == ("supply", "piece")
    assert figures(row) == (6, 4, 0, 0, 4, 0)


def test_what_is_held_by_model_is_wanted_and_taken_off(store: Store, stage: Stage) -> None:
    hold(store, stage.show, model_id=stage.supply_model.id, quantity=3)

    row = used(store, "S320")
    assert (figures(row), row["wanted_by"]) == ((6, 4, 0, 3, 1, 0), ["WIN"])


def test_more_than_there_is_reads_short(store: Store, stage: Stage) -> None:
    hold(store, stage.show, model_id=stage.supply_model.id, quantity=5)

    assert figures(used(store, "S320")) == (6, 4, 0, 5, 0, 1)


def test_per_show_the_larger_of_held_and_allotted_is_wanted(store: Store, stage: Stage) -> None:
    """WIN holds two by model and uses two: it wants two. ICE holds one and uses two: it wants two."""
    with store.writing("tests") as session:
        ice = build.a_production(session, stage.venue, tag="ICE")
        for show, held, units in ((stage.show, 2, (0, 1)), (ice, 1, (2, 3))):
            build.a_hold(session, show, model_id=stage.supply_model.id, quantity=held)
            plan = build.a_plan(session, show)
            for n in units:
                element = build.an_element(session, show, tape=stage.tape)
                build.an_allotment(session, plan, element.runs[0], stage.supplies[n])

    row = used(store, "S320")
    assert (figures(row), row["wanted_by"]) == ((6, 4, 4, 4, 0, 0), ["ICE", "WIN"])


def test_what_is_overdue_is_out_and_not_usable(store: Store, stage: Stage) -> None:
    hold(
        store, stage.show, unit_id=stage.supplies[0].id, quantity=1,
        from_on=date(2026, 9, 1), until_on=date(2026, 11, 20),
    )  # fmt: skip

    assert figures(used(store, "S320")) == (6, 3, 1, 0, 3, 0)


@pytest.mark.parametrize(
    ("day", "wanted"),
    [(date(2026, 8, 31), 0), (date(2026, 9, 1), 2), (date(2026, 12, 18), 2), (date(2026, 12, 19), 0)],
    ids=["day before", "first day", "last day", "day after"],
)
def test_a_hold_counts_on_its_days_and_on_no_other(
    store: Store, stage: Stage, day: date, wanted: int
) -> None:
    hold(store, stage.show, model_id=stage.supply_model.id, quantity=2)

    assert used(store, "S320", day)["wanted"] == wanted


def test_what_came_back_today_is_out_no_more(store: Store, stage: Stage) -> None:
    hold(store, stage.show, unit_id=stage.supplies[0].id, quantity=1, returned_on=TODAY)

    assert figures(used(store, "S320", date(2026, 11, 24)))[2:5] == (1, 1, 3)
    assert figures(used(store, "S320"))[2:5] == (0, 0, 4)


def test_what_is_ordered_is_incoming_until_it_is_received(store: Store, stage: Stage) -> None:
    with store.writing("tests") as session:
        build.an_order_line(session, model_id=stage.supply_model.id, quantity=4)
        build.an_order_line(session, model_id=stage.supply_model.id, quantity=9, received_on=TODAY)

    assert used(store, "S320")["incoming"] == 4


def test_tape_is_counted_in_metres_with_the_longest_length(store: Store, stage: Stage) -> None:
    """Reels of 100 and 30 pitches of 50 mm, one of 60 scrapped: 6.5 m, the longest 5 m."""
    with store.writing("tests") as session:
        build.a_reel(session, stage.tape)
        build.a_reel(session, stage.tape, 30, state=ReelState.OFFCUT)
        build.a_reel(session, stage.tape, 60, state=ReelState.SCRAP)

    row = used(store, "T-RGBW")
    assert (row["kind"], row["unit"], row["owned"], row["longest_m"]) == ("tape", "m", 6.5, 5.0)


def test_tape_that_is_drawn_and_not_cut_is_wanted(store: Store, stage: Stage) -> None:
    """Two windows of 2 m, one of them cut already."""
    with store.writing("tests") as session:
        reel = build.a_reel(session, stage.tape)
        first, _ = (stage.element(session, f"SQ-{n}") for n in (1, 2))
        cut = build.a_cut(session, reel, 40)
        session.add(PieceCut(piece_id=first.runs[0].pieces[0].id, cut_id=cut.id))

    row = used(store, "T-RGBW")
    assert (figures(row), row["wanted_by"]) == ((3.0, 3.0, 0, 2.0, 1.0, 0), ["WIN"])


def test_tape_that_is_wanted_on_later_days_counts_today_and_the_report_says_so(
    store: Store, stage: Stage
) -> None:
    """2 m and a supply, both held from January on."""
    later = {"from_on": date(2027, 1, 4), "until_on": date(2027, 3, 1)}
    hold(store, stage.show, tape_id=stage.tape.id, pitches=40, **later)
    hold(store, stage.show, model_id=stage.supply_model.id, quantity=1, **later)

    assert (used(store, "T-RGBW")["wanted"], used(store, "S320")["wanted"]) == (2.0, 0)
    report = REPORTS["stock-use"]
    said = [report.row.model_fields[name].description or "" for name in ("wanted", "free", "short")]
    assert [text.count("later days too") for text in (*said, *report.cautions)] == [1, 1, 1, 1]


@pytest.mark.parametrize(
    ("held", "wanted"), [(30, 2.0), (60, 3.0)], ids=["less than drawn", "more than drawn"]
)
def test_a_hold_of_tape_is_not_a_second_need(store: Store, stage: Stage, held: int, wanted: float) -> None:
    """2 m are drawn; 1.5 m or 3 m are held: the larger counts."""
    with store.writing("tests") as session:
        build.a_reel(session, stage.tape)
        stage.element(session, "SQ-1")
        build.a_hold(session, stage.show, tape_id=stage.tape.id, pitches=held)

    assert used(store, "T-RGBW")["wanted"] == wanted


def test_of_one_show_only_what_it_has_a_part_in_is_told(store: Store, stage: Stage) -> None:
    hold(store, stage.show, model_id=stage.supply_model.id, quantity=2)

    with store.reading() as session:
        rows = REPORTS["stock-use"].rows(session, ReportAsk(TODAY, "win"))
    assert [row.model_dump()["item"] for row in rows] == ["S320"]


def test_of_a_span_the_worst_day_is_told_with_the_day_on_which_it_clears(store: Store, stage: Stage) -> None:
    """Four are usable; five are wanted from the first to the ninth of December."""
    days = {"from_on": date(2026, 12, 1), "until_on": date(2026, 12, 10)}
    hold(store, stage.show, model_id=stage.supply_model.id, quantity=5, **days)

    with store.reading() as session:
        rows = REPORTS["stock-use"].rows(session, ReportAsk(TODAY, to_on=date(2026, 12, 31)))
    [row] = [row.model_dump() for row in rows if row.model_dump()["item"] == "S320"]
    assert figures(row) == (6, 4, 0, 5, 0, 1)
    assert (row["least_on"], row["clears_on"]) == (date(2026, 12, 1), date(2026, 12, 10))


def test_the_columns_are_stable() -> None:
    assert list(Row.model_fields) == COLUMNS
