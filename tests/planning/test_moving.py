"""A feed moved or locked by hand: done when every limit holds, refused with the reason when one does not."""

from typing import Any

import pytest
from sqlalchemy import select

from service.errors import BadRequest, NotFound, OverLimit, Refused, Stale
from service.limits.findings import Finding
from service.planning.actions import cancel_plan, find_plan
from service.planning.moving import move_feed
from service.planning.queries import feed_of
from service.planning.records import Placing
from service.planning.schemas import FeedMove
from service.stock.gear import Unit, UnitState
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage, free_for


@pytest.fixture
def stage(store: Store) -> Stage:
    """SQ-1 (38.4 W) on PS-1 through DC-1, SQ-2 (192 W) on PS-2 through DC-2; PS-3 and DC-3 are free."""
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=3, decoders=3)
        plan = build.a_plan(session, stage.show)
        for n, pitches in ((1, 40), (2, 200)):
            element = stage.element(session, f"SQ-{n}", runs=((pitches,),))
            supply, decoder = stage.supplies[n - 1], stage.decoders[n - 1]
            build.an_allotment(session, plan, element.runs[0], supply, decoder=decoder)
            build.a_placing(session, plan, supply, place_id=stage.deck.id, outlet_id=stage.outlet.id)
            build.a_placing(session, plan, decoder, place_id=stage.deck.id)
            build.a_patch(session, plan, decoder, universe=1, start=4 * n - 3)
        return stage


def move(store: Store, tag: str, if_match: str | None = None, **to: Any) -> list[Finding]:
    wanted = FeedMove(**to)
    return store.write(lambda session: move_feed(session, tag, wanted, TODAY, if_match), "electrician")


def fed(store: Store, tag: str) -> dict[str, Any]:
    with store.lookup() as connection:
        return feed_of(connection, tag)


def path(store: Store, tag: str) -> tuple[Any, ...]:
    [run] = fed(store, tag)["runs"]
    return run["supply"], run["output"], run["decoder"], run["first_channel"], run["universe"], run["start"]


@pytest.mark.usefixtures("stage")
def test_a_feed_moves_to_another_supply_with_its_decoder(store: Store) -> None:
    move(store, "SQ-1", supply="PS-3")

    assert path(store, "SQ-1") == ("PS-3", 1, "DC-1", 1, 1, 1)


@pytest.mark.usefixtures("stage")
def test_a_supply_that_is_new_in_the_show_stands_where_the_old_one_stood(store: Store) -> None:
    move(store, "SQ-1", supply="PS-3")

    [source] = fed(store, "SQ-1")["sources"]
    assert (source["place"], source["outlet"]) == ("DECK", "C1")


@pytest.mark.usefixtures("stage")
def test_a_decoder_that_takes_over_inherits_the_address(store: Store) -> None:
    """DC-1 has nothing left on it, so DC-3 answers where DC-1 did."""
    move(store, "SQ-1", decoder="DC-3")

    assert path(store, "SQ-1") == ("PS-1", 1, "DC-3", 1, 1, 1)


def test_a_decoder_that_shares_the_work_takes_the_first_free_address(store: Store, stage: Stage) -> None:
    """SQ-1 gets a second run on DC-1; when one run moves, DC-1 keeps 1 to 4, and 5 to 8 are taken too."""
    with store.writing("tests") as session:
        other = stage.element(session, "SQ-3", runs=((20,),))
        plan = find_plan(session, "WIN", 1)
        build.an_allotment(
            session, plan, other.runs[0], stage.supplies[0], decoder=stage.decoders[0], first_channel=1
        )
    move(store, "SQ-1", decoder="DC-3")

    assert path(store, "SQ-1")[2:] == ("DC-3", 1, 1, 9)


@pytest.mark.usefixtures("stage")
def test_without_a_channel_given_the_first_free_row_is_taken(store: Store) -> None:
    with store.writing("tests") as session:
        model = build.a_decoder_model(session, tag="D12", banks=(12,))
        build.a_decoder(session, model, tag="DC-12")
    move(store, "SQ-1", decoder="DC-12")
    move(store, "SQ-2", supply="PS-1", decoder="DC-12")

    assert path(store, "SQ-1")[2:4] == ("DC-12", 1)
    assert path(store, "SQ-2")[2:4] == ("DC-12", 5)


@pytest.mark.usefixtures("stage")
def test_a_lock_is_put_on_and_taken_off(store: Store) -> None:
    move(store, "SQ-1", locked=True)
    assert fed(store, "SQ-1")["runs"][0]["is_locked"] is True
    move(store, "SQ-1", locked=False)
    assert fed(store, "SQ-1")["runs"][0]["is_locked"] is False


