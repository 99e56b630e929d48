"""Answers are found, not guessed: one cut pitch longer, one size thinner, one point less breaks a limit."""

from dataclasses import replace
from math import inf

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.electrical.advice.cases import Case, Limits, Wire, breaks, wire_of
from service.electrical.advice.copper import least_copper
from service.electrical.advice.longest import longest_lead_of, longest_pitches
from service.electrical.advice.options import options
from service.electrical.advice.points import feed_points
from service.electrical.fuses import fuse_for
from service.electrical.gauges import awg, thicker_than
from service.electrical.tape import FeedStyle, Rails
from service.errors import BadQuantity

RGBW = Rails(24.0, 0.025, (4.8,) * 4, (0.050,) * 4)
SHELF = [wire_of(awg(number)) for number in (22, 20, 18, 16, 14, 12)]
WIRE = {wire.text: wire for wire in SHELF}
# The river edge: 8.0 m of that tape, 12 m of 18 AWG. Worked by hand: lead (6.4 + 1.6) x 0.02095 x 12 V =
# 8.38 %, tape (6.4 x 0.025 + 1.6 x 0.050) x 8 / 2 V = 4.00 %; from both ends a half and a quarter of those.
RIVER = Case(RGBW, 80, 0.1, FeedStyle.ONE, WIRE["18 AWG"], 12.0)
LIMITS = Limits(total=0.05, lead=0.03, run_m=5.0)

LIMIT = st.builds(
    Limits,
    total=st.floats(0.01, 0.3),
    lead=st.floats(0.01, 1.0),
    run_m=st.none() | st.floats(0.5, 30.0),
)


@st.composite
def cases(draw: st.DrawFn) -> Case:
    emitters = draw(st.integers(1, 5))
    volts = draw(st.sampled_from([5.0, 12.0, 24.0]))
    rails = Rails(
        volts,
        draw(st.floats(0.0, 0.1)),
        tuple(draw(st.floats(0.5, 15.0)) for _ in range(emitters)),
        tuple(draw(st.floats(0.0, 0.1)) for _ in range(emitters)),
    )
    return Case(
        rails,
        draw(st.integers(1, 400)),
        draw(st.sampled_from([0.0125, 0.025, 0.05, 0.1])),
        draw(st.sampled_from(FeedStyle)),
        draw(st.sampled_from(SHELF)),
        draw(st.floats(0.0, 30.0)),
        draw(st.sampled_from([20.0, 50.0])),
    )


@given(cases(), LIMIT)
def test_the_longest_run_keeps_the_limits_and_one_cut_pitch_more_does_not(case: Case, limits: Limits) -> None:
    pitches = longest_pitches(case, limits)
    if pitches:
        assert breaks(case.of(pitches), limits) == ()
    assert breaks(case.of(pitches + 1), limits) != ()


def test_a_run_that_draws_nothing_is_as_long_as_one_likes() -> None:
    dark = replace(RIVER, rails=replace(RGBW, emitters_w_per_m=(0.0,) * 4))
    assert longest_pitches(dark, Limits(0.05)) == 1_000_000
    assert longest_lead_of(dark, Limits(0.05)) == inf


@given(cases(), LIMIT)
def test_the_longest_lead_keeps_the_limits_and_a_millimetre_more_does_not(case: Case, limits: Limits) -> None:
    lead_m = longest_lead_of(case, limits)
    if lead_m is None:
        assert breaks(replace(case, lead_m=0.0), limits) != ()
        return
    assume(lead_m < inf)
    assert breaks(replace(case, lead_m=lead_m), limits) == ()
    assert breaks(replace(case, lead_m=lead_m + 0.001), limits) != ()


@given(cases(), LIMIT)
def test_the_least_copper_keeps_the_limits_and_every_thinner_one_does_not(case: Case, limits: Limits) -> None:
    found = least_copper(case, limits, SHELF)
    if found.case is not None:
        assert breaks(found.case, limits) == ()
        assert fuse_for(found.case.drop().lead_a, found.case.wire.limit_a or 0.0).fits
    for wire, why in found.refused:
        with_it = replace(case, wire=wire)
        assert why == breaks(with_it, limits) != ()
        no_fuse = not fuse_for(with_it.drop().lead_a, wire.limit_a or 0.0).fits
        assert ("fuse" in why) is no_fuse
    assert len(found.refused) + (found.case is not None) >= 1
    thinner = [w for w in SHELF if found.case is None or w.ohm_per_m > found.case.wire.ohm_per_m]
    assert [wire for wire, _ in found.refused] == sorted(thinner, key=lambda wire: -wire.ohm_per_m)


def test_amps_that_the_wire_takes_and_no_fuse_protects_are_not_advised() -> None:
    """6.4 A on 18 AWG: 1.25 x 6.4 = 8 A, the fuse of 10 A is more than 7 (NFPA 70 (2017) 210.20(A))."""
    near = replace(RIVER, lead_m=0.5)
    assert breaks(near, Limits(0.10)) == ("fuse",)
    assert longest_pitches(near, Limits(0.10)) == 50  # 4 A is the most that a 5 A fuse holds
    for way in options(near, Limits(0.10), SHELF):
        if not way.breaks:
            assert fuse_for(way.case.drop().lead_a, way.case.wire.limit_a or 0.0).fits


