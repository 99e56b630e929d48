"""One production read once: what hangs on what, so that limits and mends need not search for it."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

from service.control.addresses import Span
from service.electrical.channels import bank_limit_a, channel_limit_a
from service.electrical.gauges import known_gauge
from service.electrical.supplies import output_limit_a
from service.electrical.tape import FeedStyle, Rails, quick_drop
from service.limits.facts import (
    BankFacts,
    ChannelFacts,
    DecoderFacts,
    ElementFacts,
    FeedFacts,
    LeadFacts,
    OutputFacts,
    PatchFacts,
    RunFacts,
    ShowFacts,
    SupplyFacts,
    TapeFacts,
    UnitFacts,
)
from service.limits.policy import Policy
from service.limits.wires import core_limit


class RunOf(NamedTuple):
    element: ElementFacts
    run: RunFacts


class OutputOf(NamedTuple):
    supply: SupplyFacts
    output: OutputFacts

    @property
    def name(self) -> str:
        return f"{self.supply.tag} output {self.output.number}"


class BankOf(NamedTuple):
    decoder: DecoderFacts
    bank: BankFacts

    @property
    def name(self) -> str:
        one_bank = len(self.decoder.banks) == 1
        return self.decoder.tag if one_bank else f"{self.decoder.tag} bank {self.bank.number}"


class ChannelOf(NamedTuple):
    decoder: DecoderFacts
    bank: BankFacts
    channel: ChannelFacts

    @property
    def name(self) -> str:
        return f"{self.decoder.tag} {self.word} {self.channel.number}"

    @property
    def word(self) -> str:
        return "port" if self.decoder.signal == "pixel" else "channel"


class Gear(NamedTuple):
    """A unit, or the place where one has still to be chosen."""

    tag: str
    unit: UnitFacts | None
    is_placeholder: bool


class Group(NamedTuple):
    """Elements under one name: a match group, or what shares one block of channels."""

    name: str
    elements: tuple[ElementFacts, ...]


@dataclass(frozen=True, slots=True)
class RunDrop:
    """Volts lost by a run. `total_pct` None: the tape's own resistance is not known."""

    lead_a: float
    lead_pct: float
    total_pct: float | None


