"""What the allocator is asked and what it answers. Frozen, whole numbers, no database.

Power is in microwatts (`_uw`), current in microamperes (`_ua`), voltage in millivolts (`_mv`),
all at the nominal class of the tape (12.8 V counts as 12 V). Demand is rounded up and capacity
down, and only where a figure is not exact, so that equality with a limit stays equality.

A *block* is what one element, or one declared control group, needs: a row of consecutive
channels that all its runs share. A *run* is what one lead feeds and is never divided. A *bank*
is a group of decoder channels with one power feed: exactly one supply output feeds a bank.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class Source(StrEnum):
    SUPPLY = "supply"
    BATTERY = "battery"


class Signal(StrEnum):
    LEVEL = "level"  # one dimmed level a channel
    PIXEL = "pixel"  # one data port a run of addressable tape


class Link(StrEnum):
    WIRED = "wired"
    WIRELESS = "wireless"
    NETWORK = "network"
    LOCAL = "local"


@dataclass(frozen=True, slots=True, order=True)
class Reach:
    """How long the lead of a run may be, one way, and how long it would be from each site.

    `longest_um`: the longest with which its volts and its wire hold; -1: no lead would do. `lead_um`: from a
    site whose own length is not among `from_um`; None where neither is known, and then any length passes.
    `limit`, `value`, `bound`, `unit`, `because`: what binds where no lead would do; else `because` says
    what the longest rests on. `others`: what would do instead, the least change first, with its own longest.
    """

    longest_um: int
    lead_um: int | None = None
    from_um: tuple[tuple[str, int], ...] = ()
    limit: str = "lead-length"
    value: float | None = None
    bound: float | None = None
    unit: str = "m"
    because: str = ""
    others: tuple[tuple[int, str], ...] = ()

    def lead_from_um(self, site: str) -> int | None:
        return next((um for at, um in self.from_um if at == site), self.lead_um)

    def holds(self, site: str) -> bool:
        """The run may be fed from there."""
        return self.longest_um >= (self.lead_from_um(site) or 0)


@dataclass(frozen=True, slots=True, order=True)
class Run:
    """One unbroken length on one lead; fed at both ends it has two, from the same channels and output.

    `load_uw`: all emitters at full, wired or not; what a supply output and a bank must carry.
    `channel_uw`: per wired emitter in pad order, what its channel must carry; () when the run
    goes straight on an output without a decoder. `pitches`: cut pitches along it, 0 if not known.
    `reach`: None where it may be fed from every site of its block.
    """

    tag: str
    load_uw: int
    channel_uw: tuple[int, ...]
    pitches: int = 0
    reach: Reach | None = None


@dataclass(frozen=True, slots=True)
class Block:
    """Consecutive channels shared by all runs of one element or control group.

    `sites`: places where gear that feeds it may stand. `sources`, `links`: kinds of gear allowed
    (a piece that moves without a travelling cable takes batteries and wireless decoders only).
    `priority`: 1 is fed first. `match`: blocks of one match group like to share a supply.
    """

    tag: str
    runs: tuple[Run, ...]
    class_mv: int
    polarity: str
    signal: Signal
    sites: tuple[str, ...]
    sources: frozenset[Source] = frozenset({Source.SUPPLY})
    links: frozenset[Link] = frozenset({Link.WIRED, Link.NETWORK, Link.LOCAL, Link.WIRELESS})
    priority: int = 3
    match: str = ""

    @property
    def channels(self) -> int:
        return len(self.runs[0].channel_uw) if self.runs else 0

    def sites_for(self, runs: Iterable[Run]) -> tuple[str, ...]:
        """Sites from which all of these runs may be fed."""
        reaches = [run.reach for run in runs if run.reach is not None]
        if not reaches:
            return self.sites
        return tuple(site for site in self.sites if all(reach.holds(site) for reach in reaches))


@dataclass(frozen=True, slots=True)
class SupplyModel:
    """A kind of dc source. `usable_uw` is already derated (heat and load factor); so is each output.

    A limit of None is not known: the allocator never chooses such a unit (total None) or such an
    output itself.
    `cost`: weight of using one (scarce gear costs more), a whole number.
    """

    tag: str
    source: Source
    class_mv: int
    usable_uw: int | None
    outputs_ua: tuple[int | None, ...]
    cost: int = 1000
    output_mv: int = 0  # what it really gives (25.6 V in the 24 V class); 0: the same as the class
    blank: tuple[str, ...] = ()  # the figures nobody entered, as their columns are called

    @property
    def real_mv(self) -> int:
        return self.output_mv or self.class_mv


@dataclass(frozen=True, slots=True)
class Bank:
    """Channels first_channel..first_channel+channels-1 of a decoder, fed by one supply output."""

    first_channel: int
    channels: int
    usable_ua: int | None


@dataclass(frozen=True, slots=True)
class DecoderModel:
    """A kind of decoder or dimmer; currents already take the load factor.

    With `channel_ua` None the allocator never chooses it; with a bank's `usable_ua` None, not that bank.
    """

    tag: str
    banks: tuple[Bank, ...]
    channel_ua: int | None
    min_mv: int
    max_mv: int
    polarity: str
    signal: Signal = Signal.LEVEL
    link: Link = Link.WIRED
    cost: int = 500
    blank: tuple[str, ...] = ()  # the figures nobody entered, as their columns are called


@dataclass(frozen=True, slots=True, order=True)
class Unit:
    """One physical supply or decoder that may be used.

    `site`: where it already stands for this production ("" = in the store, may be put anywhere).
    A unit with a site, or one that an installed feed names, already stands and costs nothing more.
    A decoder and the supplies that newly feed it stand at one and the same site.
    """

    tag: str
    model: str
    site: str = ""


@dataclass(frozen=True, slots=True, order=True)
class Installed:
    """Where a run is fed now. Outputs count from 1, channels from 1; decoder "" = straight on.

    A feed whose supply or decoder is not among the units (dead, away) is an orphan: the run must be
    fed anew, and that is not counted as a move. A locked feed is never changed.
    """

    run: str
    supply: str
    output: int
    decoder: str
    first_channel: int
    locked: bool = False


@dataclass(frozen=True, slots=True)
class Shares:
    """What the house lets labels carry for hours, from 0 to 1; the models above are derated by it already.

    Only for words: gear that is wanted is bought by its label.
    """

    supply: float = 1.0
    output: float = 1.0
    channel: float = 1.0
    bank: float = 1.0


@dataclass(frozen=True, slots=True)
class Problem:
    """Everything the allocator may know. Equal problems give equal answers.

    `mend`: installed feeds that break a limit may be moved too (fewest moves); otherwise a kept
    feed that is over its limit stays and is reported.
    """

    blocks: tuple[Block, ...]
    supply_models: tuple[SupplyModel, ...]
    decoder_models: tuple[DecoderModel, ...]
    supplies: tuple[Unit, ...]
    decoders: tuple[Unit, ...]
    installed: tuple[Installed, ...] = ()
    mend: bool = False
    shares: Shares = Shares()


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard to try, in deterministic work units. `deadline_s` is a watchdog that may end it early."""

    scale: float = 1.0
    seed: int = 0
    deadline_s: float | None = None
    processes: int = 1