def test_wire_whose_limit_nobody_knows_is_not_advised() -> None:
    found = least_copper(RIVER, Limits(0.5), [Wire("drum 4", 0.001, None)])
    assert found.case is None
    assert found.refused[0][1] == ("lead limit unknown",)


@given(cases(), LIMIT)
def test_the_fewest_feed_points_keep_the_limits(case: Case, limits: Limits) -> None:
    points = feed_points(case, limits)
    if points is None:
        return
    assert points.share.drop().total_v <= limits.total * case.rails.class_v * (1.0 + 1e-9)
    assert points.fewer or len(points.at_m) == 1
    marks = [at / case.pitch_m for at in points.at_m]
    assert all(mark == pytest.approx(round(mark), abs=1e-6) for mark in marks)
    assert list(points.at_m) == sorted(set(points.at_m))
    assert all(0.0 <= at <= case.length_m for at in points.at_m)


@given(cases(), LIMIT)
def test_no_option_that_is_said_to_do_breaks_a_limit(case: Case, limits: Limits) -> None:
    assume(breaks(case, limits))
    for way in options(case, limits, SHELF):
        if not way.breaks:
            assert way.drop.total_v <= limits.total * way.drop.class_v * (1.0 + 1e-9)
            assert way.drop.lead_v <= limits.lead * way.drop.class_v * (1.0 + 1e-9)


@given(cases(), LIMIT)
def test_what_will_do_stands_before_what_will_not(case: Case, limits: Limits) -> None:
    ways = options(case, limits, SHELF)
    keys = [(bool(way.breaks), bool(way.gives_up), way.changes) for way in ways]
    assert keys == sorted(keys)


def test_the_river_edge_is_fed_at_both_ends_through_thicker_wire() -> None:
    """One end 12.38 %; both ends 5.19 % with 18 AWG and 3.64 % with 16 AWG."""
    assert RIVER.drop().total_pct == pytest.approx(12.38, abs=0.005)
    ways = {way.text.split(":")[0]: way for way in options(RIVER, LIMITS, SHELF)}
    both = ways["feed both ends from the same supply output"]
    assert both.drop.total_pct == pytest.approx(5.19, abs=0.005)
    assert both.breaks == ("drop", "lead drop")
    best = options(RIVER, LIMITS, SHELF)[0]
    assert best.text.startswith("feed both ends from the same supply output and use 16 AWG: 0.87 V")
    assert best.drop.total_pct == pytest.approx(3.64, abs=0.01)
    assert best.drop.lead_a == pytest.approx(3.2)
    assert best.breaks == ()


def test_five_metres_fed_at_both_ends_lose_a_quarter() -> None:
    """24 V, 14.4 W/m, 0.10 Ω/m a rail: 1.5 V from one end, 0.375 V from both (elementary theory)."""
    tape = Rails(24.0, 0.10, (14.4,), (0.10,))
    case = Case(tape, 100, 0.05, FeedStyle.ONE, WIRE["18 AWG"], 0.0)
    texts = [way.text for way in options(case, Limits(0.05), [])]
    assert "feed both ends from the same supply output: 0.38 V instead of 1.50 V" in texts


def test_twelve_volts_are_told_of_twenty_four() -> None:
    """Half the amps and twice the volts: a quarter of the share (P = V I, Ohm's law)."""
    case = replace(RIVER, rails=replace(RGBW, class_v=12.0))
    way = next(way for way in options(case, LIMITS, SHELF) if "24 V version" in way.text)
    assert way.drop.total_pct == pytest.approx(case.drop().total_pct / 4.0)
    assert way.gives_up


@given(cases())
def test_a_run_fed_in_the_middle_loses_no_more_than_one_fed_at_an_end(case: Case) -> None:
    lost = {style: replace(case, style=style).drop().total_v for style in FeedStyle}
    assert lost[FeedStyle.BOTH] <= lost[FeedStyle.MIDDLE] + 1e-12 <= lost[FeedStyle.ONE] + 2e-12


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: Limits(0.0), "a limit of 0 %"),
        (lambda: Limits(1.2), "a limit of 120 %"),
        (lambda: Limits(0.05, run_m=-1.0), "a longest run of -1 m"),
        (lambda: Wire("w", 0.0, 5.0), "a wire of 0 Ω/m"),
        (lambda: Wire("w", 0.1, -5.0), "a wire limit of -5 A"),
        (lambda: replace(RIVER, pitches=0), "0 cut pitches"),
        (lambda: replace(RIVER, pitch_m=float("nan")), "a cut pitch of nan m"),
        (lambda: replace(RIVER, lead_m=-1.0), "a lead -1 m long"),
    ],
)
def test_figures_that_are_none_are_refused(make: object, says: str) -> None:
    with pytest.raises(BadQuantity) as refused:
        make()  # type: ignore[operator]
    assert says in str(refused.value)
    assert refused.value.mend


def test_the_shelf_follows_the_gauges() -> None:
    assert [wire_of(size).text for size in thicker_than(awg(18))] == ["16 AWG", "14 AWG", "12 AWG"]
