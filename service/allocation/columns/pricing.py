"""The best content for one supply output at given prices: one table serves every output of a cell.

A row of the table is a number of channels bought with banks and not yet used; a column is the watts
spent. Banks that stand more amps a channel come first, so that what is left of their channels also
serves the loads that need less. Channels of several banks are pooled: a load may seem to lie across
two banks. That can only make a content look better than it is, so the bound stays true; whether a
content really fits its banks is asked afterwards.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import gcd
from typing import Any

from service.allocation.problem import Source
from service.allocation.search.kit import Kit

# Numbers below this are rounding noise of the linear program.
NOISE = 1e-7
NOTHING = -1e15


@dataclass(frozen=True, slots=True)
class Grid:
    """Watts in steps. Rounded down, a content may look lighter than it is; rounded up, heavier."""

    step_uw: float
    weights: tuple[int, ...]
    exact: bool

    def cap(self, cap_uw: int) -> int:
        return int(cap_uw / self.step_uw + 1e-9)


def make_grid(kit: Kit, steps: int, cap_uw: int, up: bool) -> Grid:
    """The loads of a kit on a grid of at most so many steps up to a capacity."""
    common = gcd(*(load.load_uw for load in kit.types)) or 1
    exact = cap_uw / common <= steps
    step = float(common) if exact else cap_uw / steps
    weights = []
    for load in kit.types:
        down = int(load.load_uw / step + 1e-9)
        weights.append(down + 1 if up and down * step < load.load_uw - 1e-6 else down)
    return Grid(step, tuple(weights), exact)


@dataclass(frozen=True, slots=True)
class Prices:
    """What feeding a load is worth, and what a bank costs, at the present state of the master."""

    load: Sequence[float]
    bank: Sequence[float]


@dataclass(frozen=True, slots=True)
class Content:
    """Loads and banks of one output as the table sees them."""

    value: float
    banks: tuple[int, ...]
    loads: Counter[int]


@dataclass(frozen=True)
class Corner:
    """The loads and banks of one cell that one kind of source may feed."""

    kit: Kit
    cell: int
    source: Source

    @cached_property
    def outlets(self) -> tuple[int, ...]:
        kit = self.kit
        return tuple(
            n
            for n, outlet in enumerate(kit.outlets)
            if kit.outlet_cell[n] == self.cell and kit.supplies[outlet.supply].source is self.source
        )

    @cached_property
    def cap_uw(self) -> int:
        return max((self.kit.outlets[n].cap_uw for n in self.outlets), default=0)

    @cached_property
    def loads(self) -> tuple[int, ...]:
        """Types that may be fed here, those that need most amps a channel first."""
        own = set(self.outlets)
        types = self.kit.types
        fed = [t for t, load in enumerate(types) if own & set(load.outlets) and self.kit.counts[t]]
        return tuple(sorted(fed, key=lambda t: (-types[t].peak_uw, t)))

    @cached_property
    def banks(self) -> tuple[int, ...]:
        return tuple(
            n
            for n, cell in enumerate(self.kit.bank_cell)
            if cell == self.cell and any(n in self.kit.fits_bank[t] for t in self.loads)
        )

    @cached_property
    def flavours(self) -> tuple[tuple[tuple[int, ...], tuple[int, ...]], ...]:
        """Banks and loads by polarity and signal; a bank serves only loads of its own."""
        found: dict[tuple[str, str], tuple[list[int], list[int]]] = {}
        of_bank = {n: self.kit.decoders[self.kit.banks[n].decoder].flavour for n in self.banks}
        for n in self.banks:
            found.setdefault(of_bank[n], ([], []))[0].append(n)
        for t in self.loads:
            own = next((of_bank[n] for n in self.kit.types[t].banks if n in of_bank), None)
            if self.kit.types[t].channels and own is not None:
                found[own][1].append(t)
        return tuple((tuple(banks), tuple(loads)) for _, (banks, loads) in sorted(found.items()))

    @cached_property
    def direct(self) -> tuple[int, ...]:
        return tuple(t for t in self.loads if not self.kit.types[t].channels)

    @cached_property
    def most_channels(self) -> int:
        """No content of one output has more channels: the lightest for a channel, up to the capacity."""
        room, most = float(self.cap_uw), 0.0
        kinds = [t for t in self.loads if self.kit.types[t].channels]
        for t in sorted(kinds, key=lambda t: self.kit.types[t].load_uw / self.kit.types[t].channels):
            load = self.kit.types[t]
            taken = min(self.kit.counts[t], room / load.load_uw) if load.load_uw else self.kit.counts[t]
            most += taken * load.channels
            room -= taken * load.load_uw
        return int(most + 1e-6)


def corners(kit: Kit) -> tuple[Corner, ...]:
    """Every cell and source that feeds something."""
    pairs = sorted({(kind.cell, kind.source) for kind in kit.supplies})
    return tuple(corner for cell, source in pairs if (corner := Corner(kit, cell, source)).loads)


@dataclass(slots=True)
class _Step:
    """One decision of the table, kept so that the best content can be read back."""

    kind: str
    item: int
    count: int
    channels: int
    watts: int
    taken: Any


class Table:
    """Best value of a content for every number of watts, at these prices and with so many loads left."""

    def __init__(
        self, corner: Corner, prices: Prices, counts: Sequence[int], grid: Grid, rows: int | None = None
    ) -> None:
        import numpy as np  # heavy: loaded only where the work is done

        self._np: Any = np
        self.corner, self.grid, self.counts = corner, grid, counts
        self.prices = prices
        self.width = grid.cap(corner.cap_uw) + 1
        most = corner.most_channels if rows is None else min(rows, corner.most_channels)
        self.rows = most + 1
        self.steps: list[_Step] = []
        # Half the digits are plenty for finding columns; what is proven is priced with all of them.
        self.digits: Any = np.float64 if rows is None else np.float32
        self._buffer: Any = np.empty((self.rows, self.width), self.digits)
        value: Any = np.zeros((1, self.width), self.digits)
        for t in corner.direct:
            self._add_load(value, t)
        for banks, loads in corner.flavours:
            value = self._add_flavour(value, banks, loads)
        self.best: Any = value[0]

    def _add_flavour(self, value: Any, banks: Sequence[int], loads: Sequence[int]) -> Any:
        """Banks and loads of one polarity and signal, the most amps a channel first."""
        np, kit = self._np, self.corner.kit
        wanted = [t for t in loads if self.prices.load[t] > NOISE and self.counts[t]]
        if not wanted:
            return value
        table: Any = np.full((self.rows, self.width), NOTHING, self.digits)
        table[0] = value[0]
        useful = self._worth_having(banks)
        for amps in sorted({kit.banks[n].channel_uw for n in banks}, reverse=True):
            for n in useful:
                if kit.banks[n].channel_uw == amps:
                    self._add_bank(table, n)
            lower = max(
                (kit.banks[n].channel_uw for n in banks if kit.banks[n].channel_uw < amps), default=-1
            )
            for t in wanted:
                if lower < kit.types[t].peak_uw <= amps:
                    self._add_load(table, t)
        best = table.argmax(axis=0)
        self.steps.append(_Step("close", -1, 0, 0, 0, best))
        return table.max(axis=0, keepdims=True)

    def _worth_having(self, banks: Sequence[int]) -> list[int]:
        """Banks that no other beats in channels, in amps and in price."""
        kit = self.corner.kit

        def beats(other: int, one: int) -> bool:
            a, b = kit.banks[other], kit.banks[one]
            price, than = self.prices.bank[other], self.prices.bank[one]
            at_least = a.channels >= b.channels and a.channel_uw >= b.channel_uw and price <= than
            equal = (a.channels, a.channel_uw, price) == (b.channels, b.channel_uw, than)
            return at_least and (not equal or other < one)

        return [n for n in banks if not any(beats(other, n) for other in banks if other != n)]

    def _add_bank(self, table: Any, bank: int) -> None:
        """One or more banks of a kind: so many channels more, and its price less.

        The last row means "that many channels or more": more than an output can use are worth no more.
        """
        np = self._np
        price, channels = self.prices.bank[bank], self.corner.kit.banks[bank].channels
        last = self.rows - 1
        origin: Any = np.full(table.shape, -1, dtype=np.int16)
        for row in range(channels, last, channels):
            end = min(row + channels, last)
            offer = table[row - channels : end - channels] - price
            better = offer > table[row:end]
            np.maximum(offer, table[row:end], out=table[row:end])
            sources = np.arange(row - channels, end - channels, dtype=np.int16)[:, None]
            origin[row:end] = np.where(better, sources, origin[row:end])
        first = max(0, last - channels)
        if first < last:
            source = table[first:last].argmax(axis=0)
            offer = table[first:last].max(axis=0) - price
            better = offer > table[last]
            table[last] = np.where(better, offer, table[last])
            origin[last] = np.where(better, source + first, -1)
        self.steps.append(_Step("bank", bank, 1, channels, 0, origin))

    def _add_load(self, table: Any, t: int) -> None:
        """Up to as many loads of a type as are left, in powers of two."""
        np = self._np
        load, value = self.corner.kit.types[t], self.prices.load[t]
        weight = self.grid.weights[t]
        if value <= NOISE:
            return
        left = self.counts[t]
        left = min(left, (self.width - 1) // weight) if weight else left
        left = min(left, (table.shape[0] - 1) // load.channels) if load.channels else left
        batch = 1
        while left > 0:
            count = min(batch, left)
            left -= count
            batch *= 2
            down, across = count * load.channels, count * weight
            target = table[: table.shape[0] - down, across:]
            offer = self._buffer[: target.shape[0], : target.shape[1]]
            np.add(table[down:, : self.width - across], count * value, out=offer)
            taken = offer > target
            np.maximum(offer, target, out=target)
            self.steps.append(_Step("load", t, count, down, across, taken))

    def content(self, watts: int) -> Content:
        """The loads and banks behind the best value at so many watts."""
        row, column = 0, watts
        banks: list[int] = []
        loads: Counter[int] = Counter()
        for step in reversed(self.steps):
            if step.kind == "close":
                row = int(step.taken[column])
            elif step.kind == "bank":
                while step.taken[row, column] >= 0:
                    banks.append(step.item)
                    row = int(step.taken[row, column])
            elif row < step.taken.shape[0] and column >= step.watts and step.taken[row, column - step.watts]:
                loads[step.item] += step.count
                row += step.channels
                column -= step.watts
        return Content(float(self.best[watts]), tuple(sorted(banks)), loads)

    def best_for(self, outlet: int, watt_price: float) -> tuple[float, int]:
        """The best value for an output after paying for its watts, and the watts where it is reached."""
        np = self._np
        cap = self.grid.cap(self.corner.kit.outlets[outlet].cap_uw)
        net = self.best[: cap + 1] - watt_price * self.grid.step_uw * np.arange(cap + 1)
        at = int(net.argmax())
        return float(net[at]), at


def priced(kit: Kit, load: Mapping[int, float], bank: Mapping[int, float]) -> Prices:
    """Prices from sparse maps; what is not named is worth nothing, or costs nothing."""
    return Prices(
        [load.get(t, 0.0) for t in range(len(kit.types))], [bank.get(n, 0.0) for n in range(len(kit.banks))]
    )
