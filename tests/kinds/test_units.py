"""Gear found faulty, mended, moved and retired."""

from datetime import date

import pytest

from service.errors import BadValues, NotFound
from service.kinds.sheets.gear import DECODERS, SUPPLIES
from service.stock.gear import UnitState
from service.store.work import Store
from tests import builders as build
from tests.kinds.hands import HAND, changed


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
