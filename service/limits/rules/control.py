"""Channels and wiring: every emitter reaches a channel, and what shares one is meant to."""

from service.limits import cautions
from service.limits.facts import ElementFacts
from service.limits.findings import Figure, Finding, Harm, Mend, Rule, Verdict, about, compared
from service.limits.lookup import ChannelOf, Group, Lookup, RunOf
from service.limits.mends.feeds import place_for
from service.limits.mends.swaps import wire_emitters

GONE = frozenset({"struck", "cut from show"})

TAPE_KNOWN = Rule(
    "tape-known",
    "Every element has its tape",
    2,
    Harm.PAPER,
    "element",
    "without the tape there are no volts, watts or lengths to check",
)
FEED = Rule(
    "no-feed",
    "Every element is fed",
    5,
    Harm.DARK,
    "element",
    "common practice: what must light up has a path from an outlet",
    cautions.EMERGENCY,
)
EMITTERS_WIRED = Rule(
    "emitters-wired",
    "Every emitter reaches a channel",
    5,
    Harm.LOOKS,
    "element",
    "common practice: every colour is wired, whether the first cue needs it or not",
)
CHANNEL_COUNT = Rule(
    "channel-count",
    "A feed takes as many channels as it has wired emitters",
    5,
    Harm.LOOKS,
    "run",
    "one channel an emitter: arithmetic on the decoder's channels",
)
DIMMING = Rule(
    "dimming",
    "What is dimmed goes through a decoder",
    5,
    Harm.LOOKS,
    "run",
    "common practice: a supply output alone is only on or off",
)
SCATTERED = Rule(
    "scattered",
    "An element keeps one row of channels",
    5,
    Harm.PAPER,
    "element",
    "house rule: a block is split only when amps or watts force it",
)
SHARED_CHANNEL = Rule(
    "shared-channel",
    "What shares a channel is declared to move together",
    5,
    Harm.LOOKS,
    "decoder",
    "common practice: in parallel only inside one control group and one voltage",
    cautions.WRONG_VOLTAGE,
)
PIXEL_IDLE = Rule(
    "pixel-idle",
    "What pixel tape draws when it is dark is known",
    2,
    Harm.PAPER,
    "element",
    "common practice: pixel tape draws idle current for as long as it is powered",
    cautions.DATA,
)


def tape_known(element: ElementFacts, around: Lookup) -> Finding | None:
    """An element whose tape is undecided cannot be checked for anything electrical."""
    what = about(element.tag, element.tag, [element.tag])
    if element.tape is not None:
        return TAPE_KNOWN.ok(what, f"{element.tag} is {element.tape.tag}")
    if element.status in GONE or around.show.is_over:
        return None
    return TAPE_KNOWN.unknown(what, "its tape (so volts, watts, drop and cutting)", "the tape it is made of")


def no_feed(element: ElementFacts, around: Lookup) -> Finding | None:
    """Every run has a feed; dark on a night that needs it is over, before that it is work to do."""
    if element.status in GONE or around.show.is_over:
        return None
    what = about(element.tag, element.tag, [element.tag])
    unfed = [r for r in element.runs if r.feed is None]
    figure = Figure(float(len(unfed)), 0.0, "runs")
    if element.runs and not unfed:
        return FEED.ok(what, f"{element.tag} is fed", figure)
    some = "" if len(unfed) == len(element.runs) else f" for {', '.join(r.tag for r in unfed)}"
    lit = around.show.is_lit
    end = "the show is running: it is dark" if lit else "still to be worked out"
    message = f"{element.tag} ({element.name}) has no feed{some}; {end}"
    verdict = Verdict.OVER if lit else Verdict.WATCH
    harm = Harm.DARK if lit else Harm.PAPER
    return FEED.finding(verdict, what, message, figure, place_for(element, around), harm)