@pytest.fixture
def nearly_full(store: Store, stage: Stage) -> Store:
    """PS-1 carries 38.4 + 96 W and SQ-2 asks for 192: together 326.4 W of 256."""
    with store.writing("tests") as session:
        third = stage.element(session, "SQ-3", runs=((100,),))
        plan = find_plan(session, "WIN", 1)
        build.an_allotment(session, plan, third.runs[0], stage.supplies[0], decoder=stage.decoders[2])
        build.a_placing(session, plan, stage.decoders[2], place_id=stage.deck.id)
    return store


def test_a_move_that_puts_something_over_is_refused_and_leaves_nothing(nearly_full: Store) -> None:
    before = path(nearly_full, "SQ-2")
    with pytest.raises(OverLimit) as refusal:
        move(nearly_full, "SQ-2", supply="PS-1")

    assert "PS-1 carries 326.40 W; its limit is 256.00 W" in refusal.value.message
    assert "despite_limits" in refusal.value.mend
    assert {f.tag for f in refusal.value.findings if isinstance(f, Finding)} == {"PS-1"}
    assert path(nearly_full, "SQ-2") == before
    with nearly_full.reading() as session:
        placed = set(session.scalars(select(Unit.tag).join(Placing, Placing.unit_id == Unit.id)))
    assert placed == {"PS-1", "PS-2", "DC-1", "DC-2", "DC-3"}


def test_a_competent_person_may_do_it_despite_the_limits_and_is_told_what_is_over(nearly_full: Store) -> None:
    left = move(nearly_full, "SQ-2", supply="PS-1", despite_limits="the chief electrician has measured it")

    assert path(nearly_full, "SQ-2")[0] == "PS-1"
    assert ("supply-watts", "PS-1") in {(f.code, f.subject) for f in left}


def test_what_was_over_before_does_not_stand_in_the_way(nearly_full: Store) -> None:
    """PS-1 is over already; locking a feed on it makes nothing worse."""
    move(nearly_full, "SQ-2", supply="PS-1", despite_limits="the chief electrician has measured it")
    left = move(nearly_full, "SQ-1", locked=True)

    assert ("supply-watts", "PS-1") in {(f.code, f.subject) for f in left}


def test_what_is_over_already_may_not_be_made_worse(nearly_full: Store, stage: Stage) -> None:
    move(nearly_full, "SQ-2", supply="PS-1", despite_limits="the chief electrician has measured it")
    with nearly_full.writing("tests") as session:
        stage.element(session, "SQ-4", runs=((10,),), is_dimmed=False)

    with pytest.raises(OverLimit, match=r"336\.00 W"):
        move(nearly_full, "SQ-4", supply="PS-1")


@pytest.mark.usefixtures("stage")
def test_an_unfed_element_is_fed_by_naming_its_supply(store: Store, stage: Stage) -> None:
    with store.writing("tests") as session:
        element = stage.element(session, "SQ-9", runs=((20,), (20,)))
        build.an_unfed_run(session, find_plan(session, "WIN", 1), element.runs[0])

    with pytest.raises(BadRequest, match="SQ-9 is not fed yet"):
        move(store, "SQ-9", decoder="DC-3")
    move(store, "SQ-9", supply="PS-3", decoder="DC-3")
    runs = fed(store, "SQ-9")["runs"]
    assert [(run["supply"], run["first_channel"]) for run in runs] == [("PS-3", 1)] * 2
    assert [run["unfed_because"] for run in runs] == [None, None]


@pytest.mark.usefixtures("stage")
def test_one_run_may_move_alone(store: Store, stage: Stage) -> None:
    with store.writing("tests") as session:
        stage.element(session, "SQ-9", runs=((20,), (20,)), is_dimmed=False)
    move(store, "SQ-9", supply="PS-1")
    move(store, "SQ-9", run=2, supply="PS-3")

    assert [run["supply"] for run in fed(store, "SQ-9")["runs"]] == ["PS-1", "PS-3"]


def test_a_unit_that_another_show_has_is_refused_with_what_is_free_instead(
    store: Store, stage: Stage
) -> None:
    with store.writing("tests") as session:
        ice = build.a_production(session, stage.venue, tag="ICE")
        build.a_hold(session, ice, unit_id=stage.supplies[2].id, quantity=1, from_on=TODAY)
        build.a_supply(session, stage.supply_model, tag="PS-4")

    with pytest.raises(Refused, match="PS-3 is with ICE until 2026-12-18") as refusal:
        move(store, "SQ-1", supply="PS-3")
    assert refusal.value.mend == "Free and sound instead: PS-4."
    assert path(store, "SQ-1")[0] == "PS-1"


def test_a_faulty_unit_is_refused(store: Store, stage: Stage) -> None:
    with store.writing("tests") as session:
        session.get_one(Unit, stage.decoders[2].id).state = UnitState.FAULTY
        assert "DC-3" in free_for(session, stage.show)[1]

    with pytest.raises(Refused, match="DC-3 is faulty") as refusal:
        move(store, "SQ-1", decoder="DC-3")
    assert refusal.value.mend == "No other D4 is free on these days: name a unit of another model."


