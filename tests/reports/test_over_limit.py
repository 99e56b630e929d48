"""What is over, by how much, what happens and what mends it: worst first, each once."""

from collections.abc import Sequence
from datetime import date
from typing import Any

import pytest

from service.reports import REPORTS, ReportAsk
from service.reports.over_limit import Row
from service.shows.fittings import Fuse
from service.stock.fittings import Connector
from service.stock.gear import UnitState
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage

COLUMNS = [
    "production", "verdict", "harm", "code", "subject_kind", "subject", "tag", "value", "limit", "unit",
    "margin", "pct", "message", "mend", "mend_value", "mend_limit", "source", "caution", "elements",
    "is_history", "load_basis",
]  # fmt: skip


def reported(store: Store, **ask: Any) -> tuple[Sequence[Row], dict[str, object]]:
    report = REPORTS["over-limit"]
    with store.reading() as session:
        asked = ReportAsk(TODAY, **ask)
        rows = report.rows(session, asked)
        return [row for row in rows if isinstance(row, Row)], report.summary(session, asked, rows)


@pytest.fixture
def house(store: Store) -> Stage:
    """SQ-1 (192 W) and SQ-2 (96 W) on PS-1, which may give 256 W; PS-2 is free."""
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=2, decoders=2)
        plan = build.a_plan(session, stage.show)
        connector = Connector(tag="X4", a_per_pin=10.0)
        session.add(connector)
        session.flush()
        for n, pitches in ((1, 200), (2, 100)):
            element = stage.element(session, f"SQ-{n}", runs=((pitches,),), mount="aluminium")
            element.runs[0].lead_connector_id = connector.id
            session.add(Fuse(rating_a=7.5, run_id=element.runs[0].id))
            decoder = stage.decoders[n - 1]
            build.an_allotment(session, plan, element.runs[0], stage.supplies[0], decoder=decoder)
            build.a_patch(session, plan, decoder, start=4 * n - 3)
            build.a_placing(session, plan, decoder, place_id=stage.deck.id)
        build.a_placing(session, plan, stage.supplies[0], place_id=stage.deck.id, outlet_id=stage.outlet.id)
        return stage


def test_what_its_show_gave_back_today_is_promised_to_it_no_more(store: Store, house: Stage) -> None:
    with store.writing("tests") as session:
        session.merge(house.supplies[1]).state = UnitState.FAULTY
        hold = build.a_hold(session, house.show, unit_id=house.supplies[1].id, quantity=1)
    assert [r.tag for r in reported(store)[0] if r.code == "unit-state"] == ["PS-2"]
    with store.writing("tests") as session:
        session.merge(hold).returned_on = TODAY
    assert [r.tag for r in reported(store)[0] if r.code == "unit-state"] == []


def test_what_is_over_says_by_how_much_and_what_mends_it(store: Store, house: Stage) -> None:
    """288 W of 320 × 0.80; moving SQ-2 leaves 192 W."""
    rows, _ = reported(store)
    [row] = [r for r in rows if r.code == "supply-watts"]

    assert house.show.tag == row.production
    assert (row.verdict, row.harm, row.tag, row.elements) == ("over", "goes dark", "PS-1", ["SQ-1", "SQ-2"])
    assert (row.value, row.limit, row.unit, row.margin, row.pct) == (288.0, 256.0, "W", -32.0, 112.5)
    assert (row.mend_value, row.mend_limit) == (192.0, 256.0)
    assert "PS-2 (free)" in row.mend
    assert row.source.startswith("common practice")
    assert "Local code" in row.caution


@pytest.mark.usefixtures("house")
def test_what_is_in_order_is_shown_only_when_everything_is_asked_for(store: Store) -> None:
    some, counts = reported(store)
    everything, all_counts = reported(store, everything=True)

    assert {row.verdict for row in some} <= {"over", "watch", "unknown"}
    assert "ok" not in counts
    assert all_counts["ok"] == len([row for row in everything if row.verdict == "ok"])
    assert len(everything) > len(some)


@pytest.mark.usefixtures("house")
def test_the_worst_comes_first(store: Store) -> None:
    rows, _ = reported(store, everything=True)
    order = ["over", "watch", "unknown", "ok"]
    places = [order.index(row.verdict) for row in rows]

    assert places == sorted(places)


@pytest.mark.usefixtures("house")
def test_the_summary_counts_verdicts_and_says_how_much_could_be_checked(store: Store) -> None:
    rows, counts = reported(store)

    for verdict in ("over", "watch", "unknown"):
        assert counts[verdict] == len([row for row in rows if row.verdict == verdict])
    assert [row.message for row in rows if row.verdict == "unknown"] == []
    assert (counts["elements"], counts["elements_fully_checked"]) == (2, 2)


@pytest.mark.usefixtures("house")
def test_a_unit_of_a_kept_plan_without_a_hold_is_due_back_with_the_show(store: Store) -> None:
    rows, _ = reported(store, everything=True)

    due = {row.tag: row.message for row in rows if row.code == "overdue"}
    assert due["PS-1"] == "PS-1 is due back 2026-12-18"


def test_an_element_with_a_blank_is_not_counted_as_checked(store: Store, house: Stage) -> None:
    with store.writing("tests") as session:
        session.merge(house.decoder_model).channel_a = None

    _, counts = reported(store)
    assert (counts["elements"], counts["elements_fully_checked"]) == (2, 0)


def test_a_unit_that_is_overdue_is_told_once_though_two_shows_see_it(store: Store, house: Stage) -> None:
    with store.writing("tests") as session:
        late = build.a_production(session, house.venue, tag="OLD")
        for show, first, until in (
            (late, date(2026, 9, 1), date(2026, 11, 21)),
            (house.show, date(2026, 12, 1), date(2026, 12, 19)),
        ):
            build.a_hold(
                session, show, unit_id=house.supplies[1].id, quantity=1, from_on=first, until_on=until
            )

    rows, _ = reported(store)
    [row] = [r for r in rows if r.code == "overdue"]
    # Due back on the 20th, looked at on the 25th.
    assert (row.tag, row.value, row.unit) == ("PS-2", 5.0, "d")
    assert "from OLD" in row.message
    assert "WIN from 2026-12-01" in row.message


def test_one_show_may_be_asked_for_alone(store: Store, house: Stage) -> None:
    with store.writing("tests") as session:
        second = build.a_production(session, house.venue, tag="ICE")
        build.an_element(session, second, tag="IC-1", tape=house.tape)

    assert {row.production for row in reported(store, everything=True)[0]} == {"WIN", "ICE"}
    assert {row.production for row in reported(store, production="ice", everything=True)[0]} == {"ICE"}


def test_history_is_kept_apart(store: Store, house: Stage) -> None:
    """A show that is over burns nothing tonight, but the record stands."""
    with store.writing("tests") as session:
        show = session.merge(house.show)
        show.closing = show.strike_end = show.return_by = TODAY.replace(day=1)

    assert [row for row in reported(store)[0] if row.code == "supply-watts"] == []
    [row] = [r for r in reported(store, everything=True)[0] if r.code == "supply-watts"]
    assert row.is_history is True


def test_the_columns_are_stable_and_the_units_stand_beside_the_figures() -> None:
    assert list(Row.model_fields) == COLUMNS
