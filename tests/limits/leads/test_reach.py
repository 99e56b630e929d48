"""How far a run may be fed from, held against the very limits that judge it afterwards."""

from dataclasses import replace
from random import Random

import pytest

from service.limits.facts import LeadFacts, ShowFacts, TapeFacts, WireFacts
from service.limits.findings import Verdict
from service.limits.lookup import Lookup
from service.limits.policy import DEFAULT
from service.limits.reach import LedRun, Longest, longer_leads, longest_lead
from service.limits.registry import findings
from tests.limits.builders import NEUTRAL, PIXEL_12, RGBW, WARM_12, WHITES, a_show, an_element

OHM_PER_M = {"22 AWG": 0.05296, "20 AWG": 0.03331, "18 AWG": 0.02095, "16 AWG": 0.01318, "14 AWG": 0.008286}
DRUMS = tuple(WireFacts(gauge, ohm_per_m) for gauge, ohm_per_m in OHM_PER_M.items())
AROUND = Lookup(a_show(wires=DRUMS), DEFAULT)
STYLES = ("one", "both", "middle")
UM = 1e-6


def a_run(metres: float, gauge: str | None = "18 AWG", style: str = "one", tape: TapeFacts = RGBW) -> LedRun:
    return LedRun(tape, metres, style, LeadFacts(None, gauge, OHM_PER_M.get(gauge or "")))


def as_built(run: LedRun, lead_m: float) -> ShowFacts:
    lead = replace(run.lead, length_m=lead_m)
    return a_show(an_element("E", run.tape, run.length_m, lead=lead, style=run.style), wires=DRUMS)


def over(run: LedRun, lead_m: float) -> set[str]:
    codes = {"lead-drop", "total-drop", "run-length", "lead-amps"}
    told = findings(as_built(run, lead_m), DEFAULT)
    return {f.code for f in told if f.code in codes and f.verdict is Verdict.OVER}


def told(run: LedRun) -> Longest:
    return longest_lead(run, AROUND)


def test_the_longest_lead_of_a_strip_is_where_ten_per_cent_are_gone() -> None:
    """4.8 m of RGBW: tape 0.3456 V of 2.4 V; 4.8 A × 20.95 mΩ/m lose the rest in 20.43 m (Ohm's law)."""
    longest = told(a_run(4.8))

    assert longest.lead_m == pytest.approx((2.4 - 0.3456) / (4.8 * 0.02095), rel=1e-5)
    assert longest.because == "with 18 AWG, fed at one end, it keeps within 10 % up to 20.4 m"


def test_a_run_that_is_longer_than_the_maker_allows_has_no_lead_that_would_do() -> None:
    longest = told(a_run(8.0))

    assert (longest.lead_m, longest.code, longest.value, longest.bound) == (None, "run-length", 8.0, 5.0)
    assert "8 m of RGBW24 fed at one end" in longest.because
    first = next(longer_leads(a_run(8.0), AROUND))
    assert first.text.startswith("feed it at both ends from the same supply output, good for ")


def test_a_wire_that_is_too_thin_has_no_length_that_would_do_and_thicker_wire_is_named() -> None:
    """4.8 m of RGBW draw 3.84 A; the shop lets 22 AWG carry 3 A (common practice)."""
    longest, first = told(a_run(4.8, "22 AWG")), next(longer_leads(a_run(4.8, "22 AWG"), AROUND))

    assert (longest.code, longest.because) == ("lead-amps", "3.84 A > 3.00 A in 22 AWG")
    assert first.text.startswith("use 20 AWG, good for 12.8 m")


def test_a_tape_that_loses_too_much_by_itself_says_so() -> None:
    """9 m of bad rails: (7.2 A × 0.2 + 1.8 A × 0.2) Ω/m × 4.5 m = 8.1 V of 24 V."""
    thin = replace(RGBW, common_ohm_per_m=0.2, max_run_m=None)
    thin = replace(thin, emitters=tuple(replace(e, return_ohm_per_m=0.2) for e in thin.emitters))
    longest = told(a_run(9.0, "14 AWG", tape=thin))

    assert (longest.lead_m, longest.code, longest.unit) == (None, "total-drop", "%")
    assert longest.value == pytest.approx(100 * 8.1 / 24)


def test_a_wire_that_nobody_entered_ends_nothing() -> None:
    assert told(a_run(4.8, None)).lead_m == float("inf")


@pytest.mark.parametrize("seed", range(8))
def test_at_the_longest_lead_nothing_is_over_and_a_millimetre_on_it_is(seed: int) -> None:
    """Random strips, wires and ways to feed; the limits are asked, not this module."""
    draw, bound, none = Random(seed), 0, 0
    for _ in range(60):
        tape = draw.choice((RGBW, WHITES, NEUTRAL, WARM_12, PIXEL_12))
        run = a_run(draw.randint(1, 100) / 10, draw.choice(list(OHM_PER_M)), draw.choice(STYLES), tape)
        longest = told(run)
        if longest.lead_m is None:
            none += 1
            assert longest.code in over(run, 0.001)
            continue
        bound += 1
        assert over(run, longest.lead_m - UM) == set()
        assert over(run, longest.lead_m + 1e-3) == {"total-drop"}
    assert bound > 10
    assert none > 2


@pytest.mark.parametrize("seed", range(4))
def test_what_is_promised_of_another_wire_or_a_second_lead_holds(seed: int) -> None:
    draw, seen = Random(seed), 0
    for _ in range(25):
        tape = draw.choice((RGBW, WHITES, NEUTRAL, WARM_12))
        run = a_run(draw.randint(1, 100) / 10, draw.choice(list(OHM_PER_M)), draw.choice(STYLES), tape)
        for longer in longer_leads(run, AROUND):
            gauge = next((g for g in OHM_PER_M if g in longer.text), run.lead.gauge)
            style = "both" if "both ends" in longer.text else run.style
            changed = a_run(run.length_m, gauge, style, tape)
            assert over(changed, longer.lead_m - UM) == set()
            seen += 1
    assert seen > 20


def test_each_of_two_leads_carries_half_and_may_be_twice_as_long_where_only_the_lead_loses() -> None:
    """A second feed is a lead of its own: half the amps in each (Kirchhoff's current law)."""
    bare = replace(RGBW, common_ohm_per_m=None)
    bare = replace(bare, emitters=tuple(replace(e, return_ohm_per_m=None) for e in bare.emitters))
    one, both = told(a_run(4.0, tape=bare)).lead_m, told(a_run(4.0, style="both", tape=bare)).lead_m

    assert one is not None
    assert both == pytest.approx(2 * one)
