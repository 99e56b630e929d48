"""What could stand in for a unit of a running show, on the demonstration season of 2026-11-25."""

from datetime import date

import pytest
from sqlalchemy import select

from service.errors import BadRequest, NotFound, Refused
from service.planning.swapping.schemas import CandidateOut, SwapsOut
from service.stock.gear import Unit, UnitState
from service.store.work import Store
from tests.planning.swapping.acts import asked, returned


def only(found: SwapsOut, tag: str) -> CandidateOut:
    [one] = [c for c in found.candidates if c.unit == tag]
    return one


def why(found: SwapsOut, tag: str) -> str:
    [line] = [r.because for r in found.refused if tag in r.units]
    return line


def test_only_the_other_twelve_channels_can_dim_the_attic_windows(season: Store) -> None:
    """Eight channels of one 2000 Hz decoder, in one match group: DC-31 alone, and it is with a dark show."""
    found = asked(season, "DC-32")

    assert [(c.unit, c.share, c.last_on, c.verdict) for c in found.candidates] == [
        ("DC-31", "lent", date(2027, 1, 3), "ok")
    ]
    assert "take it back from FR first" in only(found, "DC-31").because
    assert only(found, "DC-31").sets == ["put it into EN-2", "universe 3, slot 51, 12 slots, 8-bit"]
    assert why(found, "DC-01") == "it has 4 channels; 8 are used on DC-32"
    assert why(found, "DC-21") == "it has 5 channels; 8 are used on DC-32"
    assert why(found, "DC-41") == "its control is wireless, not wired"
    assert found.helps.startswith("one more D12")
    assert [e.production for e in found.elsewhere] == ["TL"]


def test_a_supply_with_weak_outputs_cannot_take_a_feed_in_one_piece(season: Store) -> None:
    """PS-25 gives 4.16 A to DC-32; an output of an S384 or S96 may give 3.20 A (4.0 A × 0.80)."""
    found = asked(season, "PS-25")

    same = ["PS-21", "PS-22", "PS-23", "PS-24"]
    assert [c.unit for c in found.candidates] == [*same, "PS-04"]
    assert [c.is_same_model for c in found.candidates] == [True] * 4 + [False]
    assert {c.share for c in found.candidates} == {"lent"}
    assert only(found, "PS-21").sets == ["plug PS-21 into MD1", "put it into EN-2"]
    assert why(found, "PS-13") == "no output of it carries 4.16 A; the most is 3.20 A"
    assert why(found, "PS-41") == "it is 12 V class; 24 V is wanted"
    assert why(found, "PS-02") == "overdue from CO"


def test_a_larger_pack_mends_the_robe_and_comes_before_one_that_dies_as_well(season: Store) -> None:
    """BT-11 dies at minute 156 (32.62 of 30.72 Wh); a pack of 10 Ah does not."""
    found = asked(season, "BT-11")

    assert [(c.unit, c.model, c.share, c.verdict) for c in found.candidates] == [
        ("BT-03", "B12-10", "free", "ok"),
        ("BT-01", "B12-10", "lent", "ok"),
        ("BT-13", "B12-3", "free", "over"),
        ("BT-12", "B12-3", "for a while", "over"),
    ]
    assert only(found, "BT-13").mends == []
    assert "BT-13 gives 32.32 Wh" in only(found, "BT-13").stays[0]
    assert only(found, "BT-03").stays == []
    assert "dies at minute 156" in only(found, "BT-03").mends[0]
    assert only(found, "BT-12").last_on == date(2027, 1, 3)
    assert found.helps == ""


def test_a_pack_promised_by_model_is_free_while_another_meets_the_promise(season: Store) -> None:
    """TW is promised one B12-10 from 2026-12-28; BT-01 is back by then, so BT-03 may stay to the end."""
    assert only(asked(season, "BT-11"), "BT-03").last_on is None


def test_what_is_promised_by_model_may_stay_until_it_is_wanted(season: Store) -> None:
    """TW is promised five DW4 from 2026-12-28, of which there are four; FR is dark and has two."""
    found = asked(season, "DC-44")
    assert [(c.unit, c.share, c.last_on) for c in found.candidates] == [
        ("DC-41", "lent", date(2026, 12, 27)),
        ("DC-42", "lent", date(2026, 12, 27)),
    ]


