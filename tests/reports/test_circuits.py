"""Wall circuits: amps, what starts together, who shares them. 38.4 W × 1.02 / (0.90 × 120 V × 0.98)."""

from datetime import date
from typing import Any

import pytest

from service.reports import REPORTS, ReportAsk
from service.reports.circuits import Row
from service.season.records import OtherLoad
from service.stock.records import Outlet
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage

EACH_A = 38.4 * 1.02 / (0.90 * 120.0 * 0.98)


def circuits(store: Store, **ask: Any) -> list[Row]:
    with store.reading() as session:
        rows = REPORTS["circuits"].rows(session, ReportAsk(TODAY, **ask))
    return [row for row in rows if isinstance(row, Row)]


@pytest.fixture
def house(store: Store) -> Stage:
    """WIN has PS-1 on C1 beside a fog machine, and PS-2 on C2."""
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=3)
        model = stage.supply_model
        model.efficiency, model.power_factor, model.inrush_a = 0.90, 0.98, 60.0
        stage.outlet.breaker_a, stage.outlet.volts_v = 20.0, 120.0
        second = build.an_outlet(session, tag="C2", venue_id=stage.venue.id, breaker_a=15.0, volts_v=120.0)
        session.add(OtherLoad(outlet_id=stage.outlet.id, load_w=600.0, what="fog machine"))
        plan = build.a_plan(session, stage.show)
        for supply, outlet in zip(stage.supplies, (stage.outlet, second), strict=False):
            element = stage.element(session, supply.tag.replace("PS", "WIN"))
            build.an_allotment(session, plan, element.runs[0], supply)
            build.a_placing(session, plan, supply, outlet_id=outlet.id)
        return stage


@pytest.mark.usefixtures("house")
def test_each_circuit_has_its_amps_and_the_venue_their_sum(store: Store) -> None:
    first, second = circuits(store)

    assert (first.outlet, first.supplies, first.other_w, first.limit_a) == ("C1", ["PS-1"], 600.0, 16.0)
    assert first.supplies_a == pytest.approx(EACH_A, abs=1e-6)
    assert first.load_a == pytest.approx(EACH_A + 5.0, abs=1e-6)
    assert (first.started, first.at_once, first.inrush_a, first.shared_with) == (1, 4, 60.0, [])
    assert (second.outlet, second.limit_a, second.at_once, second.verdict) == ("C2", 12.0, 3, "ok")
    assert first.venue_a == second.venue_a == pytest.approx(2 * EACH_A + 5.0, abs=1e-6)


def test_a_show_on_the_same_days_is_named_with_the_day(store: Store, house: Stage) -> None:
    with store.writing("tests") as session:
        show = build.a_production(session, house.venue, tag="OLD", load_in=date(2026, 12, 1))
        plan = build.a_plan(session, show)
        unit = build.a_scenic_unit(session, show, name="Arch", place_id=build.a_place(session, tag="A").id)
        element = build.an_element(session, show, tag="OLD-1", tape=house.tape, scenic_unit_id=unit.id)
        build.an_allotment(session, plan, element.runs[0], house.supplies[2])
        build.a_placing(session, plan, house.supplies[2], outlet_id=house.outlet.id)

    [row] = [row for row in circuits(store, production="WIN") if row.outlet == "C1"]
    assert (row.shared_with, row.shared_on, row.started) == (["OLD"], date(2026, 12, 1), 2)
    assert row.supplies_a == pytest.approx(2 * EACH_A, abs=1e-6)
    assert {row.production for row in circuits(store)} == {"WIN", "OLD"}


def test_the_worst_that_is_said_of_a_circuit_is_its_verdict(store: Store, house: Stage) -> None:
    with store.writing("tests") as session:
        session.get_one(Outlet, house.outlet.id).breaker_a = 6.0

    first, second = circuits(store)
    assert (first.verdict, second.verdict) == ("over", "ok")
    assert "C1 carries 5.37 A" in first.message
    with store.writing("tests") as session:
        session.get_one(Outlet, house.outlet.id).volts_v = None
    blank = circuits(store)[0]
    assert (blank.verdict, blank.load_a, blank.venue_a, blank.load_pct) == ("unknown", None, None, None)
