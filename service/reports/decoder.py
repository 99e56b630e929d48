"""A decoder in a show: what feeds it, what each of its channels carries, which slots they listen to."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.control.addresses import channel_slot
from service.limits.facts import ChannelFacts, DecoderFacts
from service.limits.findings import SLACK, Finding
from service.limits.lookup import Lookup
from service.reports.standing.parts import TIGHT_SHARE, State
from service.store.base import tag_key


@dataclass(frozen=True, slots=True)
class Carried:
    """Amps, and what may be carried for hours; None: not known."""

    load_a: float
    limit_a: float | None

    @property
    def state(self) -> State:
        if self.limit_a is None:
            return State.UNKNOWN
        if self.load_a > self.limit_a * (1.0 + SLACK):
            return State.OVER
        return State.TIGHT if self.load_a >= self.limit_a * TIGHT_SHARE else State.OK


@dataclass(frozen=True, slots=True)
class OnChannel:
    """`elements`: (tag, name) of what hangs on it, `emitters` of them. `slot` None: no address was set."""

    number: int
    elements: tuple[tuple[str, str], ...]
    emitters: tuple[str, ...]
    carried: Carried
    universe: int | None
    slot: int | None


@dataclass(frozen=True, slots=True)
class OnBank:
    """Channels with one power feed. `sources`: (supply, output) that reach them."""

    number: int
    sources: tuple[tuple[str, int], ...]
    carried: Carried
    channels: tuple[OnChannel, ...]


@dataclass(frozen=True, slots=True)
class Lost:
    """An element that goes dark with the decoder; `whole`: nothing of it stays lit."""

    tag: str
    name: str
    whole: bool


@dataclass(frozen=True, slots=True)
class DecoderIn:
    """A decoder as one show has it. `universe`, `start`, `mode`: of its first slot; None: not set.
    `findings`: what is not in order with the decoder itself."""

    facts: DecoderFacts
    banks: tuple[OnBank, ...]
    universe: int | None
    start: int | None
    mode: str
    lost: tuple[Lost, ...]
    findings: tuple[Finding, ...]

    @property
    def sources(self) -> list[tuple[str, int]]:
        return list(dict.fromkeys(one for bank in self.banks for one in bank.sources))


def decoder_in(tag: str, around: Lookup, findings: Sequence[Finding]) -> DecoderIn | None:
    """The decoder of that tag in a show; None where the show has it not."""
    decoder = next((d for d in around.show.decoders if tag_key(d.tag) == tag_key(tag)), None)
    if decoder is None:
        return None
    patches = around.patches_of[decoder.tag]
    first = min(patches, key=lambda p: p.port or 0, default=None)
    banks = tuple(
        OnBank(
            bank.number,
            bank.sources,
            Carried(bank.load_a, around.bank_limit_a(decoder, bank)),
            tuple(_on_channel(decoder, channel, around) for channel in bank.channels),
        )
        for bank in decoder.banks
    )
    own = tuple(f for f in findings if tag_key(f.tag) == tag_key(tag))
    at = (None, None, "") if first is None else (first.universe, first.start, first.mode)
    return DecoderIn(decoder, banks, *at, _lost(decoder.tag, around), own)


def _on_channel(decoder: DecoderFacts, channel: ChannelFacts, around: Lookup) -> OnChannel:
    universe, slot = _address(decoder, channel.number, around)
    elements = dict.fromkeys(load.element for load in channel.loads)
    return OnChannel(
        channel.number,
        tuple((tag, around.elements[tag].name or tag) for tag in elements),
        tuple(dict.fromkeys(load.emitter for load in channel.loads)),
        Carried(channel.load_a, around.channel_limit_a(decoder)),
        universe,
        slot,
    )


def _address(decoder: DecoderFacts, number: int, around: Lookup) -> tuple[int | None, int | None]:
    """A port of a pixel driver starts at an address of its own; level channels count on from the first."""
    for patch in around.patches_of[decoder.tag]:
        if patch.port == number:
            return patch.universe, patch.start
        if not patch.port and patch.start is not None:
            return patch.universe, channel_slot(patch.start, number, patch.mode)
    return None, None


def _lost(tag: str, around: Lookup) -> tuple[Lost, ...]:
    elements = {found.element.tag: found.element for found in around.runs_of_decoder(tag)}
    return tuple(
        Lost(
            element.tag,
            element.name or element.tag,
            all(run.feed is not None and run.feed.decoder == tag for run in element.runs),
        )
        for element in elements.values()
    )
