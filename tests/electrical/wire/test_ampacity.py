"""What a core may carry: the rows named A, each with its table. Codes renumber; local code wins."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.electrical.ampacity import (
    AmpacitySet,
    ambient_share,
    ampacity,
    boat_limit_a,
    decide,
    heat_balance_share,
)
from service.electrical.gauges import Gauge, awg, gauge, metric
from service.electrical.sources import FLEXIBLE_CORD_LIMIT_A
from service.errors import BadQuantity
from tests.electrical.wire.rows import named

FIXED = AmpacitySet.US_SMALL_WIRE
STAGE = AmpacitySet.US_STAGE_CORD


@pytest.mark.parametrize(
    ("number", "device_a"), named("A1", [(18, 7), (16, 10), (14, 15), (12, 20), (10, 30)])
)
def test_small_copper_has_a_greatest_fuse(number: int, device_a: float) -> None:
    """A1: NFPA 70 (2017) 240.4(D)."""
    assert ampacity(awg(number), FIXED).device_a == device_a


@pytest.mark.parametrize(("number", "hours_a"), named("A1-hours", [(18, 5.6), (16, 8.0)]))
def test_small_copper_carries_for_hours_what_its_fuse_leaves(number: int, hours_a: float) -> None:
    """A1: NFPA 70 (2017) 240.4(D): 18 AWG 5.6 A, 16 AWG 8 A for hours."""
    assert ampacity(awg(number), FIXED).continuous_a == pytest.approx(hours_a)


@pytest.mark.parametrize(("number", "amps"), named("A2", [(18, 6), (16, 8), (14, 17), (12, 23), (10, 28)]))
def test_fixture_wire(number: int, amps: float) -> None:
    """A2: NFPA 70 (2017) Table 402.5."""
    assert ampacity(awg(number), AmpacitySet.US_FIXTURE_WIRE).limit_a == amps


def test_A2_fixture_wire_is_not_smaller_than_18_awg() -> None:
    """A2: NFPA 70 (2017) 402.6."""
    with pytest.raises(BadQuantity) as refusal:
        ampacity(awg(20), AmpacitySet.US_FIXTURE_WIRE)
    assert "18 AWG up" in refusal.value.mend


@pytest.mark.parametrize(
    ("number", "three_a", "two_a"),
    named("A3", [(18, 7, 10), (16, 10, 13), (14, 15, 18), (12, 20, 25), (10, 25, 30)]),
)
def test_flexible_cord_of_three_and_of_two(number: int, three_a: float, two_a: float) -> None:
    """A3: NFPA 70 (2017) Table 400.5(A)(1)."""
    assert ampacity(awg(number), AmpacitySet.US_CORD, 3).limit_a == three_a
    assert ampacity(awg(number), AmpacitySet.US_CORD, 2).limit_a == two_a


@pytest.mark.parametrize(
    ("cores", "share"),
    named("A4", [(3, 1.0), (4, 0.8), (6, 0.8), (7, 0.7), (9, 0.7), (10, 0.5), (20, 0.5)]),
)
def test_more_cores_that_carry_carry_less_each(cores: int, share: float) -> None:
    """A4: NFPA 70 (2017) Table 400.5(A)(3)."""
    found = ampacity(awg(18), AmpacitySet.US_CORD, cores)

    assert found.cores_share == share
    assert found.limit_a == pytest.approx(7.0 * share)


def test_A5_four_colours_on_one_five_core_lead() -> None:
    """A5: 18 AWG, five carrying: 80 % of the figure for three: 5.6 A. NFPA 70 (2017) 400.5(A)."""
    found = ampacity(awg(18), AmpacitySet.US_CORD, carrying_cores=5)

    assert found.limit_a == pytest.approx(5.6)
    assert str(found) == "us cord: 7 A × 0.80 = 5.60 A"


WARM = [(60, 0.82, 0.58), (75, 0.88, 0.75), (90, 0.91, 0.82)]


@pytest.mark.parametrize(("insulation", "at_40", "at_50"), named("A6", WARM))
def test_warm_air_leaves_less(insulation: int, at_40: float, at_50: float) -> None:
    """A6: NFPA 70 (2023) Table 310.15(B)(1)(1), 30 degC base."""
    assert ambient_share(30.0, insulation) == 1.0
    assert ambient_share(40.0, insulation) == at_40
    assert ambient_share(50.0, insulation) == at_50


@pytest.mark.parametrize(
    ("insulation", "at_40", "at_50"),
    named("A7", [(60, 0.816, 0.577), (75, 0.882, 0.745), (90, 0.913, 0.816)]),
)
def test_the_printed_shares_follow_the_balance_of_heat(insulation: int, at_40: float, at_50: float) -> None:
    """A7: sqrt((Tc - Ta)/(Tc - 30)); the table agrees to 0.006."""
    for degc, share in ((40.0, at_40), (50.0, at_50)):
        assert heat_balance_share(degc, insulation) == pytest.approx(share, abs=6e-4)
        assert ambient_share(degc, insulation) == pytest.approx(
            heat_balance_share(degc, insulation), abs=6e-3
        )


@pytest.mark.parametrize(
    ("number", "at_75", "at_90", "device_a"),
    named("A8", [(14, 24, 28, 15), (12, 32, 35, 20), (10, 41, 47, 25)]),
)
def test_extra_hard_usage_cord_and_its_greatest_fuse(
    number: int, at_75: float, at_90: float, device_a: float
) -> None:
    """A8: NFPA 70 (2017) Table 520.44(C)(3)."""
    assert ampacity(awg(number), STAGE, insulation_degc=75).limit_a == at_75
    assert ampacity(awg(number), STAGE, insulation_degc=90).limit_a == at_90
    assert ampacity(awg(number), STAGE).device_a == device_a


def test_A8_the_corrections_come_before_the_greatest_fuse() -> None:
    """A8 with A6: 28 A at 50 degC is 22.96 A, its fuse still 15 A; ten cores fall below their fuse."""
    warm = ampacity(awg(14), STAGE, ambient_degc=50.0, insulation_degc=90)
    crowded = ampacity(awg(14), STAGE, 10, 50.0, 75)

    assert warm.limit_a == pytest.approx(22.96)
    assert warm.device_a == 15.0
    assert crowded.device_a == crowded.limit_a == pytest.approx(24 * 0.5 * 0.75)


@pytest.mark.parametrize(
    ("number", "at_60", "at_90", "at_105"),
    named("A9", [(18, 10, 20, 20), (16, 15, 25, 25), (12, 25, 40, 45), (10, 40, 55, 60)]),
)
def test_the_boat_law_is_a_second_opinion(number: int, at_60: float, at_90: float, at_105: float) -> None:
    """A9: 33 CFR 183.425 Table 5; it relaxes no other table."""
    assert [boat_limit_a(awg(number), degc) for degc in (60, 90, 105)] == [at_60, at_90, at_105]
    for which in (AmpacitySet.SHOP, AmpacitySet.US_CORD, AmpacitySet.US_FIXTURE_WIRE, FIXED):
        strictest = decide(awg(number), (which,)).strictest
        assert strictest is None or strictest.limit_a <= at_60


@pytest.mark.parametrize(
    ("mm2", "amps"),
    named("A10", [(0.5, 3), (0.75, 6), (1.0, 10), (1.25, 13), (1.5, 16), (2.5, 25), (4.0, 32)]),
)
def test_flexible_cord_by_its_area(mm2: float, amps: float) -> None:
    """A10: BS 7671 Table 4F3A, direct current or single phase."""
    size = Gauge(f"{mm2:g} mm²", mm2 * 1e-6, 0.02, None, True)

    assert FLEXIBLE_CORD_LIMIT_A[mm2] == amps
    assert ampacity(size, AmpacitySet.IEC_CORD).limit_a == amps


@pytest.mark.parametrize(
    ("degc", "share"), named("A11", [(35, 0.91), (40, 0.82), (45, 0.71), (50, 0.58), (55, 0.41)])
)
def test_warm_air_leaves_a_60_degc_cord_less(degc: float, share: float) -> None:
    """A11: BS 7671, flexible cords, 60 degC; the balance of heat agrees to 0.005."""
    assert ambient_share(degc, 60) == share
    assert heat_balance_share(degc, 60) == pytest.approx(share, abs=5e-3)
    assert ampacity(metric(1.5), AmpacitySet.IEC_CORD, ambient_degc=degc).limit_a == pytest.approx(16 * share)


@pytest.mark.parametrize(
    ("which", "amps"), [(AmpacitySet.US_CORD, 10), (AmpacitySet.US_FIXTURE_WIRE, 6)], ids=["A13", "A13-402.5"]
)
def test_a_cord_is_protected_at_its_own_figure(which: AmpacitySet, amps: float) -> None:
    """A13: NFPA 70 (2017) 240.5(A): cords at Table 400.5, fixture wire at Table 402.5."""
    found = ampacity(awg(18), which)

    assert found.device_a == found.limit_a == amps


def test_the_shop_decides_unless_the_house_asks_for_more() -> None:
    """Common practice: 22 AWG 3 A, 20 5, 18 7, 16 10, 14 15, 12 20, for leads of up to five cores."""
    shop = {22: 3.0, 20: 5.0, 18: 7.0, 16: 10.0, 14: 15.0, 12: 20.0}

    assert {n: ampacity(awg(n), carrying_cores=5, ambient_degc=25.0).limit_a for n in shop} == shop
    assert ampacity(awg(18), carrying_cores=7).limit_a == pytest.approx(4.9)
    assert ampacity(awg(18), ambient_degc=40.0).limit_a == pytest.approx(5.74)


def test_where_sets_differ_all_are_given_and_the_strictest_decides() -> None:
    decided = decide(awg(18), (AmpacitySet.SHOP, AmpacitySet.US_CORD, STAGE), carrying_cores=5)

    assert [str(figure) for figure in decided.figures] == ["shop: 7 A", "us cord: 7 A × 0.80 = 5.60 A"]
    assert decided.strictest is decided.figures[1]
    assert decided.silent == (STAGE,)


def test_a_size_between_two_sizes_of_a_table_takes_the_thinner_one() -> None:
    """1.5 mm2 lies between 16 and 14 AWG; 18 AWG (0.823 mm2) above 0.75 mm2; 0.75 mm2 below every US cord."""
    assert ampacity(metric(1.5), AmpacitySet.US_CORD, 3).limit_a == 10.0
    assert ampacity(awg(18), AmpacitySet.IEC_CORD).limit_a == 6.0
    assert decide(metric(0.75), (AmpacitySet.US_CORD,)).silent == (AmpacitySet.US_CORD,)


SIZES = [awg(n) for n in (24, 22, 20, 18, 16, 14, 12, 10, 8)] + [
    metric(s) for s in (0.5, 0.75, 1.0, 1.5, 2.5, 4)
]
ANY_SIZE = st.sampled_from(SIZES)
ANY_SET = st.sampled_from(AmpacitySet)
ANY_CORES = st.integers(1, 20)
ANY_AIR = st.floats(-40, 59)


@given(ANY_SIZE, ANY_SET, ANY_CORES, ANY_CORES, ANY_AIR)
def test_more_carrying_cores_never_carry_more(
    size: Gauge, which: AmpacitySet, some: int, other: int, degc: float
) -> None:
    few, many = (decide(size, (which,), n, degc).strictest for n in sorted((some, other)))

    assert (few is None) == (many is None)
    assert few is None or many is None or many.limit_a <= few.limit_a


@given(ANY_SIZE, ANY_SET, ANY_CORES, ANY_AIR, ANY_AIR)
def test_warmer_air_never_lets_a_core_carry_more(
    size: Gauge, which: AmpacitySet, cores: int, some: float, other: float
) -> None:
    cool, warm = (decide(size, (which,), cores, degc).strictest for degc in sorted((some, other)))

    assert cool is None or warm is None or 0.0 < warm.limit_a <= cool.limit_a <= cool.table_a


@given(ANY_SIZE, ANY_SIZE, ANY_SET, ANY_CORES)
def test_a_thicker_core_never_carries_less(some: Gauge, other: Gauge, which: AmpacitySet, cores: int) -> None:
    thin, thick = sorted((some, other), key=lambda size: size.section_m2)
    less, more = (decide(size, (which,), cores).strictest for size in (thin, thick))

    assert less is None or more is None or less.limit_a <= more.limit_a


@given(ANY_SIZE, st.lists(ANY_SET, min_size=1, unique=True), ANY_CORES, ANY_AIR)
def test_no_set_relaxes_another(size: Gauge, sets: list[AmpacitySet], cores: int, degc: float) -> None:
    decided = decide(size, sets, cores, degc)

    assert len(decided.figures) + len(decided.silent) == len(sets)
    for figure in decided.figures:
        assert decided.strictest is not None
        assert decided.strictest.limit_a <= figure.limit_a
        assert figure.device_a <= figure.limit_a


@pytest.mark.parametrize("degc", [-41.0, 60.0, 200.0, float("nan")])
def test_air_outside_the_table_is_refused_with_the_range(degc: float) -> None:
    with pytest.raises(BadQuantity) as refusal:
        ampacity(awg(18), ambient_degc=degc)
    assert "-40 to below 60 °C" in refusal.value.mend


@pytest.mark.parametrize("cores", [0, -1, 21])
def test_a_number_of_cores_outside_the_table_is_refused_with_the_range(cores: int) -> None:
    for ask in (ampacity, decide):
        with pytest.raises(BadQuantity) as refusal:
            ask(awg(18), carrying_cores=cores)
        assert "1 to 20" in refusal.value.mend


def test_an_insulation_or_size_outside_the_table_is_refused_with_what_there_is() -> None:
    with pytest.raises(BadQuantity) as insulation:
        ambient_share(40.0, 70)
    with pytest.raises(BadQuantity) as stage:
        ampacity(awg(12), STAGE, insulation_degc=60)
    with pytest.raises(BadQuantity) as thin:
        ampacity(gauge("28 AWG"))

    assert "60, 75, 90" in insulation.value.mend
    assert "75 or 90" in stage.value.mend
    assert "22 to 12 AWG" in thin.value.mend


def test_insulation_is_for_60_degc_unless_it_is_given() -> None:
    """33 CFR 183.425 Table 5 and NFPA 70 (2023) Table 310.15(B)(1)(1), their first columns."""
    assert boat_limit_a(awg(18)) == 10.0
    assert ambient_share(40.0) == 0.82
    assert ambient_share(40.5, 90) == 0.82