@pytest.mark.parametrize(
    ("to", "said"),
    [
        ({"supply": "PS-99"}, "no supply or battery has the tag 'PS-99'"),
        ({"supply": "DC-3"}, "no supply or battery has the tag 'DC-3'"),
        ({"decoder": "PS-3"}, "no decoder has the tag 'PS-3'"),
        ({"run": 2, "output": 1}, "SQ-1 has no run 2"),
    ],
)
@pytest.mark.usefixtures("stage")
def test_what_is_not_there_is_named(store: Store, to: dict[str, Any], said: str) -> None:
    with pytest.raises(NotFound, match=said):
        move(store, "SQ-1", **to)


@pytest.mark.usefixtures("stage")
def test_an_output_that_the_supply_has_not_is_refused(store: Store) -> None:
    with pytest.raises(BadRequest, match=r"PS-1 \(S320\) has no output 2") as refusal:
        move(store, "SQ-1", output=2)
    assert refusal.value.mend == "It has one output."


@pytest.mark.usefixtures("stage")
def test_channels_that_the_decoder_has_not_are_refused(store: Store) -> None:
    with pytest.raises(BadRequest, match=r"channels 2 to 5 are not on DC-\d \(D4\)"):
        move(store, "SQ-1", first_channel=2)


@pytest.mark.usefixtures("stage")
def test_straight_on_the_output_is_said_with_an_empty_decoder(store: Store) -> None:
    """What is to be dimmed may not be; a competent person may insist."""
    with pytest.raises(OverLimit, match="is to be dimmed and goes straight on PS-1"):
        move(store, "SQ-1", decoder="")
    move(store, "SQ-1", decoder="", despite_limits="the chief electrician has measured it")

    assert path(store, "SQ-1")[2:4] == (None, None)


@pytest.mark.usefixtures("stage")
def test_a_stale_reader_is_told_so(store: Store) -> None:
    read = fed(store, "SQ-1")["etag"]
    move(store, "SQ-1", if_match=read, locked=True)

    with pytest.raises(Stale, match="the feed of SQ-1 changed since you read it"):
        move(store, "SQ-1", if_match=read, locked=False)
    assert fed(store, "SQ-1")["runs"][0]["is_locked"] is True


def test_an_element_of_a_show_without_a_kept_plan_has_no_feed_to_move(store: Store, stage: Stage) -> None:
    with store.writing("tests") as session:
        other = build.a_production(session, stage.venue, tag="ICE")
        build.an_element(session, other, tag="IC-1", tape=stage.tape)

    with pytest.raises(Refused, match="ICE has no kept plan"):
        move(store, "IC-1", supply="PS-3")
    with pytest.raises(NotFound, match="no element has the tag 'XX-1'"):
        move(store, "XX-1", supply="PS-3")
    with pytest.raises(Refused, match="nothing to cancel"):
        store.write(lambda session: cancel_plan(session, "WIN", 1), "electrician")


def test_why_a_limit_was_passed_over_is_kept_on_record(nearly_full: Store) -> None:
    move(nearly_full, "SQ-2", supply="PS-1", despite_limits="measured at 210 W, signed by the chief")

    assert fed(nearly_full, "SQ-2")["runs"][0]["override_reason"] == "measured at 210 W, signed by the chief"
    move(nearly_full, "SQ-2", supply="PS-2")
    assert fed(nearly_full, "SQ-2")["runs"][0]["override_reason"] is None


@pytest.mark.usefixtures("stage")
def test_nobody_may_put_tape_on_a_voltage_that_burns_it(store: Store) -> None:
    """24 V tape on a 48 V supply, whatever the reason."""
    with store.writing("tests") as session:
        high = build.a_supply_model(session, tag="S48", output_v=48.0, class_v=48.0)
        build.a_supply(session, high, tag="PS-48")

    with pytest.raises(OverLimit) as refusal:
        move(store, "SQ-1", supply="PS-48", decoder="", despite_limits="the designer wants it brighter")
    assert "despite_limits" not in refusal.value.mend
    assert fed(store, "SQ-1")["runs"][0]["supply"] == "PS-1"


@pytest.mark.usefixtures("stage")
@pytest.mark.parametrize("nothing", [{}, {"run": 1}, {"despite_limits": "the head electrician said so"}])
def test_a_move_that_says_nothing_to_change_is_refused(store: Store, nothing: dict[str, Any]) -> None:
    with pytest.raises(BadRequest, match="nothing is said to change") as refusal:
        move(store, "SQ-1", **nothing)
    assert refusal.value.mend == "Say one of supply, output, decoder, first_channel, locked."


@pytest.mark.usefixtures("stage")
def test_a_decoder_without_room_is_named(store: Store) -> None:
    """DC-2 has four channels and SQ-2 has all of them."""
    with pytest.raises(Refused, match=r"DC-2 \(D4\) has no 4 free channels in a row"):
        move(store, "SQ-1", decoder="DC-2", supply="PS-2")
