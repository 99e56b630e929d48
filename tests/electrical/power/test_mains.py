"""Amps from the wall, against published rules and sums by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.electrical.power.mains import (
    Curve,
    Surge,
    at_once,
    branch_a,
    breaker_for_a,
    circuit,
    draw,
    inrush,
    limit_a,
    limit_w,
    output_w,
    peak_v,
    per_circuit,
    surge,
    trip_band_a,
)
from service.errors import BadQuantity

SHARES = st.floats(0.3, 1.0)


@pytest.mark.parametrize(
    ("continuous_a", "other_a", "needed_a", "breaker_a"),
    [(16.0, 0.0, 20.0, 20.0), (12.0, 0.0, 15.0, 15.0), (10.0, 3.0, 15.5, 20.0)],
)
def test_c1_a_breaker_is_rated_for_125_percent_of_what_runs_for_hours(
    continuous_a: float, other_a: float, needed_a: float, breaker_a: float
) -> None:
    """NFPA 70 (2017) Art. 100, 210.19(A)(1)(a), 210.20(A), 240.6(A)."""
    assert branch_a(continuous_a, other_a) == pytest.approx(needed_a)
    assert breaker_for_a(needed_a) == breaker_a


@pytest.mark.parametrize(("breaker_a", "full_w", "hours_w"), [(15, 1800, 1440), (20, 2400, 1920)])
def test_c2_watts_of_a_circuit_at_120_volts(breaker_a: float, full_w: float, hours_w: float) -> None:
    """Arithmetic on NFPA 70 (2017) 210.20(A), power factor 1."""
    assert limit_w(breaker_a, 120.0, load_factor=1.0) == pytest.approx(full_w)
    assert limit_w(breaker_a, 120.0) == pytest.approx(hours_w)


@pytest.mark.parametrize(("breaker_a", "full_w", "hours_w"), [(13, 2990, 2392), (16, 3680, 2944)])
def test_c3_watts_of_a_circuit_at_230_volts(breaker_a: float, full_w: float, hours_w: float) -> None:
    """Arithmetic; the 80 % is house policy here, IEC has no general rule."""
    assert limit_w(breaker_a, 230.0, load_factor=1.0) == pytest.approx(full_w)
    assert limit_w(breaker_a, 230.0) == pytest.approx(hours_w)


@pytest.mark.parametrize(
    ("given_w", "volts", "efficiency", "factor", "input_w", "va", "amps"),
    [
        pytest.param(384, 120, 0.88, 0.95, 436.4, 459.3, 3.828, id="P_AC1"),
        pytest.param(240, 120, 0.85, 0.60, 282.4, 470.6, 3.922, id="P_AC2"),
        pytest.param(480, 230, 0.90, 0.95, 533.3, 561.4, 2.441, id="P_AC3"),
    ],
)
def test_what_a_supply_takes_from_the_wall(
    given_w: float, volts: float, efficiency: float, factor: float, input_w: float, va: float, amps: float
) -> None:
    """Single-phase power V I PF; definition of efficiency."""
    taken = draw(given_w, volts, efficiency, factor)

    assert taken.input_w == pytest.approx(input_w, abs=0.05)
    assert taken.apparent_va == pytest.approx(va, abs=0.05)
    assert taken.current_a == pytest.approx(amps, abs=5e-4)
    assert taken.heat_w == pytest.approx(input_w - given_w, abs=0.05)
    assert taken.assumed == ()


@pytest.mark.parametrize(("breaker_a", "count", "limit"), [(15.0, 3, 12.0), (20.0, 4, 16.0)])
def test_p_ac4_three_supplies_on_15_amps_and_four_on_20(breaker_a: float, count: int, limit: float) -> None:
    """384 W, 120 V, 0.88, 0.95 each (NFPA 70 (2017) 210.20(A))."""
    assert per_circuit(draw(384.0, 120.0, 0.88, 0.95).current_a, breaker_a) == count
    assert limit_a(breaker_a) == pytest.approx(limit)


@pytest.mark.parametrize(
    ("curve", "band"), [(Curve.B, (48, 80)), (Curve.C, (80, 160)), (Curve.D, (160, 320))]
)
def test_p_ac5_a_16_amp_breaker_trips_on_a_surge_within_its_band(
    curve: Curve, band: tuple[float, float]
) -> None:
    """IEC 60898-1."""
    assert trip_band_a(16.0, curve) == band


@pytest.mark.parametrize(
    ("count", "does"), [(1, Surge.HOLDS), (2, Surge.MAY_TRIP), (3, Surge.TRIPS)], ids=["60", "120", "180"]
)
def test_p_ac6_supplies_that_surge_60_amps_on_a_16_amp_type_c(count: int, does: Surge) -> None:
    """IEC 60898-1; the maker's count per circuit wins."""
    assert surge(60.0 * count, 16.0, Curve.C) is does


