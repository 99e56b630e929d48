"""What supplies, outputs, channels and packs may carry."""

from math import ceil, floor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.electrical.channels import bank_limit_a, channel_a, channel_limit_a
from service.electrical.supplies import ambient_factor, output_limit_a, usable_w


def test_c14_a_480_watt_supply_may_carry_384_watts_for_hours() -> None:
    """480 W at 80 % is 384 W, 16.0 A at 24 V (common practice; arithmetic)."""
    assert usable_w(480.0) == pytest.approx(384.0)
    assert usable_w(480.0) / 24.0 == pytest.approx(16.0)


def test_c15_heat_and_long_load_multiply() -> None:
    """Full to 50 degC, 60 % at 70: 80 % at 60 degC, 384 W; then 80 % for hours: 307.2 W (interpolation)."""
    factor = ambient_factor(60.0, full_to_degc=50.0, derate_per_k=0.02, max_degc=70.0)

    assert factor == pytest.approx(0.80)
    assert usable_w(480.0, factor, load_factor=1.0) == pytest.approx(384.0)
    assert usable_w(480.0, factor) == pytest.approx(307.2)


@pytest.mark.parametrize(("load_factor", "supplies"), [(1.0, 2), (0.80, 3)])
def test_c16_eight_strings_of_120_watts_need_three_supplies_not_two(
    load_factor: float, supplies: int
) -> None:
    """480 W supplies: 4 strings each at the nameplate, 3 for hours (arithmetic)."""
    per_supply = floor(usable_w(480.0, load_factor=load_factor) / 120.0 + 1e-9)

    assert ceil(8 / per_supply) == supplies


@pytest.mark.parametrize(
    ("degc", "factor"), [(-10, 1.0), (40, 1.0), (54, 0.65), (70, 0.25), (70.1, 0.0), (200, 0.0)]
)
def test_a_supply_keeps_its_rating_to_a_temperature_then_loses_it_evenly_then_stops(
    degc: float, factor: float
) -> None:
    """Full to 40 degC, 2.5 %/K, stops above 70 degC (invented sheet; straight line)."""
    assert ambient_factor(degc, 40.0, 0.025, 70.0) == pytest.approx(factor)


@given(st.floats(-20, 120), st.floats(0, 50), st.floats(20, 60), st.floats(0, 0.2), st.floats(0, 40))
def test_warmer_air_never_gives_more(
    degc: float, warmer_k: float, full_to: float, per_k: float, span_k: float
) -> None:
    cool = ambient_factor(degc, full_to, per_k, full_to + span_k)

    assert 0.0 <= ambient_factor(degc + warmer_k, full_to, per_k, full_to + span_k) <= cool <= 1.0


@given(st.floats(1, 2000), st.floats(0, 1), st.floats(0, 1))
def test_usable_watts_never_exceed_the_rating_and_double_with_it(
    rated_w: float, ambient: float, load_factor: float
) -> None:
    assert usable_w(rated_w, ambient, load_factor) <= rated_w
    assert usable_w(2 * rated_w, ambient, load_factor) == pytest.approx(
        2 * usable_w(rated_w, ambient, load_factor)
    )


def test_outputs_channels_and_banks_keep_a_fifth_free() -> None:
    """Common practice: 80 %."""
    assert output_limit_a(13.3) == pytest.approx(10.64)
    assert channel_limit_a(5.0) == pytest.approx(4.0)
    assert bank_limit_a(15.0) == pytest.approx(12.0)
    assert channel_a([3.0, 3.0]) == pytest.approx(6.0)