def test_for_the_last_sound_four_channels_nothing_is_left(season: Store) -> None:
    found = asked(season, "DC-07")

    assert (found.production, found.state, found.state_note) == ("FR", "faulty", "channel 3 dead")
    assert found.candidates == []
    assert why(found, "DC-13") == "with SQ until 2027-01-19"
    assert why(found, "DC-05") == "it feeds FR-01 in FR"
    assert found.helps == (
        "get DC-03 back: overdue from CO; or one more D4 (here 2026-12-12 at the earliest)"
    )


def test_a_show_to_come_is_asked_for_its_own_days(season: Store) -> None:
    """PS-52 is faulty and TL has it from 2027-01-04; the only other S150L is with SQ until 2027-01-19."""
    found = asked(season, "PS-52")

    assert (found.production, found.from_on, found.candidates) == ("TL", date(2027, 1, 4), [])
    assert why(found, "PS-51") == "with SQ until 2027-01-19"
    assert found.helps.startswith("PS-51 is to be had from 2027-01-20; or one more S150L")


def test_a_box_says_what_is_in_it(season: Store) -> None:
    assert asked(season, "EN-2").inside == ["DC-32", "PS-25"]


def test_what_hangs_on_nothing_is_refused_with_the_reason(season: Store) -> None:
    with pytest.raises(Refused, match="PS-13 is in no kept plan"):
        asked(season, "PS-13")
    with pytest.raises(Refused, match="PS-25 is in no kept plan of TL"):
        asked(season, "PS-25", "TL")
    with pytest.raises(NotFound, match="no supply, decoder, battery or box"):
        asked(season, "SQ-09")


def test_where_two_kept_plans_have_it_today_the_show_must_be_named(season: Store) -> None:
    with pytest.raises(BadRequest, match="SQ and TL today") as refused:
        asked(season, "DC-32", today=date(2027, 1, 10))
    assert refused.value.mend == "Name the production."
    assert asked(season, "DC-32", "TL", date(2027, 1, 10)).production == "TL"


def test_a_unit_that_came_back_today_is_free_today(changing_season: Store) -> None:
    returned(changing_season, "DC-31")
    one = only(asked(changing_season, "DC-32"), "DC-31")
    assert (one.share, one.last_on, one.because) == (
        "for a while", date(2027, 1, 3), "from 2027-01-04 TL has it",
    )  # fmt: skip


def test_a_hired_unit_is_there_for_its_hire_only(changing_season: Store) -> None:
    with changing_season.writing("tests") as session:
        pack = session.scalars(select(Unit).where(Unit.tag == "BT-13")).one()
        pack.hired_from, pack.hired_until = date(2026, 11, 1), date(2026, 12, 6)
    one = only(asked(changing_season, "BT-11"), "BT-13")
    assert (one.share, one.last_on) == ("for a while", date(2026, 12, 5))


@pytest.mark.parametrize("state", [UnitState.SUSPECT, UnitState.REPAIR, UnitState.MISSING])
def test_only_sound_units_are_offered(changing_season: Store, state: UnitState) -> None:
    with changing_season.writing("tests") as session:
        session.scalars(select(Unit).where(Unit.tag == "BT-13")).one().state = state
    found = asked(changing_season, "BT-11")
    assert next(c.unit for c in found.candidates) == "BT-03"
    assert why(found, "BT-13") == state.value


@pytest.mark.parametrize(("state", "act"), [(UnitState.MISSING, "find"), (UnitState.FAULTY, "mend")])
def test_what_is_missing_is_to_be_found_and_not_mended(
    changing_season: Store, state: UnitState, act: str
) -> None:
    with changing_season.writing("tests") as session:
        unit = session.scalars(select(Unit).where(Unit.tag == "PS-22")).one()
        unit.state, unit.state_note = state, "said at strike"
    assert asked(changing_season, "PS-25").helps.startswith(f"{act} PS-22 (said at strike)")
