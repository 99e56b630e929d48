"""Packs against published examples; Peukert's law is an estimate and is printed as one."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.electrical.power.packs import (
    Demand,
    Dimming,
    Pack,
    c_rate,
    cold_share,
    cut_off_share,
    drain_w,
    duty,
    energy_wh,
    ideal_h,
    peukert_h,
    peukert_one_ampere_h,
    transport,
)
from service.errors import BadQuantity


def test_b1_400_ampere_hours_over_20_hours() -> None:
    """US Army Ordnance course text on batteries: 20 A for 20 h; ideally 100 A for 4 h."""
    assert ideal_h(400.0, 20.0) == peukert_h(400.0, 20.0, 1.3, 20.0) == pytest.approx(20.0)
    assert ideal_h(400.0, 100.0) == 4.0


@pytest.mark.parametrize(("current_a", "hours"), [(5.0, 20.0), (10.0, 8.706)])
def test_b2_peukert_by_the_rated_hours(current_a: float, hours: float) -> None:
    """100 Ah over 20 h, exponent 1.2 (standard form; the second example from memory)."""
    assert peukert_h(100.0, current_a, 1.2, 20.0) == pytest.approx(hours, abs=5e-4)
    assert current_a * hours == pytest.approx({5.0: 100.0, 10.0: 87.06}[current_a], abs=0.005)


def test_b3_peukert_by_one_ampere_is_another_capacity() -> None:
    """Public electrical-engineering note: 100 Ah, 1.2, 5 A: 14.496 h, printed 14.5."""
    assert peukert_one_ampere_h(100.0, 5.0, 1.2) == pytest.approx(14.496, abs=5e-4)


def test_b4_energy_of_100_ampere_hours_at_6_volts() -> None:
    """Open textbook: 600 Wh, 2.16 MJ."""
    assert energy_wh(6.0, 100.0) == 600.0
    assert energy_wh(6.0, 100.0) * 3600.0 == pytest.approx(2.16e6)


@pytest.mark.parametrize(("current_a", "hours"), [(0.2, 200.0), (5.0, 8.0)])
def test_b5_ideal_hours_of_40_ampere_hours(current_a: float, hours: float) -> None:
    """Public school science notes."""
    assert ideal_h(40.0, current_a) == pytest.approx(hours)


@pytest.mark.parametrize(
    ("volts", "ah", "wh", "over"),
    [(11.1, 9.0, 99.9, False), (25.2, 4.0, 100.8, True), (12.5, 8.0, 100.0, False)],
)
def test_b6_b7_a_pack_above_100_watt_hours_travels_by_other_rules(
    volts: float, ah: float, wh: float, over: bool
) -> None:
    """Arithmetic; 49 CFR 175.10. Exactly 100 is not above."""
    found = transport(volts, ah)

    assert found.wh == pytest.approx(wh)
    assert found.is_over is over
    assert ("ask the carrier" in found.caution) is over
    assert "UN 38.3" in found.caution


@pytest.mark.parametrize(("current_a", "rate"), [(1.4, 0.2), (0.35, 0.05)])
def test_b8_current_over_capacity(current_a: float, rate: float) -> None:
    """Definition: 7 Ah."""
    assert c_rate(7.0, current_a) == pytest.approx(rate)


def test_b10_a_converter_takes_its_share() -> None:
    """2 A at 12 V through 90 %: 26.67 W, 1.111 A of 24 V (energy balance)."""
    watts = Demand(24.0, converter=0.90).pack_w(1.0)

    assert watts == pytest.approx(26.67, abs=0.005)
    assert watts / 24.0 == pytest.approx(1.111, abs=5e-4)


def test_levels_and_idle_draw() -> None:
    """60 %: 0.36 of the time on the square curve, 0.6 on the straight one; idle goes on in the dark."""
    assert duty(0.6, Dimming.SQUARE) == pytest.approx(0.36)
    assert duty(0.6, Dimming.LINEAR) == 0.6
    assert Demand(10.0, 1.2, 0.8).pack_w(0.0) == pytest.approx(1.5)


@pytest.mark.parametrize(("degc", "left"), [(60.0, 1.0), (25.0, 1.0), (0.0, 0.75), (-20.0, 0.55)])
def test_cold_takes_one_percent_a_kelvin(degc: float, left: float) -> None:
    """From memory."""
    assert cold_share(degc) == pytest.approx(left)
    assert Pack(10.0, 1.0, 1.0, air_degc=degc).usable_wh == pytest.approx(10.0 * left)


@pytest.mark.parametrize(("cut_v", "left"), [(11.2, 0.8), (12.8, 0.0), (13.0, 0.0), (10.8, 1.0), (9.0, 1.0)])
def test_what_has_come_out_when_the_load_switches_off(cut_v: float, left: float) -> None:
    """From memory: a straight line from 12.8 V to 10.8 V."""
    assert cut_off_share(12.8, 10.8, cut_v) == pytest.approx(left)


def test_a_small_current_is_never_given_more_than_the_rating() -> None:
    """84 Wh over 20 h: below 4.2 W the law would give more; above it, less."""
    pack = Pack(12.0, 7.0, peukert=1.2)

    assert drain_w(pack, 1.0) == 1.0
    assert drain_w(pack, 16.8) == pytest.approx(84.0 / 3.789, rel=2e-4)
    assert drain_w(pack, 0.0) == 0.0


@given(st.floats(1.0, 200.0), st.floats(0.1, 50.0), st.floats(1.0, 1.5), st.floats(1.0, 40.0))
def test_both_forms_agree_on_the_same_pack(ah: float, amps: float, exponent: float, hours: float) -> None:
    """The capacity at one ampere is H (C / H) ** k."""
    at_1_a = hours * (ah / hours) ** exponent

    if 0.01 <= at_1_a <= 10_000.0:
        assert peukert_one_ampere_h(at_1_a, amps, exponent) == pytest.approx(
            peukert_h(ah, amps, exponent, hours)
        )


def test_what_cannot_be_is_refused_with_its_range() -> None:
    with pytest.raises(BadQuantity, match="the current cannot be 0"):
        ideal_h(40.0, 0.0)
    with pytest.raises(BadQuantity, match="capacity cannot be -1"):
        c_rate(-1.0, 1.0)
    with pytest.raises(BadQuantity, match=r"exponent cannot be 0\.9") as refused:
        peukert_h(100.0, 5.0, 0.9)
    assert "between 1 and 2" in refused.value.mend
    with pytest.raises(BadQuantity, match="pack's air cannot be -21"):
        cold_share(-21.0)
    with pytest.raises(BadQuantity, match="10 V full is not above 11 V empty"):
        cut_off_share(10.0, 11.0, 10.5)
    with pytest.raises(BadQuantity, match="converter's efficiency cannot be 0"):
        Demand(1.0, converter=0.0).pack_w(1.0)
    with pytest.raises(BadQuantity, match="the load cannot be -1"):
        Demand(-1.0).pack_w(1.0)
    with pytest.raises(BadQuantity, match="usable share cannot be 0"):
        _ = Pack(12.0, 7.0, 0.0).usable_wh
    with pytest.raises(BadQuantity, match="reserve cannot be 1"):
        _ = Pack(12.0, 7.0, reserve_share=1.0).budget_wh
    with pytest.raises(BadQuantity, match="volts is not given"):
        _ = Pack(None, 7.0).rated_wh
