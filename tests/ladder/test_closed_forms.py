"""The ladder against sums on paper, and what must hold whatever the tape.

Source: elementary theory of an evenly loaded line: drop R' i L²/2 fed at one end, R' i L²/8 from two
sides; with resistors V0 / cosh(k L), k² = R' g.
"""

from dataclasses import replace
from itertools import pairwise
from math import cosh, sqrt

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.electrical.tape import FeedStyle, Rails, quick_drop
from service.ladder.networks import Chain, Draw, FeedAt, Lead, Network, Section
from service.ladder.solving import solve
from tests.ladder.tapes import a_section, along

OHMS = st.floats(0.001, 0.06)
WATTS = st.floats(0.5, 15.0)
ANY_DRAW = st.sampled_from(Draw)
COUNTS = st.integers(2, 60).map(lambda half: 2 * half)


@st.composite
def sections(draw: st.DrawFn, draws: st.SearchStrategy[Draw] = ANY_DRAW) -> Section:
    """24 V tape of one to four emitters."""
    emitters = draw(st.integers(1, 4))
    return Section(
        pitches=draw(COUNTS),
        pitch_m=0.05,
        nominal_v=24.0,
        emitters_w_per_m=tuple(draw(WATTS) / emitters for _ in range(emitters)),
        common_ohm_per_m=draw(OHMS),
        returns_ohm_per_m=tuple(draw(OHMS) for _ in range(emitters)),
        draw=draw(draws),
        led_drop_v=18.0,
    )


CURRENT = sections(st.just(Draw.CURRENT))


def drop_v(section: Section, feed: FeedAt = FeedAt.START) -> float:
    return section.nominal_v - along(section, feed).least_v


def solvable(section: Section) -> bool:
    """A quick sum says that less than a third of the volts is lost."""
    rails = Rails(24.0, section.common_ohm_per_m, section.emitters_w_per_m, section.returns_ohm_per_m)
    return quick_drop(rails, section.length_m, FeedStyle.ONE, 0.0, 0.0).total_v < 8.0


@given(CURRENT, st.floats(0.0, 12.0), st.sampled_from([20.0, 45.0, 75.0]))
def test_constant_currents_agree_with_the_quick_sum(section: Section, lead_m: float, degc: float) -> None:
    """Fed at one end, at both, in the middle; emitters that differ; warm copper."""
    assume(solvable(section))
    rails = Rails(24.0, section.common_ohm_per_m, section.emitters_w_per_m, section.returns_ohm_per_m)
    warm_ohm = 0.02 * lead_m * (1.0 + 0.00393 * (degc - 20.0))
    for style, feed in zip(
        (FeedStyle.ONE, FeedStyle.BOTH, FeedStyle.MIDDLE),
        (FeedAt.START, FeedAt.BOTH, FeedAt.MIDDLE),
        strict=True,
    ):
        quick = quick_drop(rails, section.length_m, style, 0.02, lead_m, degc)
        assume(quick.total_v < 20.0)
        # An odd number of pitches on each side of the middle puts a load half a pitch off the lowest point.
        network = Network(24.0, (Chain((section,), feed),), Lead(warm_ohm, warm_ohm), degc)
        assert solve(network)[0].least_v == pytest.approx(24.0 - quick.total_v, abs=1e-6)


@given(st.floats(0.01, 0.06), st.floats(1.0, 15.0), st.sampled_from([FeedAt.START, FeedAt.BOTH]))
def test_resistors_follow_the_hyperbolic_cosine(rail_ohm: float, w_per_m: float, feed: FeedAt) -> None:
    section = a_section(rail_ohm, Draw.RESISTOR, pitches=400, pitch_m=0.0125, w_per_m=w_per_m)
    k = sqrt(2.0 * rail_ohm * w_per_m / 24.0**2)
    reach_m = 5.0 if feed is FeedAt.START else 2.5
    assert along(section, feed).least_v == pytest.approx(24.0 / cosh(k * reach_m), abs=2e-4)


