"""The question put to the allocator: exact whole numbers, and only the gear that may be used."""

from typing import Any

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.allocation.problem import Block, Link, Problem, Signal, Source
from service.planning.actions import find_plan
from service.planning.comparing import plan_feeds, plan_unfed
from service.planning.records import Placing
from service.shows.records import ElementStatus, Motion
from service.stock.gear import Unit
from service.stock.records import Place, PlaceKind, PolicyRow, Reach
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import Stage, a_stage, kept, worked_out

STAYS = {Link.WIRED, Link.NETWORK, Link.LOCAL}


@pytest.fixture
def stage(session: Session) -> Stage:
    return a_stage(session, supplies=2, decoders=2)


def problem(session: Session, stage: Stage, **more: Any) -> Problem:
    session.flush()
    return stage.question(session, **more).problem


def only_block(session: Session, stage: Stage) -> Block:
    [block] = problem(session, stage).blocks
    return block


def test_a_run_asks_for_its_watts_in_whole_microwatts(session: Session, stage: Stage) -> None:
    """4.8 m of 4 × 4.8 W/m is 92.16 W; 23.04 W on each of four channels. P = V I."""
    stage.element(session, "SQ-1", runs=((48, 48),))

    [run] = only_block(session, stage).runs
    assert (run.tag, run.load_uw, run.channel_uw) == ("SQ-1/1", 92_160_000, (23_040_000,) * 4)


@pytest.mark.parametrize(
    ("watts_a_metre", "pitches", "microwatts"),
    [(0.1, 3, 15_000), (7.3, 7, 2_555_000), (14.4, 62, 44_640_000), (0.000123, 1, 7)],
    ids=["tenths", "sevenths", "3.1 m", "rounded up"],
)
def test_a_load_is_exact_in_decimals_and_rounded_up_only_if_it_must_be(
    session: Session, stage: Stage, watts_a_metre: float, pitches: int, microwatts: int
) -> None:
    """Pitches of 50 mm: 0.000123 W/m × 0.05 m is 6.15 µW."""
    tape = build.a_tape(session, (("W", watts_a_metre),))
    stage.element(session, "SQ-1", tape=tape, runs=((pitches,),))

    assert only_block(session, stage).runs[0].load_uw == microwatts


def test_what_gear_may_carry_is_exact_and_rounded_down(session: Session, stage: Stage) -> None:
    """320 W × 0.80 and 13.3 A × 0.80; 5 A and 20 A × 0.80 (common practice for hours)."""
    asked = problem(session, stage)

    [supply], [decoder] = asked.supply_models, asked.decoder_models
    assert (supply.usable_uw, supply.outputs_ua) == (256_000_000, (10_640_000,))
    assert (decoder.channel_ua, decoder.banks[0].usable_ua) == (4_000_000, 16_000_000)
    assert (supply.class_mv, decoder.min_mv, decoder.max_mv) == (24_000, 12_000, 36_000)


def test_warm_air_takes_watts_away(session: Session, stage: Stage) -> None:
    """At 60 °C, 10 K over full-to at 2.5 % a kelvin: 320 × 0.75 × 0.80 = 192 W."""
    session.add(PolicyRow(name="open_air_degc", value="60"))

    assert problem(session, stage).supply_models[0].usable_uw == 192_000_000


def test_a_model_s_own_load_factor_goes_before_the_house_s(session: Session, stage: Stage) -> None:
    stage.supply_model.load_factor = 0.7

    assert problem(session, stage).supply_models[0].usable_uw == 224_000_000


def test_of_a_model_s_own_share_and_the_house_s_the_stricter_holds_for_amps(
    session: Session, stage: Stage
) -> None:
    """13.3 A × 0.70; 5 A and 20 A × 0.80 though the decoder's own is 0.95: as the limits judge them."""
    stage.supply_model.load_factor, stage.decoder_model.load_factor = 0.7, 0.95
    stage.element(session, "SQ-1")
    asked = problem(session, stage)

    [supply], [decoder] = asked.supply_models, asked.decoder_models
    assert supply.outputs_ua == (9_310_000,)
    assert (decoder.channel_ua, decoder.banks[0].usable_ua) == (4_000_000, 16_000_000)


def test_gear_that_is_wanted_is_told_by_its_label(store: Store) -> None:
    """38.4 W for hours is 48 W on the label where a supply carries 0.80 of it."""
    with store.writing("stores") as session:
        a_stage(session, supplies=0, decoders=1).element(session, "SQ-1")
    number = worked_out(store)

    with store.reading() as session:
        [dark] = plan_unfed(session, find_plan(session, "WIN", number))
    assert dark["because"] == "needs 1 of S320 (38.4 W); 0 left"
    assert dark["mend"] == "one more S320, or a 24 V supply of at least 48 W on the label (38.4 W at 0.80)"


