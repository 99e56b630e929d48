"""The fuse of a lead: it holds the load for hours and goes before wire or connector does."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.electrical.ampacity import AmpacitySet, ampacity
from service.electrical.fuses import (
    STANDARD_A,
    Fuse,
    FuseFit,
    NoFuse,
    fuse_fit,
    fuse_for,
    may_never_blow,
    wants_fuse,
    wire_for,
)
from service.electrical.gauges import awg
from service.errors import BadQuantity


@pytest.mark.parametrize(
    ("rating_a", "fit"),
    [(4, FuseFit.BLOWS), (5, FuseFit.FITS), (7, FuseFit.BURNS_WIRE)],
    ids=["A12-4", "A12-5", "A12-7"],
)
def test_three_fuses_on_18_awg_fixture_wire(rating_a: float, fit: FuseFit) -> None:
    """A12: 3.9 A for hours: 4.875 A or more (NFPA 70 210.20(A)), 6 A or less (Table 402.5)."""
    wire_a = ampacity(awg(18), AmpacitySet.US_FIXTURE_WIRE).device_a

    assert fuse_fit(rating_a, 3.9, wire_a) is fit


def test_A12_the_fuse_that_is_found() -> None:
    """A12: 5 A, for 4.875 A wanted and 6 A allowed."""
    found = fuse_for(3.9, 6.0)

    assert found.needed_a == pytest.approx(4.875)
    assert (found.rating_a, found.bound_a) == (5.0, 6.0)


def test_the_standard_sizes_stand() -> None:
    """Common practice."""
    assert STANDARD_A == (1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30)


def test_a_lead_of_6_4_amperes_finds_no_fuse_on_18_awg_and_a_10_on_16() -> None:
    """8 A wanted, 10 A is the next size, 18 AWG takes 7 (shop figures, common practice)."""
    none = fuse_for(6.4, 7.0)

    assert isinstance(none, NoFuse)
    assert none.needed_a == pytest.approx(8.0)
    assert (none.rating_a, none.bound_a) == (10.0, 7.0)
    assert none.why == "10 A is the fuse for 6.40 A, more than the wire's 7 A"
    assert none.mend == "use wire for 10 A or more, or divide the load"
    thicker = wire_for(6.4, [(f"{n} AWG", ampacity(awg(n)).device_a) for n in (18, 16, 14, 12)])
    assert thicker is not None
    assert (thicker.wire, thicker.limit_a, thicker.fuse.rating_a) == ("16 AWG", 10.0, 10.0)


def test_half_the_load_on_each_of_two_leads_is_fused_at_four() -> None:
    """3.2 A each: 1.25 x 3.2 is 4.0 A exactly, and a 4 A fuse holds it."""
    found = fuse_for(3.2, 10.0)

    assert found.rating_a == 4.0
    assert fuse_fit(4.0, 3.2, 10.0) is FuseFit.FITS


def test_a_connector_binds_where_it_carries_less_than_the_wire() -> None:
    none = fuse_for(4.5, 10.0, connector_a=5.0)

    assert isinstance(none, NoFuse)
    assert none.why == "7.5 A is the fuse for 4.50 A, more than the connector's 5 A"
    assert none.mend == "use a connector for 7.5 A or more, or divide the load"
    assert fuse_fit(7.5, 4.5, 10.0, 5.0) is FuseFit.BURNS_CONNECTOR
    assert fuse_fit(7.5, 4.5, 5.0, 5.0) is FuseFit.BURNS_WIRE
    assert fuse_for(4.5, 10.0, connector_a=7.5).rating_a == 7.5
    both = fuse_for(8.0, 7.0, 5.0)
    assert isinstance(both, NoFuse)
    assert both.mend == "use wire and a connector for 10 A or more, or divide the load"


def test_a_load_beyond_the_largest_fuse_is_to_be_divided() -> None:
    """24 A for hours wants exactly 30; a little more wants none."""
    none = fuse_for(24.1, 100.0)

    assert fuse_for(24.0, 100.0).rating_a == 30.0
    assert isinstance(none, NoFuse)
    assert none.rating_a is None
    assert "divide the load" in none.mend
    assert wire_for(24.1, [("4 AWG", 100.0)]) is None


def test_a_fuse_is_wanted_where_the_source_can_give_more_than_the_wire_may_carry() -> None:
    """NFPA 70 240.5(A); a battery always (common practice)."""
    assert wants_fuse(7.01, 7.0)
    assert not wants_fuse(7.0, 7.0)
    assert wants_fuse(0.5, 7.0, is_battery=True)


def test_a_supply_that_gives_up_early_may_never_blow_the_fuse() -> None:
    """Below 1.5 times the fuse; common practice."""
    assert may_never_blow(14.9, 10.0)
    assert not may_never_blow(15.0, 10.0)


ANY_A = st.floats(0, 40)
ANY_LIMIT_A = st.floats(0.1, 60)
ANY_CONNECTOR_A = st.none() | ANY_LIMIT_A


@given(ANY_A, ANY_LIMIT_A, ANY_CONNECTOR_A)
def test_a_fuse_holds_the_load_and_protects_wire_and_connector(
    load_a: float, wire_a: float, connector_a: float | None
) -> None:
    """Tried against every size: what is found is the smallest that fits; none found, none fits."""
    found = fuse_for(load_a, wire_a, connector_a)
    bound_a = wire_a if connector_a is None else min(wire_a, connector_a)
    passing = [size for size in STANDARD_A if 1.25 * load_a - 1e-6 <= size <= bound_a + 1e-6]

    assert found.fits == bool(passing)
    if isinstance(found, Fuse):
        assert found.rating_a == passing[0]
        assert fuse_fit(found.rating_a, load_a, wire_a, connector_a) is FuseFit.FITS
    else:
        assert all(fuse_fit(s, load_a, wire_a, connector_a) is not FuseFit.FITS for s in STANDARD_A)


@given(ANY_A, ANY_LIMIT_A, ANY_CONNECTOR_A)
def test_doing_what_is_advised_gives_a_fuse(load_a: float, wire_a: float, connector_a: float | None) -> None:
    """The size that the mend names, given to wire and connector, is a size that fits."""
    found = fuse_for(load_a, wire_a, connector_a)
    if isinstance(found, NoFuse) and found.rating_a is not None:
        wire_a = max(wire_a, found.rating_a)
        connector_a = None if connector_a is None else max(connector_a, found.rating_a)
        assert fuse_for(load_a, wire_a, connector_a).rating_a == found.rating_a


@given(ANY_A, ANY_A, ANY_LIMIT_A)
def test_more_load_never_takes_a_smaller_fuse(some_a: float, other_a: float, wire_a: float) -> None:
    less, more = (fuse_for(load_a, wire_a) for load_a in sorted((some_a, other_a)))

    assert less.fits or not more.fits
    if isinstance(less, Fuse) and isinstance(more, Fuse):
        assert less.rating_a <= more.rating_a


@pytest.mark.parametrize(
    ("load_a", "wire_a", "connector_a", "allowed"),
    [
        (-0.1, 7.0, None, "0 A or more"),
        (float("nan"), 7.0, None, "0 A or more"),
        (1.0, 0.0, None, "above 0 A"),
        (1.0, -7.0, None, "above 0 A"),
        (1.0, 7.0, 0.0, "above 0 A"),
    ],
)
def test_amps_that_cannot_be_are_refused_with_what_is_allowed(
    load_a: float, wire_a: float, connector_a: float | None, allowed: str
) -> None:
    with pytest.raises(BadQuantity) as refusal:
        fuse_for(load_a, wire_a, connector_a)
    assert allowed in refusal.value.mend


@pytest.mark.parametrize("rating_a", [0.0, -5.0, float("nan")])
def test_a_fuse_of_nothing_is_refused(rating_a: float) -> None:
    with pytest.raises(BadQuantity, match="no fuse"):
        fuse_fit(rating_a, 1.0, 7.0)
