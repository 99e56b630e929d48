"""Outputs, channels and slots on the unit that goes in, and what the limits say of it."""

from datetime import date

import pytest

from service.errors import OverLimit
from service.planning.queries import feed_of
from service.planning.records import Patch, Placing, Plan
from service.planning.swapping.schemas import CandidateOut
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import Stage, a_stage
from tests.planning.swapping.acts import asked, every_row, swapped, taken_back


@pytest.fixture
def stage(store: Store) -> Stage:
    """PS-1 feeds SQ-1 through DC-1 and SQ-2 through DC-2, 38.4 W and 1.6 A each, from one output."""
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=1, decoders=2)
        plan = build.a_plan(session, stage.show)
        build.a_placing(session, plan, stage.supplies[0], place_id=stage.deck.id, outlet_id=stage.outlet.id)
        for n in (1, 2):
            element, decoder = stage.element(session, f"SQ-{n}"), stage.decoders[n - 1]
            build.an_allotment(session, plan, element.runs[0], stage.supplies[0], decoder=decoder)
            build.a_placing(session, plan, decoder, place_id=stage.deck.id)
            build.a_patch(session, plan, decoder, universe=1, start=4 * n - 3)
        return stage


def only(store: Store, tag: str) -> CandidateOut:
    [one] = asked(store, tag).candidates
    return one


def moves(one: CandidateOut) -> list[tuple[str, str, str]]:
    return [(move.run, move.before, move.after) for move in one.moves]


@pytest.mark.usefixtures("stage")
def test_feeds_are_spread_over_weaker_outputs_a_decoder_to_each(store: Store) -> None:
    """3.2 A do not go on an output of 2.5 A (2.0 A for hours); 1.6 A each do."""
    with store.writing("tests") as session:
        model = build.a_supply_model(session, tag="S120", caps_a=(2.5, 2.5), rated_w=120.0, is_class2=False)
        build.a_supply(session, model, tag="PS-9")
    before = every_row(store)

    one = only(store, "PS-1")
    assert (one.verdict, moves(one)) == ("ok", [("SQ-2/1", "PS-1 output 1", "PS-9 output 2")])
    done = swapped(store, "PS-1", "PS-9", found="dead")
    with store.lookup() as connection:
        outputs = [feed_of(connection, f"SQ-{n}")["runs"][0]["output"] for n in (1, 2)]
    assert outputs == [1, 2]
    taken_back(store, done.number)
    assert every_row(store) == before


@pytest.mark.usefixtures("stage")
def test_what_is_over_a_limit_is_offered_last_and_done_only_with_a_reason(store: Store) -> None:
    """76.8 W on 90 W is 72 W for hours. The reason stays with the feeds."""
    with store.writing("tests") as session:
        weak = build.a_supply_model(session, tag="S090", rated_w=90.0)
        build.a_supply(session, weak, tag="PS-8")
        strong = build.a_supply_model(session, tag="S400", rated_w=400.0)
        build.a_supply(session, strong, tag="PS-9", hired_until=date(2026, 12, 6))
    found = asked(store, "PS-1")
    assert [(c.unit, c.share, c.verdict) for c in found.candidates] == [
        ("PS-9", "for a while", "ok"),
        ("PS-8", "free", "over"),
    ]
    assert "76.80 W" in found.candidates[1].worse[0]

    before = every_row(store)
    with pytest.raises(OverLimit) as refused:
        swapped(store, "PS-1", "PS-8", found="dead")
    assert "despite_limits" in refused.value.mend
    assert every_row(store) == before
    done = swapped(store, "PS-1", "PS-8", found="dead", despite_limits="one scene only, checked")
    reasons = {row["override_reason"] for row in every_row(store)["allotments"]}
    assert reasons == {"one scene only, checked"}
    assert done.why == "dead; despite limits: one scene only, checked"


@pytest.mark.usefixtures("stage")
def test_with_nothing_but_what_is_over_a_limit_the_smallest_help_is_said(store: Store) -> None:
    with store.writing("tests") as session:
        weak = build.a_supply_model(session, tag="S090", rated_w=90.0)
        build.a_supply(session, weak, tag="PS-8")
    assert asked(store, "PS-1").helps == "one more S320"


