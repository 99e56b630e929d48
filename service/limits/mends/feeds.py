"""A feed for what has none, or has the wrong one: a source, a decoder and a row of channels by tag."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from service.limits import boxed
from service.limits.facts import BankFacts, DecoderFacts, ElementFacts, OutputFacts, SupplyFacts
from service.limits.findings import Mend
from service.limits.lookup import Lookup, RunOf
from service.limits.mends.acts import Shift
from service.limits.mends.moves import Home, homes_for
from service.limits.mends.swaps import emitter_amps, free_rows, is_sound, within

MOVING_LINKS = ("wireless", "local")


class Place(NamedTuple):
    """A row of free channels in one bank, and what feeds the bank."""

    decoder: DecoderFacts
    bank: BankFacts
    first: int
    supply: SupplyFacts
    output: OutputFacts


def place_for(element: ElementFacts, around: Lookup) -> Mend | None:
    """A row of free channels, or a free output, of gear already in the production that would feed it."""
    if element.tape is None or element.load_w is None:
        return None
    a = element.load_w / element.tape.class_v
    if not element.dimmed:
        return _output_for(element, a, around)
    options = list(_rows(element, a, around))
    if not options:
        return None
    near = {f.run.feed.decoder for f in around.runs if _is_near(f, element) and f.run.feed is not None}
    best = min(options, key=lambda p: (p.decoder.tag not in near, p.decoder.tag, p.first))
    w = best.supply.load_w + element.load_w
    limit_w = boxed.limit_w(best.supply, w, around)
    room = "" if limit_w is None else f": {best.supply.tag} {w:.2f} W of {limit_w:.2f} W"
    text = f"feed it from {best.decoder.tag} channel {best.first} on {best.supply.tag} output "
    act = Shift(_runs(element), best.supply.tag, best.output.number, best.decoder.tag, best.first)
    return Mend(f"{text}{best.output.number}{room}", 0.0, 0.0, (act,))


def _runs(element: ElementFacts) -> tuple[str, ...]:
    return tuple(run.tag for run in element.runs)


def _is_near(found: RunOf, element: ElementFacts) -> bool:
    return found.element.scenic_unit == element.scenic_unit and found.element.tag != element.tag


def _output_for(element: ElementFacts, a: float, around: Lookup) -> Mend | None:
    for supply in sorted(around.show.supplies, key=lambda s: s.tag):
        if element.tape is None or supply.class_v != element.tape.class_v or _is_torn(element, supply):
            continue
        home = next((h for h in homes_for(element.load_w or 0.0, a, supply, around)), None)
        if home is not None:
            act = Shift(_runs(element), home.supply.tag, home.output, "")
            return Mend(f"feed it straight from {home.name}: {home.figures}", 0.0, 0.0, (act,))
    return None


def _rows(element: ElementFacts, a: float, around: Lookup) -> Iterator[Place]:
    amps = emitter_amps(element, element.runs)
    for decoder, bank in around.banks():
        if not _could_dim(decoder, element) or decoder.is_placeholder or len(bank.sources) != 1:
            continue
        supply = around.supplies.get(bank.sources[0][0])
        output = next((o for o in supply.outputs if o.number == bank.sources[0][1]), None) if supply else None
        if supply is None or output is None or _is_torn(element, supply):
            continue
        holds = (
            within(max(amps, default=0.0), around.channel_limit_a(decoder))
            and within(bank.load_a + a, around.bank_limit_a(decoder, bank))
            and within(output.load_a + a, around.output_limit_a(supply, output))
            and (supply.kind == "battery" or _holds_w(supply, supply.load_w + a * supply.class_v, around))
        )
        first = next(free_rows(bank, len(amps)), None)
        if holds and first is not None:
            yield Place(decoder, bank, first, supply, output)


def _holds_w(supply: SupplyFacts, load_w: float, around: Lookup) -> bool:
    return within(load_w, boxed.limit_w(supply, load_w, around))


def _could_dim(decoder: DecoderFacts, element: ElementFacts) -> bool:
    tape = element.tape
    return (
        tape is not None
        and is_sound(decoder)
        and decoder.polarity == tape.polarity
        and decoder.signal == tape.signal
        and decoder.min_v <= tape.class_v <= decoder.max_v
    )


def _is_torn(element: ElementFacts, supply: SupplyFacts) -> bool:
    if element.motion == "costume":
        return supply.kind != "battery" or supply.scenic_unit != element.scenic_unit
    rides = supply.scenic_unit == element.scenic_unit
    if element.is_moving and not element.travelling_cable:
        return not rides
    return bool(supply.scenic_unit) and not rides


def right_class(found: RunOf, supply: SupplyFacts, around: Lookup) -> Mend | None:
    """A source of the tape's own class that holds the run, with a decoder that is not already fed."""
    tape = found.element.tape
    if tape is None:
        return None
    w = tape.w_per_m * found.run.length_m
    like = _like(supply, tape.class_v)
    home = next(iter(homes_for(w, w / tape.class_v, like, around)), None)
    if home is None:
        return Mend(f"feed it from a {tape.class_v:g} V class source; none that is free holds it")
    via, decoder, is_through = "", None, False
    if found.run.feed is not None and found.run.feed.decoder is not None:
        is_through = True
        link = around.decoders.get(found.run.feed.decoder)
        decoder = _free_decoder(found.element, (link.link,) if link else (), around)
        via = f" through {decoder.tag}" if decoder else " through a decoder bank of its own"
    text = f"feed it from {home.name}, {tape.class_v:g} V{via}: {home.figures}"
    act = Shift((found.run.tag,), home.supply.tag, home.output, decoder.tag if decoder else "")
    acts = () if is_through and decoder is None else (act,)
    return Mend(text, home.supply.class_v, tape.class_v, acts)


