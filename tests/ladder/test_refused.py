"""What cannot be: no steady state, and figures that are none."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from service.errors import BadQuantity, NoSteadyState
from service.ladder.networks import Chain, Draw, FeedAt, Lead, Network
from service.ladder.solving import solve, solve_many
from tests.ladder.tapes import a_section, along, four_colours


def test_tape_that_would_draw_more_than_its_rails_can_bring_says_so() -> None:
    """Constant power on 15 m of thin rails: as the volts fall it draws more, without end."""
    with pytest.raises(NoSteadyState, match="no voltage holds: the tape would draw more") as refused:
        along(a_section(0.10, Draw.POWER, pitches=300))
    assert "both ends" in refused.value.mend


def test_currents_that_use_up_all_the_volts_say_where() -> None:
    """0.6 A/m through 0.2 Ω/m: 22 x - x²/2 = 200 at 12.83 m of 22."""
    with pytest.raises(NoSteadyState, match=r"more than the 24 V there are: none is left at 12\.8\d m"):
        along(a_section(0.10, pitches=440))


def test_among_many_one_without_an_answer_leaves_the_others_theirs() -> None:
    good = Network(24.0, (Chain((a_section(),)),))
    bad = Network(24.0, (Chain((a_section(draw=Draw.POWER, pitches=300),)),))
    first, second, third = solve_many([good, bad, good])
    assert isinstance(second, NoSteadyState)
    for run in (first, third):
        assert not isinstance(run, NoSteadyState)
        assert run[0].least_v == pytest.approx(22.5, abs=1e-4)


def test_leds_below_their_drop_are_dark_and_draw_nothing() -> None:
    run = along(a_section(0.30, Draw.LED, pitches=800, led_drop_v=20.0))
    assert run.least_v >= 20.0 - 1e-6
    assert float(run.amps.min()) >= 0.0
    assert run.least_light < 0.01


def test_a_supply_below_the_led_drop_lights_nothing() -> None:
    tape = a_section(0.10, Draw.LED, led_drop_v=20.0)
    run = solve(Network(18.0, (Chain((tape,)),)))[0]
    assert run.total_a == 0.0
    assert run.least_v == pytest.approx(18.0)


TAPE = a_section()
LIT = (True, False)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: replace(TAPE, pitches=0), "0 cut pitches"),
        (lambda: replace(TAPE, pitch_m=0.0), "a cut pitch of 0 m"),
        (lambda: replace(TAPE, nominal_v=-24.0), "nominal voltage of a tape of -24 V"),
        (lambda: replace(TAPE, common_ohm_per_m=-0.1), "resistance of a rail of -0.1 Ω/m"),
        (lambda: replace(TAPE, returns_ohm_per_m=(float("nan"),)), "resistance of a rail of nan Ω/m"),
        (lambda: replace(TAPE, emitters_w_per_m=(-1.0,)), "watts of an emitter of -1 W/m"),
        (lambda: replace(TAPE, emitters_w_per_m=()), "0 emitters and 1 returns"),
        (lambda: replace(TAPE, lit=LIT), "which emitters are lit"),
        (lambda: replace(TAPE, draw=Draw.LED, led_drop_v=24.0), "an LED drop of 24 V in 24 V tape"),
        (lambda: Lead(-1.0), "resistance of a lead of -1 Ω"),
        (lambda: Lead(to_end=(0.1, -0.1)), "resistance of a lead of -0.1 Ω"),
        (lambda: Chain(()), "a run without tape"),
        (lambda: Chain((TAPE, four_colours(Draw.CURRENT))), "different numbers of emitters in one chain"),
        (lambda: Network(0.0, (Chain((TAPE,)),)), "the voltage of a supply of 0 V"),
        (lambda: Network(24.0, ()), "nothing on it"),
        (lambda: Network(24.0, (Chain((TAPE,)),), conductor_degc=121.0), "copper at 121 °C"),
        (lambda: Network(24.0, (Chain((TAPE,), FeedAt.BOTH),) * 2), "fed at both ends beside others"),
        (
            lambda: Network(24.0, (Chain((TAPE,)), Chain((four_colours(Draw.CURRENT),)))),
            "different numbers of emitters on one lead",
        ),
    ],
)
def test_figures_that_are_none_are_refused_with_the_mend(make: Callable[[], object], says: str) -> None:
    with pytest.raises(BadQuantity) as refused:
        make()
    assert says in str(refused.value)
    assert refused.value.mend
