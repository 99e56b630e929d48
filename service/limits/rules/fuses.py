"""Fuses and connectors of leads, and what a Class 2 mark allows."""

from collections import defaultdict
from collections.abc import Iterable
from typing import NamedTuple

from service.electrical.extra_low import Marking, allowed, heavy_wiring
from service.electrical.fuses import (
    BLOWING_FACTOR,
    Fuse,
    FuseFit,
    NoFuse,
    fuse_fit,
    fuse_for,
    may_never_blow,
    wants_fuse,
)
from service.electrical.sources import CONTINUOUS_FACTOR
from service.electrical.tape import FeedStyle, leads_of
from service.errors import BadQuantity
from service.limits import cautions
from service.limits.facts import OutputFacts, ShowFacts, SupplyFacts
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
from service.limits.lookup import Lookup, OutputOf, RunOf
from service.limits.mends.leads import better_lead
from service.limits.wires import core_limit

FUSE = Rule(
    "fuse",
    "Each lead has a fuse that holds its load and saves its wire",
    8,
    Harm.FIRE,
    "run",
    "continuous load, NFPA 70 (2017) 210.20(A), 240.5(A): 1.25 × load ≤ fuse ≤ wire; sizes common practice",
    cautions.FIRE,
)
FITTED = Rule(
    "fuse-fitted",
    "The fuse that is fitted is the one that is wanted",
    8,
    Harm.FIRE,
    "run",
    "NFPA 70 (2017) 240.4, 240.5(A); a fuse of a supply protects no thinner lead behind it (common practice)",
    cautions.FIRE,
)
FUSES_KNOWN = Rule(
    "fuses-known",
    "What is fitted in every lead is written down",
    8,
    Harm.PAPER,
    "production",
    "common practice",
    cautions.FIRE,
)
PINS = Rule(
    "connector-pins",
    "A pin carries no more than its maker lets it",
    8,
    Harm.FIRE,
    "run",
    "the maker's sheet of the connector, amps for one pin",
    cautions.FIRE,
)
PINS_KNOWN = Rule(
    "connectors-known",
    "What connects every lead is written down",
    8,
    Harm.PAPER,
    "production",
    "common practice; a soldered joint is entered as a kind of connector too",
    cautions.FIRE,
)
CLASS_2 = Rule(
    "class-2",
    "What is marked Class 2 is small enough for it",
    3,
    Harm.FIRE,
    "supply",
    "NFPA 70 (2017) Ch. 9 Table 11(B)",
    cautions.OUTPUTS,
)
LEAVES_BOX = Rule(
    "leaves-box",
    "A strong output leaves its box through fuses",
    3,
    Harm.FIRE,
    "supply",
    "after NFPA 70 (2017) Ch. 9 Table 11(B): 100 VA and 60 V; from memory, check the adopted code",
    cautions.FIRE,
)


class Lead(NamedTuple):
    """What one lead of a run carries, the most its fuse may be, and what stands behind it."""

    found: RunOf
    a: float
    fuse_a: float | None  # None: its wire, or what that may carry, is not known
    pin_a: float | None
    supply: SupplyFacts
    output: OutputFacts

    @property
    def about(self) -> About:
        return about(self.found.run.tag, self.found.element.tag, [self.found.element.tag])

    @property
    def is_wanted(self) -> bool | None:
        """Whether it needs a fuse; None where a figure is missing."""
        is_battery = self.supply.kind == "battery"
        if self.fuse_a is None or (self.output.cap_a is None and not is_battery):
            return None
        return wants_fuse(self.output.cap_a or 0.0, self.fuse_a, is_battery)

    @property
    def fuses_a(self) -> tuple[float, ...]:
        """What is fitted in it; else before it, where that is small enough to save its wire."""
        if self.found.run.lead.fuses_a:
            return self.found.run.lead.fuses_a
        before = [f.rating_a for f in self.supply.fuses if f.output in (None, self.output.number)]
        return tuple(a for a in before if self.fuse_a is not None and a <= self.fuse_a)


def lead_of(found: RunOf, around: Lookup) -> Lead | None:
    """The lead of a run that is fed; None while there is nothing to carry or nothing behind it."""
    tape, run, feed = found.element.tape, found.run, found.run.feed
    if tape is None or not run.pieces or feed is None:
        return None
    supply = around.supplies.get(feed.supply)
    output = next((o for o in supply.outputs if o.number == feed.output), None) if supply else None
    if supply is None or output is None:
        return None
    a = tape.w_per_m * run.length_m / tape.class_v / leads_of(FeedStyle(run.feed_style))
    connector = run.lead.connector
    pin_a = connector.a_per_pin if connector else None
    return Lead(found, a, core_limit(run.lead, around.policy).fuse_a, pin_a, supply, output)


