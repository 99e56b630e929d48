"""Addresses: known, inside a universe, not shared unless mirrored, and no pixel cut in two."""

from collections import Counter
from typing import NamedTuple

from service.control.addresses import (
    LAST_UNIVERSE,
    UNIVERSE_SLOTS,
    Span,
    are_mirrors,
    is_universe,
    overlap,
    pixels_in_universe,
)
from service.control.lines import unit_loads
from service.limits import cautions
from service.limits.facts import DecoderFacts, LineFacts, PatchFacts, TapeFacts
from service.limits.findings import Figure, Finding, Harm, Mend, Rule, Verdict, about, compared
from service.limits.lookup import Lookup, patch_name, span_of
from service.limits.mends.slots import new_start

ADDRESS_KNOWN = Rule(
    "address-known",
    "Every decoder in use has its address",
    6,
    Harm.PAPER,
    "decoder",
    "common practice: a decoder at the address it left the works with lights the wrong scenery",
    cautions.CONTROL,
)
UNIVERSE = Rule(
    "universe",
    "A footprint lies inside one universe",
    6,
    Harm.DARK,
    "decoder",
    "ANSI E1.11: 512 slots, numbered from 1; ANSI E1.31: universes 1 to 63999",
    cautions.CONTROL,
)
OVERLAP = Rule(
    "address-overlap",
    "No slot is shared unless it is a declared mirror",
    6,
    Harm.LOOKS,
    "decoder",
    "common practice: mirrors share start, mode and group; ANSI E1.11 for the slots",
    cautions.CONTROL,
)
PIXELS = Rule(
    "pixels",
    "A port has slots for whole pixels, as many as the tape has",
    6,
    Harm.LOOKS,
    "decoder",
    "arithmetic on 512 slots, ANSI E1.11; a pixel is never split (common practice)",
    cautions.CONTROL,
)


LINE_LOADS = Rule(
    "line-loads",
    "A wired line has no more receivers than its driver carries",
    6,
    Harm.DARK,
    "line",
    "EIA-485, adopted by ANSI E1.11: 32 unit loads; a receiver whose sheet says nothing counts as one",
    cautions.CONTROL,
)


class Listener(NamedTuple):
    """A decoder in use, or one port of it."""

    decoder: DecoderFacts
    port: int | None

    @property
    def name(self) -> str:
        return self.decoder.tag if self.port is None else f"{self.decoder.tag} port {self.port}"


def listeners(around: Lookup) -> list[Listener]:
    """Decoders and ports that feed something and listen to a console."""
    found: set[tuple[str, int]] = set()
    for run_of in around.runs:
        feed = run_of.run.feed
        decoder = around.decoders.get(feed.decoder or "") if feed else None
        if feed is not None and decoder is not None and decoder.link != "local":
            port = (feed.port or feed.first_channel or 0) if decoder.signal == "pixel" else 0
            found.add((decoder.tag, port))
    return [Listener(around.decoders[tag], port or None) for tag, port in sorted(found)]


def address_known(at: Listener, around: Lookup) -> Finding | None:
    """What listens has a universe and a start."""
    what = about(at.name, at.decoder.tag, around.elements_of_unit(at.decoder.tag))
    for patch in around.patches_of.get(at.decoder.tag, ()):
        if patch.port in (at.port, None) and span_of(patch) is not None:
            return ADDRESS_KNOWN.ok(what, f"{at.name} starts at {patch.start} of universe {patch.universe}")
    return ADDRESS_KNOWN.unknown(what, "its address", "universe, start and slots")


def universe(patch: PatchFacts, around: Lookup) -> Finding | None:
    """1 or more, and the last slot not after 512."""
    span = span_of(patch)
    if span is None:
        return None
    what = about(span.owner, patch.decoder, around.elements_of_unit(patch.decoder))
    said = f"{span.owner} takes slots {span.text} of universe {span.universe}"
    if not is_universe(span.universe):
        figure = Figure(float(span.universe), float(LAST_UNIVERSE), "universe")
        message = f"{said}; universes are 1 to {LAST_UNIVERSE}"
        return UNIVERSE.finding(Verdict.OVER, what, message, figure, new_start(patch, around))
    figure = Figure(float(span.end), float(UNIVERSE_SLOTS), "slot")
    if span.start < 1 or span.footprint < 1:
        message = f"{said}; the first slot is 1 and a footprint is one slot at least"
        return UNIVERSE.finding(Verdict.OVER, what, message, figure, new_start(patch, around))
    if span.end > UNIVERSE_SLOTS:
        message = f"{said}; the last slot is {UNIVERSE_SLOTS}"
        return UNIVERSE.finding(Verdict.OVER, what, message, figure, new_start(patch, around))
    return UNIVERSE.ok(what, said, figure)


