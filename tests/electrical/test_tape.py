"""Cutting on the pitch, power, amps and the quick drop."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.electrical.tape import (
    FeedStyle,
    Fit,
    Rails,
    common_a,
    cut_pitches,
    emitter_a,
    leads_of,
    quick_drop,
    tape_w,
)

RGBW = Rails(24.0, 0.025, (4.8,) * 4, (0.050,) * 4)
BARE = 0.0  # a lead of no length, so that only the tape drops


@pytest.mark.parametrize(
    ("drawn_mm", "fit", "cut_mm"),
    [
        (3330, Fit.INSIDE, 3300),
        (3330, Fit.COVER, 3350),
        (3330, Fit.NEAREST, 3350),
        (3324, Fit.NEAREST, 3300),
        (3325, Fit.NEAREST, 3350),
        (3300, Fit.INSIDE, 3300),
        (3300, Fit.COVER, 3300),
        (3300, Fit.NEAREST, 3300),
        (49, Fit.INSIDE, 0),
        (49, Fit.COVER, 50),
        (0, Fit.COVER, 0),
    ],
)
def test_tape_is_cut_only_at_its_marks(drawn_mm: int, fit: Fit, cut_mm: int) -> None:
    """50 mm pitch; floor, ceiling, half up (common practice)."""
    assert cut_pitches(drawn_mm * 1000, 50_000, fit) * 50 == cut_mm


@given(st.integers(0, 10**8), st.integers(1, 200_000))
def test_inside_never_exceeds_and_cover_never_falls_short_and_nearest_is_one_of_them(
    drawn_um: int, pitch_um: int
) -> None:
    inside, cover, nearest = (
        cut_pitches(drawn_um, pitch_um, fit) for fit in (Fit.INSIDE, Fit.COVER, Fit.NEAREST)
    )

    assert inside * pitch_um <= drawn_um < (inside + 1) * pitch_um
    assert (cover - 1) * pitch_um < drawn_um <= cover * pitch_um
    assert nearest in (inside, cover)
    assert 2 * abs(nearest * pitch_um - drawn_um) <= pitch_um


@pytest.mark.parametrize(("drawn_um", "pitch_um"), [(100, 0), (-1, 50_000)])
def test_a_length_below_nothing_or_a_pitch_of_nothing_is_refused(drawn_um: int, pitch_um: int) -> None:
    with pytest.raises(ValueError, match="pitch"):
        cut_pitches(drawn_um, pitch_um)


def test_a_run_draws_its_watts_and_the_shared_core_carries_the_sum() -> None:
    """P = l w and P = V I: 8 m of 4 x 4.8 W/m at 24 V is 153.6 W, 1.6 A a colour and 6.4 A shared."""
    assert tape_w(8.0, 19.2) == pytest.approx(153.6)
    assert emitter_a(8.0, 4.8, 24.0) == pytest.approx(1.6)
    assert common_a(8.0, (4.8,) * 4, 24.0) == pytest.approx(6.4)


@pytest.mark.parametrize(
    ("ohm_per_m", "style", "drop_v"),
    [
        (0.05, FeedStyle.ONE, 0.7500),
        (0.05, FeedStyle.BOTH, 0.1875),
        (0.05, FeedStyle.MIDDLE, 0.1875),
        (0.10, FeedStyle.ONE, 1.5000),
        (0.10, FeedStyle.MIDDLE, 0.3750),
        (0.15, FeedStyle.ONE, 2.2500),
        (0.15, FeedStyle.BOTH, 0.5625),
    ],
)
def test_an_evenly_loaded_tape_drops_what_line_theory_says(
    ohm_per_m: float, style: FeedStyle, drop_v: float
) -> None:
    """5 m, 24 V, 14.4 W/m, ohm/m of each rail: R' i L^2/2 and a quarter of it (ladder theory; a circuit
    simulator agrees to 0.1 mV)."""
    rails = Rails(24.0, ohm_per_m, (14.4,), (ohm_per_m,))

    assert quick_drop(rails, 5.0, style, BARE, 0.0).tape_v == pytest.approx(drop_v, abs=1e-4)


def test_four_colours_share_the_common_and_each_has_its_own_return() -> None:
    """5 m, 24 V, 0.2 A/m a colour, common 0.05, return 0.12 ohm/m: 0.500 + 0.300 V all on (line theory)."""
    all_on = Rails(24.0, 0.05, (4.8,) * 4, (0.12,) * 4)
    one_on = Rails(24.0, 0.05, (4.8,), (0.12,))

    assert quick_drop(all_on, 5.0, FeedStyle.ONE, BARE, 0.0).tape_v == pytest.approx(0.800, abs=1e-4)
    assert quick_drop(one_on, 5.0, FeedStyle.ONE, BARE, 0.0).tape_v == pytest.approx(0.425, abs=1e-4)


def test_lead_and_tape_add_up() -> None:
    """24 V, 10 m of 25.5 ohm/km (NFPA 70 Ch. 9 Table 8, warm), 5 m of 0.05 ohm/m tape: 21.7200 V."""
    rails = Rails(24.0, 0.05, (14.4,), (0.05,))
    drop = quick_drop(rails, 5.0, FeedStyle.ONE, 25.5e-3, 10.0)

    assert 24.0 - drop.lead_v == pytest.approx(22.4700, abs=1e-4)
    assert 24.0 - drop.total_v == pytest.approx(21.7200, abs=1e-4)


def test_a_long_edge_fed_at_one_end_fails_and_fed_at_both_ends_through_thicker_wire_passes() -> None:
    """8 m of RGBW at the end of 12 m of lead; worked by hand from the formulas (Ohm, evenly spread load)."""
    one = quick_drop(RGBW, 8.0, FeedStyle.ONE, 0.02095, 12.0)
    both = quick_drop(RGBW, 8.0, FeedStyle.BOTH, 0.02095, 12.0)
    thick = quick_drop(RGBW, 8.0, FeedStyle.BOTH, 0.01318, 12.0)

    assert (round(one.lead_v, 3), round(one.lead_pct, 2), round(one.total_pct, 2)) == (2.011, 8.38, 12.38)
    assert (round(both.lead_pct, 2), round(both.total_pct, 2)) == (4.19, 5.19)
    assert (round(thick.lead_pct, 2), round(thick.total_pct, 2)) == (2.64, 3.64)
    assert thick.lead_a == pytest.approx(3.2)


def test_one_lead_in_the_middle_carries_all_the_current() -> None:
    """Kirchhoff: the current divides in the tape, not in the lead."""
    one = quick_drop(RGBW, 4.0, FeedStyle.ONE, 0.02, 5.0)
    middle = quick_drop(RGBW, 4.0, FeedStyle.MIDDLE, 0.02, 5.0)

    assert (middle.lead_a, middle.lead_v) == (one.lead_a, one.lead_v)
    assert middle.tape_v == pytest.approx(one.tape_v / 4)
    assert [leads_of(style) for style in FeedStyle] == [1, 2, 1]


LENGTHS = st.floats(0.05, 20.0)
EMITTERS = st.lists(st.tuples(st.floats(0.5, 15.0), st.floats(0.01, 0.2)), min_size=1, max_size=6)


def _rails(emitters: list[tuple[float, float]], common_ohm: float = 0.03, class_v: float = 24.0) -> Rails:
    return Rails(class_v, common_ohm, tuple(w for w, _ in emitters), tuple(r for _, r in emitters))


@given(EMITTERS, LENGTHS)
def test_twice_the_length_drops_four_times_as_much_in_the_tape_and_both_ends_a_quarter(
    emitters: list[tuple[float, float]], length_m: float
) -> None:
    rails = _rails(emitters)
    drop = quick_drop(rails, length_m, FeedStyle.ONE, BARE, 0.0)

    assert quick_drop(rails, 2 * length_m, FeedStyle.ONE, BARE, 0.0).tape_v == pytest.approx(4 * drop.tape_v)
    for style in (FeedStyle.BOTH, FeedStyle.MIDDLE):
        assert quick_drop(rails, length_m, style, BARE, 0.0).tape_v == pytest.approx(drop.tape_v / 4)


@given(EMITTERS, LENGTHS, st.floats(0.005, 0.06), st.floats(0.1, 30), st.floats(0.1, 30))
def test_a_longer_lead_a_warmer_lead_and_a_lower_voltage_are_each_worse(
    emitters: list[tuple[float, float]], length_m: float, ohm: float, lead_m: float, more_m: float
) -> None:
    rails = _rails(emitters)
    drop = quick_drop(rails, length_m, FeedStyle.ONE, ohm, lead_m)

    assert quick_drop(rails, length_m, FeedStyle.ONE, ohm, lead_m + more_m).total_v > drop.total_v
    assert quick_drop(rails, length_m, FeedStyle.ONE, ohm, lead_m, 75.0).total_v > drop.total_v
    half = quick_drop(_rails(emitters, class_v=12.0), length_m, FeedStyle.ONE, ohm, lead_m)
    assert half.total_pct == pytest.approx(4 * drop.total_pct)  # for equal watts: physics


@given(EMITTERS, LENGTHS, st.floats(0.5, 15.0), st.floats(0.01, 0.2))
def test_one_more_colour_never_drops_less(
    emitters: list[tuple[float, float]], length_m: float, w_per_m: float, ohm: float
) -> None:
    fewer = quick_drop(_rails(emitters), length_m, FeedStyle.ONE, 0.02, 5.0)
    more = quick_drop(_rails([*emitters, (w_per_m, ohm)]), length_m, FeedStyle.ONE, 0.02, 5.0)

    assert more.total_v >= fewer.total_v


def test_tape_without_a_resistance_for_each_colour_cannot_be_summed() -> None:
    with pytest.raises(ValueError, match="return resistance"):
        quick_drop(Rails(24.0, 0.02, (4.8, 4.8), (0.05,)), 1.0, FeedStyle.ONE, 0.02, 1.0)
    with pytest.raises(ValueError, match="voltage class"):
        emitter_a(1.0, 4.8, 0.0)
