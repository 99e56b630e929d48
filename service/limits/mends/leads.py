"""A better lead: thicker wire, both ends fed, or the supply brought nearer."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import floor

from service.electrical.fuses import most_load_a
from service.electrical.gauges import known_gauge, thicker_than
from service.electrical.tape import FeedStyle
from service.limits.facts import LeadFacts, RunFacts, WireFacts
from service.limits.findings import Verdict, compared
from service.limits.lookup import Lookup, RunDrop, RunOf, lead_ohm_per_m
from service.limits.mends.acts import Relead
from service.limits.wires import core_limit


@dataclass(frozen=True, slots=True)
class BetterLead:
    """What to change, in words, and every figure afterwards. `fuse_a`: the greatest fuse it may have."""

    text: str
    drop: RunDrop
    limit_a: float | None
    fuse_a: float | None
    run_limit_m: float | None
    acts: tuple[Relead, ...] = ()


@dataclass(frozen=True, slots=True)
class Choice:
    """Another way to lead current to a run: where it is fed, and the wire of each lead."""

    style: str
    gauge: str
    ohm_per_m: float
    limit_a: float | None
    fuse_a: float | None
    is_thicker: bool


def better_lead(found: RunOf, around: Lookup) -> BetterLead | None:
    """The least change after which amps, lead, total and length of run all pass without a watch, and a
    standard fuse holds the load and saves the wire."""
    tape, run = found.element.tape, found.run
    if tape is None:
        return None
    for choice in choices(run.feed_style, run.lead, around):
        drop = around.drop(run, tape, choice.style, choice.ohm_per_m)
        run_limit_m = around.run_limit_m(tape, choice.style)
        if drop is not None and _passes(drop, choice, run.length_m, run_limit_m, around):
            text = _words(choice, run, drop)
            act = Relead(run.tag, choice.gauge, choice.style)
            acts = (act,) if choice.is_thicker or run.lead.gauge else ()
            return BetterLead(text, drop, choice.limit_a, choice.fuse_a, run_limit_m, acts)
    return None


def nearest_m(found: RunOf, around: Lookup) -> float | None:
    """The longest lead of the same wire that passes without a watch; None where no lead does."""
    tape, run = found.element.tape, found.run
    ohm_per_m = lead_ohm_per_m(run.lead)
    if tape is None or ohm_per_m is None or not run.lead.length_m:
        return None
    drop = around.drop(run, tape, run.feed_style, ohm_per_m)
    if drop is None or drop.total_pct is None or not drop.lead_pct:
        return None
    tape_pct = drop.total_pct - drop.lead_pct
    room_pct = min(100.0 * around.policy.lead_watch, 100.0 * around.policy.drop_watch - tape_pct)
    return run.lead.length_m * room_pct / drop.lead_pct if room_pct > 0.0 else None


def lead_text(found: RunOf, around: Lookup) -> str:
    """The best change in words, or why there is none."""
    better = better_lead(found, around)
    if better is not None:
        return better.text
    near_m = nearest_m(found, around)
    if near_m is not None and near_m >= 0.1:
        near_m = floor(near_m * 10.0) / 10.0  # rounding up would promise a lead that does not pass
        return f"no wire in the table clears it; bring the supply nearer: a lead of {near_m:.1f} m passes"
    return "no wire in the table clears it; divide the run and give each part its own lead"


def _thicker(lead: LeadFacts, around: Lookup) -> list[WireFacts]:
    """Drums of the house with less resistance than the lead has, thinnest first; else sizes in the tables."""
    ohm_per_m = lead_ohm_per_m(lead)
    if ohm_per_m is None:
        return []
    if around.show.wires:
        better = {w.gauge: w for w in around.show.wires if w.ohm_per_m < ohm_per_m}
        return sorted(better.values(), key=lambda w: (-w.ohm_per_m, w.gauge))
    size = known_gauge(lead.gauge)
    sizes = () if size is None else thicker_than(size)
    return [WireFacts(g.text, g.ohm_per_m, g.shop_limit_a) for g in sizes]


def choices(style: str, lead: LeadFacts, around: Lookup) -> Iterator[Choice]:
    """Other ways than this one: one change before two; thinner wire before thicker."""
    ohm_per_m, thicker = lead_ohm_per_m(lead), _thicker(lead, around)
    for wire in thicker:
        yield _with_wire(style, wire, lead, around)
    if style != FeedStyle.BOTH:
        if ohm_per_m is not None:
            same, limit = lead.gauge or "the same wire", core_limit(lead, around.policy)
            yield Choice(FeedStyle.BOTH, same, ohm_per_m, limit.limit_a, limit.fuse_a, False)
        for wire in thicker:
            yield _with_wire(FeedStyle.BOTH, wire, lead, around)


def _with_wire(style: str, wire: WireFacts, lead: LeadFacts, around: Lookup) -> Choice:
    """That wire, with what it may carry in a lead of as many cores as there are now."""
    other = LeadFacts(None, wire.gauge, wire.ohm_per_m, wire.limit_a, lead.cores)
    limit = core_limit(other, around.policy)
    return Choice(style, wire.gauge, wire.ohm_per_m, limit.limit_a, limit.fuse_a, True)


def _passes(
    drop: RunDrop, choice: Choice, length_m: float, run_limit_m: float | None, around: Lookup
) -> bool:
    policy = around.policy
    pairs = [
        (drop.lead_a, choice.limit_a),
        (drop.lead_a, None if choice.fuse_a is None else most_load_a(choice.fuse_a)),
        (drop.lead_pct, 100.0 * policy.lead_watch),
        (drop.total_pct, 100.0 * policy.drop_watch),
        (length_m, run_limit_m),
    ]
    return all(
        compared(value, limit) is Verdict.OK
        for value, limit in pairs
        if value is not None and limit is not None
    )


def change_text(choice: Choice, style: str) -> str:
    """What to do to a run that is fed in this style."""
    changes = []
    if choice.style != style:
        changes.append("feed it at both ends from the same supply output")
    if choice.is_thicker:
        changes.append(f"use {choice.gauge}")
    return " and ".join(changes)


def _words(choice: Choice, run: RunFacts, drop: RunDrop) -> str:
    amps = f"{drop.lead_a:.2f} A" + ("" if choice.limit_a is None else f" of {choice.limit_a:.2f} A")
    total = "" if drop.total_pct is None else f", total {drop.total_pct:.2f} %"
    return f"{change_text(choice, run.feed_style)}: {amps} a lead, lead {drop.lead_pct:.2f} %{total}"