def address_overlap(patch: PatchFacts, around: Lookup) -> Finding | None:
    """A pair that clashes is told once, on the one that starts later."""
    span = span_of(patch)
    if span is None:
        return None
    what = about(span.owner, patch.decoder, around.elements_of_unit(patch.decoder))
    clashing = _earlier_on_its_slots(span, around)
    shared = sorted({slot for other in clashing for slot in overlap(span, other)})
    figure = Figure(float(len(shared)), 0.0, "slots")
    if not clashing:
        return OVERLAP.ok(what, f"{span.owner} has slots {span.text} of universe {span.universe}", figure)
    names = ", ".join(f"{other.owner} {other.text}" for other in clashing)
    at = _slots_text(shared)
    message = f"{names} and {span.owner} {span.text} overlap at {at} in universe {span.universe}"
    if span.mirror and any(other.mirror == span.mirror for other in clashing):
        message += f"; as mirrors ({span.mirror}) they must have the same start, slots and mode"
    free = new_start(patch, around)
    mend = None if free is None else Mend(free.text, 0.0, 0.0, free.acts)
    elements = what.elements + tuple(
        tag for other in clashing for tag in around.elements_of_unit(other.owner.split(" port ")[0])
    )
    both = about(what.subject, what.tag, elements)
    return OVERLAP.finding(Verdict.OVER, both, message, figure, mend)


def _earlier_on_its_slots(span: Span, around: Lookup) -> list[Span]:
    others = around.spans_in.get(span.universe, ())
    return sorted(s for s in others if s < span and overlap(s, span) and not are_mirrors(s, span))


def _slots_text(slots: list[int]) -> str:
    if len(slots) <= 4:
        return ", ".join(str(slot) for slot in slots)
    return f"{slots[0]} to {slots[-1]}"


def line_loads(line: LineFacts, around: Lookup) -> Finding | None:
    """Unit loads of the decoders on a wired line; exactly what its driver carries is ok."""
    on_it = [decoder for decoder in around.show.decoders if decoder.line == line.name]
    if line.kind != "wired" or not on_it:
        return None
    elements = {tag for decoder in on_it for tag in around.elements_of_unit(decoder.tag)}
    what = about(line.name, line.name, sorted(elements))
    loads = unit_loads(Counter(decoder.unit_loads for decoder in on_it))
    figure = Figure(loads, line.unit_load_limit, "unit loads")
    said = f"line {line.name} has {len(on_it)} receivers, {loads:g} of {line.unit_load_limit:g} unit loads"
    if compared(loads, line.unit_load_limit) is Verdict.OK:
        return LINE_LOADS.ok(what, said, figure)
    beyond, taken, kept_on = list[str](), loads, sorted(on_it, key=lambda d: (d.unit_loads, d.tag))
    while kept_on and compared(taken, line.unit_load_limit) is not Verdict.OK:
        last = kept_on.pop()
        taken -= last.unit_loads
        beyond.append(last.tag)
    mend = Mend(f"put {', '.join(sorted(beyond))} behind a splitter", taken, line.unit_load_limit)
    return LINE_LOADS.finding(Verdict.OVER, what, said, figure, mend)


def pixels(patch: PatchFacts, around: Lookup) -> Finding | None:
    """A port's slots are whole pixels, at least as many as the tape on it, inside one universe."""
    tape, wanted = _pixels_on(patch, around)
    if tape is None:
        return None
    name = patch_name(patch)
    what = about(name, patch.decoder, around.elements_of_unit(patch.decoder))
    if tape.slots_per_pixel is None or wanted is None:
        return PIXELS.unknown(
            what, f"pixels a metre or slots a pixel of {tape.tag}", "both from the maker's sheet"
        )
    if patch.footprint is None:
        return None
    most = pixels_in_universe(tape.slots_per_pixel)
    held, rest = divmod(patch.footprint, tape.slots_per_pixel)
    figure = Figure(float(wanted), float(min(held, most)), "pixels")
    if wanted <= min(held, most) and not rest:
        said = f"{name} has {patch.footprint} slots for {wanted} pixels of {tape.slots_per_pixel} slots"
        return PIXELS.ok(what, said, figure)
    if wanted > most:
        message = f"{name} feeds {wanted} pixels; a universe holds {most} of {tape.slots_per_pixel} slots"
        mend = Mend(
            f"divide them over two ports: {most} pixels and {wanted - most}", float(most), float(most)
        )
    else:
        slots = wanted * tape.slots_per_pixel
        message = (
            f"{name} has {patch.footprint} slots; {wanted} pixels of {tape.slots_per_pixel} take {slots}"
        )
        mend = Mend(f"give it {slots} slots", float(wanted), float(wanted))
    return PIXELS.finding(Verdict.OVER, what, message, figure, mend)


def _pixels_on(patch: PatchFacts, around: Lookup) -> tuple[TapeFacts | None, int | None]:
    """The addressable tape on a port and how many pixels it has in all."""
    tape, total, is_known = None, 0, True
    for found in around.runs_of_decoder(patch.decoder):
        feed, its = found.run.feed, found.element.tape
        if feed is None or its is None or its.signal != "pixel":
            continue
        if patch.port not in (None, feed.port or feed.first_channel):
            continue
        tape = its
        if its.pixels_per_m is None:
            is_known = False
        else:
            total += round(found.run.length_m * its.pixels_per_m)
    return tape, total if is_known else None
