"""Wall circuits that productions share, while both stand. 2 m of 19.2 W/m is 38.4 W."""

from datetime import date

import pytest

from service.limits.facts import OutletFacts
from service.limits.findings import Verdict
from service.limits.registry import findings
from service.planning.actions import find_plan
from service.planning.snapshot.availability import read_claims
from service.planning.snapshot.circuits import plugs_of
from service.planning.snapshot.season import plan_facts, season_facts, season_rows
from service.season.records import OtherLoad
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage, worked_out


def on_c1(store: Store) -> OutletFacts:
    """The circuit as WIN sees it."""
    with store.reading() as session:
        [outlet] = next(s for s in season_facts(session, TODAY, "WIN")).outlets
        return outlet


@pytest.fixture
def house(store: Store) -> Stage:
    """WIN has PS-1 on C1; PS-2 is for another show."""
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=2)
        plan = build.a_plan(session, stage.show)
        element = stage.element(session, "WIN-1")
        build.an_allotment(session, plan, element.runs[0], stage.supplies[0])
        build.a_placing(session, plan, stage.supplies[0], outlet_id=stage.outlet.id)
        return stage


def another(store: Store, house: Stage, load_in: date, strike_end: date, **more: object) -> None:
    """A show with PS-2 on C1 that stands on these days."""
    with store.writing("tests") as session:
        show = build.a_production(
            session,
            house.venue,
            tag="OLD",
            build_start=load_in,
            load_in=load_in,
            opening=None,
            first_preview=None,
            tech=None,
            closing=strike_end,
            strike_end=strike_end,
            return_by=strike_end,
            **more,
        )
        plan = build.a_plan(session, show)
        unit = build.a_scenic_unit(session, show, name="Arch", place_id=build.a_place(session, tag="A").id)
        element = build.an_element(session, show, tag="OLD-1", tape=house.tape, scenic_unit_id=unit.id)
        build.an_allotment(session, plan, element.runs[0], house.supplies[1])
        build.a_placing(session, plan, house.supplies[1], outlet_id=house.outlet.id)


def test_another_show_on_the_circuit_is_told_with_its_load_and_the_days_on_which_both_stand(
    store: Store, house: Stage
) -> None:
    another(store, house, date(2026, 11, 30), date(2027, 3, 1))

    [plug] = on_c1(store).shared
    assert (plug.production, plug.supply) == ("OLD", "PS-2")
    assert plug.load_w == pytest.approx(38.4)
    assert (plug.from_on, plug.last_on) == (date(2026, 11, 30), house.show.strike_end)
    assert plug.mains.efficiency == house.supply_model.efficiency


@pytest.mark.parametrize("status", ["cancelled", "idea"])
def test_a_show_that_is_not_to_be_does_not_share(store: Store, house: Stage, status: str) -> None:
    another(store, house, house.show.load_in, house.show.strike_end, status=status)

    assert on_c1(store).shared == ()


@pytest.mark.parametrize(
    ("load_in", "strike_end"),
    [(date(2026, 9, 1), date(2026, 11, 24)), (date(2026, 12, 15), date(2027, 1, 31))],
)
def test_shows_that_never_stand_together_do_not_share(
    store: Store, house: Stage, load_in: date, strike_end: date
) -> None:
    """The one was struck yesterday; the other comes in on the day after this one is struck."""
    another(store, house, load_in, strike_end)

    assert on_c1(store).shared == ()


def test_what_is_supposed_plugs_in_as_what_is_stored(store: Store, house: Stage) -> None:
    another(store, house, house.show.load_in, house.show.strike_end)

    with store.reading() as session:
        stored = read_claims(session, TODAY).plugs
        supposed = sorted(plug for rows in season_rows(session) for plug in plugs_of(rows))
    assert len(stored) == 2
    assert [(p.outlet_id, p.unit_id, p.from_on, p.last_on) for p in stored] == [
        (p.outlet_id, p.unit_id, p.from_on, p.last_on) for p in supposed
    ]
    assert [p.load_w for p in stored] == pytest.approx([p.load_w for p in supposed])


def test_what_else_hangs_on_a_circuit_counts_in_its_own_show_or_in_all(store: Store, house: Stage) -> None:
    with store.writing("tests") as session:
        other = build.a_production(session, house.venue, tag="OLD")
        for show_id, watts in ((house.show.id, 1000.0), (None, 60.0), (other.id, 500.0)):
            session.add(OtherLoad(outlet_id=house.outlet.id, production_id=show_id, load_w=watts, what="fog"))

    assert on_c1(store).others == (("fog", 1000.0), ("fog", 60.0))


@pytest.mark.parametrize(("their_load_in", "outlet"), [(date(2026, 11, 1), None), (date(2026, 12, 15), "C1")])
def test_a_plan_counts_what_another_show_has_on_a_circuit_while_both_stand(
    store: Store, their_load_in: date, outlet: str | None
) -> None:
    """38.4 W is 0.36 A at 0.90 and 0.98: 0.64 A hold one, not two. WIN stands until 2026-12-14."""
    with store.writing("tests") as session:
        house = a_stage(session, supplies=2, decoders=1)
        house.outlet.breaker_a, house.outlet.volts_v = 0.8, 120.0
        house.supply_model.efficiency, house.supply_model.power_factor = 0.90, 0.98
        house.element(session, "WIN-1")
    another(store, house, their_load_in, date(2027, 1, 31))
    number = worked_out(store)

    with store.reading() as session:
        facts = plan_facts(session, find_plan(session, "WIN", number), TODAY)
    assert [supply.outlet for supply in facts.supplies] == [outlet]
    assert [f.verdict for f in findings(facts) if f.code == "mains-amps"] == ([Verdict.OK] if outlet else [])
