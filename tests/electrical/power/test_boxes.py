"""Air in closed boxes. The factors are from memory or common practice; the sums are checked by hand."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.electrical.power.boxes import (
    PLASTIC_W_PER_M2_K,
    PLY_12_MM_W_PER_M2_K,
    SHEET_STEEL_W_PER_M2_K,
    Box,
    Derating,
    Vent,
    box_state,
    rise_k_per_w,
    supply_heat_w,
)
from service.electrical.supplies import usable_w
from service.errors import BadQuantity

PLINTH = Box(area_m2=0.40, passed_w_per_m2_k=PLY_12_MM_W_PER_M2_K, ambient_degc=30.0)
S320 = Derating(320.0, 0.90, 40.0, 0.025, 70.0)

BOXES = st.builds(
    Box,
    st.floats(0.05, 3.0),
    st.floats(1.0, 8.0),
    st.floats(-20.0, 60.0),
    st.sampled_from(Vent),
    st.floats(1.0, 200.0),
)
SUPPLIES = st.builds(
    Derating,
    st.floats(20.0, 1000.0),
    st.floats(0.5, 1.0),
    st.floats(20.0, 60.0),
    st.floats(0.0, 0.05),
    st.floats(60.0, 80.0),
    st.floats(0.5, 1.0),
)
LOADS = st.floats(0.0, 1000.0)


def test_the_plinth_is_fine_cold_and_over_when_warm() -> None:
    """184.32 W in 12 mm ply: 24.17 W of heat, 54.2 degC, 64.6 % of 320 W, 80 % of that; 72 % on the bench."""
    state = box_state(PLINTH, S320, 184.32)

    assert state.heat_w == pytest.approx(24.166, abs=5e-4)
    assert state.inside_degc == pytest.approx(54.2, abs=0.05)
    assert state.limit_w == pytest.approx(165.3, abs=0.05)
    assert state.load_share == pytest.approx(1.115, abs=5e-4)
    assert state.load_w / usable_w(320.0) == pytest.approx(0.72, abs=5e-4)


def test_the_share_left_is_taken_from_the_temperature_before_it_is_rounded() -> None:
    """54.166 degC leaves 0.6458, shown as 0.646; from 54.2, as shown, it would be 0.645."""
    assert box_state(PLINTH, S320, 184.32).ambient_share == pytest.approx(0.6458, abs=5e-5)


def test_load_and_limit_meet_where_each_gives_the_other() -> None:
    """P = 256 (1 - 0.025 (30 + 0.131111 P - 40)), so P = 320 / 1.839111 = 173.997 W (by hand)."""
    meets_w = box_state(PLINTH, S320, 184.32).meets_w

    assert meets_w == pytest.approx(173.997, abs=1e-3)
    assert box_state(PLINTH, S320, meets_w).limit_w == pytest.approx(meets_w)


@pytest.mark.parametrize(
    ("box", "k_per_w"),
    [
        (Box(0.24, SHEET_STEEL_W_PER_M2_K, 25.0), 0.7576),
        (Box(0.24, SHEET_STEEL_W_PER_M2_K, 25.0, Vent.VENTED), 0.3788),
        (Box(0.40, PLASTIC_W_PER_M2_K, 25.0), 0.7143),
        (Box(0.40, PLY_12_MM_W_PER_M2_K, 25.0, Vent.FAN, 20.0), 0.1471),
        (Box(0.40, PLY_12_MM_W_PER_M2_K, 25.0, Vent.FAN, 1.0), 1.0),
    ],
    ids=["sealed", "vented", "plastic", "fan", "fan too weak to help"],
)
def test_walls_vents_and_fans_let_heat_out(box: Box, k_per_w: float) -> None:
    """1/(5.5 x 0.24), half of it, 1/(3.5 x 0.4), 1/(0.34 x 20); a weak fan is no worse than none."""
    assert rise_k_per_w(box) == pytest.approx(k_per_w, abs=5e-5)


@pytest.mark.parametrize(
    ("load_w", "efficiency", "heat_w"), [(384.0, 0.88, 52.4), (480.0, 0.90, 53.3)], ids=["P_AC1", "P_AC3"]
)
def test_what_a_supply_does_not_give_it_turns_into_heat(
    load_w: float, efficiency: float, heat_w: float
) -> None:
    """Definition of efficiency."""
    assert supply_heat_w(load_w, efficiency) == pytest.approx(heat_w, abs=0.05)


def test_decoders_outside_the_box_do_not_warm_it_and_a_second_supply_does() -> None:
    """184.32 W: 20.48 W from the supply alone; 30 W more beside it."""
    assert box_state(PLINTH, S320, 184.32, decoder_loss_share=0.0).heat_w == pytest.approx(20.48)
    assert box_state(PLINTH, S320, 184.32, other_heat_w=30.0).rise_k == pytest.approx(54.166, abs=1e-3)


def test_air_above_what_the_maker_allows_leaves_nothing() -> None:
    """30 degC and 45 W beside it is 75 degC before a watt is loaded; the maker stops at 70."""
    state = box_state(PLINTH, S320, 100.0, other_heat_w=45.0)

    assert (state.limit_w, state.meets_w, state.load_share) == (0.0, 0.0, None)
    lossless = box_state(PLINTH, replace(S320, efficiency=1.0), 100.0, 45.0, decoder_loss_share=0.0)
    assert (lossless.limit_w, lossless.meets_w) == (0.0, 0.0)


def test_a_supply_that_loses_nothing_before_it_stops_is_held_by_where_it_stops() -> None:
    """No slope, stops at 50 degC: 20 K over 0.131111 K/W is 152.5 W (by hand)."""
    steep = replace(S320, derate_per_k=0.0, max_degc=50.0)

    assert box_state(PLINTH, steep, 10.0).meets_w == pytest.approx(152.542, abs=1e-3)


def test_in_a_cool_roomy_box_the_house_share_alone_holds() -> None:
    assert box_state(replace(PLINTH, area_m2=4.0, ambient_degc=10.0), S320, 10.0).meets_w == 256.0


@given(BOXES, SUPPLIES, LOADS, st.floats(0.0, 20.0))
def test_warmer_air_outside_never_gives_more_watts(
    box: Box, supply: Derating, load_w: float, warmer_k: float
) -> None:
    assert box.ambient_degc is not None
    cool = box_state(box, supply, load_w)
    warm = box_state(replace(box, ambient_degc=box.ambient_degc + warmer_k), supply, load_w)

    assert warm.inside_degc >= cool.inside_degc
    assert warm.limit_w <= cool.limit_w
    assert warm.meets_w <= cool.meets_w + 1e-9


@given(BOXES, SUPPLIES, st.floats(0.001, 2.0))
def test_below_the_meeting_load_all_is_well_and_above_it_is_over(
    box: Box, supply: Derating, times: float
) -> None:
    meets_w = box_state(box, supply, 1.0).meets_w
    load_w = times * meets_w
    assume(abs(times - 1.0) > 1e-6 and load_w > 1e-3)
    state = box_state(box, supply, load_w)

    assert (state.limit_w >= load_w) is (times < 1.0)


@pytest.mark.parametrize(
    ("box", "supply", "said"),
    [
        ({"ambient_degc": None}, {}, "air outside the box is not given"),
        ({"ambient_degc": 81.0}, {}, "air outside the box cannot be 81"),
        ({"ambient_degc": float("nan")}, {}, "air outside the box cannot be nan"),
        ({"area_m2": None}, {}, "faces in free air is not given"),
        ({"area_m2": 0.0}, {}, "faces in free air cannot be 0"),
        ({"passed_w_per_m2_k": -2.5}, {}, "heat passed cannot be -2.5"),
        ({"vent": Vent.FAN}, {}, "fan's air is not given"),
        ({}, {"efficiency": 0.0}, "efficiency cannot be 0"),
        ({}, {"efficiency": 1.01}, "efficiency cannot be 1.01"),
        ({}, {"efficiency": None}, "efficiency is not given"),
        ({}, {"rated_w": -320.0}, "rated watts cannot be -320"),
        ({}, {"full_to_degc": None}, "air it is full to is not given"),
        ({}, {"derate_per_k": -0.01}, "derating cannot be -0.01"),
        ({}, {"max_degc": 39.0}, "greatest air cannot be 39"),
        ({}, {"load_factor": 0.0}, "load factor cannot be 0"),
    ],
)
def test_what_is_missing_or_cannot_be_is_refused_with_its_range(
    box: dict[str, Any], supply: dict[str, Any], said: str
) -> None:
    with pytest.raises(BadQuantity, match=said) as refused:
        box_state(replace(PLINTH, **box), replace(S320, **supply), 100.0)
    assert refused.value.mend.startswith("Give ")


@pytest.mark.parametrize(
    ("load_w", "other_heat_w", "decoders", "said"),
    [(-1.0, 0.0, 0.02, "the load"), (1.0, -1.0, 0.02, "the other heat"), (1.0, 0.0, 1.5, "decoders' share")],
)
def test_loads_and_heat_below_nothing_are_refused(
    load_w: float, other_heat_w: float, decoders: float, said: str
) -> None:
    with pytest.raises(BadQuantity, match=said):
        box_state(PLINTH, S320, load_w, other_heat_w, decoders)
