"""Blocks become loads: one load a block, more only where amps or watts leave no choice."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from service.allocation.problem import (
    Block,
    DecoderModel,
    Link,
    Problem,
    Run,
    Signal,
    Source,
    SupplyModel,
    Unit,
)

# Above this many trials the exact search for the fewest rows gives way to the balanced one.
SPLIT_TRIALS = 4000


@dataclass(frozen=True, slots=True, order=True)
class Load:
    """What goes onto one channel row, or straight onto an output when `channels` is 0.

    `peak_uw`: what the fullest channel of the row carries; `load_uw`: what the bank and the output carry.
    """

    tag: str
    block: str
    runs: tuple[str, ...]
    channels: int
    peak_uw: int
    load_uw: int
    class_mv: int
    polarity: str
    signal: Signal
    sites: tuple[str, ...]
    sources: tuple[Source, ...]
    links: tuple[Link, ...]
    priority: int
    match: str


@dataclass(frozen=True, slots=True)
class Stage:
    """Every block as loads; the runs that no unit could ever feed are set aside with their block."""

    loads: tuple[Load, ...]
    never: tuple[tuple[Block, tuple[Run, ...]], ...]
    split: tuple[str, ...]


@dataclass(frozen=True, slots=True, order=True)
class _Row:
    """The largest row that one decoder bank can take at the voltage of a block."""

    channels: int
    channel_uw: int
    bank_uw: int


def outlet_uw(model: SupplyModel, output_ua: int | None) -> int:
    """Watts that one output may carry: its amps at the class voltage, never above the whole supply."""
    if model.usable_uw is None or output_ua is None:
        return 0
    return min(model.usable_uw, model.class_mv * output_ua // 1000)


def speaks_to(model: DecoderModel, block: Block | Load) -> bool:
    """The decoder has the voltage, polarity, signal and link of the block, and its amps are known."""
    return (
        model.channel_ua is not None
        and model.min_mv <= block.class_mv <= model.max_mv
        and model.polarity == block.polarity
        and model.signal is block.signal
        and model.link in block.links
    )


def stage_loads(problem: Problem) -> Stage:
    """Each block as few loads as the gear that is there allows, in the order of tags."""
    here = _models_here(problem)
    loads: list[Load] = []
    never: list[tuple[Block, tuple[Run, ...]]] = []
    split: list[str] = []
    for block in sorted(problem.blocks, key=lambda one: one.tag):
        carry = _Carry(block, here)
        feedable = tuple(run for run in sorted(block.runs) if carry.takes((run,)))
        left = tuple(run for run in sorted(block.runs) if run not in feedable)
        if left:
            never.append((block, left))
        rows = fewest_rows(feedable, carry.takes) if feedable else []
        if len(rows) > 1:
            split.append(block.tag)
        loads.extend(_load(block, row, number if len(rows) > 1 else 0) for number, row in enumerate(rows, 1))
    return Stage(tuple(sorted(loads)), tuple(never), tuple(split))


@dataclass(frozen=True, slots=True)
class _Here:
    """Models of which there is a unit, by the site it stands at ("" = in the store, for anywhere)."""

    supplies: Mapping[str, tuple[SupplyModel, ...]]
    decoders: Mapping[str, tuple[DecoderModel, ...]]


def _models_here(problem: Problem) -> _Here:
    supply_models = {model.tag: model for model in problem.supply_models}
    decoder_models = {model.tag: model for model in problem.decoder_models}
    supplies, decoders = _by_site(problem.supplies), _by_site(problem.decoders)
    return _Here(
        {site: tuple(supply_models[tag] for tag in tags) for site, tags in supplies.items()},
        {site: tuple(decoder_models[tag] for tag in tags) for site, tags in decoders.items()},
    )


def _by_site(units: Sequence[Unit]) -> dict[str, list[str]]:
    """Tags of the models at each site, in order."""
    found: dict[str, set[str]] = {}
    for unit in units:
        found.setdefault(unit.site, set()).add(unit.model)
    return {site: sorted(tags) for site, tags in sorted(found.items())}


class _Carry:
    """Answers whether an output and a decoder bank, at one site near enough, could take runs of a block."""

    def __init__(self, block: Block, here: _Here) -> None:
        self.block, self.channels = block, block.channels
        self.at: dict[str, tuple[int, tuple[_Row, ...]]] = {}
        for site in block.sites:
            fitting = [
                m
                for at in ("", site)
                for m in here.supplies.get(at, ())
                if m.class_mv == block.class_mv and m.source in block.sources
            ]
            output_uw = max((outlet_uw(m, ua) for m in fitting for ua in m.outputs_ua), default=0)
            speaking = [m for at in ("", site) for m in here.decoders.get(at, ()) if speaks_to(m, block)]
            rows = {row for m in speaking for row in bank_rows(m, block.class_mv)}
            self.at[site] = (output_uw, tuple(sorted(rows)))
        self.everywhere = set(self.at.values())

    def takes(self, runs: Sequence[Run]) -> bool:
        """One output and one bank have the watts, the channels and the amps a channel."""
        load_uw, peak_uw = load_of(runs), peak_of(runs)
        sites = self.block.sites_for(runs)
        gear = self.everywhere if sites is self.block.sites else {self.at[site] for site in sites}
        return any(
            output_uw > 0
            and load_uw <= output_uw
            and (
                self.channels == 0
                or any(
                    row.channels >= self.channels and row.channel_uw >= peak_uw and row.bank_uw >= load_uw
                    for row in rows
                )
            )
            for output_uw, rows in gear
        )


def bank_rows(model: DecoderModel, class_mv: int) -> list[_Row]:
    """What each bank of a decoder can take at this voltage; banks of unknown amps are left out."""
    if model.channel_ua is None:
        return []
    channel_uw = class_mv * model.channel_ua // 1000
    return [
        _Row(bank.channels, channel_uw, class_mv * bank.usable_ua // 1000)
        for bank in model.banks
        if bank.usable_ua is not None
    ]


def load_of(runs: Sequence[Run]) -> int:
    """Watts of several runs together, in microwatts."""
    return sum(run.load_uw for run in runs)


def peak_of(runs: Sequence[Run]) -> int:
    """What the fullest channel carries when these runs share one row."""
    return max((sum(each) for each in zip(*(run.channel_uw for run in runs), strict=True)), default=0)


def fewest_rows(runs: Sequence[Run], takes: Callable[[Sequence[Run]], bool]) -> list[tuple[Run, ...]]:
    """The runs in as few rows as the gear allows; exact for short lists, balanced for long ones."""
    if takes(runs):
        return [tuple(runs)]
    ordered = sorted(runs, key=lambda run: (-run.load_uw, run.tag))
    for count in range(2, len(ordered) + 1):
        rows = _in_rows(ordered, count, takes)
        if rows is not None:
            return sorted(tuple(sorted(row)) for row in rows)
    return [(run,) for run in ordered]


def _in_rows(
    runs: Sequence[Run], count: int, takes: Callable[[Sequence[Run]], bool]
) -> list[list[Run]] | None:
    """The runs spread over so many rows, the emptiest first; None when none of the trials fits."""
    rows: list[list[Run]] = [[] for _ in range(count)]
    trials = 0

    def place(index: int) -> bool:
        nonlocal trials
        if index == len(runs):
            return True
        tried: set[tuple[int, int]] = set()
        for row in sorted(rows, key=load_of):
            trials += 1
            if trials > SPLIT_TRIALS:
                return False
            same = (load_of(row), peak_of(row))
            if same in tried or not takes([*row, runs[index]]):
                continue
            tried.add(same)
            row.append(runs[index])
            if place(index + 1):
                return True
            row.pop()
        return False

    return rows if place(0) else None


def _load(block: Block, runs: Sequence[Run], number: int) -> Load:
    return Load(
        tag=f"{block.tag}/{number}" if number else block.tag,
        block=block.tag,
        runs=tuple(sorted(run.tag for run in runs)),
        channels=block.channels,
        peak_uw=peak_of(runs),
        load_uw=load_of(runs),
        class_mv=block.class_mv,
        polarity=block.polarity,
        signal=block.signal,
        sites=tuple(sorted(set(block.sites_for(runs)))),
        sources=tuple(sorted(block.sources)),
        links=tuple(sorted(block.links)),
        priority=block.priority,
        match=block.match,
    )