def _like(supply: SupplyFacts, class_v: float) -> SupplyFacts:
    return SupplyFacts(
        tag=supply.tag,
        kind=supply.kind,
        model=supply.model,
        class_v=class_v,
        rated_w=None,
        outputs=(),
        scenic_unit=supply.scenic_unit,
        place=supply.place,
    )


def _free_decoder(element: ElementFacts, links: Sequence[str], around: Lookup) -> DecoderFacts | None:
    """The smallest free decoder that could dim the whole element."""
    return next(iter(decoders_for(element, links, around)), None)


def decoders_for(element: ElementFacts, links: Sequence[str], around: Lookup) -> list[DecoderFacts]:
    """Free decoders of these links (any, where none is said) that could dim it whole, smallest first."""
    amps = emitter_amps(element, element.runs)
    fit = [
        d
        for d in around.show.free_decoders
        if _could_dim(d, element)
        and (not links or d.link in links)
        and any(
            len(b.channels) >= len(amps) and within(sum(amps), around.bank_limit_a(d, b)) for b in d.banks
        )
        and within(max(amps, default=0.0), around.channel_limit_a(d))
    ]
    return sorted(fit, key=lambda d: (d.channel_count, d.tag))


def ride_along(element: ElementFacts, around: Lookup) -> Mend:
    """A battery, and a decoder without a control cable, to ride on the piece."""
    cable = "" if element.motion == "costume" else f", or give {element.scenic_unit} a travelling cable"
    ask = f"put a {_class_text(element)} battery and a wireless decoder on {element.scenic_unit}"
    if element.tape is None or element.load_w is None:
        return Mend(f"{ask}{cable}")
    like = SupplyFacts("", "battery", "", element.tape.class_v, None, (), scenic_unit=element.scenic_unit)
    home: Home | None = next(
        iter(homes_for(element.load_w, element.load_w / element.tape.class_v, like, around)), None
    )
    decoder = _free_decoder(element, MOVING_LINKS, around) if element.dimmed else None
    if home is None or (element.dimmed and decoder is None):
        return Mend(f"{ask}; none that holds it is free{cable}")
    via = "" if decoder is None else f" and {decoder.tag}"
    return Mend(f"put {home.supply.tag}{via} on {element.scenic_unit}: {home.figures}{cable}", 0.0, 0.0)


def _class_text(element: ElementFacts) -> str:
    return "" if element.tape is None else f"{element.tape.class_v:g} V"
