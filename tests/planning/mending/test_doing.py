"""Acts of a mend carried out: all of it or nothing, by the rules of what it changes."""

from typing import Any

import pytest

from service.errors import NotFound, OverLimit, Refused
from service.limits.mends.acts import Act, Readdress, Relead, Replug, Shift
from service.planning.mending.doing import carry_out, over_of
from service.planning.queries import feed_of
from service.stock.records import OutletKind
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage


@pytest.fixture
def stage(store: Store) -> Stage:
    """PS-1 carries 134.4 W through DC-1 (A and B, 67.2 W each) and 134.4 W through DC-2 (C): 268.8 W of
    256. PS-2 and DC-3 are free."""
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=2, decoders=3)
        plan = build.a_plan(session, stage.show)
        for tag, decoder, pitches in (("A", 0, 70), ("B", 0, 70), ("C", 1, 140)):
            element = stage.element(session, tag, runs=((pitches,),))
            build.an_allotment(
                session, plan, element.runs[0], stage.supplies[0], decoder=stage.decoders[decoder]
            )
        build.a_placing(session, plan, stage.supplies[0], place_id=stage.deck.id, outlet_id=stage.outlet.id)
        for n in (0, 1):
            build.a_placing(session, plan, stage.decoders[n], place_id=stage.deck.id)
            build.a_patch(session, plan, stage.decoders[n], universe=1, start=1 + 4 * n)
        return stage


def do(store: Store, *acts: Act, despite: str | None = None) -> None:
    store.write(lambda session: carry_out(session, "WIN", acts, TODAY, despite), by="electrician")


def over(store: Store) -> set[tuple[str, str]]:
    with store.reading() as session:
        return set(over_of(session, "WIN", TODAY))


def fed(store: Store, tag: str) -> dict[str, Any]:
    with store.lookup() as connection:
        [run] = feed_of(connection, tag)["runs"]
        return dict(run)


@pytest.mark.usefixtures("stage")
def test_what_hangs_on_one_bank_moves_together(store: Store) -> None:
    """One after the other, two supplies would meet in DC-1 meanwhile, which is never done."""
    assert ("supply-watts", "PS-1") in over(store)
    do(store, Shift(("A/1", "B/1"), "PS-2", 1))

    assert [(fed(store, tag)["supply"], fed(store, tag)["decoder"]) for tag in "AB"] == [("PS-2", "DC-1")] * 2
    assert fed(store, "C")["supply"] == "PS-1"
    assert ("supply-watts", "PS-1") not in over(store)


@pytest.mark.usefixtures("stage")
def test_half_of_a_bank_is_refused_whatever_is_said(store: Store) -> None:
    with pytest.raises(OverLimit, match="meet in DC-1"):
        do(store, Shift(("A/1",), "PS-2", 1), despite="the producer asked for it")

    assert fed(store, "A")["supply"] == "PS-1"


@pytest.mark.usefixtures("stage")
def test_a_channel_beyond_the_decoder_is_refused_and_nothing_of_the_mend_is_done(store: Store) -> None:
    with pytest.raises(Exception, match="DC-3"):
        do(store, Readdress("DC-1", None, 2, 100), Shift(("C/1",), decoder="DC-3", first_channel=3))

    assert (fed(store, "A")["universe"], fed(store, "A")["start"]) == (1, 1)


@pytest.mark.usefixtures("stage")
def test_a_decoder_listens_elsewhere_afterwards(store: Store) -> None:
    do(store, Readdress("DC-2", None, 2, 101))

    assert (fed(store, "C")["universe"], fed(store, "C")["start"]) == (2, 101)


@pytest.mark.usefixtures("stage")
def test_an_address_that_meets_another_is_refused_without_a_reason(store: Store) -> None:
    """DC-1 has 1 to 4 of universe 1."""
    with pytest.raises(OverLimit, match="overlap"):
        do(store, Readdress("DC-2", None, 1, 3))
    assert fed(store, "C")["start"] == 5
    do(store, Readdress("DC-2", None, 1, 3), despite="they shall do the same")
    assert fed(store, "C")["start"] == 3


@pytest.mark.usefixtures("stage")
def test_a_lead_is_of_another_wire_and_fed_at_both_ends(store: Store) -> None:
    do(store, Relead("C/1", "14 AWG", "both"))

    assert (fed(store, "C")["lead_gauge"], fed(store, "C")["feed_style"]) == ("14 AWG", "both")


def test_a_supply_is_plugged_in_elsewhere(store: Store, stage: Stage) -> None:
    with store.writing("tests") as session:
        build.an_outlet(
            session, tag="C2", venue_id=stage.venue.id, place_id=stage.deck.id, kind=OutletKind.RELAY
        )
    do(store, Replug("PS-1", "C2"))

    with store.lookup() as connection:
        [source] = feed_of(connection, "A")["sources"]
    assert source["outlet"] == "C2"


@pytest.mark.usefixtures("stage")
def test_what_is_not_there_any_more_is_said(store: Store) -> None:
    for act in (Readdress("DC-3", None, 1, 1), Replug("PS-2", "C1"), Replug("PS-1", "C9")):
        with pytest.raises(NotFound):
            do(store, act)


def test_without_a_kept_plan_there_is_nothing_to_move(store: Store) -> None:
    with store.writing("tests") as session:
        stage = a_stage(session)
        stage.element(session, "A")
    with pytest.raises(Refused, match="no kept plan"):
        do(store, Replug("PS-1", "C1"))