def test_a_run_knows_the_pitches_it_could_be_cut_at(session: Session, stage: Stage) -> None:
    stage.element(session, "SQ-1", runs=((24, 7),))

    assert only_block(session, stage).runs[0].pitches == 31


def test_what_is_not_known_is_asked_as_not_known(session: Session, stage: Stage) -> None:
    stage.supply_model.rated_w, stage.decoder_model.channel_a = None, None

    asked = problem(session, stage)
    assert (asked.supply_models[0].usable_uw, asked.decoder_models[0].channel_ua) == (None, None)
    assert (asked.supply_models[0].blank, asked.decoder_models[0].blank) == (("Rated",), ("Channel",))


def test_runs_of_one_element_share_one_row_of_channels(session: Session, stage: Stage) -> None:
    stage.element(session, "SQ-1", runs=((40,), (30,)))

    block = only_block(session, stage)
    assert ([run.tag for run in block.runs], block.channels) == (["SQ-1/1", "SQ-1/2"], 4)


def test_a_control_group_is_one_row_of_channels(session: Session, stage: Stage) -> None:
    together = build.a_group(session, stage.show, name="ice edge")
    for tag in ("SQ-1", "SQ-2"):
        stage.element(session, tag, control_group_id=together.id)

    block = only_block(session, stage)
    assert (block.tag, [run.tag for run in block.runs]) == ("ice edge", ["SQ-1/1", "SQ-2/1"])


def test_members_of_a_control_group_that_are_wired_differently_do_not_share(
    session: Session, stage: Stage
) -> None:
    together = build.a_group(session, stage.show, name="ice edge")
    stage.element(session, "SQ-1", control_group_id=together.id)
    stage.element(session, "SQ-2", control_group_id=together.id, wired="red green blue")

    assert sorted(block.channels for block in problem(session, stage).blocks) == [3, 4]


def test_an_emitter_that_is_not_wired_loads_the_supply_but_no_channel(session: Session, stage: Stage) -> None:
    """Somebody will wire it: 2 m is 38.4 W with all four emitters, 9.6 W each on three channels."""
    stage.element(session, "SQ-1", wired="red green blue")

    [run] = only_block(session, stage).runs
    assert (run.load_uw, run.channel_uw) == (38_400_000, (9_600_000,) * 3)


def test_what_is_not_dimmed_asks_for_no_channels(session: Session, stage: Stage) -> None:
    stage.element(session, "SQ-1", is_dimmed=False)

    assert only_block(session, stage).runs[0].channel_uw == ()


def test_pixel_tape_asks_for_one_port(session: Session, stage: Stage) -> None:
    tape = build.a_tape(session, (("PX", 14.4),), signal="pixel")
    stage.element(session, "SQ-1", tape=tape)

    block = only_block(session, stage)
    assert (block.signal, block.runs[0].channel_uw) == (Signal.PIXEL, (28_800_000,))


def test_an_element_without_tape_is_left_undecided_and_said_so(session: Session, stage: Stage) -> None:
    stage.element(session, "SQ-1", tape=None, tape_id=None)

    question = stage.question(session)
    assert (question.problem.blocks, question.undecided) == ((), ("SQ-1",))


@pytest.mark.parametrize("status", [ElementStatus.STRUCK, ElementStatus.CUT_FROM_SHOW])
def test_what_is_no_longer_in_the_show_is_not_fed(
    session: Session, stage: Stage, status: ElementStatus
) -> None:
    stage.element(session, "SQ-1", status=status)

    question = stage.question(session)
    assert (question.problem.blocks, question.undecided) == ((), ())


@pytest.mark.parametrize(
    ("motion", "cable", "needs", "source", "links"),
    [
        (Motion.STATIC, False, {}, Source.SUPPLY, STAYS),
        (Motion.ROLLING, False, {}, Source.BATTERY, {Link.WIRELESS, Link.LOCAL}),
        (Motion.ROLLING, True, {}, Source.SUPPLY, STAYS),
        (Motion.PROP, False, {}, Source.BATTERY, {Link.WIRELESS, Link.LOCAL}),
        (Motion.COSTUME, True, {}, Source.BATTERY, {Link.WIRELESS, Link.LOCAL}),
        (Motion.STATIC, False, {"needs_battery": True}, Source.BATTERY, STAYS),
        (Motion.STATIC, False, {"needs_wireless": True}, Source.SUPPLY, {Link.WIRELESS, Link.LOCAL}),
    ],
    ids=[
        "stands",
        "rolls",
        "rolls with a cable",
        "is carried",
        "is worn",
        "asks for a pack",
        "asks for radio",
    ],
)
def test_what_moves_takes_a_battery_and_hears_without_a_wire(
    session: Session,
    stage: Stage,
    motion: Motion,
    cable: bool,
    needs: dict[str, bool],
    source: Source,
    links: set[Link],
) -> None:
    """Common practice: fed from what rides on it, unless a travelling cable goes with it."""
    unit = build.a_scenic_unit(session, stage.show, motion=motion, has_travelling_cable=cable)
    stage.element(session, "SQ-1", scenic_unit_id=unit.id, **needs)

    block = only_block(session, stage)
    assert block.sources == frozenset({source})
    assert block.links == frozenset(links)


