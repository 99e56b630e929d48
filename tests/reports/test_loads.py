"""The load table: what hangs on every output, beside what it may carry. Figures are worked in the test."""

from collections.abc import Sequence
from typing import Any

import pytest
from sqlalchemy import select

from service.reports import REPORTS, ReportAsk
from service.reports.loads import Row
from service.shows.records import Element, Run
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, a_stage

COLUMNS = [
    "production", "supply", "model", "kind", "place", "outlet", "output", "elements", "output_w", "supply_w",
    "limit_w", "supply_pct", "load_a", "limit_a", "output_pct", "verdict", "binds", "message",
    "load_basis",
]  # fmt: skip


def loads(store: Store, **ask: Any) -> Sequence[Row]:
    with store.reading() as session:
        rows = REPORTS["loads"].rows(session, ReportAsk(TODAY, **ask))
    return [row for row in rows if isinstance(row, Row)]


@pytest.fixture
def house(store: Store) -> Store:
    """PS-9 has two outputs of 10 A and 480 W: SQ-1 and SQ-2 on the first, SQ-3 on the second."""
    with store.writing("tests") as session:
        stage = a_stage(session)
        model = build.a_supply_model(session, tag="S480", rated_w=480.0, caps_a=(10.0, 10.0))
        supply = build.a_supply(session, model, tag="PS-9")
        plan = build.a_plan(session, stage.show)
        for n, (pitches, output) in enumerate(((100, 1), (100, 1), (40, 2)), start=1):
            element = stage.element(session, f"SQ-{n}", runs=((pitches,),))
            build.an_allotment(session, plan, element.runs[0], supply, output=output)
        build.a_placing(session, plan, supply, place_id=stage.deck.id, outlet_id=stage.outlet.id)
    return store


def test_each_output_has_a_row_with_its_own_and_the_whole_supply_s_figures(house: Store) -> None:
    """Output 1: 2 × 96 W = 192 W, 8 A of 10 × 0.80; all: 230.4 W of 480 × 0.80 = 384 W."""
    first, second = loads(house)

    assert (first.supply, first.output, first.elements) == ("PS-9", 1, ["SQ-1", "SQ-2"])
    assert (first.output_w, first.load_a, first.limit_a, first.output_pct) == (192.0, 8.0, 8.0, 100.0)
    assert (second.output_w, second.load_a, second.limit_a, second.output_pct) == (38.4, 1.6, 8.0, 20.0)
    assert {(r.supply_w, r.limit_w, r.supply_pct) for r in (first, second)} == {(230.4, 384.0, 60.0)}
    assert (first.place, first.outlet, first.model, first.kind) == ("DECK", "C1", "S480", "supply")


def test_an_output_at_exactly_its_limit_is_ok(house: Store) -> None:
    assert [row.verdict for row in loads(house)] == ["ok", "ok"]


def test_an_output_past_its_limit_is_over(house: Store) -> None:
    """One pitch more on output 1: 192.96 W, 8.04 A of 8."""
    with house.writing("tests") as session:
        run = session.scalars(select(Run).join(Element).where(Element.tag == "SQ-1")).one()
        run.pieces[0].cut_pitches = 101

    first, second = loads(house)
    assert (first.verdict, first.load_a, second.verdict) == ("over", 8.04, "ok")


def test_a_limit_that_is_not_known_reads_unknown_and_is_blank(store: Store) -> None:
    with store.writing("tests") as session:
        stage = a_stage(session)
        model = build.a_supply_model(session, tag="S?", rated_w=None, caps_a=(None,))
        element = stage.element(session, "SQ-1")
        build.an_allotment(
            session, build.a_plan(session, stage.show), element.runs[0], build.a_supply(session, model)
        )

    [row] = loads(store)
    assert (row.verdict, row.limit_w, row.limit_a, row.supply_pct) == ("unknown", None, None, None)


def test_a_battery_is_held_to_its_peak_amps_and_to_its_minutes(store: Store) -> None:
    """0.8 A of 10 A; 12 V class, so 120 W. How long it must last, nobody said."""
    with store.writing("tests") as session:
        stage = a_stage(session)
        warm = build.a_tape(session, (("W", 9.6),), nominal_v=12.0, class_v=12.0)
        element = stage.element(session, "SQ-1", tape=warm, runs=((20,),))
        pack = build.a_battery(session, tag="BT-1")
        build.an_allotment(session, build.a_plan(session, stage.show), element.runs[0], pack)

    [row] = loads(store)
    assert (row.kind, row.load_a, row.limit_a, row.limit_w) == ("battery", 0.8, 10.0, 120.0)
    assert (row.verdict, row.binds) == ("unknown", "battery-time")


def test_a_show_that_is_over_is_left_out_unless_it_is_asked_for(store: Store) -> None:
    with store.writing("tests") as session:
        stage = a_stage(session)
        stage.show.closing = stage.show.strike_end = stage.show.return_by = TODAY.replace(day=1)
        element = stage.element(session, "SQ-1")
        build.an_allotment(session, build.a_plan(session, stage.show), element.runs[0], stage.supplies[0])

    assert loads(store) == []
    assert len(loads(store, production="win")) == 1
    assert len(loads(store, everything=True)) == 1


def test_the_columns_are_stable_and_the_units_are_in_their_names() -> None:
    assert list(Row.model_fields) == COLUMNS