def fuse(found: RunOf, around: Lookup) -> Finding | None:
    """A standard fuse holds the load and saves the wire and the pins, and the supply can blow it."""
    lead = lead_of(found, around)
    if lead is None:
        return None
    run, supply = found.run, lead.supply
    if lead.fuse_a is None:
        return FUSE.unknown(lead.about, "what the wire of its lead may carry", "its gauge, or its amps")
    if lead.is_wanted is None:
        return FUSE.unknown(lead.about, f"what {supply.tag} can give", "the amps of its output")
    gauge = run.lead.gauge or "its wire"
    if not lead.is_wanted:
        cap_a = lead.output.cap_a or 0.0
        said = f"{run.tag} needs no fuse: {supply.tag} gives {cap_a:g} A, {gauge} takes {lead.fuse_a:g} A"
        return FUSE.ok(lead.about, said, Figure(cap_a, lead.fuse_a, "A"))
    wanted = fuse_for(lead.a, lead.fuse_a, lead.pin_a)
    if isinstance(wanted, NoFuse):
        value = wanted.needed_a if wanted.rating_a is None else wanted.rating_a
        message = f"no fuse fits {run.tag}'s lead ({gauge}): {wanted.why}"
        figure = Figure(value, wanted.bound_a, "A")
        return FUSE.finding(Verdict.OVER, lead.about, message, figure, _fusible(lead, wanted, around))
    figure = Figure(wanted.rating_a, wanted.bound_a, "A")
    said = f"{run.tag}'s lead ({gauge}, {lead.a:.2f} A) wants a {wanted}"
    if supply.kind == "battery":
        return FUSE.ok(lead.about, f"{said}; within 150 mm of {supply.tag}", figure)
    if lead.output.cap_a is not None and may_never_blow(lead.output.cap_a, wanted.rating_a):
        message = f"{said}; {supply.tag} gives {lead.output.cap_a:g} A and may give up before that blows"
        least = Mend(
            "short the far end of the lead once, on the bench, and see that it blows; or feed it from an "
            f"output of {BLOWING_FACTOR * wanted.rating_a:g} A or more"
        )
        return FUSE.finding(Verdict.WATCH, lead.about, message, figure, least)
    return FUSE.ok(lead.about, said, figure)


def _fusible(lead: Lead, wanted: NoFuse, around: Lookup) -> Mend:
    """The least change of the lead after which volts, amps and a fuse all hold."""
    better = better_lead(lead.found, around)
    if better is not None and better.fuse_a is not None:
        found = fuse_for(better.drop.lead_a, better.fuse_a, lead.pin_a)
        if isinstance(found, Fuse):
            each = f"; a {found.rating_a:g} A fuse in each lead"
            return Mend(better.text + each, found.rating_a, found.bound_a, better.acts)
    return Mend(wanted.mend)


def fuse_fitted(found: RunOf, around: Lookup) -> Finding | None:
    """A fuse that is written down holds its load and saves its wire; of several the largest."""
    lead = lead_of(found, around)
    if lead is None or lead.fuse_a is None or not lead.fuses_a:
        return None
    rating_a = max(lead.fuses_a)
    fit = fuse_fit(rating_a, lead.a, lead.fuse_a, lead.pin_a)
    bound_a = lead.fuse_a if lead.pin_a is None else min(lead.fuse_a, lead.pin_a)
    said = f"{found.run.tag}'s lead has a {rating_a:g} A fuse"
    wanted = fuse_for(lead.a, lead.fuse_a, lead.pin_a)
    change = Mend(str(wanted)) if isinstance(wanted, NoFuse) else None
    if isinstance(wanted, Fuse):
        change = Mend(f"fit a {wanted.rating_a:g} A fuse", wanted.rating_a, wanted.bound_a)
    if fit is FuseFit.FITS:
        return FITTED.ok(lead.about, f"{said}, which holds {lead.a:.2f} A", Figure(rating_a, bound_a, "A"))
    if fit is FuseFit.BLOWS:
        least_a = CONTINUOUS_FACTOR * lead.a
        figure = Figure(rating_a, least_a, "A", at_least=True)
        message = (
            f"{said}, {fit}: {lead.a:.2f} A for hours wants {least_a:.2f} A, and it will blow in the show"
        )
        return FITTED.finding(Verdict.WATCH, lead.about, message, figure, change, Harm.DARK)
    message = f"{said}, {fit}: {bound_a:g} A is the most that saves it"
    return FITTED.finding(Verdict.OVER, lead.about, message, Figure(rating_a, bound_a, "A"), change)


def fuses_known(show: ShowFacts, around: Lookup) -> Finding | None:
    """Every lead that wants a fuse has one on record; where not, what to fit is said size by size."""
    sizes: dict[str, list[str]] = defaultdict(list)
    elements = []
    for found in around.runs:
        lead = lead_of(found, around)
        if lead is None or lead.is_wanted is not True or lead.fuse_a is None or lead.fuses_a:
            continue
        wanted = fuse_for(lead.a, lead.fuse_a, lead.pin_a)
        sizes[f"{wanted.rating_a:g} A" if isinstance(wanted, Fuse) else "none fits"].append(found.run.tag)
        elements.append(found.element.tag)
    return _blank(FUSES_KNOWN, show, elements, "fuse", "it; wanted: " + _listed(sizes))