def emitters_wired(element: ElementFacts, around: Lookup) -> Finding | None:
    """No emitter is left without a channel behind the gauze."""
    if element.tape is None or not any(r.feed for r in element.runs):
        return None
    what = about(element.tag, element.tag, [element.tag])
    missing = [e.name for e in element.tape.emitters if e.name not in element.wired]
    figure = Figure(float(len(missing)), 0.0, "emitters")
    if not missing:
        return EMITTERS_WIRED.ok(what, f"{element.tag}: every emitter is wired", figure)
    names = " and ".join(missing)
    message = f"{element.tag}: emitter {names} has no channel; once it is closed in, nobody can reach it"
    mend = wire_emitters(element, missing, around)
    return EMITTERS_WIRED.finding(Verdict.OVER, what, message, figure, mend)


def channel_count(found: RunOf, around: Lookup) -> Finding | None:
    """A feed has a channel for each wired emitter, all inside one bank of its decoder."""
    element, feed = found.element, found.run.feed
    if element.tape is None or element.tape.signal == "pixel" or feed is None or feed.decoder is None:
        return None
    what = about(found.run.tag, element.tag, [element.tag])
    if feed.first_channel is None:
        return CHANNEL_COUNT.unknown(what, f"its first channel on {feed.decoder}", "the channel")
    wanted = len(element.wired)
    figure = Figure(float(wanted), float(feed.channels), "channels")
    if feed.channels != wanted:
        message = (
            f"{found.run.tag} has {wanted} wired emitters and {feed.channels} channels of {feed.decoder}"
        )
        mend = Mend(f"give it {wanted} channels in a row", float(wanted), float(wanted))
        return CHANNEL_COUNT.finding(Verdict.OVER, what, message, figure, mend)
    at = around.bank_of(feed)
    if at is None:
        return CHANNEL_COUNT.unknown(what, f"the channels of {feed.decoder}", "what kind of decoder it is")
    last = feed.first_channel + feed.channels - 1
    numbers = {c.number for c in at.bank.channels}
    if not set(range(feed.first_channel, last + 1)) <= numbers:
        message = (
            f"{found.run.tag} takes channels {feed.first_channel} to {last}; {at.name} has {len(numbers)}"
        )
        figure = Figure(float(last), float(max(numbers, default=0)), "channels")
        mend = Mend("start it lower or use a decoder with more channels")
        return CHANNEL_COUNT.finding(Verdict.OVER, what, message, figure, mend, Harm.DARK)
    said = f"{found.run.tag} has a channel of {feed.decoder} for each wired emitter"
    return CHANNEL_COUNT.ok(what, said, figure)


def dimming(found: RunOf, _around: Lookup) -> Finding | None:
    """An element that is to be dimmed is not straight on an output."""
    feed = found.run.feed
    if feed is None or not found.element.dimmed:
        return None
    what = about(found.run.tag, found.element.tag, [found.element.tag])
    if feed.decoder is not None:
        return DIMMING.ok(what, f"{found.run.tag} is dimmed by {feed.decoder}")
    message = f"{found.run.tag} is to be dimmed and goes straight on {feed.supply}: it is on whenever that is"
    mend = Mend("put a decoder between, or mark the element as not dimmed")
    return DIMMING.finding(Verdict.OVER, what, message, None, mend)


def scattered(block: Group, around: Lookup) -> Finding | None:
    """An element or control group sits on one row of channels unless amps or watts will not have it."""
    runs = [r for e in block.elements for r in e.runs if r.feed is not None and r.feed.decoder is not None]
    rows = sorted(
        {(r.feed.decoder or "", r.feed.first_channel or 0, r.feed.port or 0) for r in runs if r.feed}
    )
    if not rows:
        return None
    what = about(block.name, block.elements[0].tag, (e.tag for e in block.elements))
    figure = Figure(float(len(rows)), 1.0, "rows")
    if len(rows) == 1:
        return SCATTERED.ok(what, f"{block.name} keeps one row of channels", figure)
    names = ", ".join(f"{decoder} channel {first}" for decoder, first, _ in rows)
    if why := _forced(block, around):
        return SCATTERED.ok(what, f"{block.name} is split over {names}: {why}")
    message = f"{block.name} is split over {names}, and neither amps nor watts ask for it"
    mend = Mend(f"put it all on {rows[0][0]} channel {rows[0][1]}", 1.0, 1.0)
    return SCATTERED.finding(Verdict.WATCH, what, message, figure, mend)


