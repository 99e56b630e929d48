"""What a set of feeds leaves free on the gear, and where one more row of channels could go."""

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace

from service.allocation.problem import Bank, Block, DecoderModel, Feed, Problem, Run, SupplyModel, Unit


@dataclass(frozen=True, slots=True)
class Row:
    """Runs of one block that share a row of channels (or hang straight on one output).

    `sites`: where gear that feeds all of them may stand.
    """

    block: Block
    runs: tuple[Run, ...]
    sites: tuple[str, ...] = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "sites", self.block.sites_for(self.runs))

    @property
    def load_uw(self) -> int:
        return sum(run.load_uw for run in self.runs)

    @property
    def channels(self) -> int:
        return self.block.channels

    @property
    def channel_uw(self) -> tuple[int, ...]:
        """What each channel of the row carries."""
        return tuple(sum(each) for each in zip(*(run.channel_uw for run in self.runs), strict=True))

    @property
    def peak_uw(self) -> int:
        return max(self.channel_uw, default=0)


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Somewhere a row could go; decoder "" is straight on the output."""

    supply: str
    output: int
    decoder: str
    first_channel: int


@dataclass(frozen=True, slots=True)
class Tenant:
    """A row that wants a place. `home`: where it is now; `orphan`: the supply of its home is gone.

    `pinned`: it keeps its channels or goes dark; `may_stay`: false when those are the wrong ones.
    """

    row: Row
    home: Place | None = None
    orphan: bool = False
    may_stay: bool = True
    pinned: bool = False


@dataclass(slots=True)
class Rack:
    """A supply and what its outputs still carry; a limit nobody knows leaves nothing.

    `matches`: match groups of which it feeds something.
    """

    unit: Unit
    model: SupplyModel
    site: str
    used: bool
    free_uw: int
    outputs_uw: list[int]
    matches: set[str] = field(default_factory=set)

    def left_uw(self, output: int) -> int:
        return min(self.free_uw, self.outputs_uw[output - 1])


@dataclass(slots=True)
class Taken:
    """A row of channels in use."""

    block: str
    first_channel: int
    channel_uw: list[int]


@dataclass(slots=True)
class BankRoom:
    """A decoder bank, what feeds it, its rows and the load it carries."""

    bank: Bank
    output: tuple[str, int] | None = None
    load_uw: int = 0
    rows: dict[int, Taken] = field(default_factory=dict)

    def copy(self) -> "BankRoom":
        rows = {first: replace(taken, channel_uw=[*taken.channel_uw]) for first, taken in self.rows.items()}
        return replace(self, rows=rows)

    def left_uw(self, class_mv: int) -> int:
        return -1 if self.bank.usable_ua is None else class_mv * self.bank.usable_ua // 1000 - self.load_uw

    def is_free(self, first_channel: int, channels: int) -> bool:
        """No row is on these channels."""
        return all(
            first_channel + channels <= row.first_channel
            or row.first_channel + len(row.channel_uw) <= first_channel
            for row in self.rows.values()
        )

    def gap(self, channels: int) -> int | None:
        """The first channel of the tightest gap that takes so many; None when none does."""
        best: tuple[int, int] | None = None
        start = self.bank.first_channel
        end = start + self.bank.channels
        ends = sorted(
            (row.first_channel, row.first_channel + len(row.channel_uw)) for row in self.rows.values()
        )
        for first, after in [*ends, (end, end)]:
            if first - start >= channels and (best is None or first - start < best[0]):
                best = (first - start, start)
            start = max(start, after)
        return best[1] if best else None


@dataclass(slots=True)
class Box:
    """A decoder and its banks."""

    unit: Unit
    model: DecoderModel
    site: str
    used: bool
    banks: list[BankRoom]

    def bank_at(self, channel: int) -> BankRoom | None:
        for room in self.banks:
            if room.bank.first_channel <= channel < room.bank.first_channel + room.bank.channels:
                return room
        return None

    def channel_left_uw(self, class_mv: int) -> int:
        return -1 if self.model.channel_ua is None else class_mv * self.model.channel_ua // 1000


class Room:
    """All gear with what the feeds leave on it. Units that stand somewhere stay there."""

    def __init__(
        self, problem: Problem, feeds: Iterable[Feed] = (), sites: Mapping[str, str] | None = None
    ) -> None:
        self.block_of = {run.tag: block for block in problem.blocks for run in block.runs}
        self.run_of = {run.tag: run for block in problem.blocks for run in block.runs}
        supply_models = {model.tag: model for model in problem.supply_models}
        decoder_models = {model.tag: model for model in problem.decoder_models}
        where = sites or {}
        self.racks = {
            unit.tag: _rack(unit, supply_models[unit.model], where.get(unit.tag, unit.site))
            for unit in sorted(problem.supplies)
            if unit.model in supply_models
        }
        self.boxes = {
            unit.tag: _box(unit, decoder_models[unit.model], where.get(unit.tag, unit.site))
            for unit in sorted(problem.decoders)
            if unit.model in decoder_models
        }
        for feed in feeds:
            block, run = self.block_of[feed.run], self.run_of[feed.run]
            self.put(Row(block, (run,)), Place(feed.supply, feed.output, feed.decoder, feed.first_channel))

    def put(self, row: Row, place: Place) -> list[Feed]:
        """The row is fed from there, whether or not it fits; the feeds of its runs."""
        rack = self.racks[place.supply]
        rack.used = True
        rack.matches |= {row.block.match} - {""}
        rack.free_uw -= row.load_uw
        rack.outputs_uw[place.output - 1] -= row.load_uw
        if place.decoder:
            box = self.boxes[place.decoder]
            box.used = True
            box.site = box.site or rack.site
            room = box.bank_at(place.first_channel)
            if room is not None:
                _occupy(room, row, place)
        if not rack.site:
            rack.site = self.boxes[place.decoder].site if place.decoder else ""
            rack.site = rack.site or min(row.sites or row.block.sites, default="")
            if place.decoder:
                self.boxes[place.decoder].site = rack.site
        return [
            Feed(run.tag, place.supply, place.output, place.decoder, place.first_channel, row.channels)
            for run in row.runs
        ]

    @contextmanager
    def supposing(self, row: Row, place: Place) -> Iterator[None]:
        """The room as if the row were fed from there."""
        rack, box = self.racks[place.supply], self.boxes.get(place.decoder)
        kept_rack = replace(rack, outputs_uw=[*rack.outputs_uw], matches={*rack.matches})
        kept_box = box and replace(box, banks=[bank.copy() for bank in box.banks])
        self.put(row, place)
        try:
            yield
        finally:
            self.racks[place.supply] = kept_rack
            if kept_box is not None:
                self.boxes[place.decoder] = kept_box

    def withdraw(self, tag: str) -> None:
        """The unit is not offered to anything."""
        if tag in self.racks:
            self.racks[tag].free_uw = -1
        else:
            self.boxes[tag].banks = []

    def places(self, row: Row) -> list[Place]:
        """Everywhere the row fits now; of idle units that are alike, only the first by tag."""
        if not row.channels:
            return [Place(rack.unit.tag, output, "", 0) for rack, output in self.outputs_for(row)]
        joined = [*self._joins(row)]
        return joined or [
            place
            for box, room in self.banks_for(row)
            if (first := room.gap(row.channels)) is not None
            for place in self._fed(row, box, room, first)
        ]

    def _joins(self, row: Row) -> Iterator[Place]:
        """Rows of the same block that can carry these runs as well."""
        for box in self.boxes.values():
            if not box.used or not speaks(box.model, row.block) or box.site not in row.sites:
                continue
            for room in box.banks:
                for taken in room.rows.values():
                    if taken.block == row.block.tag and room.output and self._carries(row, box, room, taken):
                        yield Place(*room.output, box.unit.tag, taken.first_channel)

    def _carries(self, row: Row, box: Box, room: BankRoom, taken: Taken) -> bool:
        assert room.output is not None
        rack = self.racks[room.output[0]]
        each_uw = box.channel_left_uw(row.block.class_mv)
        return (
            suits(rack.model, row.block)
            and rack.left_uw(room.output[1]) >= row.load_uw
            and room.left_uw(row.block.class_mv) >= row.load_uw
            and all(has + more <= each_uw for has, more in zip(taken.channel_uw, row.channel_uw, strict=True))
        )

    def _fed(self, row: Row, box: Box, room: BankRoom, first: int) -> Iterator[Place]:
        if room.output is not None:
            rack = self.racks[room.output[0]]
            if suits(rack.model, row.block) and rack.left_uw(room.output[1]) >= row.load_uw:
                yield Place(*room.output, box.unit.tag, first)
            return
        for rack, output in self.outputs_for(row):
            if bears(box.model, rack.model) and (not rack.site or not box.site or rack.site == box.site):
                yield Place(rack.unit.tag, output, box.unit.tag, first)

    def outputs_for(self, row: Row) -> Iterator[tuple[Rack, int]]:
        """Outputs with the watts left for the row, at a place that may feed it."""
        idle: set[tuple[str, str]] = set()
        for rack in self.racks.values():
            if not row.sites or not suits(rack.model, row.block) or rack.site not in ("", *row.sites):
                continue
            alike = (rack.model.tag, rack.site)
            if not rack.used and alike in idle:
                continue
            idle |= set() if rack.used else {alike}
            for output in range(1, len(rack.outputs_uw) + 1):
                if rack.left_uw(output) >= row.load_uw:
                    yield rack, output

    def banks_for(self, row: Row) -> Iterator[tuple[Box, BankRoom]]:
        """Banks that have the amps for the row, at a place that may feed it; channels are not looked at."""
        idle: set[tuple[str, str]] = set()
        for box in self.boxes.values():
            if not row.sites or not speaks(box.model, row.block) or box.site not in ("", *row.sites):
                continue
            alike = (box.model.tag, box.site)
            if not box.used and alike in idle:
                continue
            idle |= set() if box.used else {alike}
            if box.channel_left_uw(row.block.class_mv) < row.peak_uw:
                continue
            for room in box.banks:
                if room.left_uw(row.block.class_mv) >= row.load_uw:
                    yield box, room


def suits(model: SupplyModel, block: Block) -> bool:
    """The supply has the block's voltage and is a kind of source it may have."""
    return model.class_mv == block.class_mv and model.source in block.sources