def connector_pins(found: RunOf, around: Lookup) -> Finding | None:
    """One pin carries the common core of a lead."""
    lead = lead_of(found, around)
    connector = found.run.lead.connector
    if lead is None or connector is None:
        return None
    if connector.a_per_pin is None:
        return PINS.unknown(lead.about, f"what a pin of {connector.tag} may carry", "its amps for one pin")
    figure = Figure(lead.a, connector.a_per_pin, "A")
    share = share_text(lead.a, connector.a_per_pin)
    said = f"{found.run.tag} puts {lead.a:.2f} A on a pin of {connector.tag}, {share}"
    if compared(lead.a, connector.a_per_pin) is Verdict.OK:
        return PINS.ok(lead.about, said, figure)
    mend = Mend(f"use a connector of {lead.a:.2f} A a pin or more, or several pins side by side")
    if found.run.feed_style == FeedStyle.ONE and compared(lead.a / 2.0, connector.a_per_pin) is Verdict.OK:
        text = f"feed it at both ends from the same output: {lead.a / 2.0:.2f} A a lead"
        mend = Mend(text, lead.a / 2.0, connector.a_per_pin)
    return PINS.finding(Verdict.OVER, lead.about, said, figure, mend)


def connectors_known(show: ShowFacts, around: Lookup) -> Finding | None:
    """Every lead that is fed has its connector on record."""
    blank = [
        found.element.tag
        for found in around.runs
        if found.run.lead.connector is None and lead_of(found, around) is not None
    ]
    return _blank(PINS_KNOWN, show, blank, "connector", "its kind, or that it is soldered")


def _blank(rule: Rule, show: ShowFacts, elements: list[str], what: str, enter: str) -> Finding | None:
    if not elements:
        return None
    leads = "one lead" if len(elements) == 1 else f"{len(elements)} leads"
    missing = f"the {what} of {leads}"
    return rule.unknown(about(show.production, show.production, elements), missing, enter)


def _listed(sizes: dict[str, list[str]]) -> str:
    """Most useful at the bench: size, how many, and where."""
    order = sorted(sizes, key=lambda size: (not size[0].isdigit(), _amps(size)))
    return "; ".join(f"{size} × {len(sizes[size])} ({', '.join(sorted(sizes[size]))})" for size in order)


def _amps(size: str) -> float:
    number = size.split()[0]
    return float(number) if number.replace(".", "").isdigit() else 0.0


def class_2(at: OutputOf, _around: Lookup) -> Finding | None:
    """A supply that is marked Class 2 gives no more on any output than its mark allows."""
    supply, output = at
    if supply.kind == "battery" or output.cap_a is None:
        return None
    what = about(at.name, supply.tag, (load.element for load in output.loads))
    va = output.cap_a * supply.real_v
    if supply.is_class2 is None:
        if heavy_wiring(supply.real_v, va):
            return None
        return CLASS_2.unknown(what, "whether it is marked Class 2", "yes or no, as its plate says")
    if not supply.is_class2:
        return None
    try:
        most_va = allowed(Marking.CLASS_2, supply.real_v).nameplate_va
    except BadQuantity as refusal:
        return CLASS_2.finding(Verdict.OVER, what, f"{at.name}: {refusal.message}", None, _unmark(supply))
    figure = Figure(va, most_va, "VA")
    said = f"{at.name} is marked Class 2 and gives {va:.4g} VA of the {most_va:g} VA that this allows"
    if compared(va, most_va) is Verdict.OK:
        return CLASS_2.ok(what, said, figure)
    return CLASS_2.finding(Verdict.OVER, what, said, figure, _unmark(supply))


def _unmark(supply: SupplyFacts) -> Mend:
    return Mend(
        f"read the plate of {supply.tag} again; unmarked, wire it as a power circuit with a fuse a lead"
    )


def leaves_box(at: OutputOf, around: Lookup) -> Finding | None:
    """Each lead of an output above 100 VA that is boxed and not Class 2 has its fuse on record."""
    supply, output = at
    if not supply.enclosure or supply.kind == "battery" or supply.is_class2 or not output.loads:
        return None
    what = about(at.name, supply.tag, (load.element for load in output.loads))
    if output.cap_a is None:
        return LEAVES_BOX.unknown(what, "what the output can give", "its amps from the maker's sheet")
    why = heavy_wiring(supply.real_v, round(output.cap_a * supply.real_v, 3))
    if not why:
        return LEAVES_BOX.ok(what, f"{at.name} leaves {supply.enclosure} with light wiring")
    blank = [lead.found.run.tag for lead in _leads(at, around) if not lead.fuses_a]
    said = f"{at.name} leaves {supply.enclosure} with {why[0]}"
    if blank:
        return LEAVES_BOX.unknown(what, f"({said}) the fuse of {', '.join(blank)}", "what is fitted there")
    return LEAVES_BOX.ok(what, f"{said}, and each lead has its fuse")


def _leads(at: OutputOf, around: Lookup) -> Iterable[Lead]:
    leads = (lead_of(found, around) for found in around.runs_of_supply(at.supply.tag))
    return (lead for lead in leads if lead is not None and lead.output.number == at.output.number)
