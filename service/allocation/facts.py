"""An answer as the plain data that the limits read, so that the rules of the house judge it too.

Every run becomes an element of its own on one metre of tape; members of a block share a control group. What
the problem says may be carried is derated already, so the house's own shares are 1 here.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date

from service.allocation.problem import Answer, Block, DecoderModel, Feed, Problem, Run, SupplyModel
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
)
from service.limits.findings import Finding, Verdict
from service.limits.lookup import Lookup
from service.limits.policy import Policy
from service.limits.registry import LIMITS

NO_DAY = date.min  # an answer has no day; none of the limits asked here looks at it
WHOLE = Policy(load_factor=1.0, output_factor=1.0, channel_factor=1.0, decoder_factor=1.0)
JUDGED = frozenset({
    "voltage-class", "polarity", "decoder-volts", "supply-watts", "output-amps", "battery-amps",
    "channel-amps", "bank-amps", "bank-sources", "channel-count",
})  # fmt: skip
REST = "rest"  # what the run draws beyond its wired emitters


def over_limits(problem: Problem, answer: Answer) -> list[Finding]:
    """What the limits of the house call over in an answer."""
    around = Lookup(show_of(problem, answer), WHOLE)
    limits = (limit for limit in LIMITS if limit.code in JUDGED)
    return [f for limit in limits for f in limit.findings(around) if f.verdict is Verdict.OVER]


def show_of(problem: Problem, answer: Answer) -> ShowFacts:
    """The answer as one show: every run, and every unit that feeds one."""
    feeds = {feed.run: feed for feed in answer.feeds}
    runs = {run.tag: (block, run) for block in problem.blocks for run in block.runs}
    models = {m.tag: m for m in problem.supply_models}
    kinds = {m.tag: m for m in problem.decoder_models}
    by_supply: dict[str, list[Feed]] = defaultdict(list)
    by_decoder: dict[str, list[Feed]] = defaultdict(list)
    for feed in answer.feeds:
        by_supply[feed.supply].append(feed)
        by_decoder[feed.decoder].append(feed)
    return ShowFacts(
        production="",
        on=NO_DAY,
        is_lit=False,
        elements=tuple(_element(block, run, feeds.get(run.tag)) for block, run in runs.values()),
        supplies=tuple(
            _supply(unit.tag, models[unit.model], by_supply[unit.tag], runs)
            for unit in problem.supplies
            if unit.tag in by_supply
        ),
        decoders=tuple(
            _decoder(unit.tag, kinds[unit.model], by_decoder[unit.tag], runs)
            for unit in problem.decoders
            if unit.tag in by_decoder
        ),
    )


def _amps(power_uw: int, class_mv: int) -> float:
    return power_uw / class_mv / 1e3


def _emitters(run: Run) -> Iterator[EmitterFacts]:
    for number, power_uw in enumerate(run.channel_uw, 1):
        yield EmitterFacts(str(number), power_uw / 1e6)
    rest_uw = run.load_uw - sum(run.channel_uw)
    if rest_uw > 0 or not run.channel_uw:
        yield EmitterFacts(REST, rest_uw / 1e6)


def _element(block: Block, run: Run, feed: Feed | None) -> ElementFacts:
    tape = TapeFacts(
        tag=block.tag,
        class_v=block.class_mv / 1e3,
        polarity=block.polarity,
        emitters=tuple(_emitters(run)),
        pitch_m=1.0,
        signal=block.signal.value,
    )
    fed = None
    if feed is not None:
        fed = FeedFacts(
            feed.supply, feed.output, feed.decoder or None, feed.first_channel or None, feed.channels
        )
    piece = PieceFacts(1, 1.0, 1.0)
    return ElementFacts(
        tag=run.tag,
        name=run.tag,
        scenic_unit="",
        motion="static",
        travelling_cable=False,
        zone="dry",
        mount=None,
        tape=tape,
        wired=tuple(str(n) for n in range(1, len(run.channel_uw) + 1)),
        dimmed=bool(run.channel_uw),
        runs=(RunFacts(run.tag, 1, (piece,), "one", LeadFacts(None, None), fed),),
        control_group=block.tag,
    )


def _supply(
    tag: str, model: SupplyModel, feeds: Iterable[Feed], runs: dict[str, tuple[Block, Run]]
) -> SupplyFacts:
    loads: dict[int, list[LoadFacts]] = defaultdict(list)
    for feed in feeds:
        block, run = runs[feed.run]
        loads[feed.output].append(
            LoadFacts(run.tag, run.tag, run.load_uw / 1e6, _amps(run.load_uw, block.class_mv))
        )
    return SupplyFacts(
        tag=tag,
        kind=model.source.value,
        model=model.tag,
        class_v=model.class_mv / 1e3,
        rated_w=None if model.usable_uw is None else model.usable_uw / 1e6,
        outputs=tuple(
            OutputFacts(number, None if ua is None else ua / 1e6, tuple(loads[number]))
            for number, ua in enumerate(model.outputs_ua, 1)
        ),
        load_factor=1.0,
        output_v=model.real_mv / 1e3,
    )


def _decoder(
    tag: str, model: DecoderModel, feeds: Iterable[Feed], runs: dict[str, tuple[Block, Run]]
) -> DecoderFacts:
    on_channel: dict[int, list[ChannelLoadFacts]] = defaultdict(list)
    sources: dict[int, set[tuple[str, int]]] = defaultdict(set)
    load_a: dict[int, float] = defaultdict(float)
    for feed in feeds:
        block, run = runs[feed.run]
        for step, power_uw in enumerate(run.channel_uw):
            on_channel[feed.first_channel + step].append(
                ChannelLoadFacts(run.tag, run.tag, str(step + 1), _amps(power_uw, block.class_mv))
            )
        for number, bank in enumerate(model.banks, 1):
            if bank.first_channel <= feed.first_channel < bank.first_channel + bank.channels:
                sources[number].add((feed.supply, feed.output))
                load_a[number] += _amps(run.load_uw, block.class_mv)
    return DecoderFacts(
        tag=tag,
        model=model.tag,
        channel_a=None if model.channel_ua is None else model.channel_ua / 1e6,
        min_v=model.min_mv / 1e3,
        max_v=model.max_mv / 1e3,
        polarity=model.polarity,
        link=model.link.value,
        signal=model.signal.value,
        banks=tuple(
            BankFacts(
                number,
                None if bank.usable_ua is None else bank.usable_ua / 1e6,
                tuple(
                    ChannelFacts(n, tuple(on_channel[n]))
                    for n in range(bank.first_channel, bank.first_channel + bank.channels)
                ),
                tuple(sorted(sources[number])),
                load_a[number],
            )
            for number, bank in enumerate(model.banks, 1)
        ),
        load_factor=1.0,
    )
