"""A pack along a show: sums by hand, and what must hold for any of them."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.electrical.power.packs import Demand, Dimming, Pack
from service.electrical.power.running import Stretch, lasts_h, packs_needed, running
from service.errors import BadQuantity

ROBE = Demand(load_w=24.96, idle_w=1.2)
SMALL = Pack(12.8, 3.0)
LARGE = Pack(12.8, 10.0)
SHOW = (
    Stretch("preset", 30.0, 0.0),
    Stretch("act one a", 20.0, 1.0),
    Stretch("act one b", 40.0, 0.0),
    Stretch("interval", 20.0, 0.0),
    Stretch("act two", 50.0, 1.0),
)

ORDERS = st.lists(
    st.builds(Stretch, st.just("x"), st.floats(0.5, 90.0), st.floats(0, 1)), min_size=1, max_size=8
)
PACKS = st.builds(
    Pack,
    st.sampled_from([12.8, 25.6]),
    st.floats(0.5, 20.0),
    st.floats(0.3, 1.0),
    st.none() | st.floats(1.0, 1.4),
    st.just(20.0),
    st.floats(-20.0, 60.0),
)
DEMANDS = st.builds(
    Demand, st.floats(0.5, 100.0), st.floats(0.0, 5.0), st.floats(0.5, 1.0), st.sampled_from(Dimming)
)


def test_the_robe_dies_in_act_two_on_the_small_pack() -> None:
    """160 min x 1.2/60 + 70 min x 24.96/60 = 32.32 Wh; 12.8 x 3 x 0.8 = 30.72; 70 % of it 21.50 (by hand)."""
    robe = running(SHOW, ROBE, SMALL)

    assert robe.used_wh == pytest.approx(32.32, abs=0.005)
    assert robe.held_wh == pytest.approx(32.62, abs=0.005)
    assert robe.usable_wh == pytest.approx(30.72, abs=0.005)
    assert robe.budget_wh == pytest.approx(21.50, abs=0.005)
    assert robe.charges[3].used_wh == pytest.approx(10.52, abs=0.005)
    assert robe.charges[3].left_wh == pytest.approx(20.20, abs=0.005)
    assert robe.dies_at_min == pytest.approx(156.3, abs=0.05)
    assert robe.dies_in == "act two"
    assert robe.dies_in_min == pytest.approx(46.3, abs=0.05)
    assert robe.is_over
    assert robe.eats_reserve


def test_a_cap_of_60_percent_in_act_two_saves_it() -> None:
    """Duty 0.36: 8.986 W, 7.49 Wh instead of 20.80: 19.01, with the hold 19.31 of 21.50 (by hand)."""
    robe = running((*SHOW[:4], replace(SHOW[4], level=0.6)), ROBE, SMALL)

    assert robe.used_wh == pytest.approx(19.01, abs=0.005)
    assert robe.held_wh == pytest.approx(19.31, abs=0.005)
    assert robe.dies_at_min is None
    assert not robe.eats_reserve


def test_the_large_pack_has_more_than_it_needs() -> None:
    """12.8 x 10 x 0.8 x 0.7 = 71.68 Wh; 32.62 of it is 45.5 % (by hand)."""
    robe = running(SHOW, ROBE, LARGE)

    assert robe.budget_wh == pytest.approx(71.68, abs=0.005)
    assert robe.budget_share == pytest.approx(0.455, abs=5e-4)
    assert robe.dies_at_min is None


def test_a_pack_that_is_just_emptied_does_not_die() -> None:
    """30.72 W for one hour out of 30.72 Wh, no hold: all of it, and not over."""
    order = [Stretch("act", 60.0, 1.0)]

    assert running(order, Demand(30.72), SMALL, hold_min=0.0).dies_at_min is None
    assert not running(order, Demand(30.72), SMALL, hold_min=0.0).is_over
    assert running(order, Demand(30.73), SMALL, hold_min=0.0).is_over
    assert running(order, Demand(30.72), SMALL, hold_level=1.0).held_wh == pytest.approx(38.40)


def test_a_profile_gives_the_hours_of_its_average() -> None:
    """A quarter at full, half at 50 % (square: a quarter), the rest dark: 10 W is 3.75 W; 8.192 h."""
    profile = [(0.25, 1.0), (0.5, 0.5), (0.25, 0.0)]

    assert lasts_h(Demand(10.0), SMALL, profile) == pytest.approx(8.192)
    assert lasts_h(Demand(10.0), SMALL, profile, reserve=True) == pytest.approx(5.7344)
    assert lasts_h(Demand(10.0, dimming=Dimming.LINEAR), SMALL, profile) == pytest.approx(6.144)
    assert lasts_h(Demand(10.0), SMALL, [(1.0, 0.0)]) is None


def test_b9_a_costume_on_a_lead_acid_pack_does_not_last_the_ideal_5_hours() -> None:
    """12 V 7 Ah over 20 h, exponent 1.2, 1.4 A: 3.789 h, 5.31 Ah (Peukert, rated-hours form)."""
    pack = Pack(12.0, 7.0, usable_share=1.0, peukert=1.2)
    hours = lasts_h(Demand(16.8), pack)

    assert hours == pytest.approx(3.789, abs=5e-4)
    assert hours is not None
    assert 1.4 * hours == pytest.approx(5.31, abs=0.005)
    assert lasts_h(Demand(16.8), replace(pack, peukert=None)) == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("shows", "gap_h", "charge_h", "needed"),
    [
        (1, 0.0, None, (2, 2, False)),
        (2, 3.0, 3.0, (2, 2, True)),
        (2, 2.9, 3.0, (2, 4, False)),
        (2, 9.0, None, (2, 4, False)),
    ],
)
def test_a_day_of_two_shows_wants_a_charge_between_or_a_second_set(
    shows: int, gap_h: float, charge_h: float | None, needed: tuple[int, int, bool]
) -> None:
    """32.62 Wh of a budget of 21.50: two packs a show (by hand)."""
    found = packs_needed(32.62, SMALL, shows, gap_h, charge_h)

    assert (found.at_once, found.for_day, found.recharged) == needed
    assert ("not given" in found.why) is (charge_h is None and shows > 1)


def test_a_large_pack_covers_both_shows_on_one_charge() -> None:
    """2 x 32.62 = 65.24 of 71.68 Wh; three shows want a charge."""
    assert packs_needed(32.62, LARGE, 2, 0.0, None).for_day == 1
    assert packs_needed(32.62, LARGE, 3, 0.0, 4.0).for_day == 3


def test_packs_are_counted_by_what_may_be_planned_with_not_by_all_that_is_in_them() -> None:
    """25 Wh is less than the usable 30.72 and more than the budget of 21.50."""
    assert packs_needed(25.0, SMALL, 1, 0.0, None).at_once == 2
    assert packs_needed(SMALL.budget_wh, SMALL, 1, 0.0, None).at_once == 1


@given(ORDERS, DEMANDS, PACKS, st.data())
def test_cutting_a_stretch_in_two_changes_nothing(
    order: list[Stretch], demand: Demand, pack: Pack, data: st.DataObject
) -> None:
    at = data.draw(st.integers(0, len(order) - 1))
    part = data.draw(st.floats(0.1, 0.9))
    cut = order[at]
    halves = [replace(cut, minutes=part * cut.minutes), replace(cut, minutes=(1 - part) * cut.minutes)]
    whole, split = (
        running(order, demand, pack),
        running([*order[:at], *halves, *order[at + 1 :]], demand, pack),
    )

    assert split.held_wh == pytest.approx(whole.held_wh)
    if abs(whole.used_wh - whole.usable_wh) > 1e-3:
        assert split.dies_at_min == pytest.approx(whole.dies_at_min)


@given(ORDERS, DEMANDS, PACKS)
def test_the_minute_of_death_is_when_the_usable_energy_is_gone(
    order: list[Stretch], demand: Demand, pack: Pack
) -> None:
    show = running(order, demand, pack, hold_min=0.0)
    assert (show.dies_at_min is not None) is show.is_over
    if show.dies_at_min is None:
        return
    until, left_min = [], show.dies_at_min
    for stretch in order:
        if left_min > 1e-3:
            until.append(replace(stretch, minutes=min(stretch.minutes, left_min)))
        left_min -= stretch.minutes
    if until:
        spent = running(until, demand, pack, hold_min=0.0).used_wh
        assert spent == pytest.approx(pack.usable_wh, rel=1e-6, abs=1e-2)


@given(ORDERS, DEMANDS, PACKS, st.floats(0.0, 50.0))
def test_more_load_or_more_cold_never_lasts_longer(
    order: list[Stretch], demand: Demand, pack: Pack, more_w: float
) -> None:
    heavier = replace(demand, load_w=demand.load_w + more_w)
    hours, fewer = lasts_h(demand, pack), lasts_h(heavier, pack)
    assert hours is not None
    assert fewer is not None
    assert fewer <= hours + 1e-12
    death, sooner = running(order, demand, pack).dies_at_min, running(order, heavier, pack).dies_at_min
    if death is not None:
        assert sooner is not None
        assert sooner <= death + 1e-6
    cold = lasts_h(demand, replace(pack, air_degc=-20.0))
    assert cold is not None
    assert cold <= hours + 1e-12


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(BadQuantity, match="running order is empty"):
        running([], ROBE, SMALL)
    with pytest.raises(BadQuantity, match="minutes of act cannot be 0"):
        running([Stretch("act", 0.0, 1.0)], ROBE, SMALL)
    with pytest.raises(BadQuantity, match="level cannot be 60"):
        running([Stretch("act", 1.0, 60.0)], ROBE, SMALL)
    with pytest.raises(BadQuantity, match="the hold cannot be -1"):
        running(SHOW, ROBE, SMALL, hold_min=-1.0)
    with pytest.raises(BadQuantity, match=r"shares of the time make 0\.5"):
        lasts_h(ROBE, SMALL, [(0.5, 1.0)])
    with pytest.raises(BadQuantity, match="0 shows"):
        packs_needed(1.0, SMALL, 0, 1.0, 1.0)
    with pytest.raises(BadQuantity, match="capacity is not given"):
        running(SHOW, ROBE, replace(SMALL, capacity_ah=None))
