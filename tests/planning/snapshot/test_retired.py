"""Gear out of use that a plan still names: told as it is, never planned with, and never a fault."""

import pytest
from sqlalchemy import select

from service.kinds.retiring import retire_unit
from service.planning.actions import find_plan
from service.planning.records import Placing
from service.reports import REPORTS, ReportAsk
from service.season.records import Production, ProductionStatus
from service.stock.gear import Unit
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage, kept


def retire(store: Store, *tags: str) -> None:
    with store.writing("tests") as session:
        for unit in session.scalars(select(Unit).where(Unit.tag.in_(tags))):
            retire_unit(session, unit, TODAY)
            unit.retired_on = TODAY


@pytest.fixture
def stage(store: Store) -> Stage:
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=3, decoders=3)
        element = stage.element(session, "WIN-01")
        plan = build.a_plan(session, stage.show)
        build.an_allotment(session, plan, element.runs[0], stage.supplies[0], decoder=stage.decoders[0])
        for unit in (stage.supplies[0], stage.supplies[1], stage.decoders[0], stage.decoders[1]):
            build.a_placing(session, plan, unit, outlet_id=stage.outlet.id)
        build.a_patch(session, plan, stage.decoders[1], start=9)
        return stage


def reported(store: Store, name: str) -> list[dict[str, object]]:
    with store.reading() as session:
        rows = REPORTS[name].rows(session, ReportAsk(TODAY, "WIN", everything=True))
        return [row.model_dump() for row in rows]


@pytest.mark.parametrize("name", sorted(REPORTS))
def test_a_show_that_is_over_is_reported_when_its_gear_is_gone(store: Store, stage: Stage, name: str) -> None:
    with store.writing("tests") as session:
        session.get_one(Production, stage.show.id).status = ProductionStatus.RETURNED
    retire(store, "PS-1", "DC-1")
    rows = reported(store, name)
    if name == "loads":
        assert "PS-1" in [row["supply"] for row in rows]


@pytest.mark.usefixtures("stage")
def test_gear_that_only_stands_on_a_plan_may_go_and_the_next_plan_is_without_it(store: Store) -> None:
    retire(store, "PS-2", "DC-2")
    assert "DC-2" in [row["decoder"] for row in reported(store, "addresses")]

    number = kept(store)

    with store.reading() as session:
        plan = find_plan(session, "WIN", number)
        placed = select(Unit.tag).join(Placing, Placing.unit_id == Unit.id).where(Placing.plan_id == plan.id)
        assert sorted(session.scalars(placed)) == ["DC-1", "PS-1"]
    assert "DC-2" not in [row["decoder"] for row in reported(store, "addresses")]
