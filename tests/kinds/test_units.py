"""Gear found faulty, mended, moved and retired."""

from datetime import date

import pytest

from service.errors import BadValues, NotFound
from service.kinds import actions
from service.kinds.sheets.gear import DECODERS, SUPPLIES
from service.kinds.steps.walking import Words
from service.stock.gear import UnitState
from service.store.work import Store
from tests import builders as build
from tests.kinds.hands import HAND, changed, made, retired


def test_gear_that_is_not_sound_says_why(store: Store) -> None:
    with store.writing("deck") as session:
        build.a_house(session)
        for state in ("suspect", "faulty", "missing"):
            with pytest.raises(BadValues, match="without a word why"):
                changed(session, SUPPLIES, "PS-1", state=state)
        row = changed(session, SUPPLIES, "PS-1", state="faulty", state_note="hiccups")
        assert row["state"] == UnitState.FAULTY


def test_retired_gear_is_out_of_the_count_from_that_day_until_it_comes_back(store: Store) -> None:
    with store.writing("deck") as session:
        unit = build.a_supply(session, tag="PS-9")
        changed(session, SUPPLIES, "PS-9", state="retired")
        session.refresh(unit)
        assert unit.retired_on == HAND.today
        unit.retired_on = date(2026, 11, 1)
        session.flush()
        changed(session, SUPPLIES, "PS-9", where_note="shed")
        session.refresh(unit)
        assert unit.retired_on == date(2026, 11, 1)
        changed(session, SUPPLIES, "PS-9", state="good")
        session.refresh(unit)
        assert unit.retired_on is None


@pytest.mark.parametrize("how", ["taken out", "by its state", "by a step"])
@pytest.mark.parametrize(("state", "note"), [("good", ""), ("faulty", "hiccups")])
def test_gear_brought_back_stands_where_it_stood(store: Store, how: str, state: str, note: str) -> None:
    with store.writing("deck") as session:
        build.a_supply(session, tag="PS-9", state=UnitState.GOOD)
        if state != "good":
            changed(session, SUPPLIES, "PS-9", state=state, state_note=note)
        if how == "taken out":
            retired(session, SUPPLIES, "PS-9")
        elif how == "by its state":
            changed(session, SUPPLIES, "PS-9", state="retired", state_note="sold")
        else:
            actions.step(session, SUPPLIES, ("PS-9", "retired"), Words("sold"), None, HAND)
        row, _ = actions.restore(session, SUPPLIES, "PS-9", None)
        assert (row["state"], row["state_note"], row["retired_on"]) == (state, note, None)
        assert changed(session, SUPPLIES, "PS-9", where_note="dock")["state"] == state


def test_gear_of_which_nothing_earlier_is_known_comes_back_suspect(store: Store) -> None:
    with store.writing("deck") as session:
        build.a_house(session)
        made(session, SUPPLIES, tag="PS-9", model="S320", state="retired")
        row, _ = actions.restore(session, SUPPLIES, "PS-9", None)
        assert (row["state"], row["retired_on"]) == (UnitState.SUSPECT, None)
        assert row["state_note"] == "brought back; how it was before is not on record"
        assert changed(session, SUPPLIES, "PS-9", where_note="dock")["state"] == "suspect"


def test_gear_goes_to_a_bin_that_is_there(store: Store) -> None:
    with store.writing("deck") as session:
        build.a_house(session)
        assert changed(session, DECODERS, "DC-1", home="store")["home"] == "STORE"
        assert changed(session, DECODERS, "DC-1", home=None)["home"] is None
        with pytest.raises(BadValues, match="Z9 is not a place"):
            changed(session, DECODERS, "DC-1", home="Z9")


def test_a_supply_is_not_changed_as_a_decoder(store: Store) -> None:
    with store.writing("deck") as session:
        build.a_house(session)
        with pytest.raises(NotFound):
            changed(session, DECODERS, "PS-1", where_note="pit")


def test_a_model_that_must_be_there_is_not_offered_to_be_left_out(store: Store) -> None:
    with store.writing("deck") as session, pytest.raises(BadValues) as refusal:
        made(session, SUPPLIES, tag="PS-1", model="QQQQQQ")
    assert [fault.mend for fault in refusal.value.errors] == ["Enter that model first."]
