"""Volts lost on the way to the far end, and amps in the wire."""

from service.electrical.tape import FeedStyle, leads_of
from service.limits import cautions
from service.limits.facts import TapeFacts
from service.limits.findings import (
    About,
    Figure,
    Finding,
    Harm,
    Mend,
    Rule,
    Verdict,
    about,
    compared,
    share_text,
)
from service.limits.lookup import Lookup, RunDrop, RunOf, lead_ohm_per_m
from service.limits.mends.leads import better_lead, lead_text
from service.limits.wires import core_limit

QUICK = (
    "evenly loaded line, all emitters at full: R' i L²/2 fed at one end, R' i L²/8 from two sides; Ohm's law"
)

ENDS = {"one": "at one end", "both": "at both ends", "middle": "in the middle"}

LEAD_DROP = Rule(
    "lead-drop",
    "A lead loses few volts",
    7,
    Harm.LOOKS,
    "run",
    f"{QUICK}; 3 % after the advice of NFPA 70 (2017) 210.19(A) Note 4, a house setting",
    cautions.DATA,
)
TOTAL_DROP = Rule(
    "total-drop",
    "The far end gets volts enough",
    7,
    Harm.LOOKS,
    "run",
    f"{QUICK}; 5 % after the advice of NFPA 70 (2017) 215.2 Note 2; 10 % common practice; house settings",
    cautions.DATA,
)
RUN_LENGTH = Rule(
    "run-length",
    "No run is longer than the maker allows",
    7,
    Harm.FIRE,
    "run",
    "the maker's longest run fed from one end; twice that when the current comes from two sides (theory)",
    cautions.FIRE,
)
LEAD_AMPS = Rule(
    "lead-amps",
    "A wire carries no more than the shop lets it",
    8,
    Harm.FIRE,
    "run",
    "common practice: 22 AWG 3 A, 20 5, 18 7, 16 10, 14 15, 12 20; the drum's own figure where it is less; "
    "where the house asks, NFPA 70 (2017) 240.4(D), Tables 400.5(A), 402.5, 520.44(C)(3), BS 7671 Table 4F3A",
    cautions.FIRE,
)


def _subject(found: RunOf) -> About:
    return about(found.run.tag, found.element.tag, [found.element.tag])


def _tape_and_drop(found: RunOf, around: Lookup, rule: Rule) -> tuple[TapeFacts, RunDrop] | Finding | None:
    """The tape and its drop, or why there is none: the tape undecided is another limit's business."""
    tape, lead = found.element.tape, found.run.lead
    if tape is None or not found.run.pieces:
        return None
    if lead.length_m is None:
        return rule.unknown(_subject(found), "how long its lead is", "the metres one way")
    ohm_per_m = lead_ohm_per_m(lead)
    if ohm_per_m is None:
        return rule.unknown(_subject(found), "the wire of its lead", "its gauge, such as 18 AWG or 1.5 mm²")
    drop = around.drop(found.run, tape, found.run.feed_style, ohm_per_m)
    return None if drop is None else (tape, drop)


def lead_drop(found: RunOf, around: Lookup) -> Finding | None:
    """The lead alone takes no more than its share of the volts."""
    read = _tape_and_drop(found, around, LEAD_DROP)
    if read is None or isinstance(read, Finding):
        return read
    tape, drop = read
    watch_pct = 100.0 * around.policy.lead_watch
    figure = Figure(drop.lead_pct, watch_pct, "%")
    lead = found.run.lead
    said = (
        f"{found.run.tag}'s lead ({lead.length_m:g} m of {lead.gauge or 'wire'}) loses {drop.lead_pct:.2f} %"
    )
    if compared(drop.lead_pct, watch_pct) is Verdict.OK:
        return LEAD_DROP.ok(_subject(found), f"{said} of {tape.class_v:g} V", figure)
    mend = _better(found, around, "lead")
    message = f"{said} of {tape.class_v:g} V; more than {watch_pct:g} % is worth a look"
    return LEAD_DROP.finding(Verdict.WATCH, _subject(found), message, figure, mend)


