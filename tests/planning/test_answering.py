"""An answer becomes a draft: where gear stands, which outlet it takes, its address, and what stays dark."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from service.planning.actions import find_plan
from service.planning.comparing import plan_feeds, plan_unfed
from service.planning.records import Allotment, Patch, Placing
from service.stock.gear import Unit
from service.stock.records import Outlet, OutletKind, Place
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import Stage, a_stage, kept, worked_out

Build = Callable[[Session, Stage], None]


def staged(store: Store, *steps: Build, **stage: Any) -> Stage:
    with store.writing("tests") as session:
        made = a_stage(session, **stage)
        for step in steps:
            step(session, made)
        return made


def windows(*pitches: int, **given: Any) -> Build:
    """Elements SQ-1.. of so many 50 mm pitches each; 40 pitches are 2 m and 38.4 W."""

    def step(session: Session, stage: Stage) -> None:
        for n, length in enumerate(pitches, start=1):
            stage.element(session, f"SQ-{n}", runs=((length,),), **given)

    return step


def large_windows(count: int) -> Build:
    """Elements SQ-1.. of two runs of 5 m each, 192 W together: more than one run may be."""

    def step(session: Session, stage: Stage) -> None:
        for n in range(1, count + 1):
            stage.element(session, f"SQ-{n}", runs=((100,), (100,)))

    return step


def an_outlet(tag: str, **given: Any) -> Build:
    def step(session: Session, stage: Stage) -> None:
        build.an_outlet(session, **{"tag": tag, "venue_id": stage.venue.id} | given)

    return step


def feeds(store: Store, number: int) -> dict[str, dict[str, Any]]:
    with store.reading() as session:
        return {f["element"]: f for f in plan_feeds(session, find_plan(session, "WIN", number))}


def standing(store: Store, number: int) -> dict[str, Row[*tuple[Any, ...]]]:
    """Place, outlet and the piece ridden on, of every unit of the plan."""
    with store.reading() as session:
        rows = session.execute(
            select(Unit.tag, Place.tag.label("place"), Outlet.tag.label("outlet"), Placing.scenic_unit_id)
            .join(Placing, Placing.unit_id == Unit.id)
            .outerjoin(Place, Place.id == Placing.place_id)
            .outerjoin(Outlet, Outlet.id == Placing.outlet_id)
            .where(Placing.plan_id == find_plan(session, "WIN", number).id)
        )
        return {row[0]: row for row in rows}


def addresses(store: Store, number: int) -> dict[str, tuple[int | None, int | None, int | None]]:
    with store.reading() as session:
        rows = session.execute(
            select(Unit.tag, Patch.universe, Patch.start, Patch.footprint)
            .join(Patch, Patch.decoder_id == Unit.id)
            .where(Patch.plan_id == find_plan(session, "WIN", number).id)
        )
        return {row.tag: (row.universe, row.start, row.footprint) for row in rows}


def test_an_element_is_fed_from_the_wall_to_its_channels(store: Store) -> None:
    staged(store, windows(40))
    number = worked_out(store)

    feed = feeds(store, number)["SQ-1"]
    assert (feed["supply"], feed["output"], feed["decoder"]) == ("PS-1", 1, "DC-1")
    assert (feed["first_channel"], feed["last_channel"]) == (1, 4)
    assert (feed["universe"], feed["start"], feed["outlet"]) == (1, 1, "C1")
    assert feed["load_w"] == 38.4


def test_gear_for_scenery_stands_beside_it_and_not_on_it(store: Store) -> None:
    staged(store, windows(40))

    where = standing(store, worked_out(store))
    assert {tag: row.place for tag, row in where.items()} == {"PS-1": "DECK", "DC-1": "DECK"}
    assert where["PS-1"].scenic_unit_id is None


def test_gear_for_what_moves_rides_on_it_and_needs_no_outlet(store: Store) -> None:
    def sleigh(session: Session, stage: Stage) -> None:
        stage.wall.motion = "rolling"  # type: ignore[assignment]
        pack = build.a_battery_model(session, nominal_v=25.6, class_v=24.0)
        build.a_battery(session, pack, tag="BT-1")
        build.a_decoder(session, build.a_decoder_model(session, link="wireless"), tag="DW-1")
        stage.element(session, "SQ-1")

    staged(store, sleigh)
    where = standing(store, worked_out(store))

    assert set(where) == {"BT-1", "DW-1"}
    assert all(row.scenic_unit_id is not None for row in where.values())
    assert where["BT-1"].outlet is None


def test_new_decoders_take_the_first_slots_that_are_free(store: Store) -> None:
    """Four elements that fill a decoder each; footprints of 4 slots: 1, 5, 9, 13."""
    staged(store, windows(80, 80, 80, 80), supplies=2, decoders=4)

    assert addresses(store, worked_out(store)) == {
        "DC-1": (1, 1, 4), "DC-2": (1, 5, 4), "DC-3": (1, 9, 4), "DC-4": (1, 13, 4),
    }  # fmt: skip


def test_addresses_start_in_the_show_s_own_universe(store: Store) -> None:
    staged(store, windows(40), default_universe=7)

    assert addresses(store, worked_out(store)) == {"DC-1": (7, 1, 4)}


def test_addresses_that_are_kept_stay_and_new_ones_fill_the_gaps(store: Store) -> None:
    """DC-1 sits at 3 to 6: two slots before it are too few for four, so DC-2 starts at 7."""

    def kept_at_three(session: Session, stage: Stage) -> None:
        elements = [stage.element(session, f"SQ-{n}", runs=((80,),)) for n in (1, 2)]
        plan = build.a_plan(session, stage.show)
        feed = {"supply": stage.supplies[0], "decoder": stage.decoders[0]}
        build.an_allotment(session, plan, elements[0].runs[0], **feed)
        for unit in feed.values():
            build.a_placing(session, plan, unit, place_id=stage.deck.id, outlet_id=None)
        build.a_patch(session, plan, stage.decoders[0], universe=2, start=3)

    staged(store, kept_at_three, decoders=2)
    assert addresses(store, worked_out(store)) == {"DC-1": (2, 3, 4), "DC-2": (2, 7, 4)}


def test_a_port_of_pixels_takes_three_slots_a_pixel(store: Store) -> None:
    """2 m at 20 pixels a metre: 40 pixels, 120 slots; the second port follows at 121."""

    def pixels(session: Session, stage: Stage) -> None:
        tape = build.a_tape(session, (("PX", 14.4),), signal="pixel", pixels_per_m=20.0, slots_per_pixel=3)
        driver = build.a_decoder_model(session, tag="DP2", banks=(2,), signal="pixel", footprint_8bit=None)
        build.a_decoder(session, driver, tag="DP-1")
        for n in (1, 2):
            stage.element(session, f"SQ-{n}", tape=tape)

    staged(store, pixels)
    number = worked_out(store)
    with store.reading() as session:
        rows = session.scalars(
            select(Patch).where(Patch.plan_id == find_plan(session, "WIN", number).id).order_by(Patch.port)
        ).all()
        found = [(p.port, p.start, p.footprint, p.pixels, p.mode) for p in rows]

    assert found == [(1, 1, 120, 40, "pixel"), (2, 121, 120, 40, "pixel")]


def test_a_supply_is_never_plugged_into_a_dimmed_outlet(store: Store) -> None:
    """Common practice: a chopped wave makes a supply hum, restart and die."""
    stage = staged(store, windows(40), an_outlet("A0", kind=OutletKind.DIMMED))
    with store.writing("tests") as session:
        session.get_one(Outlet, stage.outlet.id).kind = OutletKind.DIMMED

    assert standing(store, worked_out(store))["PS-1"].outlet is None


def test_an_outlet_of_another_venue_is_never_taken(store: Store) -> None:
    stage = staged(store, windows(40))
    with store.writing("tests") as session:
        session.get_one(Outlet, stage.outlet.id).venue_id = build.a_venue(session).id

    assert standing(store, worked_out(store))["PS-1"].outlet is None


@pytest.mark.parametrize(("venues", "outlet"), [(1, "C1"), (2, None)], ids=["one venue", "two venues"])
def test_an_outlet_of_no_venue_belongs_to_the_only_one_there_is(
    store: Store, venues: int, outlet: str | None
) -> None:
    stage = staged(store, windows(40))
    with store.writing("tests") as session:
        blank = session.get_one(Outlet, stage.outlet.id)
        blank.venue_id = blank.place_id = None
        for _ in range(venues - 1):
            build.a_venue(session)

    assert standing(store, worked_out(store))["PS-1"].outlet == outlet


def test_the_outlet_at_the_same_place_goes_first_then_the_one_with_most_room(store: Store) -> None:
    staged(store, windows(40), an_outlet("B32", breaker_a=32.0))
    beside = standing(store, worked_out(store))["PS-1"].outlet

    assert beside == "C1"


def test_outlets_share_the_supplies_so_that_no_breaker_is_over_its_share(store: Store) -> None:
    """Each supply of 192 W takes 192 × 1.02 ÷ (0.90 × 0.95) ÷ 230 V = 0.996 A; 1.3 A × 0.80 holds one."""
    stage = staged(store, large_windows(3), an_outlet("C2", breaker_a=1.3), supplies=3, decoders=3)
    with store.writing("tests") as session:
        session.get_one(Outlet, stage.outlet.id).breaker_a = 1.3
    where = standing(store, worked_out(store))

    outlets = sorted(str(row.outlet) for tag, row in where.items() if tag.startswith("PS"))
    # Two supplies get one each; for the third there is no room, and that is said by leaving it blank.
    assert outlets == ["C1", "C2", "None"]


def on_a_dimmer(session: Session, stage: Stage) -> None:
    """SQ-1 hangs on PS-1, which is plugged into a dimmer; SQ-2 is new."""
    dimmer = build.an_outlet(session, tag="D9", kind=OutletKind.DIMMED, venue_id=stage.venue.id)
    first = stage.element(session, "SQ-1")
    plan = build.a_plan(session, stage.show)
    build.an_allotment(session, plan, first.runs[0], stage.supplies[0], decoder=stage.decoders[0])
    build.a_placing(session, plan, stage.supplies[0], place_id=stage.deck.id, outlet_id=dimmer.id)
    build.a_placing(session, plan, stage.decoders[0], place_id=stage.deck.id)


def test_a_kept_supply_on_a_dimmer_stays_while_nothing_of_it_changes(store: Store) -> None:
    """It is reported; what was not asked for is not moved."""
    staged(store, on_a_dimmer)

    assert standing(store, worked_out(store))["PS-1"].outlet == "D9"


def test_a_kept_supply_on_a_dimmer_is_plugged_elsewhere_when_it_is_given_something_new(store: Store) -> None:
    def and_another(session: Session, stage: Stage) -> None:
        stage.element(session, "SQ-2")

    staged(store, on_a_dimmer, and_another, decoders=2)
    number = worked_out(store)
    assert feeds(store, number)["SQ-2"]["supply"] == "PS-1"
    assert standing(store, number)["PS-1"].outlet == "C1"


def test_what_stays_dark_says_which_limit_binds_and_what_would_mend_it(store: Store) -> None:
    """Two elements of 192 W on one supply of 256 W."""
    staged(store, large_windows(2), decoders=2)
    number = worked_out(store)
    with store.reading() as session:
        plan = find_plan(session, "WIN", number)
        dark = plan_unfed(session, plan)

    assert len(feeds(store, number)) == 1
    assert [(d["limit"], d["value"], d["unit"]) for d in dark] == [("supply-stock", 192.0, "W")] * 2
    assert "one more S320" in dark[0]["mend"]
    assert (plan.unfed_w, plan.unfed_bound_w) == (192.0, 192.0)


def test_what_stays_dark_for_want_of_stock_says_when_a_unit_is_back(store: Store) -> None:
    def lent(session: Session, stage: Stage) -> None:
        other = build.a_production(session, stage.venue, tag="ICE")
        build.a_hold(
            session,
            other,
            unit_id=stage.supplies[0].id,
            quantity=1,
            from_on=date(2026, 8, 1),
            until_on=date(2026, 12, 11),
        )

    staged(store, windows(40), lent)
    number = worked_out(store)
    with store.reading() as session:
        [dark] = plan_unfed(session, find_plan(session, "WIN", number))

    assert "PS-1 (S320) is free from 2026-12-11" in dark["mend"]


def test_a_placeholder_that_no_unit_took_over_is_carried_on(store: Store) -> None:
    def placeholder(session: Session, stage: Stage) -> None:
        # More than any supply the house has could carry: 10 m, 192 W of a model that is on its way.
        big = build.a_supply_model(session, tag="S960", rated_w=960.0, caps_a=(40.0,))
        element = stage.element(session, "SQ-1", runs=((800,),))
        plan = build.a_plan(session, stage.show)
        session.add(Allotment(plan_id=plan.id, run_id=element.runs[0].id, supply_model_id=big.id, output=1))

    staged(store, placeholder)
    number = worked_out(store)
    with store.reading() as session:
        dark = plan_unfed(session, find_plan(session, "WIN", number))

    assert feeds(store, number)["SQ-1"]["supply"] == "any S960"
    assert dark == []


def test_a_lock_is_carried_into_the_next_draft(store: Store) -> None:
    staged(store, windows(40))
    kept(store)
    with store.writing("tests") as session:
        session.scalars(select(Allotment)).one().is_locked = True

    assert feeds(store, worked_out(store))["SQ-1"]["is_locked"] is True


@pytest.mark.parametrize("seed", [0, 7])
def test_the_same_seed_gives_the_same_draft(store: Store, seed: int) -> None:
    staged(store, windows(80, 60, 40, 30, 20, 20), supplies=3, decoders=6)

    assert feeds(store, worked_out(store, seed=seed)) == feeds(store, worked_out(store, seed=seed))