@dataclass(frozen=True, slots=True, order=True)
class Feed:
    """One run on one supply output, through consecutive channels of one decoder bank or straight on."""

    run: str
    supply: str
    output: int
    decoder: str
    first_channel: int
    channels: int


@dataclass(frozen=True, slots=True)
class Unfed:
    """Why a run is dark: the one limit that binds, in figures, and the smallest thing that would fix it.

    `limit`: voltage · polarity · signal · link · source · site · lead-length · lead-amps · total-drop ·
    run-length · channel-current · channel-count · bank-current · output-current · supply-watts · not-known ·
    supply-stock · decoder-stock · lock · packing. `value` and `bound` are in `unit` (SI: A, W, V, m; or a
    count). `then`: what would bind next, and what would mend that.
    """

    run: str
    block: str
    limit: str
    value: float | None
    bound: float | None
    unit: str
    because: str
    mend: str
    then: str = ""


@dataclass(frozen=True, slots=True)
class Answer:
    """Feeds, what stays dark, and how good the plan is.

    `unfed_uw` and `unfed_bound_uw`: load left dark, and the least that any plan could leave dark
    (proven), by priority, the more urgent ones being fed as far as can be. `cost` and `bound`: weight
    of the gear used beyond what is installed, and a proven lower bound for plans that feed as much and
    move as little.
    `moved`: installed runs that change output, decoder or channel; `refed`: orphans fed again.
    `split`: blocks that amps or watts forced onto more than one channel row.
    `sites`: where each unit used must stand.
    """

    feeds: tuple[Feed, ...]
    unfed: tuple[Unfed, ...]
    moved: tuple[str, ...]
    refed: tuple[str, ...]
    split: tuple[str, ...]
    sites: Mapping[str, str]
    unfed_uw: Mapping[int, int]
    unfed_bound_uw: Mapping[int, int]
    cost: int
    bound: int
    proven: bool
    stopped_early: bool
    parts: int
    work: int = 0
    notes: tuple[str, ...] = field(default=())

    @property
    def is_fed_proven(self) -> bool:
        """No plan could feed more."""
        return all(self.unfed_bound_uw.get(priority, 0) >= uw for priority, uw in self.unfed_uw.items())

    @property
    def gap(self) -> float | None:
        """Weight of gear beyond the proven least, as a share of it; None where it would say nothing.

        While a plan might feed more, its gear cannot be measured against the least for what it feeds.
        """
        if not self.is_fed_proven:
            return None
        if self.cost <= self.bound:
            return 0.0
        return self.cost / self.bound - 1.0 if self.bound else None