def _forced(block: Group, around: Lookup) -> str:
    """Why the whole block would not fit on any one of the rows it has now; "" where it would."""
    decoders = {r.feed.decoder for e in block.elements for r in e.runs if r.feed and r.feed.decoder}
    supplies = {r.feed.supply for e in block.elements for r in e.runs if r.feed}
    length_w = [(e.tape, sum(r.length_m for r in e.runs)) for e in block.elements if e.tape is not None]
    if not length_w:
        return ""
    peak_a = sum(max(x.w_per_m for x in tape.emitters) * m / tape.class_v for tape, m in length_w)
    total_a = sum(tape.w_per_m * m / tape.class_v for tape, m in length_w)
    used = [around.decoders[tag] for tag in sorted(decoders) if tag in around.decoders]
    sources = [around.supplies[tag] for tag in sorted(supplies) if tag in around.supplies]
    channel = [a for d in used if (a := around.channel_limit_a(d)) is not None]
    bank = [a for d in used for b in d.banks if (a := around.bank_limit_a(d, b)) is not None]
    output = [a for s in sources for o in s.outputs if (a := around.output_limit_a(s, o)) is not None]
    for value_a, limits, name in (
        (peak_a, channel, "channel"),
        (total_a, bank, "decoder"),
        (total_a, output, "output"),
    ):
        if limits and compared(value_a, max(limits)) is Verdict.OVER:
            return f"all of it is {value_a:.2f} A and one {name} takes {max(limits):.2f} A"
    return ""


def shared_channel(at: ChannelOf, around: Lookup) -> Finding | None:
    """Elements in parallel on a channel belong to one control group and have one voltage."""
    tags = sorted({load.element for load in at.channel.loads})
    elements = [around.elements[tag] for tag in tags if tag in around.elements]
    if len(elements) < 2:
        return None
    what = about(at.name, at.decoder.tag, tags)
    names = " and ".join(tags)
    volts = sorted({e.tape.class_v for e in elements if e.tape is not None})
    figure = Figure(float(len(volts)), 1.0, "voltages")
    if len(volts) > 1:
        classes = " and ".join(f"{v:g} V" for v in volts)
        mend = Mend("give each voltage its own decoder and its own supply output", 1.0, 1.0)
        message = f"{names} share {at.name} and are {classes} tape"
        return SHARED_CHANNEL.finding(Verdict.OVER, what, message, figure, mend, Harm.FIRE)
    groups = {e.control_group for e in elements}
    figure = Figure(float(len(elements)) if groups == {""} else float(len(groups)), 1.0, "groups")
    if len(groups) == 1 and "" not in groups:
        return SHARED_CHANNEL.ok(what, f"{names} share {at.name} as {elements[0].control_group}", figure)
    message = f"{names} share {at.name} but are not declared to move together"
    mend = Mend("declare one control group for them, or give each its own channels", 1.0, 1.0)
    return SHARED_CHANNEL.finding(Verdict.OVER, what, message, figure, mend)


def pixel_idle(element: ElementFacts, _around: Lookup) -> Finding | None:
    """The idle watts a pixel are entered."""
    tape = element.tape
    if tape is None or tape.signal != "pixel" or tape.pixel_idle_w is not None:
        return None
    what = about(element.tag, element.tag, (element.tag,))
    return PIXEL_IDLE.unknown(what, f"what a dark pixel of {tape.tag} draws", "the idle watts a pixel")
