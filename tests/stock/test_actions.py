"""Gear found faulty, mended, moved and retired."""

from datetime import date

import pytest

from service.errors import BadRequest, NotFound
from service.stock.actions import change_unit
from service.stock.gear import GearKind, UnitState
from service.stock.schemas import UnitChange
from service.store.work import Store
from tests import builders as build

TODAY = date(2026, 11, 25)


def test_gear_that_is_not_sound_says_why(store: Store) -> None:
    with store.writing("deck") as session:
        build.a_house(session)
        for state in (UnitState.SUSPECT, UnitState.FAULTY, UnitState.MISSING):
            with pytest.raises(BadRequest, match="without a word why"):
                change_unit(session, GearKind.SUPPLY, "PS-1", UnitChange(state=state), None, TODAY)
        hiccups = UnitChange(state=UnitState.FAULTY, state_note="hiccups")
        assert change_unit(session, GearKind.SUPPLY, "PS-1", hiccups, None, TODAY).state == UnitState.FAULTY


def test_retired_gear_is_out_of_the_count_from_that_day_until_it_comes_back(store: Store) -> None:
    with store.writing("deck") as session:
        build.a_house(session)
        gone = change_unit(session, GearKind.SUPPLY, "PS-1", UnitChange(state=UnitState.RETIRED), None, TODAY)
        assert gone.retired_on == TODAY
        back = change_unit(session, GearKind.SUPPLY, "PS-1", UnitChange(state=UnitState.GOOD), None, TODAY)
        assert back.retired_on is None


def test_gear_goes_to_a_bin_that_is_there(store: Store) -> None:
    with store.writing("deck") as session:
        house = build.a_house(session)
        unit = change_unit(session, GearKind.DECODER, "DC-1", UnitChange(home="store"), None, TODAY)
        assert unit.home_id == house.place.parent_id
        assert (
            change_unit(session, GearKind.DECODER, "DC-1", UnitChange(home=None), None, TODAY).home_id is None
        )
        with pytest.raises(BadRequest, match="no place Z9"):
            change_unit(session, GearKind.DECODER, "DC-1", UnitChange(home="Z9"), None, TODAY)


def test_a_supply_is_not_changed_as_a_decoder(store: Store) -> None:
    with store.writing("deck") as session:
        build.a_house(session)
        with pytest.raises(NotFound):
            change_unit(session, GearKind.DECODER, "PS-1", UnitChange(where_note="pit"), None, TODAY)