def test_gear_for_what_stands_may_be_anywhere_at_its_venue(session: Session, stage: Stage) -> None:
    stage.element(session, "SQ-1")

    assert only_block(session, stage).sites == ("Main Stage",)


def test_gear_for_what_moves_rides_on_it(session: Session, stage: Stage) -> None:
    own = build.a_place(session, tag="SLEIGH", kind=PlaceKind.SCENIC_UNIT)
    sleigh = build.a_scenic_unit(session, stage.show, motion=Motion.ROLLING, place_id=own.id)
    stage.element(session, "SQ-1", scenic_unit_id=sleigh.id)

    assert only_block(session, stage).sites == ("SLEIGH",)


@pytest.fixture
def pit(session: Session, stage: Stage) -> Place:
    """A place from which 5 m of lead reach the wall."""
    pit = build.a_place(session, tag="PIT", kind=PlaceKind.STAGE, venue_id=stage.venue.id)
    session.add(Reach(place_id=stage.wall.place_id, gear_place_id=pit.id, lead_um=5_000_000))
    return pit


@pytest.mark.parametrize(
    ("lead_um", "sites"), [(3_000_000, ("PIT", "WALL")), (5_000_000, ("PIT", "WALL")), (5_000_001, ("WALL",))]
)
@pytest.mark.usefixtures("pit")
def test_where_reach_is_written_gear_stands_no_farther_than_the_lead(
    session: Session, stage: Stage, lead_um: int, sites: tuple[str, ...]
) -> None:
    element = stage.element(session, "SQ-1")
    element.runs[0].lead_um = lead_um

    assert only_block(session, stage).sites == sites


def test_only_free_units_are_offered(session: Session, stage: Stage) -> None:
    other = build.a_production(session, stage.venue, tag="ICE")
    build.a_hold(session, other, unit_id=stage.supplies[0].id, quantity=1)

    asked = problem(session, stage)
    assert [unit.tag for unit in asked.supplies] == ["PS-2"]
    assert [unit.tag for unit in asked.decoders] == ["DC-1", "DC-2"]


def test_what_is_kept_is_told_with_its_place_and_its_lock(session: Session, stage: Stage) -> None:
    element = stage.element(session, "SQ-1")
    plan = build.a_plan(session, stage.show)
    build.an_allotment(
        session, plan, element.runs[0], stage.supplies[0], decoder=stage.decoders[1], is_locked=True
    )
    build.a_placing(session, plan, stage.supplies[0], place_id=stage.deck.id)

    asked = problem(session, stage)
    [was] = asked.installed
    assert (was.run, was.supply, was.output) == ("SQ-1/1", "PS-1", 1)
    assert (was.decoder, was.first_channel, was.locked) == ("DC-2", 1, True)
    assert {unit.tag: unit.site for unit in asked.supplies} == {"PS-1": "Main Stage", "PS-2": ""}


def test_the_same_stock_and_show_ask_the_same_question(session: Session, stage: Stage) -> None:
    stage.element(session, "SQ-1")
    first = stage.question(session)
    second = stage.question(session)

    assert first.problem == second.problem
    assert first.fingerprint == second.fingerprint
    stage.element(session, "SQ-2")
    assert stage.question(session).fingerprint != first.fingerprint


def test_nothing_is_added_to_a_supply_in_a_closed_box_and_what_it_carries_stays(store: Store) -> None:
    """How warm the box gets is not worked out, so the allocator never chooses a boxed supply itself."""
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=1, decoders=2)
        stage.element(session, "SQ-1")
    kept(store)
    with store.writing("tests") as session:
        box = build.an_enclosure(session, tag="EN-1")
        for placing in session.scalars(select(Placing).join(Unit, Unit.id == Placing.unit_id)):
            if session.get_one(Unit, placing.unit_id).tag == "PS-1":
                placing.enclosure_id = box.id
        stage.element(session, "SQ-2")

    number = worked_out(store)

    with store.reading() as session:
        plan = find_plan(session, "WIN", number)
        assert [(f["element"], f["supply"]) for f in plan_feeds(session, plan)] == [("SQ-1", "PS-1")]
        assert [u["element"] for u in plan_unfed(session, plan)] == ["SQ-2"]
