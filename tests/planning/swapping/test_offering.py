"""What somebody looks at before choosing: in what units differ, and what a swap would do without doing it."""

import pytest
from sqlalchemy import select

from service.errors import Refused
from service.planning.swapping.acting.trying import Tried, tried
from service.planning.swapping.offering import Differs, Offer, offered
from service.shows.faults import Fault
from service.stock.gear import Unit, UnitState
from service.store.work import Store
from tests.planning.swapping.acts import TODAY, every_row, swapped


def offer(store: Store, tag: str, new: str) -> Offer:
    with store.reading() as session:
        found = offered(session, tag, None, TODAY)
    [one] = [one for one in found.offers if one.candidate.unit == new]
    return one


def tries(store: Store, tag: str, new: str) -> Tried:
    with store.supposing("deck") as session:
        return tried(session, tag, new, None, TODAY, "deck")


def test_a_pack_of_another_model_is_told_by_what_is_different(season: Store) -> None:
    one = offer(season, "BT-11", "BT-03")
    told = {d.what: (d.was, d.now, d.unit) for d in one.differs}
    assert told["model"] == ("B12-3", "B12-10", "")
    assert told["capacity"] == (3.0, 10.0, "Ah")
    assert "volts" not in told
    assert one.is_whole
    assert not one.is_alike


def test_a_supply_with_more_outputs_says_so(season: Store) -> None:
    """PS-04 is an S320: one output of 13.3 A; PS-25 is an S100."""
    told = {d.what: d for d in offer(season, "PS-25", "PS-04").differs}
    assert told["watts"].now == 320.0
    assert told["output"] == Differs("output", told["output"].was, 13.3, "A")
    assert offer(season, "PS-25", "PS-21").differs == ()


def test_what_a_dark_show_has_must_come_back_first(season: Store) -> None:
    one = offer(season, "DC-32", "DC-31")
    assert one.is_lent
    assert not one.is_whole


def test_it_is_tried_without_a_trace_and_says_what_the_swap_then_does(changing_season: Store) -> None:
    before = every_row(changing_season)
    found = tries(changing_season, "BT-11", "BT-03")
    assert every_row(changing_season) == before
    done = swapped(changing_season, "BT-11", "BT-03", found="swollen")
    assert (found.told.labels, found.told.sets, found.told.mends) == (done.labels, done.sets, done.mends)
    assert (found.over, found.known) == ((), "")


def test_what_is_on_record_of_the_old_one_need_not_be_said_again(changing_season: Store) -> None:
    assert tries(changing_season, "BT-11", "BT-03").known == ""
    with changing_season.writing("deck") as session:
        old = session.scalars(select(Unit).where(Unit.tag == "BT-11")).one()
        old.state, old.state_note = UnitState.FAULTY, "swollen"
    assert tries(changing_season, "BT-11", "BT-03").known == "swollen"
    with changing_season.writing("deck") as session:
        session.add(Fault(number="FL-900", unit_id=old.id, found_on=TODAY, symptom="hot in act one"))
    assert tries(changing_season, "BT-11", "BT-03").known == "hot in act one"


def test_what_cannot_be_is_refused_when_it_is_tried(changing_season: Store) -> None:
    with pytest.raises(Refused, match="DC-13 is not to be had"):
        tries(changing_season, "DC-07", "DC-13")
