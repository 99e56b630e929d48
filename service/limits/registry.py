"""Every limit of the house, once; pages, sheets, scripts and the allocator's judge all read these."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from service.limits.basis import bases_of, basis_of
from service.limits.facts import ShowFacts
from service.limits.findings import Finding, Harm, Rule, Verdict, by_harm
from service.limits.lookup import Lookup
from service.limits.policy import DEFAULT, Policy
from service.limits.rules import (
    addresses,
    batteries,
    boxes,
    control,
    electrical,
    film,
    fuses,
    leads,
    mains,
    mounting,
    places,
    store,
)

Subject = TypeVar("Subject")
_OF_SUPPLIES = frozenset({"supply", "battery", "unit"})
_OF_LOADS = frozenset({"W", "A", "Wh"})


@dataclass(frozen=True, slots=True)
class Limit(Generic[Subject]):
    """A rule, the things it is asked of, and the one function that answers. None: not applicable."""

    rule: Rule
    subjects: Callable[[Lookup], Iterable[Subject]]
    check: Callable[[Subject, Lookup], Finding | None]

    @property
    def code(self) -> str:
        return self.rule.code

    @property
    def title(self) -> str:
        return self.rule.title

    @property
    def number(self) -> int:
        return self.rule.number

    @property
    def harm(self) -> Harm:
        return self.rule.harm

    @property
    def subject_kind(self) -> str:
        return self.rule.subject_kind

    @property
    def source(self) -> str:
        return self.rule.source

    @property
    def caution(self) -> str:
        return self.rule.caution

    def findings(self, around: Lookup) -> Iterable[Finding]:
        return (f for subject in self.subjects(around) if (f := self.check(subject, around)) is not None)


LIMITS: tuple[Limit[Any], ...] = (
    Limit(electrical.VOLTAGE_CLASS, lambda around: around.runs, electrical.voltage_class),
    Limit(electrical.POLARITY, lambda around: around.runs, electrical.polarity),
    Limit(electrical.DECODER_VOLTS, Lookup.banks, electrical.decoder_volts),
    Limit(electrical.SUPPLY_WATTS, lambda around: around.show.supplies, electrical.supply_watts),
    Limit(electrical.OUTPUT_AMPS, Lookup.outputs, electrical.output_amps),
    Limit(electrical.CHANNEL_AMPS, Lookup.channels, electrical.channel_amps),
    Limit(electrical.BANK_AMPS, Lookup.banks, electrical.bank_amps),
    Limit(electrical.BANK_SOURCES, Lookup.banks, electrical.bank_sources),
    Limit(control.TAPE_KNOWN, lambda around: around.show.elements, control.tape_known),
    Limit(control.FEED, lambda around: around.show.elements, control.no_feed),
    Limit(control.EMITTERS_WIRED, lambda around: around.show.elements, control.emitters_wired),
    Limit(control.CHANNEL_COUNT, lambda around: around.runs, control.channel_count),
    Limit(control.DIMMING, lambda around: around.runs, control.dimming),
    Limit(control.SCATTERED, Lookup.blocks, control.scattered),
    Limit(control.SHARED_CHANNEL, Lookup.shared_channels, control.shared_channel),
    Limit(addresses.ADDRESS_KNOWN, addresses.listeners, addresses.address_known),
    Limit(addresses.UNIVERSE, lambda around: around.show.patches, addresses.universe),
    Limit(addresses.OVERLAP, lambda around: around.show.patches, addresses.address_overlap),
    Limit(addresses.PIXELS, lambda around: around.show.patches, addresses.pixels),
    Limit(addresses.LINE_LOADS, lambda around: around.show.lines, addresses.line_loads),
    Limit(leads.LEAD_DROP, lambda around: around.runs, leads.lead_drop),
    Limit(leads.TOTAL_DROP, lambda around: around.runs, leads.total_drop),
    Limit(leads.RUN_LENGTH, lambda around: around.runs, leads.run_length),
    Limit(leads.LEAD_AMPS, lambda around: around.runs, leads.lead_amps),
    Limit(fuses.FUSE, lambda around: around.runs, fuses.fuse),
    Limit(fuses.FITTED, lambda around: around.runs, fuses.fuse_fitted),
    Limit(fuses.FUSES_KNOWN, lambda around: [around.show], fuses.fuses_known),
    Limit(fuses.PINS, lambda around: around.runs, fuses.connector_pins),
    Limit(fuses.PINS_KNOWN, lambda around: [around.show], fuses.connectors_known),
    Limit(fuses.CLASS_2, Lookup.outputs, fuses.class_2),
    Limit(fuses.LEAVES_BOX, Lookup.outputs, fuses.leaves_box),
    Limit(places.DIMMED_CIRCUIT, lambda around: around.show.supplies, places.dimmed_circuit),
    Limit(mains.MAINS_AMPS, lambda around: around.show.outlets, mains.mains_amps),
    Limit(mains.INRUSH, lambda around: around.show.outlets, mains.mains_inrush),
    Limit(electrical.BATTERY_AMPS, lambda around: around.show.supplies, electrical.battery_amps),
    Limit(boxes.BOX_HEAT, lambda around: around.show.supplies, boxes.box_heat),
    Limit(batteries.BATTERY_TIME, lambda around: around.show.supplies, batteries.battery_time),
    Limit(control.PIXEL_IDLE, lambda around: around.show.elements, control.pixel_idle),
    Limit(places.MOVING, lambda around: around.show.elements, places.moving),
    Limit(places.COSTUME, lambda around: around.show.elements, places.costume),
    Limit(mounting.WORN_VOLTS, lambda around: around.show.elements, mounting.worn_volts),
    Limit(mounting.MOUNTING, lambda around: around.show.elements, mounting.mounting),
    Limit(mounting.WET_ZONE, lambda around: around.show.elements, mounting.wet_zone),
    Limit(film.FILM, lambda around: around.show.elements, film.film_pwm),
    Limit(store.MATCH_TAPE, Lookup.match_groups, store.match_tape),
    Limit(store.MATCH_LOT, Lookup.match_groups, store.match_lot),
    Limit(store.MATCH_FEED, Lookup.match_groups, store.match_feed),
    Limit(store.MATCH_PWM, Lookup.match_groups, store.match_pwm),
    Limit(store.MATCH_DROP, Lookup.match_groups, store.match_drop),
    Limit(store.PARALLEL_LOTS, Lookup.shared_channels, store.parallel_lots),
    Limit(store.UNIT_STATE, Lookup.gear, store.unit_state),
    Limit(store.OVERDUE, Lookup.gear, store.overdue),
)


def findings(show: ShowFacts, policy: Policy = DEFAULT, *, but_ok: bool = False) -> list[Finding]:
    """Every comparison of every limit, worst first; the ok ones too, `but_ok` without them (19 of 20 are)."""
    around = Lookup(show, policy)
    bases = bases_of(show)
    found = [
        f for limit in LIMITS for f in limit.findings(around) if not (but_ok and f.verdict is Verdict.OK)
    ]
    said = (f.said_of(show.production, show.is_over, basis_of(f, bases)) for f in found)
    return sorted(said, key=by_harm)


def of_supplies(around: Lookup) -> list[Finding]:
    """What every limit says of supplies and batteries, and of the units that they are; worst first."""
    found = [f for limit in LIMITS if limit.subject_kind in _OF_SUPPLIES for f in limit.findings(around)]
    return sorted(found, key=by_harm)


def binding(found: Iterable[Finding], supply: str, output: int | None = None) -> Finding | None:
    """Of what was found, worst first, that which decides how a supply or battery stands: the worst; where all
    is in order, the load that is nearest to its limit. Of one `output`: not what is said of the others."""
    own = [f for f in found if f.tag == supply and (output is None or _is_of(f, supply, output))]
    if not own or own[0].verdict is not Verdict.OK:
        return next(iter(own), None)
    return max(own, key=lambda f: (f.unit in _OF_LOADS, f.share_pct or 0.0))


def _is_of(finding: Finding, supply: str, output: int) -> bool:
    return finding.subject in (supply, f"{supply} output {output}")


def by_code(code: str) -> Limit[Any]:
    """The limit with that code; KeyError if there is none."""
    return {limit.code: limit for limit in LIMITS}[code]
