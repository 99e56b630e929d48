"""Volts lost along leads: the rows named V, each with the text it is printed in."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.electrical.conductors import (
    advised_drop_v,
    awg_section_m2,
    circular_mils,
    cord_drop_v,
    k_form_drop_v,
    lead_drop_v,
    least_circular_mils,
    loop_mv_per_a_m,
    thinnest_awg,
    warm_length_m,
    warming,
)
from service.electrical.gauges import Build, awg, awg_ohm_per_m, metric_ohm_per_m
from service.errors import BadQuantity
from tests.electrical.wire.rows import named

FOOT_M = 0.3048


@pytest.mark.parametrize(
    ("ohm_per_ft", "copper_ft", "volts", "printed_v", "within"),
    [(0.00202, 88, 3.555, 3.60, 0.02), (0.00126, 39, 0.983, 0.98, 0.005)],
    ids=["V1", "V2"],
)
def test_aircraft_wire_loses_what_the_handbook_prints(
    ohm_per_ft: float, copper_ft: float, volts: float, printed_v: float, within: float
) -> None:
    """V1, V2: FAA AC 43.13-1B Change 1 Tables 11-7 and 11-8: 20 A; its length is all of the copper."""
    one_way_m = copper_ft * FOOT_M / 2.0
    drop_v = lead_drop_v(20.0, 20.0, ohm_per_ft / FOOT_M, one_way_m)

    assert drop_v == pytest.approx(volts, abs=5e-4)
    assert drop_v == pytest.approx(printed_v, rel=within)


def test_V3_a_lead_length_is_one_way_and_the_return_is_counted() -> None:
    """V3: 16 AWG, 100 ft one way, 4 A, 24 V: a code-training course prints 4.0 V and 16.7 %."""
    warm_ohm_per_m = awg_ohm_per_m(16, Build.SEVEN_STRAND, 75.0)
    drop_v = lead_drop_v(4.0, 4.0, warm_ohm_per_m, 100 * FOOT_M)

    assert warm_ohm_per_m * 304.8 == pytest.approx(4.99, rel=1e-9)
    assert drop_v == pytest.approx(3.992, rel=5e-3)
    assert 100.0 * drop_v / 24.0 == pytest.approx(16.6, rel=5e-3)


def test_V4_the_boat_builders_form_finds_the_gauge() -> None:
    """V4: ABYC E-11 as quoted publicly: 10 A, 21 ft of copper, 3 % of 12 V: 6271 circular mils, 12 AWG."""
    cmil = least_circular_mils(10.0, 21 * FOOT_M, 0.36)

    assert cmil == pytest.approx(6271, abs=1.0)
    assert thinnest_awg(cmil) == 12
    assert circular_mils(awg_section_m2(12)) == pytest.approx(6530, abs=1.0)


@pytest.mark.parametrize(
    ("number", "cmil", "volts", "pct"), [(12, 6530, 7.90, 6.6), (8, 16510, 3.13, 2.6)], ids=["V5-12", "V5-8"]
)
def test_the_examination_form_loses_what_the_example_prints(
    number: int, cmil: float, volts: float, pct: float
) -> None:
    """V5: a published licence-exam example: K 12.9, 20 A, 100 ft one way, 120 V; within 0.5 %."""
    drop_v = k_form_drop_v(20.0, 100 * FOOT_M, cmil)

    assert drop_v == pytest.approx(volts, rel=5e-3)
    assert 100.0 * drop_v / 120.0 == pytest.approx(pct, abs=0.05)
    assert circular_mils(awg_section_m2(number)) == pytest.approx(cmil, rel=5e-4)


CORD_MV = [(0.5, 93.0), (0.75, 62.0), (1.0, 46.0), (2.5, 19.0), (4.0, 12.0)]


@pytest.mark.parametrize(("mm2", "mv"), named("V6", CORD_MV))
def test_a_cord_loses_what_its_table_prints(mm2: float, mv: float) -> None:
    """V6: BS 7671 Table 4F3B, mV/A/m; one way, the return is in it."""
    assert cord_drop_v(mm2, 1.0, 1.0) == mv / 1000.0


def test_V6_four_amperes_over_ten_metres() -> None:
    """V6: 0.75 mm2, 4 A, 10 m: 2.48 V. BS 7671 Table 4F3B."""
    assert cord_drop_v(0.75, 4.0, 10.0) == 2.48


@pytest.mark.parametrize(
    ("mm2", "mv", "table_mv"),
    named("V7", [(0.5, 92.8, 93), (0.75, 61.8, 62), (1.0, 46.3, 46), (2.5, 19.0, 19), (4.0, 11.8, 12)]),
)
def test_a_tinned_core_at_60_degc_loses_what_the_cord_table_prints(
    mm2: float, mv: float, table_mv: float
) -> None:
    """V7: IEC 60228 Table 3 against BS 7671 Table 4F3B; within 2 %."""
    z_mv = loop_mv_per_a_m(metric_ohm_per_m(mm2, Build.CLASS_5_TINNED), 60.0)

    assert z_mv == pytest.approx(mv, abs=0.06)
    assert z_mv == pytest.approx(table_mv, rel=0.02)


@pytest.mark.parametrize(
    ("volts", "branch_v", "both_v"),
    named("V8", [(5, 0.15, 0.25), (12, 0.36, 0.60), (24, 0.72, 1.20), (120, 3.6, 6.0)]),
)
def test_the_advised_drop_of_the_american_code(volts: float, branch_v: float, both_v: float) -> None:
    """V8: NFPA 70 (2017) 210.19(A) Informational Note 4 and 215.2 Informational Note 2."""
    assert advised_drop_v(volts, "branch circuit")[0] == pytest.approx(branch_v, rel=1e-12)
    assert advised_drop_v(volts, "feeder and branch")[0] == pytest.approx(both_v, rel=1e-12)
    assert "advice" in advised_drop_v(volts, "branch circuit")[1]


def test_V9_the_advised_drop_of_the_british_code() -> None:
    """V9: BS 7671 Table 4Ab, public supply, 230 V: lighting 6.9 V, other use 11.5 V."""
    assert advised_drop_v(230.0, "lighting, public supply")[0] == pytest.approx(6.9)
    assert advised_drop_v(230.0, "other use, public supply")[0] == pytest.approx(11.5)


def test_V10_a_warm_lead_drops_the_volts_of_the_code_table_and_a_circuit_simulator() -> None:
    """V10: 24 V, 10 m of 18 AWG, 3 A at 75 degC: 1.530 V, 22.470 V left. NFPA 70 Ch. 9 Table 8; ngspice."""
    drop_v = lead_drop_v(3.0, 3.0, 25.5e-3 / warming(75.0), 10.0, conductor_degc=75.0)

    assert drop_v == pytest.approx(1.530, abs=1e-3)
    assert 24.0 - drop_v == pytest.approx(22.470, abs=1e-3)
    assert lead_drop_v(3.0, 3.0, awg(18).ohm_per_m, 10.0, 75.0) == pytest.approx(1.530, rel=5e-3)


def test_V11_a_lead_is_shortened_for_heat() -> None:
    """V11: FAA AC 43.13-1B paragraph 11-66: 254.5/(234.5 + T), at 40 degC 0.9271."""
    assert warm_length_m(1.0, 40.0) == pytest.approx(0.9271, abs=2e-4)


ANY_A = st.floats(0.01, 20)
ANY_M = st.floats(0.1, 50)
ANY_AWG = st.sampled_from([22, 20, 18, 16, 14, 12])


@given(ANY_A, ANY_A, ANY_AWG, ANY_M, ANY_M)
def test_a_longer_lead_drops_more_and_twice_the_length_twice_as_much(
    out_a: float, back_a: float, number: int, metres: float, more: float
) -> None:
    r = awg(number).ohm_per_m
    drop_v = lead_drop_v(out_a, back_a, r, metres)

    assert lead_drop_v(out_a, back_a, r, metres + more) > drop_v
    assert lead_drop_v(out_a, back_a, r, 2 * metres) == pytest.approx(2 * drop_v)
    assert lead_drop_v(2 * out_a, 2 * back_a, r, metres) == pytest.approx(2 * drop_v)


@given(ANY_A, ANY_AWG, ANY_M, st.floats(20, 120))
def test_a_lead_shortened_for_heat_loses_what_it_lost_cool(
    load_a: float, number: int, metres: float, degc: float
) -> None:
    r = awg(number).ohm_per_m
    short_m = warm_length_m(metres, degc)

    assert lead_drop_v(load_a, load_a, r, short_m, degc) == pytest.approx(
        lead_drop_v(load_a, load_a, r, metres)
    )


@given(st.floats(0.1, 40), st.floats(0.5, 60), st.floats(0.1, 5))
def test_the_gauge_found_by_the_boat_builders_form_keeps_its_own_drop(
    load_a: float, copper_m: float, allowed_v: float
) -> None:
    """The next thinner gauge that is sold would not."""
    wanted = least_circular_mils(load_a, copper_m, allowed_v)
    if wanted > circular_mils(awg_section_m2(-3)):
        with pytest.raises(BadQuantity, match="4/0"):
            thinnest_awg(wanted)
        return
    number = thinnest_awg(wanted)

    assert circular_mils(awg_section_m2(number)) >= wanted
    thinner = number + 1 if number < 2 else number + 2
    assert number == 36 or circular_mils(awg_section_m2(thinner)) < wanted


@pytest.mark.parametrize("ohm_per_m", [0.0, -0.02, float("nan")])
def test_a_lead_without_resistance_is_refused_with_what_is_allowed(ohm_per_m: float) -> None:
    with pytest.raises(BadQuantity, match="copper") as refusal:
        lead_drop_v(3.0, 3.0, ohm_per_m, 10.0)
    assert "greater than 0 Ω/m" in refusal.value.mend


@pytest.mark.parametrize("one_way_m", [-0.1, float("nan")])
def test_a_lead_of_negative_length_is_refused(one_way_m: float) -> None:
    with pytest.raises(BadQuantity, match="lead") as refusal:
        lead_drop_v(3.0, 3.0, 0.02, one_way_m)
    assert "0 m or more" in refusal.value.mend


def test_what_no_table_or_formula_holds_is_refused_with_what_does() -> None:
    with pytest.raises(BadQuantity) as size:
        cord_drop_v(1.7, 1.0, 1.0)
    with pytest.raises(BadQuantity) as allowed:
        least_circular_mils(10.0, 6.0, 0.0)
    with pytest.raises(BadQuantity) as section:
        k_form_drop_v(10.0, 6.0, 0.0)
    with pytest.raises(BadQuantity) as use:
        advised_drop_v(24.0, "tape")

    assert size.value.mend == "Use one of 0.5, 0.75, 1, 2.5, 4 mm²."
    assert "greater than 0 V" in allowed.value.mend
    assert "greater than 0 circular mils" in section.value.mend
    assert "branch circuit" in use.value.mend


@pytest.mark.parametrize(
    ("number", "next_number"), [(12, 10), (4, 2), (2, 1), (1, 0), (0, -1), (-2, -3)], ids=lambda n: f"{n} AWG"
)
def test_a_gauge_has_enough_copper_for_itself_and_the_next_sold_for_a_hair_more(
    number: int, next_number: int
) -> None:
    own_cmil = circular_mils(awg_section_m2(number))

    assert thinnest_awg(own_cmil) == number
    assert thinnest_awg(own_cmil * 1.000001) == next_number


def test_a_lead_is_cool_unless_its_temperature_is_given() -> None:
    assert loop_mv_per_a_m(0.02) == pytest.approx(40.0, rel=1e-12)
