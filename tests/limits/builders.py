"""Small productions for tests: say what hangs on what, and the loads are added up for you."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from service.limits.facts import (
    BankFacts,
    ChannelFacts,
    ChannelLoadFacts,
    DecoderFacts,
    ElementFacts,
    EmitterFacts,
    FeedFacts,
    LeadFacts,
    LoadFacts,
    OutputFacts,
    PieceFacts,
    RunFacts,
    ShowFacts,
    SupplyFacts,
    TapeFacts,
    UnitFacts,
)
from service.limits.findings import Finding
from service.limits.policy import DEFAULT, Policy
from service.limits.registry import findings

POSITIVE = "common positive"
TODAY = date(2026, 11, 25)


def a_tape(
    tag: str, class_v: float, emitters: dict[str, float], ohm: float = 0.025, **more: Any
) -> TapeFacts:
    returns = more.pop("return_ohm", ohm)
    facts: dict[str, Any] = {"polarity": POSITIVE, "pitch_m": 0.05, "common_ohm_per_m": ohm, "max_run_m": 5.0}
    rows = tuple(EmitterFacts(name, w_per_m, returns) for name, w_per_m in emitters.items())
    return TapeFacts(tag=tag, class_v=class_v, emitters=rows, **{**facts, **more})


RGBW = a_tape("RGBW24", 24.0, {"R": 4.8, "G": 4.8, "B": 4.8, "W": 4.8}, return_ohm=0.050, pitch_m=0.1)
WHITES = a_tape("TW24", 24.0, {"WW": 9.6, "CW": 9.6}, return_ohm=0.040)
NEUTRAL = a_tape("NW24", 24.0, {"W": 9.6}, max_run_m=7.5)
BRIGHT = a_tape("CW24X", 24.0, {"W": 14.4})
RED = a_tape("RED24", 24.0, {"R": 9.6}, max_run_m=7.5)
WARM_12 = a_tape("WW12", 12.0, {"W": 9.6}, max_run_m=4.0)
PIXEL_12 = a_tape("PX12", 12.0, {"PX": 14.4}, ohm=0.020, signal="pixel", pixels_per_m=20.0, slots_per_pixel=3)

LEAD = LeadFacts(5.0, "18 AWG", 0.02095, 7.0)


def a_feed(
    supply: str, decoder: str | None = None, first: int | None = 1, channels: int = 4, **more: Any
) -> FeedFacts:
    if decoder is None:
        first, channels = None, 0
    return FeedFacts(supply, more.pop("output", 1), decoder, first, channels, **more)


def an_element(
    tag: str,
    tape: TapeFacts | None = RGBW,
    metres: float | Sequence[float] = 1.0,
    feed: FeedFacts | Sequence[FeedFacts | None] | None = None,
    **more: Any,
) -> ElementFacts:
    """One run for each length; `lots` is that of every piece."""
    lengths = [metres] if isinstance(metres, float) else list(metres)
    feeds = list(feed) if isinstance(feed, (list, tuple)) else [feed] * len(lengths)
    lead, style, lots = more.pop("lead", LEAD), more.pop("style", "one"), more.pop("lots", ("A",))
    many = len(lengths) > 1
    runs = tuple(
        RunFacts(
            tag=f"{tag}.{n}" if many else tag,
            number=n,
            pieces=(PieceFacts(1, length, length, lots),),
            feed_style=style,
            lead=lead,
            feed=its_feed if isinstance(its_feed, FeedFacts) else None,
        )
        for n, (length, its_feed) in enumerate(zip(lengths, feeds, strict=True), start=1)
    )
    facts: dict[str, Any] = {
        "name": tag,
        "scenic_unit": "Wall",
        "motion": "static",
        "travelling_cable": False,
        "zone": "dry",
        "mount": "aluminium",
        "wired": () if tape is None else tuple(e.name for e in tape.emitters),
        "dimmed": True,
    }
    return ElementFacts(tag=tag, tape=tape, runs=runs, **{**facts, **more})


def a_unit(tag: str, model: str = "", kind: str = "supply", state: str = "good", **more: Any) -> UnitFacts:
    return UnitFacts(tag, kind, model, state, **more)


def a_supply(
    tag: str, rated_w: float | None = 320.0, caps: Sequence[float | None] = (13.3,), **more: Any
) -> SupplyFacts:
    outputs = tuple(OutputFacts(n, cap) for n, cap in enumerate(caps, start=1))
    facts: dict[str, Any] = {
        "kind": "supply",
        "model": "S320",
        "class_v": 24.0,
        "outlet": "MD1",
        "outlet_kind": "constant",
        "unit": a_unit(tag, more.get("model", "S320")),
    }
    return SupplyFacts(tag=tag, rated_w=rated_w, outputs=outputs, **{**facts, **more})


def a_battery(tag: str, class_v: float = 24.0, max_a: float | None = 10.0, **more: Any) -> SupplyFacts:
    facts = {"model": "B24-6", "class_v": class_v, "kind": "battery", "outlet": None, "outlet_kind": None}
    return a_supply(tag, None, (max_a,), **{**facts, **more})


def a_decoder(
    tag: str, channels: int = 4, channel_a: float | None = 5.0, total_a: float | None = 15.0, **more: Any
) -> DecoderFacts:
    banks = (BankFacts(1, total_a, tuple(ChannelFacts(n) for n in range(1, channels + 1))),)
    facts: dict[str, Any] = {
        "model": "D4",
        "min_v": 12.0,
        "max_v": 24.0,
        "polarity": POSITIVE,
        "link": "wired",
        "signal": "level",
        "banks": banks,
        "pwm_hz": 1000.0,
        "unit": a_unit(tag, more.get("model", "D4"), "decoder"),
    }
    return DecoderFacts(tag=tag, channel_a=channel_a, **{**facts, **more})


def a_show(
    *elements: ElementFacts,
    supplies: Iterable[SupplyFacts] = (),
    decoders: Iterable[DecoderFacts] = (),
    **more: Any,
) -> ShowFacts:
    """The production with every load where its feed says."""
    facts: dict[str, Any] = {"production": "SQ", "on": TODAY, "is_lit": True}
    return ShowFacts(
        elements=elements,
        supplies=tuple(_loaded_supply(s, elements) for s in supplies),
        decoders=tuple(_loaded_decoder(d, elements) for d in decoders),
        **{**facts, **more},
    )


def _loaded_supply(supply: SupplyFacts, elements: Sequence[ElementFacts]) -> SupplyFacts:
    loads: dict[int, list[LoadFacts]] = defaultdict(list)
    for element in elements:
        for run in element.runs:
            if element.tape is not None and run.feed is not None and run.feed.supply == supply.tag:
                w = element.tape.w_per_m * run.length_m
                loads[run.feed.output].append(LoadFacts(run.tag, element.tag, w, w / element.tape.class_v))
    outputs = tuple(replace(o, loads=tuple(loads[o.number])) for o in supply.outputs)
    return replace(supply, outputs=outputs)


def _loaded_decoder(decoder: DecoderFacts, elements: Sequence[ElementFacts]) -> DecoderFacts:
    fed = [
        (e, r, e.tape, r.feed)
        for e in elements
        for r in e.runs
        if e.tape is not None and r.feed is not None and r.feed.decoder == decoder.tag
    ]
    banks = []
    for bank in decoder.banks:
        numbers = {c.number for c in bank.channels}
        loads: dict[int, list[ChannelLoadFacts]] = defaultdict(list)
        sources: set[tuple[str, int]] = set()
        total_a = 0.0
        for element, run, tape, feed in fed:
            if feed.first_channel not in numbers:
                continue
            sources.add((feed.supply, feed.output))
            total_a += tape.w_per_m * run.length_m / tape.class_v
            wired = [e for e in tape.emitters if e.name in element.wired]
            for n, emitter in enumerate(wired, start=feed.first_channel or 1):
                a = emitter.w_per_m * run.length_m / tape.class_v
                loads[n].append(ChannelLoadFacts(run.tag, element.tag, emitter.name, a))
        channels = tuple(replace(c, loads=tuple(loads[c.number])) for c in bank.channels)
        banks.append(replace(bank, channels=channels, sources=tuple(sorted(sources)), load_a=total_a))
    return replace(decoder, banks=tuple(banks))


def found(show: ShowFacts, code: str, subject: str | None = None, policy: Policy = DEFAULT) -> list[Finding]:
    """What one limit says, of one subject if named."""
    return [f for f in findings(show, policy) if f.code == code and subject in (None, f.subject)]


def the(show: ShowFacts, code: str, subject: str | None = None, policy: Policy = DEFAULT) -> Finding:
    """The one finding of that limit about that subject."""
    [finding] = found(show, code, subject, policy)
    return finding


def mend_of(finding: Finding) -> tuple[str, float | None, float | None]:
    assert finding.mend is not None, finding.message
    return finding.mend.text, finding.mend.value_after, finding.mend.limit_after
