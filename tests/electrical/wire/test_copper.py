"""Copper against published tables: the rows named R, each with its table."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.electrical.conductors import (
    awg_diameter_m,
    awg_section_m2,
    circular_mils,
    core_ohm_per_m,
    warming,
)
from service.electrical.gauges import Build, awg, awg_ohm_per_m, gauge, metric, metric_ohm_per_m
from service.electrical.sources import (
    CLASS_1_OHM_PER_KM,
    CLASS_2_OHM_PER_KM,
    CLASS_5_OHM_PER_KM,
    CLASS_5_TINNED_OHM_PER_KM,
    SEVEN_STRAND_75C_OHM_PER_KFT,
)
from service.errors import BadQuantity
from tests.electrical.wire.rows import named

FEET_PER_M = 3.2808399
FOOT_M = 0.3048

# Gauge, diameter mm, area mm2, circular mils. ASTM B258.
SIZES = [
    (10, 2.5882, 5.2612, 10383),
    (12, 2.0525, 3.3088, 6529.9),
    (14, 1.6277, 2.0809, 4106.7),
    (16, 1.2908, 1.3087, 2582.7),
    (18, 1.0237, 0.8230, 1624.3),
    (22, 0.6438, 0.3255, 642.4),
    (24, 0.5106, 0.2047, 404.0),
]
# Gauge, ohm/km and ohm/1000 ft at 20 degC, ohm/km at 75 degC. IEC 60028 resistivity over ASTM B258 area
# (NBS Handbook 100 prints the same digits); alpha 0.00393.
OHMS = [
    (10, 3.277, 0.9988, 3.985),
    (12, 5.211, 1.588, 6.337),
    (14, 8.285, 2.525, 10.076),
    (16, 13.174, 4.016, 16.022),
    (18, 20.948, 6.385, 25.476),
    (22, 52.96, 16.14, 64.41),
    (24, 84.21, 25.67, 102.42),
]


@pytest.mark.parametrize(("number", "mm", "mm2", "cmil"), named("R1", SIZES))
def test_a_gauge_has_the_size_of_the_standard(number: int, mm: float, mm2: float, cmil: float) -> None:
    """R1: ASTM B258; 0.0001 mm, 0.05 %."""
    assert awg_diameter_m(number) * 1000.0 == pytest.approx(mm, abs=1e-4)
    assert awg_section_m2(number) * 1e6 == pytest.approx(mm2, rel=5e-4)
    assert circular_mils(awg_section_m2(number)) == pytest.approx(cmil, rel=5e-4)


def test_R1_the_gauge_scale_meets_its_two_fixed_points() -> None:
    """R1: ASTM B258: 36 AWG is 0.127 mm and 4/0 is 11.684 mm."""
    assert awg_diameter_m(36) * 1000.0 == pytest.approx(0.127, abs=1e-9)
    assert awg_diameter_m(-3) * 1000.0 == pytest.approx(11.684, abs=1e-4)


@pytest.mark.parametrize(("number", "mm"), [(12, 2.0525254), (18, 1.0236873)], ids=["R1-12", "R1-18"])
def test_a_gauge_has_the_diameter_a_general_unit_program_gives(number: int, mm: float) -> None:
    """R1: `wiregauge(n)` of GNU units 2.22."""
    assert awg_diameter_m(number) * 1000.0 == pytest.approx(mm, abs=1e-7)


@pytest.mark.parametrize(("number", "r20", "r20_kft", "r75"), named("R2-R3", OHMS))
def test_a_gauge_has_the_resistance_of_the_tables(
    number: int, r20: float, r20_kft: float, r75: float
) -> None:
    """R2 at 20 degC and R3 at 75: IEC 60028 and ASTM B258; 0.05 %."""
    ohm_per_km = 1000.0 * awg_ohm_per_m(number)

    assert ohm_per_km == pytest.approx(r20, rel=5e-4)
    assert ohm_per_km / FEET_PER_M == pytest.approx(r20_kft, rel=5e-4)
    assert 1000.0 * awg_ohm_per_m(number, conductor_degc=75.0) == pytest.approx(r75, rel=5e-4)
    assert 1000.0 * awg(number).ohm_per_m == pytest.approx(r20, rel=5e-4)


@pytest.mark.parametrize(
    ("degc", "ratio"),
    named(
        "R4", [(0, 0.9214), (20, 1.0), (25, 1.0197), (40, 1.0786), (50, 1.1179), (60, 1.1572), (75, 1.2162)]
    ),
)
def test_copper_warms_along_a_straight_line(degc: float, ratio: float) -> None:
    """R4: R(T)/R20 with alpha 0.00393 /K, IEC 60028."""
    assert warming(degc) == pytest.approx(ratio, abs=2e-4)


@pytest.mark.parametrize(
    ("number", "ohm_per_kft", "ohm_per_km"),
    named("R5", [(18, 7.77, 25.5), (16, 4.89, 16.0), (14, 3.07, 10.1), (12, 1.93, 6.34), (10, 1.21, 3.984)]),
)
def test_warm_solid_copper_agrees_with_the_code_table(
    number: int, ohm_per_kft: float, ohm_per_km: float
) -> None:
    """R5: NFPA 70 (2017) Chapter 9 Table 8, solid, uncoated, 75 degC; within 0.5 %."""
    warm_ohm_per_km = 1000.0 * awg_ohm_per_m(number, Build.SOLID, 75.0)

    assert warm_ohm_per_km == pytest.approx(ohm_per_km, rel=5e-3)
    assert warm_ohm_per_km / FEET_PER_M == pytest.approx(ohm_per_kft, rel=5e-3)


@pytest.mark.parametrize(
    ("number", "ohm_per_kft", "ohm_per_km"),
    named("R6", [(18, 7.95, 26.1), (16, 4.99, 16.4), (14, 3.14, 10.3), (12, 1.98, 6.50), (10, 1.24, 4.070)]),
)
def test_seven_strands_have_the_resistance_of_the_code_table(
    number: int, ohm_per_kft: float, ohm_per_km: float
) -> None:
    """R6: NFPA 70 (2017) Chapter 9 Table 8, seven strands, 75 degC. Its two columns are rounded apart."""
    stranded = awg_ohm_per_m(number, Build.SEVEN_STRAND, 75.0)

    assert SEVEN_STRAND_75C_OHM_PER_KFT[number] == ohm_per_kft
    assert stranded * 304.8 == pytest.approx(ohm_per_kft, rel=1e-9)
    assert stranded * 1000.0 == pytest.approx(ohm_per_km, rel=2e-3)
    assert 1.021 <= round(stranded / awg_ohm_per_m(number, conductor_degc=75.0), 3) <= 1.025


@pytest.mark.parametrize(
    ("mm2", "ohm_per_km"),
    named("R7", [(0.5, 39.0), (0.75, 26.0), (1.0, 19.5), (1.5, 13.3), (2.5, 7.98), (4.0, 4.95), (6.0, 3.30)]),
)
def test_a_flexible_metric_core_is_worse_than_its_nominal_area(mm2: float, ohm_per_km: float) -> None:
    """R7: IEC 60228 Table 3, class 5 plain copper; 13 to 16 % above resistivity over area."""
    assert CLASS_5_OHM_PER_KM[mm2] == ohm_per_km
    assert metric_ohm_per_m(mm2, Build.CLASS_5) == ohm_per_km / 1000.0 == metric(mm2).ohm_per_m
    assert 1.13 <= round(metric_ohm_per_m(mm2) / core_ohm_per_m(mm2 * 1e-6), 2) <= 1.16


@pytest.mark.parametrize(
    ("mm2", "ohm_per_km"),
    named("R8", [(0.5, 36.0), (0.75, 24.5), (1.0, 18.1), (1.5, 12.1), (2.5, 7.41), (4.0, 4.61), (6.0, 3.08)]),
)
def test_solid_and_stranded_metric_cores_have_the_resistance_of_the_standard(
    mm2: float, ohm_per_km: float
) -> None:
    """R8: IEC 60228 Tables 1 and 2, plain copper."""
    assert CLASS_1_OHM_PER_KM[mm2] == CLASS_2_OHM_PER_KM[mm2] == ohm_per_km
    assert metric_ohm_per_m(mm2, Build.CLASS_1) == metric_ohm_per_m(mm2, Build.CLASS_2) == ohm_per_km / 1000.0


@pytest.mark.parametrize(
    ("mm2", "ohm_per_km"),
    named("R9", [(0.5, 40.1), (0.75, 26.7), (1.0, 20.0), (1.5, 13.7), (2.5, 8.21), (4.0, 5.09)]),
)
def test_a_tinned_core_has_the_resistance_of_the_standard(mm2: float, ohm_per_km: float) -> None:
    """R9: IEC 60228 Table 3, class 5, tinned."""
    assert CLASS_5_TINNED_OHM_PER_KM[mm2] == ohm_per_km
    assert metric_ohm_per_m(mm2, Build.CLASS_5_TINNED) == ohm_per_km / 1000.0


def test_R10_a_power_cable_of_120_mm2_has_what_a_network_library_prints() -> None:
    """R10: line type N2XS(FL)2Y 1x120 of pandapower 3.5.6: 0.153 ohm/km, alpha 0.00393. The printed value."""
    assert metric_ohm_per_m(120.0, Build.CLASS_2) == 0.153 / 1000.0
    assert warming(21.0) - warming(20.0) == pytest.approx(0.00393)


def test_R11_two_thousand_feet_of_20_awg_in_a_navy_handbook() -> None:
    """R11: US Navy NEETS Module 4, page 1-9: 10.4 ohm/1000 ft at 25 degC, so 20.8 ohm; within 0.7 %."""
    ohms = awg_ohm_per_m(20, conductor_degc=25.0) * 2000 * FOOT_M

    assert ohms == pytest.approx(20.8, rel=7e-3)
    assert ohms == pytest.approx(20.70, abs=0.01)


ANY_AWG = st.integers(-3, 36)
ANY_DEGC = st.floats(-40, 120)


@given(st.integers(-3, 35), st.sampled_from([Build.SOLID, Build.SEVEN_STRAND]), ANY_DEGC)
def test_a_thicker_core_never_has_more_resistance(number: int, build: Build, degc: float) -> None:
    assert awg_ohm_per_m(number, build, degc) < awg_ohm_per_m(number + 1, build, degc)


@pytest.mark.parametrize("build", [Build.CLASS_1, Build.CLASS_2, Build.CLASS_5, Build.CLASS_5_TINNED])
def test_a_thicker_metric_core_never_has_more_resistance(build: Build) -> None:
    ohms = [metric_ohm_per_m(mm2, build) for mm2 in (0.5, 0.75, 1.0, 1.5, 2.5, 4.0)]

    assert ohms == sorted(ohms, reverse=True)
    assert len(set(ohms)) == len(ohms)


@given(ANY_AWG, ANY_DEGC, ANY_DEGC)
def test_a_hotter_core_never_has_less_resistance(number: int, one_degc: float, other_degc: float) -> None:
    cool, hot = sorted((one_degc, other_degc))

    assert awg_ohm_per_m(number, conductor_degc=cool) <= awg_ohm_per_m(number, conductor_degc=hot)


@given(ANY_AWG, ANY_DEGC)
def test_strands_never_have_less_resistance_than_a_solid_core(number: int, degc: float) -> None:
    assert awg_ohm_per_m(number, Build.SEVEN_STRAND, degc) > awg_ohm_per_m(number, Build.SOLID, degc)


@pytest.mark.parametrize("degc", [-40.1, 120.1, 1000.0, float("nan"), float("inf"), float("-inf")])
def test_copper_outside_the_table_is_refused_with_the_range(degc: float) -> None:
    with pytest.raises(BadQuantity) as refusal:
        warming(degc)
    assert "-40 to 120 °C" in refusal.value.mend


@pytest.mark.parametrize("number", [-4, 37, 400])
def test_a_gauge_outside_the_table_is_refused_with_the_range(number: int) -> None:
    with pytest.raises(BadQuantity) as refusal:
        awg_ohm_per_m(number)
    assert "4/0 (-3) to 36 AWG" in refusal.value.mend


def test_a_size_or_build_outside_its_table_is_refused_with_what_there_is() -> None:
    with pytest.raises(BadQuantity) as size:
        metric_ohm_per_m(6.0, Build.CLASS_5_TINNED)
    with pytest.raises(BadQuantity) as sold_by_mm2:
        awg_ohm_per_m(18, Build.CLASS_5)
    with pytest.raises(BadQuantity) as sold_by_awg:
        metric_ohm_per_m(1.5, Build.SOLID)
    with pytest.raises(BadQuantity) as label:
        gauge("50 AWG")

    assert size.value.mend == "Use one of 0.5, 0.75, 1, 1.5, 2.5, 4 mm²."
    assert "solid or 7-strand" in sold_by_mm2.value.mend
    assert "class 1, class 2, class 5, class 5 tinned" in sold_by_awg.value.mend
    assert "4/0 to 36 AWG, 0.5 to 6 mm²" in label.value.mend


@pytest.mark.parametrize("section_m2", [0.0, -1e-6, float("nan")])
def test_a_core_without_section_is_not_a_core(section_m2: float) -> None:
    with pytest.raises(BadQuantity, match="section") as refusal:
        core_ohm_per_m(section_m2)
    assert "greater than 0" in refusal.value.mend