def test_a_surge_at_the_edge_of_the_band() -> None:
    """IEC 60898-1: up to 5 times it holds, from 10 times it trips."""
    assert surge(80.0, 16.0, Curve.C) is Surge.HOLDS
    assert surge(159.9, 16.0, Curve.C) is Surge.MAY_TRIP
    assert surge(160.0, 16.0, Curve.C) is Surge.TRIPS


@pytest.mark.parametrize(("rms_v", "top_v"), [(120.0, 169.7), (230.0, 325.3)])
def test_p_ac7_the_top_of_the_wave(rms_v: float, top_v: float) -> None:
    """Definition: root two."""
    assert peak_v(rms_v) == pytest.approx(top_v, abs=0.05)


def test_a_fog_machine_and_five_supplies_are_over_on_20_amps() -> None:
    """Four S320 (0.90, 0.98) and one S150L (0.88, 0.97), decoders 2 %: 8.81 + 8.33 = 17.15 A > 16.0 A."""
    loads_w = (311.04, 184.32, 184.32, 175.20)
    draws = [draw(output_w(w), 120.0, 0.90, 0.98) for w in loads_w]
    draws.append(draw(output_w(57.6), 120.0, 0.88, 0.97))
    deck = circuit(draws, 1000.0, 20.0, 120.0)

    assert deck.supplies_a == pytest.approx(8.81, abs=0.005)
    assert deck.other_a == pytest.approx(8.33, abs=0.005)
    assert deck.total_a == pytest.approx(17.15, abs=0.005)
    assert deck.limit_a == pytest.approx(16.0)
    assert deck.load_share == pytest.approx(1.0716, abs=5e-5)
    assert deck.is_over

    started = inrush([60.0, 60.0, 60.0, 60.0, 50.0], 20.0)
    assert (started.supplies, started.at_least_a, started.steps) == (5, 290.0, 2)
    assert started.supplies > at_once(20.0)


def test_five_supplies_that_run_at_5_amps_still_surge_280() -> None:
    """Four S150 (0.89, 0.97) and one S320 (0.90, 0.98): 5.10 A of 12.0 running, 280 A when switched on."""
    draws = [draw(output_w(w), 120.0, 0.89, 0.97) for w in (118.08, 107.52, 69.12, 82.56)]
    draws.append(draw(output_w(144.0), 120.0, 0.90, 0.98))
    studio = circuit(draws, 0.0, 15.0, 120.0)

    assert studio.total_a == pytest.approx(5.10, abs=0.005)
    assert studio.limit_a == pytest.approx(12.0)
    assert not studio.is_over
    assert inrush([55.0] * 4 + [60.0], 15.0).at_least_a == 280.0


def test_a_circuit_at_exactly_its_limit_is_not_over() -> None:
    """1 920 W at 120 V is 16.0 A; one watt more is over."""
    assert not circuit([], 1920.0, 20.0, 120.0).is_over
    assert circuit([], 1921.0, 20.0, 120.0).is_over