class Lookup:
    """A production and the policy it is judged by, with everything found by its tag."""

    def __init__(self, show: ShowFacts, policy: Policy) -> None:
        self.show = show
        self.policy = policy
        self.elements = {e.tag: e for e in show.elements}
        self.supplies = {s.tag: s for s in show.supplies}
        self.decoders = {d.tag: d for d in show.decoders}
        self.runs = [RunOf(e, r) for e in show.elements for r in e.runs]
        self.run_by_tag = {found.run.tag: found for found in self.runs}
        self._by_supply: dict[str, list[RunOf]] = defaultdict(list)
        self._by_decoder: dict[str, list[RunOf]] = defaultdict(list)
        for found in self.runs:
            feed = found.run.feed
            if feed is not None:
                self._by_supply[feed.supply].append(found)
                if feed.decoder is not None:
                    self._by_decoder[feed.decoder].append(found)

        self.patches_of: dict[str, list[PatchFacts]] = defaultdict(list)
        self.spans_in: dict[int, list[Span]] = defaultdict(list)
        for patch in show.patches:
            self.patches_of[patch.decoder].append(patch)
            span = span_of(patch)
            if span is not None:
                self.spans_in[span.universe].append(span)

    def spans_but(self, patch: PatchFacts) -> list[Span]:
        """Every span but that of this patch (and of any that is the very same)."""
        own = span_of(patch)
        return [s for spans in self.spans_in.values() for s in spans if s != own]

    def runs_of_supply(self, tag: str) -> list[RunOf]:
        return self._by_supply.get(tag, [])

    def runs_of_decoder(self, tag: str) -> list[RunOf]:
        return self._by_decoder.get(tag, [])

    def outputs(self) -> Iterator[OutputOf]:
        return (OutputOf(s, o) for s in self.show.supplies for o in s.outputs)

    def banks(self) -> Iterator[BankOf]:
        return (BankOf(d, b) for d in self.show.decoders for b in d.banks)

    def channels(self) -> Iterator[ChannelOf]:
        return (ChannelOf(d, b, c) for d, b in self.banks() for c in b.channels)

    def shared_channels(self) -> Iterator[ChannelOf]:
        """The first channel of each decoder on which the same two or more elements meet."""
        seen: set[tuple[str, frozenset[str]]] = set()
        for at in self.channels():
            key = (at.decoder.tag, frozenset(load.element for load in at.channel.loads))
            if len(key[1]) > 1 and key not in seen:
                seen.add(key)
                yield at

    def gear(self) -> Iterator[Gear]:
        """Every unit once: what feeds something, and what is held or still out besides."""
        seen: set[str] = set()
        units = {u.tag: u for u in self.show.units}
        used: tuple[SupplyFacts | DecoderFacts, ...] = (*self.show.supplies, *self.show.decoders)
        for thing in used:
            if thing.tag not in seen:
                seen.add(thing.tag)
                yield Gear(thing.tag, thing.unit or units.get(thing.tag), thing.is_placeholder)
        yield from (Gear(u.tag, u, False) for u in self.show.units if u.tag not in seen)

    def match_groups(self) -> list[Group]:
        return _grouped((e.match_group, e) for e in self.show.elements if e.match_group)

    def blocks(self) -> list[Group]:
        """What owns one row of channels: a declared control group, or an element by itself."""
        return _grouped((e.control_group or e.tag, e) for e in self.show.elements)

    def elements_of_unit(self, tag: str) -> list[str]:
        fed = [*self.runs_of_supply(tag), *self.runs_of_decoder(tag)]
        return [found.element.tag for found in fed]

    def untaped_on(self, runs: Iterable[RunOf]) -> list[str]:
        """Elements among these whose tape is undecided, so that their load is missing from the sum."""
        return sorted({found.element.tag for found in runs if found.element.tape is None})

    def bank_of(self, feed: FeedFacts) -> BankOf | None:
        """The bank that a feed's first channel belongs to."""
        decoder = self.decoders.get(feed.decoder or "")
        if decoder is None:
            return None
        for bank in decoder.banks:
            if any(c.number == feed.first_channel for c in bank.channels):
                return BankOf(decoder, bank)
        return BankOf(decoder, decoder.banks[0]) if len(decoder.banks) == 1 else None

    def output_limit_a(self, supply: SupplyFacts, output: OutputFacts) -> float | None:
        """The stricter of the unit's own share and the house's; a battery gives its full peak."""
        if output.cap_a is None or supply.kind == "battery":
            return output.cap_a
        return output_limit_a(output.cap_a, min(supply.load_factor, self.policy.output_factor))

    def channel_limit_a(self, decoder: DecoderFacts) -> float | None:
        if decoder.channel_a is None:
            return None
        return channel_limit_a(decoder.channel_a, min(decoder.load_factor, self.policy.channel_factor))

    def bank_limit_a(self, decoder: DecoderFacts, bank: BankFacts) -> float | None:
        if bank.total_a is None:
            return None
        return bank_limit_a(bank.total_a, min(decoder.load_factor, self.policy.decoder_factor))

    def run_limit_m(self, tape: TapeFacts, style: str) -> float | None:
        """The maker's longest run from one end; more when the current comes in from two sides."""
        if tape.max_run_m is None:
            return None
        return tape.max_run_m * (1.0 if style == FeedStyle.ONE else self.policy.both_ends_run_factor)

    def drop(self, run: RunFacts, tape: TapeFacts, style: str, ohm_per_m: float) -> RunDrop | None:
        """The quick drop of a run; None where the lead's length is not known."""
        if run.lead.length_m is None:
            return None
        degc, fed_at = self.policy.conductor_degc, FeedStyle(style)
        found = quick_drop(rails_of(tape), run.length_m, fed_at, ohm_per_m, run.lead.length_m, degc)
        is_known = tape.common_ohm_per_m is not None and all(
            e.return_ohm_per_m is not None for e in tape.emitters
        )
        return RunDrop(found.lead_a, found.lead_pct, found.total_pct if is_known else None)


def rails_of(tape: TapeFacts) -> Rails:
    """The tape for the drop sum; what nobody entered loses nothing, so that at least the lead is judged."""
    return Rails(
        tape.class_v,
        tape.common_ohm_per_m or 0.0,
        tuple(e.w_per_m for e in tape.emitters),
        tuple(e.return_ohm_per_m or 0.0 for e in tape.emitters),
    )


def lead_ohm_per_m(lead: LeadFacts) -> float | None:
    """The drum's own figure if it was entered, else that of its gauge."""
    if lead.ohm_per_m is not None:
        return lead.ohm_per_m
    size = known_gauge(lead.gauge)
    return None if size is None else size.ohm_per_m


def lead_limit_a(lead: LeadFacts, policy: Policy) -> float | None:
    """The stricter of the figure entered for the drum and every set's that the house goes by."""
    return core_limit(lead, policy).limit_a


def _grouped(pairs: Iterable[tuple[str, ElementFacts]]) -> list[Group]:
    groups: dict[str, list[ElementFacts]] = defaultdict(list)
    for name, element in pairs:
        groups[name].append(element)
    return [Group(name, tuple(sorted(groups[name], key=lambda e: e.tag))) for name in sorted(groups)]


def patch_name(patch: PatchFacts) -> str:
    return patch.decoder if patch.port is None else f"{patch.decoder} port {patch.port}"


def span_of(patch: PatchFacts) -> Span | None:
    """The slots of a patch, or None while one of its figures is blank."""
    if patch.universe is None or patch.start is None or patch.footprint is None:
        return None
    return Span(patch.universe, patch.start, patch.footprint, patch_name(patch), patch.mirror, patch.mode)
