"""Volts and amps along tape against figures from elsewhere.

S1 to S13: elementary theory of ladders and transmission lines, each checked with a circuit simulator
(ngspice 39) as netlists of their own; typed here as printed. Tolerance: 0.1 mV for loads of constant
current, 0.2 mV for resistors, LEDs with resistors and constant power; 0.1 mA.
"""

import pytest

from service.ladder.networks import Draw, FeedAt, Lead
from service.ladder.solving import Along
from tests.ladder.tapes import a_section, along, four_colours

LINE_MV, OTHER_MV, LINE_MA = 0.1, 0.2, 0.1
TWO_SIDED = (FeedAt.BOTH, FeedAt.MIDDLE)


def holds(run: Along, volts: float, amps: float | None = None, millivolts: float = OTHER_MV) -> None:
    # The figures are printed to a tenth of a millivolt, so half a digit is lost in them.
    assert run.least_v == pytest.approx(volts, abs=millivolts / 1000.0 + 0.00005)
    if amps is not None:
        assert run.total_a == pytest.approx(amps, abs=LINE_MA / 1000.0)


@pytest.mark.parametrize(
    ("ohm_per_m", "feeds", "current", "resistor"),
    [
        pytest.param(0.05, (FeedAt.START, FeedAt.END), (23.2500, 3.0), (23.2690, 2.9390), id="S1"),
        pytest.param(0.05, TWO_SIDED, (23.8125, 3.0), (23.8137, 2.9845), id="S2"),
        pytest.param(0.10, (FeedAt.START, FeedAt.END), (22.5000, 3.0), (22.5743, 2.8809), id="S3"),
        pytest.param(0.10, TWO_SIDED, (23.6250, 3.0), (23.6298, 2.9691), id="S4"),
        pytest.param(0.15, (FeedAt.START, FeedAt.END), (21.7500, 3.0), (21.9133, 2.8256), id="S5"),
        pytest.param(0.15, TWO_SIDED, (23.4375, 3.0), (23.4483, 2.9540), id="S6"),
    ],
)
def test_five_metres_of_24_v_tape(
    ohm_per_m: float,
    feeds: tuple[FeedAt, ...],
    current: tuple[float, float],
    resistor: tuple[float, float],
) -> None:
    """14.4 W/m, 100 segments; worst volts and amps of the supply."""
    for feed in feeds:
        holds(along(a_section(ohm_per_m, Draw.CURRENT), feed), *current, LINE_MV)
        holds(along(a_section(ohm_per_m, Draw.RESISTOR), feed), *resistor)


def test_s7_plus_and_minus_at_opposite_ends() -> None:
    run = along(a_section(0.10), FeedAt.OPPOSITE)
    assert run.ends_v.ravel() == pytest.approx([23.25, 23.25], abs=1e-4)
    holds(run, 22.8750, millivolts=LINE_MV)


@pytest.mark.parametrize(
    ("feeds", "volts", "amps", "light"),
    [
        pytest.param((FeedAt.START, FeedAt.END), 11.2185, 1.6489, 0.739, id="S8-one-end"),
        pytest.param(TWO_SIDED, 11.7663, 1.8958, 0.922, id="S8-both-or-middle"),
    ],
)
def test_s8_leds_of_9_v_with_resistors(
    feeds: tuple[FeedAt, ...], volts: float, amps: float, light: float
) -> None:
    """12 V, 9 V + 150 Ω a segment (20 mA), 5 m; the last segment's share of its current."""
    tape = a_section(0.10, Draw.LED, nominal_v=12.0, w_per_m=4.8, led_drop_v=9.0)
    for feed in feeds:
        run = along(tape, feed)
        holds(run, volts, amps)
        assert run.least_light == pytest.approx(light, abs=0.0005)


def test_s9_constant_power_and_the_order_of_the_models() -> None:
    least = [along(a_section(0.10, draw)) for draw in (Draw.POWER, Draw.CURRENT, Draw.RESISTOR)]
    holds(least[0], 22.4123, 3.1394)
    assert least[0].least_v < least[1].least_v < least[2].least_v


@pytest.mark.parametrize(
    ("draw", "lit", "volts", "amps"),
    [
        pytest.param(Draw.CURRENT, (), 23.2000, 4.000, id="S10-all-on"),
        pytest.param(Draw.CURRENT, (True, False, False, False), 23.5750, 1.000, id="S10-one-on"),
        pytest.param(Draw.RESISTOR, (), 23.2216, 3.9134, id="S11-all-on"),
        pytest.param(Draw.RESISTOR, (True, False, False, False), 23.5812, 0.9884, id="S11-one-on"),
    ],
)
def test_four_colours_share_their_common(
    draw: Draw, lit: tuple[bool, ...], volts: float, amps: float
) -> None:
    run = along(four_colours(draw, lit))
    assert float(run.ends_v[1, 0]) == pytest.approx(volts, abs=OTHER_MV / 1000.0 + 0.00005)
    assert run.total_a == pytest.approx(amps, abs=LINE_MA / 1000.0)


def test_s12_a_lead_and_its_tape() -> None:
    """10 m of two-core 18 AWG at 25.5 Ω/km carries 3 A: 1.53 V, then the tape of S1."""
    run = along(a_section(0.05), lead=Lead(0.255, 0.255))
    assert run.ends_v.ravel() == pytest.approx([22.47, 21.72], abs=1e-4)


def test_s13_five_volts_lose_a_quarter() -> None:
    run = along(a_section(0.05, nominal_v=5.0, w_per_m=4.8))
    assert float(run.ends_v[1, 0]) == pytest.approx(3.8, abs=1e-4)
