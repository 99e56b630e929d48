"""Volts along the runs of an element as they stand in the store."""

from xml.etree import ElementTree

import pytest

from service.errors import NotFound
from service.planning.volts import RunVoltsOut, picture_of, volts_of
from service.stock.gear import SupplyModel
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage


@pytest.fixture
def stage(store: Store) -> Stage:
    """A window of two runs: 2 m on 12 m of 18 AWG, and 2 m whose lead nobody measured."""
    with store.writing("tests") as session:
        stage = a_stage(session)
        element = stage.element(session, "WIN-01", runs=((40,), (40,)))
        for run, lead_um in zip(element.runs, (12_000_000, None), strict=True):
            run.lead_gauge, run.lead_um = "18 AWG", lead_um
        plan = build.a_plan(session, stage.show)
        for run in element.runs:
            build.an_allotment(session, plan, run, stage.supplies[0], decoder=stage.decoders[0])
        return stage


def volts(store: Store) -> list[RunVoltsOut]:
    with store.reading() as session:
        return volts_of(session, "win-01", TODAY)


def test_the_worst_load_gets_what_is_worked_out_by_hand(store: Store, stage: Stage) -> None:
    """4.8 W/m a colour: lead (I + I/4) x 20.95 mΩ/m x 12 m; tape (I r + I/4 r') l / 2 (Ohm's law)."""
    run = volts(store)[0]
    tape, metres = stage.tape, run.length_m
    common_a = 4 * 4.8 * metres / 24.0
    own_a = common_a / 4.0
    lead_v = (common_a + own_a) * 0.020948 * 12.0
    returns = [e.return_ohm_per_m or 0.0 for e in tape.emitters]
    tape_v = (common_a * (tape.common_ohm_per_m or 0.0) + own_a * max(returns)) * metres / 2.0
    assert run.supply_v == 24.0
    assert run.least_v == pytest.approx(24.0 - lead_v - tape_v, abs=1e-3)
    assert run.lost_pct == pytest.approx(100.0 * (lead_v + tape_v) / 24.0, abs=5e-3)
    assert run.least_resistor_v is not None
    assert run.least_v is not None
    assert run.least_v < run.least_resistor_v
    assert run.lead_a == pytest.approx(common_a, abs=1e-4)


@pytest.mark.usefixtures("stage")
def test_a_figure_that_is_missing_is_named_and_nothing_is_made_up(store: Store) -> None:
    second = volts(store)[1]
    assert second.unknown == "how long its lead is"
    assert second.least_v is None


@pytest.mark.usefixtures("stage")
def test_the_drawing_is_of_the_run_that_was_asked_for(store: Store) -> None:
    with store.reading() as session:
        drawn = picture_of(session, "WIN-01", 1, TODAY)
        assert "WIN-01/1" in (
            ElementTree.fromstring(drawn).findtext("{http://www.w3.org/2000/svg}title") or ""
        )
        with pytest.raises(NotFound, match="WIN-01 has no run 3"):
            picture_of(session, "WIN-01", 3, TODAY)
        with pytest.raises(NotFound, match="cannot be worked out") as refused:
            picture_of(session, "WIN-01", 2, TODAY)
        assert refused.value.mend == "Enter how long its lead is."
        with pytest.raises(NotFound, match="no element WIN-99"):
            volts_of(session, "WIN-99", TODAY)


def test_tape_on_a_supply_of_another_class_is_told_and_not_worked_out(store: Store, stage: Stage) -> None:
    with store.writing("tests") as session:
        model = session.get_one(SupplyModel, stage.supply_model.id)
        model.class_v = model.output_v = 12.0
    first = volts(store)[0]
    assert first.unknown == "24 V tape on PS-1, a 12 V supply"
    assert (first.supply_v, first.least_v, first.lost_pct, first.least_light_pct) == (None,) * 4
    with store.reading() as session, pytest.raises(NotFound, match="24 V tape on PS-1") as refused:
        picture_of(session, "WIN-01", 1, TODAY)
    assert refused.value.mend == "Feed it from a 24 V supply."


def test_a_run_without_a_feed_says_which_volts_were_taken(store: Store, stage: Stage) -> None:
    assert volts(store)[0].assumed == ""
    with store.writing("tests") as session:
        element = stage.element(session, "WIN-02")
        element.runs[0].lead_gauge, element.runs[0].lead_um = "18 AWG", 12_000_000
    with store.reading() as session:
        (run,) = volts_of(session, "WIN-02", TODAY)
    assert run.supply_v == 24.0
    assert run.assumed == "no feed yet: a supply of 24 V was taken"
