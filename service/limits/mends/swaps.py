"""Other gear and other channels: what would do instead, by tag."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from service.limits import boxed
from service.limits.facts import BankFacts, DecoderFacts, ElementFacts, RunFacts, SupplyFacts
from service.limits.findings import Mend, Verdict, compared
from service.limits.lookup import ChannelOf, Lookup, RunOf
from service.limits.mends.acts import Shift


def within(value: float, limit: float | None) -> bool:
    """Whether it holds for certain: a limit that is not known holds nothing."""
    return limit is not None and compared(value, limit) is Verdict.OK


def free_rows(bank: BankFacts, channels: int) -> Iterator[int]:
    """First channels of every free row of that many consecutive channels in a bank."""
    free = {c.number for c in bank.channels if not c.loads}
    return (n for n in sorted(free) if all(n + k in free for k in range(channels)))


def emitter_amps(element: ElementFacts, runs: Iterable[RunFacts]) -> list[float]:
    """Amps of each emitter of these runs, in pad order."""
    if element.tape is None:
        return []
    length_m = sum(r.length_m for r in runs)
    return [e.w_per_m * length_m / element.tape.class_v for e in element.tape.emitters]


def another_supply(supply: SupplyFacts, around: Lookup) -> list[SupplyFacts]:
    """Free sound supplies that would carry all of it output by output: same model first, then larger."""
    fit = [s for s in around.show.free_supplies if s.kind == supply.kind and _takes_over(s, supply, around)]
    return sorted(fit, key=lambda s: (s.model != supply.model, s.rated_w or 0.0, s.tag))


def _takes_over(other: SupplyFacts, supply: SupplyFacts, around: Lookup) -> bool:
    if other.class_v != supply.class_v or not is_sound(other):
        return False
    there = replace(other, tag=supply.tag, enclosure=supply.enclosure)  # it would stand in its box
    if supply.kind != "battery" and not within(supply.load_w, boxed.limit_w(there, supply.load_w, around)):
        return False
    theirs = {o.number: o for o in other.outputs}
    return all(
        o.number in theirs and within(o.load_a, around.output_limit_a(other, theirs[o.number]))
        for o in supply.outputs
        if o.loads
    )


def another_decoder(decoder: DecoderFacts, around: Lookup) -> list[DecoderFacts]:
    """Free sound decoders that would carry all of it channel by channel: same model first, then larger."""
    fit = [d for d in around.show.free_decoders if _does_for(d, decoder, around)]
    return sorted(fit, key=lambda d: (d.model != decoder.model, d.channel_count, d.channel_a or 0.0, d.tag))


def _does_for(other: DecoderFacts, decoder: DecoderFacts, around: Lookup) -> bool:
    if not is_sound(other) or (other.polarity, other.signal) != (decoder.polarity, decoder.signal):
        return False
    if other.model == decoder.model:
        return True
    same_link = other.link == decoder.link
    spans = other.min_v <= decoder.min_v and other.max_v >= decoder.max_v
    if not (same_link and spans and len(other.banks) == len(decoder.banks) == 1):
        return False
    needs = [c for c in decoder.banks[0].channels if c.loads]
    numbers = {c.number for c in other.banks[0].channels}
    return all(
        c.number in numbers and within(c.load_a, around.channel_limit_a(other)) for c in needs
    ) and within(decoder.banks[0].load_a, around.bank_limit_a(other, other.banks[0]))


def taking_over(unit: str, other: str, around: Lookup) -> tuple[Shift, ...]:
    """All that hangs on a unit fed by another instead, output by output or channel by channel."""
    by_way: dict[tuple[int, int | None], list[str]] = {}
    is_decoder = unit in around.decoders
    for found in around.runs:
        feed = found.run.feed
        if feed is not None and unit in (feed.decoder, feed.supply):
            by_way.setdefault((feed.output, feed.first_channel if is_decoder else None), []).append(
                found.run.tag
            )
    return tuple(
        Shift(tuple(sorted(runs)), decoder=other, first_channel=first)
        if is_decoder
        else Shift(tuple(sorted(runs)), other, output)
        for (output, first), runs in sorted(by_way.items(), key=lambda way: (way[0][0], way[0][1] or 0))
    )


def is_sound(thing: SupplyFacts | DecoderFacts) -> bool:
    return thing.unit is None or thing.unit.state == "good"


def spread_channel(at: ChannelOf, around: Lookup) -> Mend | None:
    """Some of what shares a channel goes to free channels of the same bank, else a stronger decoder."""
    limit_a = around.channel_limit_a(at.decoder)
    if limit_a is None:
        return None
    runs = [around.run_by_tag[load.run] for load in at.channel.loads if load.run in around.run_by_tag]
    for moved in _fewest_first(runs):
        mend = _row_for(moved, runs, at, limit_a)
        if mend is not None:
            return mend
    for other in another_decoder(at.decoder, around):
        stronger_a = around.channel_limit_a(other)
        if other.model != at.decoder.model and within(at.channel.load_a, stronger_a) and stronger_a:
            text = f"swap {at.decoder.tag} for {other.tag} ({other.model}): {at.word} {at.channel.number} "
            text += f"{at.channel.load_a:.2f} A of {stronger_a:.2f} A"
            return Mend(text, at.channel.load_a, stronger_a, taking_over(at.decoder.tag, other.tag, around))
    return None


def _fewest_first(runs: Sequence[RunOf]) -> Iterator[list[RunOf]]:
    """Whole elements, the last one first, then the last two, and so on; then single runs."""
    tags = sorted({found.element.tag for found in runs})
    for count in range(1, len(tags)):
        yield [found for found in runs if found.element.tag in tags[-count:]]
    if len(tags) == 1:
        for count in range(1, len(runs)):
            yield list(runs[-count:])


def _row_for(moved: Sequence[RunOf], runs: Sequence[RunOf], at: ChannelOf, limit_a: float) -> Mend | None:
    feed = moved[0].run.feed
    if feed is None or any(f.run.feed is None or f.run.feed.locked for f in moved):
        return None
    gone = {found.run.tag for found in moved}
    left_a = sum(load.a for load in at.channel.loads if load.run not in gone)
    taken_a = at.channel.load_a - left_a
    if not (within(left_a, limit_a) and within(taken_a, limit_a)):
        return None
    for first in free_rows(at.bank, feed.channels):
        what = " and ".join(sorted({f.element.tag for f in moved}))
        if len(gone) < len(runs) and what in {f.element.tag for f in runs if f.run.tag not in gone}:
            what = " and ".join(sorted(gone))
        new = first + at.channel.number - feed.first_channel if feed.first_channel else first
        text = f"move {what} to {at.word} {first} of {at.decoder.tag}: {at.word} {at.channel.number} "
        text += f"{left_a:.2f} A and {at.word} {new} {taken_a:.2f} A of {limit_a:.2f} A"
        act = Shift(tuple(sorted(gone)), first_channel=first)
        return Mend(text, max(left_a, taken_a), limit_a, (act,))
    return None


def wire_emitters(element: ElementFacts, missing: Sequence[str], around: Lookup) -> Mend | None:
    """Each emitter without a channel goes to a free channel of the decoder that feeds the rest."""
    feed = element.runs[0].feed if element.runs else None
    at = around.bank_of(feed) if feed is not None and feed.decoder is not None else None
    if at is None or element.tape is None:
        return None
    free = sorted(c.number for c in at.bank.channels if not c.loads)
    after = (feed.first_channel or 1) + feed.channels if feed is not None else 1
    free.sort(key=lambda n: (n < after, n))
    limit_a = around.channel_limit_a(at.decoder)
    amps = dict(
        zip((e.name for e in element.tape.emitters), emitter_amps(element, element.runs), strict=True)
    )
    if len(free) < len(missing) or limit_a is None:
        return None
    parts = [
        f"wire {name} to {at.decoder.tag} channel {n}: {amps[name]:.2f} A of {limit_a:.2f} A"
        for name, n in zip(missing, free, strict=False)
        if name in amps
    ]
    return Mend("; ".join(parts), 0.0, 0.0) if parts else None
