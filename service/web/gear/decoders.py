"""A decoder as a show has it, in the reader's words."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from service.limits.findings import Finding, Verdict
from service.planning.serving.asking import Serving
from service.reports.decoder import Carried, DecoderIn, Lost, OnChannel, decoder_in
from service.reports.standing.faults import outcome_of
from service.reports.standing.parts import State
from service.web.frame.pages import Reader

MARKS = {State.OVER: "over", State.TIGHT: "tight", State.UNKNOWN: "none", State.OK: "ok"}


@dataclass(frozen=True, slots=True)
class ChannelLine:
    """`state`: over, tight, ok or none (its limit is not known), with its words; `word`: channel or port."""

    on: OnChannel
    state: str
    words: str
    address: str


@dataclass(frozen=True, slots=True)
class DecoderShow:
    """One show. `headline`: what is wrong with it, else what feeds it; `sources`: (supply, kind in the
    plural, output); `whole`: (bank, state, words); `address`: of its first slot, blank where none was set."""

    title: str
    from_on: date
    to_on: date
    production: str
    headline: str
    sources: Sequence[tuple[str, str, str]]
    address: str
    place: str
    enclosure: str
    lines: Sequence[ChannelLine]
    whole: Sequence[tuple[str, str, str]]
    lost: Sequence[Lost]
    findings: Sequence[Finding]


def decoder_shows(
    tag: str, served: Sequence[Serving], places: dict[str, str], reader: Reader
) -> list[DecoderShow]:
    """Each show once, however many supplies feed the decoder in it."""
    found, seen = [], set()
    for one in served:
        decoder = decoder_in(tag, one.around, one.findings)
        if decoder is not None and (one.title, one.from_on) not in seen:
            seen.add((one.title, one.from_on))
            found.append(_show(one, decoder, places, reader))
    return found


def _show(one: Serving, decoder: DecoderIn, places: dict[str, str], reader: Reader) -> DecoderShow:
    kinds = {supply.tag: supply.kind for supply in one.show.supplies}
    sources = [
        (supply, "batteries" if kinds.get(supply) == "battery" else "supplies", str(output))
        for supply, output in decoder.sources
    ]
    wrong = [found.message for found in decoder.findings if found.verdict is Verdict.OVER]
    fed = reader.say("decoder-fed", output=sources[0][2], supply=sources[0][0]) if sources else ""
    return DecoderShow(
        one.title,
        one.from_on,
        one.to_on,
        one.show.production,
        outcome_of(wrong[0]) if wrong else fed,
        sources,
        _slot(decoder.universe, decoder.start),
        places.get(decoder.facts.place, decoder.facts.place),
        decoder.facts.enclosure,
        [_line(channel, reader) for bank in decoder.banks for channel in bank.channels],
        [
            (str(bank.number) if len(decoder.banks) > 1 else "", *_carried(bank.carried, reader))
            for bank in decoder.banks
        ],
        decoder.lost,
        decoder.findings,
    )


def _line(channel: OnChannel, reader: Reader) -> ChannelLine:
    state, words = _carried(channel.carried, reader)
    return ChannelLine(channel, state, words, _slot(channel.universe, channel.slot))


def _carried(carried: Carried, reader: Reader) -> tuple[str, str]:
    load = reader.figure(carried.load_a, "A")
    if carried.limit_a is None:
        return "none", reader.say("unit-amps-unknown", load=load)
    limit = reader.figure(carried.limit_a, "A")
    excess = reader.figure(max(0.0, carried.load_a - carried.limit_a), "A")
    left = reader.figure(max(0.0, carried.limit_a - carried.load_a), "A")
    key = f"decoder-amps-{carried.state}"
    return MARKS[carried.state], reader.say(key, load=load, limit=limit, excess=excess, left=left)


def _slot(universe: int | None, slot: int | None) -> str:
    """As it stands on the find page.

    >>> _slot(1, 33), _slot(None, None)
    ('1/033', '')
    """
    return "" if universe is None or slot is None else f"{universe}/{slot:03d}"