@given(CURRENT)
def test_twice_the_length_loses_four_times_as_much(section: Section) -> None:
    assume(solvable(section))
    twice = replace(section, pitches=2 * section.pitches)
    assume(4.0 * drop_v(section) < 23.0)
    assert drop_v(twice) == pytest.approx(4.0 * drop_v(section), rel=1e-6)


@given(CURRENT)
def test_two_sides_lose_a_quarter_and_the_middle_equals_both_ends(section: Section) -> None:
    assume(solvable(section))
    assert drop_v(section, FeedAt.BOTH) == pytest.approx(drop_v(section) / 4.0, rel=1e-6)
    assert drop_v(section, FeedAt.MIDDLE) == pytest.approx(drop_v(section, FeedAt.BOTH), rel=1e-6)


@given(CURRENT, st.floats(0.2, 1.0))
def test_the_drop_is_in_proportion_to_current_and_to_resistance(section: Section, share: float) -> None:
    assume(solvable(section))
    less_current = replace(section, emitters_w_per_m=tuple(w * share for w in section.emitters_w_per_m))
    less_ohm = replace(
        section,
        common_ohm_per_m=section.common_ohm_per_m * share,
        returns_ohm_per_m=tuple(r * share for r in section.returns_ohm_per_m),
    )
    for other in (less_current, less_ohm):
        assert drop_v(other) == pytest.approx(drop_v(section) * share, rel=1e-6)


@given(sections(st.sampled_from([Draw.RESISTOR, Draw.LED])), st.sampled_from(FeedAt))
def test_tape_with_resistors_never_draws_more_than_nominal(section: Section, feed: FeedAt) -> None:
    run = along(section, feed)
    assert run.total_a <= float(run.nominal_a.sum()) * (1.0 + 1e-9)
    assert (run.amps >= 0.0).all()
    assert 0.0 <= run.least_light <= 1.0 + 1e-9


@given(sections(), st.data())
def test_volts_never_rise_when_a_colour_is_added(section: Section, data: st.DataObject) -> None:
    assume(len(section.emitters_w_per_m) > 1 and solvable(section))
    lit = [False] * len(section.emitters_w_per_m)
    lit[data.draw(st.integers(0, len(lit) - 1))] = True
    runs = []
    for at in range(len(lit)):
        lit[at] = True
        runs.append(along(replace(section, lit=tuple(lit))))
    for fewer, more in pairwise(runs):
        assert more.least_v <= fewer.least_v + 1e-7


@given(sections(), st.sampled_from(FeedAt))
def test_what_the_loads_take_comes_through_the_rails(section: Section, feed: FeedAt) -> None:
    """Kirchhoff: the amps where the lead joins are those of the loads, the common's those of all returns."""
    assume(solvable(section))
    run = along(section, feed)
    common_a, *returns_a = run.feed_a
    assert sum(returns_a) == pytest.approx(common_a, rel=1e-6)
    if feed is not FeedAt.BOTH:
        assert common_a == pytest.approx(run.total_a, rel=1e-6)
    else:
        assert common_a == pytest.approx(run.total_a / 2.0, rel=1e-4)


@given(sections(), st.integers(1, 10))
def test_a_chain_of_one_tape_is_that_tape(section: Section, parts: int) -> None:
    assume(section.pitches > parts and solvable(section))
    cut = (replace(section, pitches=parts), replace(section, pitches=section.pitches - parts))
    chained = solve(Network(24.0, (Chain(cut),)))[0]
    assert chained.volts == pytest.approx(along(section).volts, abs=1e-7)


@given(sections(), st.floats(0.0, 0.1))
def test_runs_side_by_side_on_one_lead_get_the_same(section: Section, lead_ohm: float) -> None:
    assume(solvable(section))
    twin = Network(24.0, (Chain((section,)), Chain((section,))), Lead(lead_ohm, lead_ohm))
    alone = Network(24.0, (Chain((section,)),), Lead(2.0 * lead_ohm, 2.0 * lead_ohm))
    assume(24.0 - solve(alone)[0].least_v < 12.0)
    first, second = solve(twin)
    assert first.volts == pytest.approx(second.volts, abs=1e-9)
    assert first.volts == pytest.approx(solve(alone)[0].volts, abs=1e-6)