def test_channels_that_are_not_there_are_given_the_first_that_are(store: Store, stage: Stage) -> None:
    """SQ-3 is on channels 9 to 12 of a decoder of twelve; on one of four it is on 1 to 4."""
    with store.writing("tests") as session:
        plan = session.get_one(Plan, 1)
        twelve = build.a_decoder(session, build.a_decoder_model(session, tag="D12", banks=(12,)), tag="DC-12")
        element = stage.element(session, "SQ-3")
        build.an_allotment(session, plan, element.runs[0], stage.supplies[0], decoder=twelve, first_channel=9)
        build.a_placing(session, plan, twelve, place_id=stage.deck.id)
        build.a_patch(session, plan, twelve, universe=1, start=101, footprint=12)
        build.a_decoder(session, stage.decoder_model, tag="DC-9")

    one = only(store, "DC-12")
    assert moves(one) == [("SQ-3/1", "DC-12 channel 9 to 12", "DC-9 channel 1 to 4")]
    assert one.sets == ["universe 1, slot 101, 4 slots, 8-bit"]


@pytest.mark.usefixtures("stage")
def test_more_slots_than_there_is_room_for_are_said(store: Store) -> None:
    """A decoder of twelve at slot 1 listens to what DC-2 has from slot 5."""
    with store.writing("tests") as session:
        model = build.a_decoder_model(session, tag="D12", banks=(12,))
        build.a_decoder(session, model, tag="DC-12")
    one = only(store, "DC-1")
    assert one.verdict == "over"
    assert any("DC-12" in said and "DC-2" in said for said in one.worse)


def test_a_spare_that_stands_idle_on_stage_gives_its_own_address_up(store: Store, stage: Stage) -> None:
    with store.writing("tests") as session:
        plan = session.get_one(Plan, 1)
        spare = build.a_decoder(session, stage.decoder_model, tag="DC-9")
        build.a_placing(session, plan, spare, place_id=stage.deck.id)
        build.a_patch(session, plan, spare, universe=1, start=201)
    before = every_row(store)

    done = swapped(store, "DC-1", "DC-9", found="dead")
    assert done.sets == ["universe 1, slot 1, 4 slots, 8-bit"]
    with store.reading() as session:
        patches = {(p.decoder_id, p.start) for p in session.query(Patch)}
        stands = sorted(p.unit_id for p in session.query(Placing))
    assert (spare.id, 1) in patches
    assert (spare.id, 201) not in patches
    assert stands == sorted([stage.supplies[0].id, stage.decoders[1].id, spare.id])
    taken_back(store, done.number)
    assert every_row(store) == before


def test_another_rate_and_curve_are_said_as_what_is_different(store: Store) -> None:
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=1, decoders=0)
        was = build.a_decoder_model(session, tag="D6", curve="square", pwm_hz=1000.0)
        old = build.a_decoder(session, was, tag="DC-6")
        now = build.a_decoder_model(session, tag="D7", curve="linear", pwm_hz=4000.0)
        build.a_decoder(session, now, tag="DC-7")
        plan = build.a_plan(session, stage.show)
        element = stage.element(session, "SQ-1")
        build.an_allotment(session, plan, element.runs[0], stage.supplies[0], decoder=old)
        build.a_patch(session, plan, old, universe=1, start=1)
    one = only(store, "DC-6")
    assert one.sets[1:] == ["curve square; D7 dims linear", "PWM 1000 Hz; D7 has 4000 Hz"]


def test_the_same_model_comes_first_and_of_it_the_nearest(store: Store, stage: Stage) -> None:
    """PS-9 lies in the bin of PS-1, PS-7 in another; the smaller one of another model would do too."""
    with store.writing("tests") as session:
        own, other = build.a_place(session, tag="B1"), build.a_place(session, tag="B2")
        session.merge(stage.supplies[0]).home_id = own.id
        build.a_supply(session, stage.supply_model, tag="PS-7", home_id=other.id)
        build.a_supply(session, stage.supply_model, tag="PS-9", home_id=own.id)
        small = build.a_supply_model(session, tag="S160", rated_w=160.0)
        build.a_supply(session, small, tag="PS-6", home_id=own.id)
    found = asked(store, "PS-1").candidates
    assert [(c.unit, c.is_same_model, c.is_near) for c in found] == [
        ("PS-9", True, True),
        ("PS-7", True, False),
        ("PS-6", False, True),
    ]
