"""The longest run, and the longest lead, that keep their limits."""

from dataclasses import replace
from math import floor, inf, sqrt

from service.electrical.advice.cases import Case, Limits, breaks, longest_by_maker_m
from service.electrical.fuses import most_load_a
from service.electrical.tape import common_a, longest_lead_m


def longest_pitches(case: Case, limits: Limits) -> int:
    """The most cut pitches of this tape, so fed and on this lead, that break no limit; 0 where none does.

    The drop of a run of length l is a l² (tape) + b l (lead), so

        l = (sqrt(b² + 4 a d) - b) / (2 a)        d: the volts that may be lost

    and the lead's own share and the amps of its core, which a fuse must hold, are in proportion to l.

    Source: elementary theory of an evenly loaded line, solved for its length. The answer is then tried: one
    pitch more breaks a limit, the answer does not. A run is at most a million pitches.

    >>> from service.electrical.advice.cases import Wire
    >>> from service.electrical.tape import FeedStyle, Rails
    >>> tape = Rails(24.0, 0.025, (4.8,) * 4, (0.050,) * 4)
    >>> case = Case(tape, 1, 0.1, FeedStyle.ONE, Wire("18 AWG", 0.02095, 7.0), 12.0)
    >>> longest_pitches(case, Limits(0.10)), longest_pitches(case, Limits(0.05))
    (50, 38)
    """
    guess = min(1_000_000, max(0, floor(_longest_m(case, limits) / case.pitch_m)))
    while guess and breaks(case.of(guess), limits):
        guess -= 1
    while guess < 1_000_000 and not breaks(case.of(guess + 1), limits):
        guess += 1
    return guess


def _longest_m(case: Case, limits: Limits) -> float:
    one = case.of(1).drop()
    class_v = case.rails.class_v
    tape_v_per_m2 = one.tape_v / case.pitch_m**2
    lead_v_per_m = one.lead_v / case.pitch_m
    lost_v = limits.total * class_v
    if tape_v_per_m2 > 0.0:
        root = sqrt(lead_v_per_m**2 + 4.0 * tape_v_per_m2 * lost_v)
        by_drop_m = (root - lead_v_per_m) / (2.0 * tape_v_per_m2)
    else:
        by_drop_m = lost_v / lead_v_per_m if lead_v_per_m > 0.0 else inf
    by_lead_m = limits.lead * class_v / lead_v_per_m if lead_v_per_m > 0.0 else inf
    a_per_m = common_a(1.0, case.rails.emitters_w_per_m, class_v) / case.leads
    limit_a = case.wire.limit_a
    by_amps_m = most_load_a(limit_a) / a_per_m if limit_a is not None and a_per_m > 0.0 else inf
    by_maker_m = longest_by_maker_m(case.style, limits)
    longest_m = min(by_drop_m, by_lead_m, by_amps_m, inf if by_maker_m is None else by_maker_m)
    return min(longest_m, 1_000_000.0 * case.pitch_m)


def longest_lead_of(case: Case, limits: Limits) -> float | None:
    """Metres of this wire, one way, with which the run keeps its limits; None where no lead does.

    `inf` where it draws nothing. Where the lead's own share ends it first, found by halving, to a tenth of a
    millimetre below: which emitter is the worst may change with the lead, so its volts are no straight line.

    Source: `longest_lead_m`; a longer lead never loses less.

    >>> from service.electrical.advice.cases import Wire
    >>> from service.electrical.tape import FeedStyle, Rails
    >>> tape = Rails(24.0, 0.025, (4.8,) * 4, (0.050,) * 4)
    >>> case = Case(tape, 80, 0.1, FeedStyle.ONE, Wire("14 AWG", 0.008286, 15.0), 12.0)
    >>> round(longest_lead_of(case, Limits(0.10)), 2)
    21.72
    """
    if breaks(replace(case, lead_m=0.0), limits):
        return None
    beyond_m = longest_lead_m(
        case.rails,
        case.length_m,
        case.style,
        case.wire.ohm_per_m,
        limits.total * case.rails.class_v,
        case.conductor_degc,
    )
    if beyond_m == inf or not breaks(replace(case, lead_m=beyond_m), limits):
        return beyond_m
    within_m = 0.0
    while beyond_m - within_m > 1e-4:
        middle_m = (within_m + beyond_m) / 2.0
        if breaks(replace(case, lead_m=middle_m), limits):
            beyond_m = middle_m
        else:
            within_m = middle_m
    return within_m
