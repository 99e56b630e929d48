"""Problems for the allocator in watts and amps, and answers made by hand."""

from dataclasses import replace

from service.allocation.problem import (
    Answer,
    Bank,
    Block,
    DecoderModel,
    Feed,
    Installed,
    Link,
    Problem,
    Run,
    Signal,
    Source,
    SupplyModel,
    Unfed,
    Unit,
)

MICRO = 1_000_000
WIRED = frozenset({Link.WIRED, Link.NETWORK, Link.LOCAL, Link.WIRELESS})


def a_run(tag: str, *channel_w: float, direct_w: float = 0.0) -> Run:
    """A run whose load is the sum of its emitters, or one that goes straight on an output."""
    channels = tuple(round(each * MICRO) for each in channel_w)
    return Run(tag, sum(channels) or round(direct_w * MICRO), channels)


def a_block(
    tag: str,
    *channel_w: float,
    runs: tuple[Run, ...] = (),
    volts: float = 24,
    polarity: str = "positive",
    signal: Signal = Signal.LEVEL,
    sites: tuple[str, ...] = ("deck",),
    sources: frozenset[Source] = frozenset({Source.SUPPLY}),
    links: frozenset[Link] = WIRED,
    priority: int = 3,
) -> Block:
    """A block of one run named after it, unless runs are given."""
    return Block(
        tag=tag,
        runs=runs or (a_run(f"{tag}.1", *channel_w),),
        class_mv=round(volts * 1000),
        polarity=polarity,
        signal=signal,
        sites=sites,
        sources=sources,
        links=links,
        priority=priority,
    )


def a_supply_model(
    tag: str = "S96",
    watts: float | None = 96,
    outputs_a: tuple[float | None, ...] = (4.0,),
    volts: float = 24,
    source: Source = Source.SUPPLY,
    cost: int = 1000,
) -> SupplyModel:
    usable_uw = None if watts is None else round(watts * MICRO)
    outputs_ua = tuple(None if amps is None else round(amps * MICRO) for amps in outputs_a)
    return SupplyModel(tag, source, round(volts * 1000), usable_uw, outputs_ua, cost)


def a_decoder_model(
    tag: str = "D4",
    banks: tuple[tuple[int, float | None], ...] = ((4, 9.6),),
    channel_a: float | None = 2.4,
    volts: tuple[float, float] = (12, 24),
    polarity: str = "positive",
    signal: Signal = Signal.LEVEL,
    link: Link = Link.WIRED,
    cost: int = 500,
) -> DecoderModel:
    """Banks as (channels, amps), one after another from channel 1."""
    made, first = [], 1
    for channels, amps in banks:
        made.append(Bank(first, channels, None if amps is None else round(amps * MICRO)))
        first += channels
    return DecoderModel(
        tag=tag,
        banks=tuple(made),
        channel_ua=None if channel_a is None else round(channel_a * MICRO),
        min_mv=round(volts[0] * 1000),
        max_mv=round(volts[1] * 1000),
        polarity=polarity,
        signal=signal,
        link=link,
        cost=cost,
    )


def units(model: str, count: int, site: str = "", first: int = 1) -> tuple[Unit, ...]:
    return tuple(Unit(f"{model}-{n:02d}", model, site) for n in range(first, first + count))


def a_problem(
    blocks: tuple[Block, ...],
    supplies: tuple[tuple[SupplyModel, int], ...] = ((a_supply_model(), 4),),
    decoders: tuple[tuple[DecoderModel, int], ...] = ((a_decoder_model(), 8),),
    installed: tuple[Installed, ...] = (),
    mend: bool = False,
) -> Problem:
    """So many units of each model in the store."""
    return Problem(
        blocks=blocks,
        supply_models=tuple(model for model, _ in supplies),
        decoder_models=tuple(model for model, _ in decoders),
        supplies=tuple(unit for model, count in supplies for unit in units(model.tag, count)),
        decoders=tuple(unit for model, count in decoders for unit in units(model.tag, count)),
        installed=installed,
        mend=mend,
    )


def installed_as(answer: Answer, problem: Problem, locked: tuple[str, ...] = ()) -> Problem:
    """The problem of the next day: the answer has been built, and its gear stands where it was planned."""
    rows = tuple(
        Installed(f.run, f.supply, f.output, f.decoder, f.first_channel, f.run in locked)
        for f in answer.feeds
    )
    return _with(problem, installed=rows, sites=dict(answer.sites))


def without_units(problem: Problem, *tags: str) -> Problem:
    """The problem after these units have died."""
    return Problem(
        blocks=problem.blocks,
        supply_models=problem.supply_models,
        decoder_models=problem.decoder_models,
        supplies=tuple(unit for unit in problem.supplies if unit.tag not in tags),
        decoders=tuple(unit for unit in problem.decoders if unit.tag not in tags),
        installed=problem.installed,
        mend=problem.mend,
    )


def with_spares(problem: Problem, *tags: str) -> Problem:
    """One more unit in the store for each of these supplies, of its kind."""
    models = {unit.tag: unit.model for unit in problem.supplies}
    spares = tuple(Unit(f"spare for {tag}", models[tag]) for tag in tags)
    return replace(problem, supplies=(*problem.supplies, *spares))


def _with(problem: Problem, installed: tuple[Installed, ...], sites: dict[str, str]) -> Problem:
    def placed(unit: Unit) -> Unit:
        return Unit(unit.tag, unit.model, sites.get(unit.tag, unit.site))

    return Problem(
        blocks=problem.blocks,
        supply_models=problem.supply_models,
        decoder_models=problem.decoder_models,
        supplies=tuple(placed(unit) for unit in problem.supplies),
        decoders=tuple(placed(unit) for unit in problem.decoders),
        installed=installed,
        mend=problem.mend,
    )


def an_answer(
    problem: Problem,
    feeds: tuple[Feed, ...],
    cost: int,
    sites: dict[str, str] | None = None,
    split: tuple[str, ...] = (),
    moved: tuple[str, ...] = (),
    refed: tuple[str, ...] = (),
) -> Answer:
    """An answer made by hand: what is not fed is dark, and everything stands on the deck unless told."""
    fed = {feed.run for feed in feeds}
    dark, dark_uw = list[Unfed](), dict[int, int]()
    for block in problem.blocks:
        for run in block.runs:
            if run.tag not in fed:
                dark.append(Unfed(run.tag, block.tag, "packing", None, None, "", "", ""))
                dark_uw[block.priority] = dark_uw.get(block.priority, 0) + run.load_uw
    used = {tag for feed in feeds for tag in (feed.supply, feed.decoder) if tag}
    return Answer(
        feeds=feeds,
        unfed=tuple(dark),
        moved=moved,
        refed=refed,
        split=split,
        sites=dict.fromkeys(sorted(used), "deck") if sites is None else sites,
        unfed_uw=dark_uw,
        unfed_bound_uw={},
        cost=cost,
        bound=0,
        proven=False,
        stopped_early=False,
        parts=1,
    )