def speaks(model: DecoderModel, block: Block) -> bool:
    """The decoder has the voltage, polarity, signal and link of the block."""
    return (
        model.min_mv <= block.class_mv <= model.max_mv
        and model.polarity == block.polarity
        and model.signal is block.signal
        and model.link in block.links
    )


def bears(decoder: DecoderModel, supply: SupplyModel) -> bool:
    """What the supply really gives (25.6 V in the 24 V class) is within what the decoder takes."""
    return decoder.min_mv <= supply.real_mv <= decoder.max_mv


def _rack(unit: Unit, model: SupplyModel, site: str) -> Rack:
    outputs = [-1 if ua is None else model.class_mv * ua // 1000 for ua in model.outputs_ua]
    return Rack(unit, model, site, False, -1 if model.usable_uw is None else model.usable_uw, outputs)


def _box(unit: Unit, model: DecoderModel, site: str) -> Box:
    return Box(unit, model, site, False, [BankRoom(bank) for bank in model.banks])


def _occupy(room: BankRoom, row: Row, place: Place) -> None:
    room.output = (place.supply, place.output)
    room.load_uw += row.load_uw
    taken = room.rows.get(place.first_channel)
    if taken is None:
        room.rows[place.first_channel] = Taken(row.block.tag, place.first_channel, list(row.channel_uw))
        return
    taken.channel_uw = [has + more for has, more in zip(taken.channel_uw, row.channel_uw, strict=True)]
