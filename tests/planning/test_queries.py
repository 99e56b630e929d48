"""What feeds this, what does this feed, what goes dark if it is pulled: on the kept plan, in one look."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from sqlalchemy import event

from service.errors import BadQuantity, NotFound
from service.planning.queries import dark_if_pulled, fed_by_outlet, fed_by_unit, feed_of
from service.planning.records import Allotment, PlanStatus
from service.planning.snapshot.house import read_policy
from service.stock.gear import GearKind, UnitState
from service.stock.records import PolicyRow
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import Stage, a_stage

ALL = (GearKind.SUPPLY, GearKind.BATTERY, GearKind.DECODER)


@pytest.fixture
def house(store: Store) -> build.House:
    with store.writing("tests") as session:
        return build.a_house(session)


def feed(store: Store, tag: str) -> dict[str, Any]:
    with store.lookup() as connection:
        return feed_of(connection, tag)


@contextmanager
def counted(store: Store) -> Iterator[list[str]]:
    """The statements that reach the database inside the block, on whichever connection."""
    said: list[str] = []

    def note(_c: object, _k: object, statement: str, *_: object) -> None:
        said.append(statement)

    event.listen(store.engine, "before_cursor_execute", note)
    try:
        yield said
    finally:
        event.remove(store.engine, "before_cursor_execute", note)


@pytest.mark.usefixtures("house")
@pytest.mark.parametrize("tag", ["SQ-1", "sq-1", " Sq-1 "])
def test_an_element_is_found_by_its_tag_in_any_letter_case(store: Store, tag: str) -> None:
    assert feed(store, tag)["element"] == "SQ-1"


@pytest.mark.usefixtures("house")
def test_a_tag_that_is_not_there_is_said_with_what_to_do(store: Store) -> None:
    with pytest.raises(NotFound, match="no element has the tag 'SQ-99'") as refusal:
        feed(store, "SQ-99")
    assert refusal.value.mend == "Look at the tag on the element, or search its name."


@pytest.mark.usefixtures("house")
def test_the_whole_path_comes_in_one_answer(store: Store) -> None:
    """2 m of 19.2 W/m: 38.4 W, 1.6 A; a supply of 320 W × 0.80 = 256 W carries 15 % of what it may."""
    found = feed(store, "SQ-1")

    [run], [source] = found["runs"], found["sources"]
    assert (found["production"], found["plan"], found["load_w"]) == ("WIN", 1, 38.4)
    assert (run["length_m"], run["load_w"], run["load_a"]) == (2.0, 38.4, 1.6)
    assert (run["lead_m"], run["lead_gauge"]) == (3.0, "18 AWG")
    assert (run["supply"], run["output"], run["decoder"], run["first_channel"]) == ("PS-1", 1, "DC-1", 1)
    assert (source["outlet"], source["outlet_position"], source["place_name"]) == (
        "C1",
        "stage left",
        "House front",
    )
    assert (source["load_w"], source["limit_w"], source["load_pct"]) == (38.4, 256.0, 15.0)


@pytest.mark.usefixtures("house")
def test_each_emitter_has_its_channel_and_slot(store: Store) -> None:
    [run] = feed(store, "SQ-1")["runs"]

    assert [(s["emitter"], s["channel"], s["universe"], s["slot"]) for s in run["slots"]] == [
        ("red", 1, 1, 1), ("green", 2, 1, 2), ("blue", 3, 1, 3), ("white", 4, 1, 4),
    ]  # fmt: skip


def test_sixteen_bit_takes_two_slots_a_channel(store: Store) -> None:
    """Channel 3 of a decoder at 41 listens to 41 + 2 × 2 and the slot after it."""
    with store.writing("tests") as session:
        stage = a_stage(session)
        element = stage.element(session, "SQ-1")
        plan = build.a_plan(session, stage.show)
        build.an_allotment(session, plan, element.runs[0], stage.supplies[0], decoder=stage.decoders[0])
        build.a_patch(session, plan, stage.decoders[0], start=41, footprint=8, mode="16-bit")

    [run] = feed(store, "SQ-1")["runs"]
    assert [slot["slot"] for slot in run["slots"]] == [41, 43, 45, 47]


def test_a_port_of_pixels_starts_at_its_own_address(store: Store) -> None:
    with store.writing("tests") as session:
        stage = a_stage(session)
        tape = build.a_tape(session, (("PX", 14.4),), signal="pixel")
        driver = build.a_decoder_model(session, tag="DP2", banks=(2,), signal="pixel")
        unit = build.a_decoder(session, driver, tag="DP-1")
        element = stage.element(session, "SQ-1", tape=tape)
        plan = build.a_plan(session, stage.show)
        build.an_allotment(
            session, plan, element.runs[0], stage.supplies[0], decoder=unit, first_channel=2, channels=1
        )
        for port, start in ((1, 1), (2, 241)):
            build.a_patch(session, plan, unit, port=port, start=start, footprint=240, mode="pixel")

    [run] = feed(store, "SQ-1")["runs"]
    assert run["slots"] == [{"emitter": "all", "channel": 2, "universe": 1, "slot": 241}]


def test_an_element_without_a_feed_is_answered_with_the_reason(store: Store) -> None:
    with store.writing("tests") as session:
        stage = a_stage(session)
        element = stage.element(session, "SQ-1")
        build.an_unfed_run(session, build.a_plan(session, stage.show), element.runs[0])

    found = feed(store, "SQ-1")
    [run] = found["runs"]
    assert (run["supply"], run["slots"], found["sources"]) == (None, [], [])
    assert (run["unfed_because"], run["unfed_mend"]) == ("no supply is free", "Hire one supply.")


def test_an_element_of_a_show_without_a_plan_is_answered_too(store: Store) -> None:
    with store.writing("tests") as session:
        a_stage(session).element(session, "SQ-1")

    found = feed(store, "SQ-1")
    assert (found["plan"], found["runs"][0]["supply"], found["load_w"]) == (None, None, 38.4)


def test_an_element_without_tape_has_no_watts_yet(store: Store) -> None:
    with store.writing("tests") as session:
        a_stage(session).element(session, "SQ-1", tape=None, tape_id=None)

    found = feed(store, "SQ-1")
    assert (found["load_w"], found["runs"][0]["load_a"], found["runs"][0]["tape"]) == (0.0, None, None)


def test_a_placeholder_is_read_as_any_of_its_model(store: Store) -> None:
    with store.writing("tests") as session:
        stage = a_stage(session)
        element = stage.element(session, "SQ-1")
        plan = build.a_plan(session, stage.show)
        session.add(
            Allotment(
                plan_id=plan.id,
                run_id=element.runs[0].id,
                supply_model_id=stage.supply_model.id,
                decoder_model_id=stage.decoder_model.id,
                first_channel=1,
                channels=4,
            )
        )

    found = feed(store, "SQ-1")
    [run] = found["runs"]
    assert (run["supply"], run["decoder"], run["universe"]) == ("any S320", "any D4", None)
    assert [slot["slot"] for slot in run["slots"]] == [None] * 4
    assert found["sources"] == []


def test_only_the_kept_plan_answers(store: Store, house: build.House) -> None:
    with store.writing("tests") as session:
        draft = build.a_plan(session, house.production, number=2, status=PlanStatus.DRAFT)
        other = build.a_supply(session, tag="PS-2")
        build.an_allotment(session, draft, house.element.runs[0], other)

    assert [source["supply"] for source in feed(store, "SQ-1")["sources"]] == ["PS-1"]


def test_a_faulty_unit_on_the_path_is_seen_with_its_note(store: Store, house: build.House) -> None:
    with store.writing("tests") as session:
        unit = session.merge(house.decoder)
        unit.state, unit.state_note = UnitState.FAULTY, "channel 3 dead"

    [run] = feed(store, "SQ-1")["runs"]
    assert (run["decoder_state"], run["decoder_note"]) == ("faulty", "channel 3 dead")


def test_the_limit_follows_the_house_s_own_settings(store: Store, house: build.House) -> None:
    """70 % of 320 W, and 60 °C: 10 K over full-to at 2.5 % a kelvin leaves 0.75. 320 × 0.75 × 0.7 = 168 W."""
    with store.writing("tests") as session:
        session.add_all(
            [PolicyRow(name="load_factor", value="0.7"), PolicyRow(name="open_air_degc", value="60")]
        )

    assert house.supply.tag == "PS-1"
    assert feed(store, "SQ-1")["sources"][0]["limit_w"] == 168.0


def test_what_is_not_known_of_a_supply_leaves_its_limit_unknown(store: Store) -> None:
    with store.writing("tests") as session:
        stage = a_stage(session)
        stage.supply_model.full_to_degc = None
        element = stage.element(session, "SQ-1")
        plan = build.a_plan(session, stage.show)
        build.an_allotment(session, plan, element.runs[0], stage.supplies[0])

    [source] = feed(store, "SQ-1")["sources"]
    assert (source["limit_w"], source["load_pct"]) == (None, None)


@pytest.fixture
def row(store: Store) -> Stage:
    """SQ-1 and SQ-2 on PS-1 through DC-1 and DC-2; SQ-3 has one run there and one on PS-2."""
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=2, decoders=3)
        plan = build.a_plan(session, stage.show)
        first, second = stage.supplies
        for n in (1, 2):
            element = stage.element(session, f"SQ-{n}")
            build.an_allotment(session, plan, element.runs[0], first, decoder=stage.decoders[n - 1])
        split = stage.element(session, "SQ-3", runs=((40,), (40,)))
        build.an_allotment(session, plan, split.runs[0], first, decoder=stage.decoders[1])
        build.an_allotment(session, plan, split.runs[1], second, decoder=stage.decoders[2])
        build.a_placing(session, plan, first, outlet_id=stage.outlet.id)
        return stage


def test_everything_else_on_the_same_supply_is_told(store: Store, row: Stage) -> None:
    [source] = feed(store, "SQ-1")["sources"]

    assert row.show.tag == "WIN"
    assert source["feeds"] == ["SQ-1", "SQ-2", "SQ-3"]
    assert source["load_w"] == pytest.approx(3 * 38.4)


@pytest.mark.usefixtures("row")
def test_an_element_on_two_supplies_has_both(store: Store) -> None:
    found = feed(store, "SQ-3")

    assert [source["supply"] for source in found["sources"]] == ["PS-1", "PS-2"]
    assert found["suspects"][:2] == [
        "Dark together with SQ-1, SQ-2: suspect PS-1, C1.",
        "Dark together with SQ-2 only: suspect DC-2.",
    ]


@pytest.mark.usefixtures("row")
def test_what_hangs_on_a_supply_a_decoder_or_an_outlet(store: Store) -> None:
    with store.lookup() as connection:
        on_supply = fed_by_unit(connection, "ps-1", ALL)
        on_decoder = fed_by_unit(connection, "DC-2", ALL)
        on_outlet = fed_by_outlet(connection, "c1")
        on_output_two = fed_by_unit(connection, "PS-1", ALL, output=2)

    assert [(r["element"], r["run"]) for r in on_supply] == [("SQ-1", 1), ("SQ-2", 1), ("SQ-3", 1)]
    assert [(r["element"], r["run"]) for r in on_decoder] == [("SQ-2", 1), ("SQ-3", 1)]
    assert on_outlet == on_supply
    assert on_output_two == []
    assert (on_supply[0]["first_channel"], on_supply[0]["last_channel"], on_supply[0]["load_a"]) == (
        1,
        4,
        1.6,
    )


@pytest.mark.usefixtures("row")
def test_pulling_it_says_what_goes_dark_and_what_only_in_part(store: Store) -> None:
    with store.lookup() as connection:
        dark = dark_if_pulled(connection, fed_by_unit(connection, "PS-1", ALL))

    assert [(d["element"], d["runs"], d["whole"], d["load_w"]) for d in dark] == [
        ("SQ-1", [1], True, 38.4), ("SQ-2", [1], True, 38.4), ("SQ-3", [1], False, 38.4),
    ]  # fmt: skip


@pytest.mark.usefixtures("house")
def test_pulling_what_feeds_nothing_darkens_nothing(store: Store) -> None:
    with store.lookup() as connection:
        assert dark_if_pulled(connection, []) == []


@pytest.mark.usefixtures("house")
def test_gear_that_is_not_there_is_named(store: Store) -> None:
    with store.lookup() as connection:
        with pytest.raises(NotFound, match="no supply or battery or decoder has the tag 'PS-9'"):
            fed_by_unit(connection, "PS-9", ALL)
        with pytest.raises(NotFound, match="no supply has the tag 'DC-1'"):
            fed_by_unit(connection, "DC-1", (GearKind.SUPPLY,))
        with pytest.raises(NotFound, match="no outlet has the tag 'C9'"):
            fed_by_outlet(connection, "C9")


@pytest.mark.usefixtures("row")
def test_a_look_takes_the_same_few_statements_whatever_hangs_there(store: Store) -> None:
    with counted(store) as lone:
        feed(store, "SQ-1")
    with counted(store) as split:
        feed(store, "SQ-3")

    assert 1 <= len(lone) == len(split) <= 3


def test_the_tag_of_a_feed_changes_with_the_element_and_with_its_feed(
    store: Store, house: build.House
) -> None:
    seen = [feed(store, "SQ-1")["etag"]]
    with store.writing("tests") as session:
        session.merge(house.element).name = "lower window"
    seen.append(feed(store, "SQ-1")["etag"])
    with store.writing("tests") as session:
        session.query(Allotment).one().is_locked = True
    seen.append(feed(store, "SQ-1")["etag"])

    assert len(set(seen)) == 3
    assert feed(store, "SQ-1")["etag"] == seen[-1]


def test_a_stored_rule_out_of_range_makes_no_load_read_as_in_order(store: Store, house: build.House) -> None:
    """A factor stored as 80 would allow 25 600 W of a 320 W supply."""
    with store.writing("tests") as session:
        session.add(PolicyRow(name="load_factor", value="80"))

    assert feed(store, "SQ-1")["sources"][0]["limit_w"] is None
    assert house.supply.tag == "PS-1"
    with store.reading() as session, pytest.raises(BadQuantity, match="the house rule load_factor is 80, wh"):
        read_policy(session)
