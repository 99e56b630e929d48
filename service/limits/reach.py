"""How long the lead of a run may be before its volts or its wire pass a limit, and what would let it grow."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf

from service.electrical.tape import FeedStyle, leads_of, longest_lead_m, quick_drop
from service.limits.facts import LeadFacts, TapeFacts
from service.limits.findings import SLACK, Verdict, compared
from service.limits.lookup import Lookup, lead_limit_a, lead_ohm_per_m, rails_of
from service.limits.mends.leads import change_text, choices
from service.limits.rules.leads import ENDS, LEAD_AMPS, RUN_LENGTH, TOTAL_DROP


@dataclass(frozen=True, slots=True)
class LedRun:
    """A run as it is drawn: so much tape, fed so, on this lead (each lead alike where it has two)."""

    tape: TapeFacts
    length_m: float
    style: str
    lead: LeadFacts


@dataclass(frozen=True, slots=True)
class Longest:
    """The longest lead, one way, with which nothing is over; None where a lead of no length would be.

    `code`: the limit that ends it, with `value` and `bound` in `unit` where no lead would do.
    """

    lead_m: float | None
    code: str
    because: str
    value: float | None = None
    bound: float | None = None
    unit: str = "m"


@dataclass(frozen=True, slots=True)
class Longer:
    """A change, in words, and the longest lead that it allows."""

    lead_m: float
    text: str


def longest_lead(run: LedRun, around: Lookup) -> Longest:
    """How far the run may be from what feeds it. A figure that nobody entered ends nothing.

    Source: the limits run-length, lead-amps and total-drop, solved for the lead.
    """
    stopped = _too_long(run, around) or _too_thin(run, around)
    if stopped is not None:
        return stopped
    ohm_per_m = lead_ohm_per_m(run.lead)
    if ohm_per_m is None:
        return Longest(inf, TOTAL_DROP.code, "nobody entered the wire of its lead")
    policy, tape = around.policy, run.tape
    # The slack of every comparison, so that a lead that is found in order is never refused.
    most_v = tape.class_v * policy.drop_over * (1.0 + SLACK)
    style = FeedStyle(run.style)
    lead_m = longest_lead_m(rails_of(tape), run.length_m, style, ohm_per_m, most_v, policy.conductor_degc)
    over_pct = 100.0 * policy.drop_over
    if lead_m < 0.0:
        alone = quick_drop(rails_of(tape), run.length_m, style, ohm_per_m, 0.0, policy.conductor_degc)
        tape_pct = alone.total_pct
        because = f"its tape alone loses {tape_pct:.2f} % of {tape.class_v:g} V; {over_pct:g} % is too much"
        return Longest(None, TOTAL_DROP.code, because, tape_pct, over_pct, "%")
    wire = run.lead.gauge or "this wire"
    because = f"with {wire}, fed {ENDS[run.style]}, it keeps within {over_pct:g} % up to {floored(lead_m)} m"
    return Longest(lead_m, TOTAL_DROP.code, because)


def longer_leads(run: LedRun, around: Lookup) -> Iterator[Longer]:
    """What would allow a longer lead, the least change first; nothing where no change would."""
    for choice in choices(run.style, run.lead, around):
        lead = LeadFacts(None, choice.gauge, choice.ohm_per_m, choice.limit_a, run.lead.cores)
        found = longest_lead(LedRun(run.tape, run.length_m, choice.style, lead), around)
        if found.lead_m is not None:
            yield Longer(
                found.lead_m, f"{change_text(choice, run.style)}, good for {floored(found.lead_m)} m"
            )


def _too_long(run: LedRun, around: Lookup) -> Longest | None:
    limit_m = around.run_limit_m(run.tape, run.style)
    if limit_m is None or compared(run.length_m, limit_m) is Verdict.OK:
        return None
    because = (
        f"{run.length_m:g} m of {run.tape.tag} fed {ENDS[run.style]}; the longest so fed is {limit_m:g} m"
    )
    return Longest(None, RUN_LENGTH.code, because, run.length_m, limit_m, "m")


def _too_thin(run: LedRun, around: Lookup) -> Longest | None:
    limit_a = lead_limit_a(run.lead, around.policy)
    load_a = run.tape.w_per_m * run.length_m / run.tape.class_v / leads_of(FeedStyle(run.style))
    if limit_a is None or compared(load_a, limit_a) is Verdict.OK:
        return None
    because = f"{load_a:.2f} A > {limit_a:.2f} A in {run.lead.gauge or 'its wire'}"
    return Longest(None, LEAD_AMPS.code, because, load_a, limit_a, "A")


def floored(length_m: float) -> str:
    """Metres with one place, never rounded up: a longer lead would not do.

    >>> floored(9.2999)
    '9.2'
    """
    return f"{int(length_m * 10.0) / 10:.1f}"