def total_drop(found: RunOf, around: Lookup) -> Finding | None:
    """Lead and tape together leave the worst emitter enough."""
    read = _tape_and_drop(found, around, TOTAL_DROP)
    if read is None or isinstance(read, Finding):
        return read
    tape, drop = read
    what, policy = _subject(found), around.policy
    over_pct, watch_pct = 100.0 * policy.drop_over, 100.0 * policy.drop_watch
    if compared(drop.lead_pct, over_pct) is Verdict.OVER and drop.total_pct is None:
        message = f"{found.run.tag} loses {drop.lead_pct:.2f} % in its lead alone; {over_pct:g} % is too much"
        figure = Figure(drop.lead_pct, over_pct, "%")
        return TOTAL_DROP.finding(Verdict.OVER, what, message, figure, _better(found, around, "total"))
    if drop.total_pct is None:
        return TOTAL_DROP.unknown(
            what, f"the resistance of {tape.tag}'s rails", "ohms a metre, common and returns"
        )
    parts = f"lead {drop.lead_pct:.2f} %, tape {drop.total_pct - drop.lead_pct:.2f} %"
    said = f"{found.run.tag} loses {drop.total_pct:.2f} % of {tape.class_v:g} V at full ({parts})"
    verdict, limit_pct = Verdict.OK, watch_pct
    if compared(drop.total_pct, over_pct) is Verdict.OVER:
        verdict, limit_pct = Verdict.OVER, over_pct
    elif compared(drop.total_pct, watch_pct) is Verdict.OVER:
        verdict = Verdict.WATCH
    figure = Figure(drop.total_pct, limit_pct, "%")
    if verdict is Verdict.OK:
        return TOTAL_DROP.ok(what, said, figure)
    message = f"{said}; more than {limit_pct:g} % {'is too much' if verdict is Verdict.OVER else 'may show'}"
    return TOTAL_DROP.finding(verdict, what, message, figure, _better(found, around, "total"))


def run_length(found: RunOf, around: Lookup) -> Finding | None:
    """A run is no longer than the maker's longest, doubled when the current comes from two sides."""
    tape, run = found.element.tape, found.run
    if tape is None or not run.pieces:
        return None
    what = _subject(found)
    limit_m = around.run_limit_m(tape, run.feed_style)
    if limit_m is None:
        return RUN_LENGTH.unknown(
            what, f"the longest run of {tape.tag}", "the maker's longest run from one end"
        )
    figure = Figure(run.length_m, limit_m, "m")
    fed = f"fed {ENDS[run.feed_style]}"
    said = f"{run.tag} is {run.length_m:.3f} m of {tape.tag} {fed}; the longest so fed is {limit_m:g} m"
    if compared(run.length_m, limit_m) is Verdict.OK:
        return RUN_LENGTH.ok(what, said, figure)
    two_sided_m = around.run_limit_m(tape, FeedStyle.BOTH)
    better = better_lead(found, around)
    if better is not None and better.run_limit_m is not None:
        mend = Mend(better.text, run.length_m, better.run_limit_m, better.acts)
    elif two_sided_m is not None and compared(run.length_m, two_sided_m) is Verdict.OK:
        mend = Mend("feed it at both ends from the same supply output", run.length_m, two_sided_m)
    else:
        mend = Mend("divide it and give each part its own lead")
    return RUN_LENGTH.finding(Verdict.OVER, what, said, figure, mend)


def lead_amps(found: RunOf, around: Lookup) -> Finding | None:
    """The busiest core of a lead carries no more than the wire's shop figure."""
    tape, run = found.element.tape, found.run
    if tape is None or not run.pieces:
        return None
    what = _subject(found)
    limit = core_limit(run.lead, around.policy)
    limit_a = limit.limit_a
    if limit_a is None:
        missing = "the wire of its lead" if not run.lead.gauge else f"what {run.lead.gauge} may carry"
        enter = "its gauge, such as 18 AWG or 1.5 mm²" if not run.lead.gauge else "its amps"
        return LEAD_AMPS.unknown(what, missing, enter)
    load_a = tape.w_per_m * run.length_m / tape.class_v / leads_of(FeedStyle(run.feed_style))
    figure = Figure(load_a, limit_a, "A")
    gauge = run.lead.gauge or "its wire"
    said = f"{run.tag}'s lead carries {load_a:.2f} A; {gauge} takes {limit_a:.2f} A"
    said += f" ({limit.text})" if limit.text else ""
    if compared(load_a, limit_a) is Verdict.OK:
        return LEAD_AMPS.ok(what, f"{said}, {share_text(load_a, limit_a)}", figure)
    better = better_lead(found, around)
    mend = None if better is None else Mend(better.text, better.drop.lead_a, better.limit_a, better.acts)
    return LEAD_AMPS.finding(Verdict.OVER, what, f"{said}, {share_text(load_a, limit_a)}", figure, mend)


def _better(found: RunOf, around: Lookup, part: str) -> Mend:
    better = better_lead(found, around)
    if better is None:
        return Mend(lead_text(found, around))
    policy = around.policy
    if part == "lead":
        return Mend(better.text, better.drop.lead_pct, 100.0 * policy.lead_watch, better.acts)
    return Mend(better.text, better.drop.total_pct, 100.0 * policy.drop_watch, better.acts)