def test_a_blank_on_the_sheet_is_taken_at_its_worst_and_said() -> None:
    """100 W at 120 V, 0.85 and 0.5 taken: 1.961 A; at 0.98 it would be 1.000 A (by hand)."""
    taken = draw(100.0, 120.0, None, None)
    efficiency, factor = taken.assumed

    assert taken.current_a == pytest.approx(1.961, abs=5e-4)
    assert "the power factor is not given: 0.5 was taken" in factor.text
    assert factor.at_best == pytest.approx(1.000, abs=5e-4)
    assert efficiency.at_best == pytest.approx(1.773, abs=5e-4)
    assert [a.figure for a in draw(100.0, 120.0, 0.9, None).assumed] == ["the power factor"]


def test_a_surge_nobody_knows_is_counted_as_unknown_and_started_alone() -> None:
    """60 + 60 hold on 32 A type C (160 A), a third does not; two unknown start one by one."""
    started = inrush([60.0, None, 60.0, 60.0, None], 32.0, Curve.C)

    assert (started.supplies, started.at_least_a, started.unknown, started.steps) == (5, 180.0, 2, 4)
    assert inrush([200.0, 50.0], 32.0, Curve.C).steps == 2
    assert inrush([60.0, 60.0, 100.0, 100.0], 32.0, Curve.C).steps == 2
    assert inrush([], 20.0).steps == 0
    assert inrush([None] * 5, 20.0).at_least_a == 0.0
    assert inrush([None] * 5, 20.0).unknown == 5


@given(st.floats(1.0, 1000.0), st.floats(0.0, 500.0), SHARES, SHARES)
def test_more_load_never_takes_fewer_amps_and_a_worse_supply_takes_more(
    load_w: float, more_w: float, efficiency: float, factor: float
) -> None:
    taken = draw(load_w, 120.0, efficiency, factor)

    assert draw(load_w + more_w, 120.0, efficiency, factor).current_a >= taken.current_a
    assert draw(load_w, 120.0, 0.9 * efficiency, factor).current_a > taken.current_a
    assert draw(load_w, 120.0, efficiency, 0.9 * factor).current_a > taken.current_a
    assert draw(load_w, 120.0, None, None).current_a >= draw(load_w, 120.0, 0.85, 0.5).current_a - 1e-9
    assert taken.heat_w == pytest.approx(taken.input_w - load_w)


@given(st.lists(st.floats(1.0, 60.0), max_size=12), st.sampled_from(Curve))
def test_groups_are_no_fewer_than_the_sum_needs_and_no_more_than_supplies(
    each_a: list[float], curve: Curve
) -> None:
    started = inrush(each_a, 20.0, curve)

    assert sum(each_a) / trip_band_a(20.0, curve)[0] - 1e-3 <= started.steps <= len(each_a)


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ((-1.0, 120.0, 0.9, 0.9), "the load cannot be -1"),
        ((1.0, 0.0, 0.9, 0.9), "the mains cannot be 0"),
        ((1.0, 501.0, 0.9, 0.9), "the mains cannot be 501"),
        ((1.0, 120.0, 0.0, 0.9), "the efficiency cannot be 0"),
        ((1.0, 120.0, 0.9, 0.0), "the power factor cannot be 0"),
        ((1.0, 120.0, 0.9, 1.1), "the power factor cannot be 1.1"),
        ((float("nan"), 120.0, 0.9, 0.9), "the load cannot be nan"),
    ],
)
def test_what_cannot_be_is_refused_with_its_range(
    values: tuple[float, float, float, float], said: str
) -> None:
    with pytest.raises(BadQuantity, match=said) as refused:
        draw(*values)
    assert refused.value.mend.startswith("Give ")


def test_a_circuit_whose_other_load_is_not_known_is_refused_not_taken_for_nothing() -> None:
    with pytest.raises(BadQuantity, match="other load on the circuit is not given"):
        circuit([], None, 20.0, 120.0)
    with pytest.raises(BadQuantity, match="the breaker cannot be 0"):
        circuit([], 0.0, 0.0, 120.0)
    with pytest.raises(BadQuantity, match="amps of each cannot be 0"):
        per_circuit(0.0, 20.0)
    with pytest.raises(BadQuantity, match="amps needed cannot be 101"):
        breaker_for_a(101.0)
