"""Copper against published tables; each figure names its table."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.electrical.conductors import (
    awg_diameter_m,
    awg_section_m2,
    circular_mils,
    core_ohm_per_m,
    lead_drop_v,
    warming,
)
from service.electrical.gauges import awg, gauge, known_gauge, metric, thicker_than
from service.errors import BadQuantity

# Gauge, diameter mm, area mm2, circular mils (ASTM B258); ohm/km and ohm/1000 ft at 20 degC (IEC 60028
# resistivity; NBS Handbook 100 prints the same digits); ohm/km at 75 degC (same, alpha 0.00393).
SOLID_COPPER = [
    (10, 2.5882, 5.2612, 10383, 3.277, 0.9988, 3.985),
    (12, 2.0525, 3.3088, 6529.9, 5.211, 1.588, 6.337),
    (14, 1.6277, 2.0809, 4106.7, 8.285, 2.525, 10.076),
    (16, 1.2908, 1.3087, 2582.7, 13.174, 4.016, 16.022),
    (18, 1.0237, 0.8230, 1624.3, 20.948, 6.385, 25.476),
    (22, 0.6438, 0.3255, 642.4, 52.96, 16.14, 64.41),
    (24, 0.5106, 0.2047, 404.0, 84.21, 25.67, 102.42),
]
FEET_PER_M = 3.2808399


@pytest.mark.parametrize(("number", "mm", "mm2", "cmil", "r20", "r20_ft", "r75"), SOLID_COPPER)
def test_a_gauge_has_the_size_and_resistance_of_the_tables(
    number: int, mm: float, mm2: float, cmil: float, r20: float, r20_ft: float, r75: float
) -> None:
    """ASTM B258 for size; IEC 60028 for resistance; tolerance 0.05 %."""
    section_m2 = awg_section_m2(number)
    ohm_per_km = core_ohm_per_m(section_m2) * 1000.0

    assert awg_diameter_m(number) * 1000.0 == pytest.approx(mm, abs=1e-4)
    assert section_m2 * 1e6 == pytest.approx(mm2, rel=5e-4)
    assert circular_mils(section_m2) == pytest.approx(cmil, rel=5e-4)
    assert ohm_per_km == pytest.approx(r20, rel=5e-4)
    assert ohm_per_km / FEET_PER_M == pytest.approx(r20_ft, rel=5e-4)
    assert ohm_per_km * warming(75.0) == pytest.approx(r75, rel=5e-4)


def test_the_gauge_scale_meets_its_two_fixed_points() -> None:
    """ASTM B258: 36 AWG is 0.127 mm and 4/0 is 11.684 mm."""
    assert awg_diameter_m(36) * 1000.0 == pytest.approx(0.127, abs=1e-9)
    assert awg_diameter_m(-3) * 1000.0 == pytest.approx(11.684, abs=1e-4)


@pytest.mark.parametrize(
    ("degc", "ratio"),
    [(0, 0.9214), (20, 1.0), (25, 1.0197), (40, 1.0786), (50, 1.1179), (60, 1.1572), (75, 1.2162)],
)
def test_copper_warms_along_a_straight_line(degc: float, ratio: float) -> None:
    """R(T)/R20 with alpha 0.00393 /K, IEC 60028."""
    assert warming(degc) == pytest.approx(ratio, abs=2e-4)


@pytest.mark.parametrize(
    ("number", "ohm_per_km"), [(18, 25.5), (16, 16.0), (14, 10.1), (12, 6.34), (10, 3.984)]
)
def test_warm_copper_agrees_with_the_code_table(number: int, ohm_per_km: float) -> None:
    """NFPA 70 (2017) Chapter 9 Table 8, solid, uncoated, 75 degC; within 0.5 %."""
    assert core_ohm_per_m(awg_section_m2(number)) * 1000.0 * warming(75.0) == pytest.approx(
        ohm_per_km, rel=5e-3
    )


@pytest.mark.parametrize(
    ("mm2", "ohm_per_km"),
    [(0.5, 39.0), (0.75, 26.0), (1.0, 19.5), (1.5, 13.3), (2.5, 7.98), (4.0, 4.95), (6.0, 3.30)],
)
def test_a_metric_core_is_worse_than_its_nominal_area(mm2: float, ohm_per_km: float) -> None:
    """IEC 60228 Table 3, class 5 plain copper; 13 to 16 % above resistivity over area."""
    assert metric(mm2).ohm_per_m * 1000.0 == pytest.approx(ohm_per_km, rel=1e-9)
    assert 1.13 <= metric(mm2).ohm_per_m / core_ohm_per_m(mm2 * 1e-6) <= 1.16


def test_a_warm_lead_drops_the_volts_of_the_code_table() -> None:
    """24 V, 10 m of two-core 18 AWG, 3 A at 75 degC: 1.530 V (NFPA 70 Ch. 9 Table 8: 25.5 ohm/km; Ohm)."""
    at_20_degc = 25.5e-3 / warming(75.0)

    assert lead_drop_v(3.0, 3.0, at_20_degc, 10.0, conductor_degc=75.0) == pytest.approx(1.530, abs=1e-3)
    assert 24.0 - lead_drop_v(3.0, 3.0, at_20_degc, 10.0, conductor_degc=75.0) == pytest.approx(
        22.470, abs=1e-3
    )
    assert lead_drop_v(3.0, 3.0, awg(18).ohm_per_m, 10.0, conductor_degc=75.0) == pytest.approx(
        1.530, rel=5e-3
    )


def test_a_lead_length_is_one_way_and_the_return_is_counted() -> None:
    """16 AWG at 4.99 ohm/1000 ft, 100 ft one way, 4 A: 3.99 V (public code-training example, printed 4.0)."""
    one_way_m = 100 * 0.3048
    ohm_per_m = 4.99 / 304.8

    assert lead_drop_v(4.0, 4.0, ohm_per_m, one_way_m) == pytest.approx(3.992, rel=5e-3)


def test_a_lead_agrees_with_the_volts_per_amp_per_metre_of_a_cord_table() -> None:
    """BS 7671 Table 4F3B: 0.75 mm2 at 60 degC, 62 mV/A/m, 4 A over 10 m is 2.48 V; tinned, so within 3 %."""
    assert lead_drop_v(4.0, 4.0, metric(0.75).ohm_per_m, 10.0, 60.0) == pytest.approx(2.48, rel=0.03)


@given(
    st.floats(0.01, 20),
    st.floats(0.01, 20),
    st.sampled_from([22, 20, 18, 16, 14, 12]),
    st.floats(0.1, 50),
    st.floats(0.1, 50),
)
def test_a_longer_lead_drops_more_and_twice_the_length_twice_as_much(
    out_a: float, back_a: float, number: int, metres: float, more: float
) -> None:
    r = awg(number).ohm_per_m
    drop_v = lead_drop_v(out_a, back_a, r, metres)

    assert lead_drop_v(out_a, back_a, r, metres + more) > drop_v
    assert lead_drop_v(out_a, back_a, r, 2 * metres) == pytest.approx(2 * drop_v)
    assert lead_drop_v(2 * out_a, 2 * back_a, r, metres) == pytest.approx(2 * drop_v)


@given(st.integers(-3, 35))
def test_a_thicker_core_has_less_resistance(number: int) -> None:
    assert core_ohm_per_m(awg_section_m2(number)) < core_ohm_per_m(awg_section_m2(number + 1))


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("18 AWG", "18 AWG"),
        ("awg18", "18 AWG"),
        (" 18awg ", "18 AWG"),
        ("2/0 AWG", "2/0 AWG"),
        ("0 AWG", "1/0 AWG"),
        ("1.5 mm²", "1.5 mm²"),
        ("1,5 mm2", "1.5 mm²"),
        ("2.50 mm^2", "2.5 mm²"),
        ("1 sq mm", "1 mm²"),
    ],
)
def test_a_drum_label_is_read_as_people_write_it(text: str, name: str) -> None:
    assert gauge(text).text == name


@pytest.mark.parametrize(
    "text", ["", "18", "1.5", "37 AWG", "5/0 AWG", "1.7 mm²", "mm²", "18 AWG x 2", "-1 AWG"]
)
def test_a_label_that_is_not_a_gauge_is_refused_and_never_guessed(text: str) -> None:
    with pytest.raises(BadQuantity):
        gauge(text)
    assert known_gauge(text) is None


def test_the_shop_figures_stand() -> None:
    """Common practice: 22 AWG 3 A, 20 5, 18 7, 16 10, 14 15, 12 20; a gauge outside has none."""
    shop = {22: 3.0, 20: 5.0, 18: 7.0, 16: 10.0, 14: 15.0, 12: 20.0}

    assert {number: awg(number).shop_limit_a for number in shop} == shop
    assert awg(24).shop_limit_a is None


@pytest.mark.parametrize("mm2", [0.5, 0.75, 1.0, 1.5, 2.5, 4.0])
def test_a_metric_core_never_carries_more_than_the_cord_table_or_the_next_thinner_shop_gauge(
    mm2: float,
) -> None:
    """BS 7671 Table 4F3A: 0.5 3 A, 0.75 6, 1.0 10, 1.5 16, 2.5 25, 4 32."""
    table = {0.5: 3.0, 0.75: 6.0, 1.0: 10.0, 1.5: 16.0, 2.5: 25.0, 4.0: 32.0}
    shop = {22: 3.0, 20: 5.0, 18: 7.0, 16: 10.0, 14: 15.0, 12: 20.0}
    thinner = [a for n, a in shop.items() if awg(n).section_m2 <= mm2 * 1e-6]

    assert metric(mm2).shop_limit_a == min(table[mm2], max(thinner))


def test_thicker_wire_is_offered_in_its_own_family() -> None:
    assert [g.text for g in thicker_than(awg(16))] == ["14 AWG", "12 AWG"]
    assert [g.text for g in thicker_than(metric(1.5))] == ["2.5 mm²", "4 mm²"]
    assert thicker_than(awg(12)) == ()


def test_a_core_without_section_is_not_a_core() -> None:
    with pytest.raises(ValueError, match="section"):
        core_ohm_per_m(0.0)
