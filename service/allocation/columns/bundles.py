"""The best content for one supply output where the amps of whole banks bind, as they do at 5 V.

A *bundle* is a small set of banks on one output. For each a table over channels and watts tells the
best loads that keep what its banks carry together; loads that only some of its banks stand keep what
those carry. Whether the loads of a bundle really split over its banks is asked afterwards, as ever:
that can only make a content look better than it is, so the bound stays true. More banks than a bundle
may have cost at least so many of the cheapest, and then nothing but the output limits them.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement
from typing import Any

from service.allocation.columns.pricing import NOISE, Content, Corner, Grid, Prices

BANKS_TOGETHER = 3
# With more kinds of bank the bundles are too many; then amps of whole banks are left to the repair.
KINDS_AT_MOST = 4


def binds(corner: Corner) -> bool:
    """Some bank carries less than an output gives, and the bundles that matter are few."""
    kit = corner.kit
    return (
        not corner.direct
        and len(corner.flavours) == 1
        and len(corner.banks) <= KINDS_AT_MOST
        and any(kit.banks[n].cap_uw < corner.cap_uw for n in corner.banks)
    )


@dataclass(frozen=True, slots=True)
class _Add:
    """Loads of one type offered to a table, and where they were taken."""

    load: int
    count: int
    channels: int
    watts: int
    taken: Any


@dataclass(frozen=True, slots=True)
class _Stage:
    """The loads that only some banks of a bundle stand, within what those banks carry together."""

    rows: int
    columns: int
    adds: tuple[_Add, ...]


@dataclass(frozen=True, slots=True)
class _Source:
    """Where the values of a bundle stand: the stages of its table, and the row to read."""

    banks: tuple[int, ...]
    stages: tuple[_Stage, ...]
    row: int
    columns: int


class BundleTable:
    """Best value of a content for every number of watts, bundle after bundle, the cheapest first."""

    def __init__(
        self, corner: Corner, prices: Prices, counts: Sequence[int], grid: Grid, rows: int | None = None
    ) -> None:
        import numpy as np  # heavy: loaded only where the work is done

        self._np: Any = np
        self.corner, self.prices, self.counts, self.grid = corner, prices, counts, grid
        self.width = grid.cap(corner.cap_uw) + 1
        self.most = corner.most_channels if rows is None else min(rows, corner.most_channels)
        self.digits: Any = np.float64 if rows is None else np.float32
        wanted = [t for t in corner.loads if prices.load[t] > NOISE and counts[t]]
        self.wanted = wanted
        self.banks = self._worth_having()
        self.best: Any = np.zeros(self.width, self.digits)
        self.origin: Any = np.full(self.width, -1, dtype=np.int32)
        self.sources: list[_Source] = []
        self._single: dict[int, tuple[Any, tuple[_Stage, ...]]] = {}
        if self.wanted and self.banks:
            self._fill()

    def _worth_having(self) -> list[int]:
        """Banks that no other beats in loads, channels, watts and price."""
        kit, prices = self.corner.kit, self.prices.bank
        serves = {n: frozenset(t for t in self.wanted if n in kit.fits_bank[t]) for n in self.corner.banks}

        def beats(other: int, one: int) -> bool:
            a, b = kit.banks[other], kit.banks[one]
            at_least = a.channels >= b.channels and a.cap_uw >= b.cap_uw and prices[other] <= prices[one]
            equal = (a.channels, a.cap_uw, prices[other]) == (b.channels, b.cap_uw, prices[one])
            if not at_least or not serves[other] >= serves[one]:
                return False
            return not (equal and serves[other] == serves[one]) or other < one

        return [
            n
            for n in self.corner.banks
            if serves[n] and not any(beats(other, n) for other in self.corner.banks if other != n)
        ]

    def _fill(self) -> None:
        """All bundles, except those that could not beat the ones before even with any loads at all."""
        np, prices = self._np, self.prices.bank
        free, stages = self._run([(0, self.width - 1, self.wanted)])
        anything = free[0]
        bundles = [
            some
            for count in range(1, BANKS_TOGETHER + 1)
            for some in combinations_with_replacement(self.banks, count)
        ]
        for bundle in sorted(bundles, key=lambda some: (sum(prices[n] for n in some), some)):
            price = sum(prices[n] for n in bundle)
            columns = self._columns(bundle)
            hoped = anything[np.minimum(np.arange(self.width), columns)] - price
            if bool((hoped > self.best + NOISE).any()):
                self._offer(bundle, price)
        cheapest = min(self.banks, key=lambda n: (prices[n], n))
        many = (cheapest,) * (BANKS_TOGETHER + 1)
        beyond = _Source(many, stages, 0, self.width - 1)
        self._take(beyond, anything - prices[cheapest] * len(many))

    def _rows(self, bundle: Sequence[int]) -> int:
        return min(self.most, sum(self.corner.kit.banks[n].channels for n in bundle))

    def _columns(self, bundle: Sequence[int]) -> int:
        """Watts of the banks together on the grid, at most those of the output."""
        return min(self.width - 1, self.grid.cap(sum(self.corner.kit.banks[n].cap_uw for n in bundle)))

    def _offer(self, bundle: tuple[int, ...], price: float) -> None:
        np, (row, columns) = self._np, (self._rows(bundle), self._columns(bundle))
        if len(set(bundle)) == 1:
            table, stages = self._of_one_kind(bundle[0])
        else:
            table, stages = self._run(self._nested(bundle))
        values = table[row][np.minimum(np.arange(self.width), columns)] - price
        self._take(_Source(bundle, stages, row, columns), values)

    def _of_one_kind(self, bank: int) -> tuple[Any, tuple[_Stage, ...]]:
        """One table serves one, two and three banks of a kind."""
        if bank not in self._single:
            most = (bank,) * BANKS_TOGETHER
            loads = [t for t in self.wanted if bank in self.corner.kit.fits_bank[t]]
            self._single[bank] = self._run([(self._rows(most), self._columns(most), loads)])
        return self._single[bank]

    def _nested(self, bundle: tuple[int, ...]) -> list[tuple[int, int, list[int]]]:
        """Stages of a mixed bundle: what only its first kind stands, then what only its first two do."""
        kit, stages = self.corner.kit, []
        kinds = sorted(set(bundle), key=lambda n: (kit.banks[n].cap_uw, n))
        stands = {t: kit.fits_bank[t] & frozenset(kinds) for t in self.wanted}
        waiting = [t for t in self.wanted if stands[t]]
        for number in range(1, len(kinds) + 1):
            some = frozenset(kinds[:number])
            own = [n for n in bundle if n in some]
            loads = [t for t in waiting if stands[t] <= some]
            waiting = [t for t in waiting if t not in loads]
            stages.append((self._rows(own), self._columns(own), loads))
        return stages

    def _take(self, source: _Source, values: Any) -> None:
        np = self._np
        better = values > self.best + NOISE
        if bool(better.any()):
            self.best = np.where(better, values, self.best)
            self.origin[better] = len(self.sources)
            self.sources.append(source)

    def _run(self, wanted: Sequence[tuple[int, int, list[int]]]) -> tuple[Any, tuple[_Stage, ...]]:
        """The table after all stages; in a table a place means "at most so many channels and watts".

        With no rows at all, channels do not count.
        """
        np = self._np
        table: Any = np.zeros((1, 1), self.digits)
        stages = []
        for rows, columns, loads in wanted:
            wider = ((0, rows + 1 - table.shape[0]), (0, columns + 1 - table.shape[1]))
            table = np.pad(table, wider, mode="edge")
            buffer: Any = np.empty_like(table)
            adds = [add for t in loads for add in self._add(table, buffer, t)]
            stages.append(_Stage(rows, columns, tuple(adds)))
        return table, tuple(stages)

    def _add(self, table: Any, buffer: Any, t: int) -> list[_Add]:
        """Up to as many loads of a type as are left, in powers of two."""
        np = self._np
        rows, columns = table.shape
        weight, value = self.grid.weights[t], self.prices.load[t]
        channels = self.corner.kit.types[t].channels if rows > 1 else 0
        left = min(self.counts[t], (columns - 1) // weight) if weight else self.counts[t]
        left = min(left, (rows - 1) // channels) if channels else left
        adds, batch = [], 1
        while left > 0:
            count = min(batch, left)
            left -= count
            batch *= 2
            down, across = count * channels, count * weight
            target = table[down:, across:]
            offer = buffer[: rows - down, : columns - across]
            np.add(table[: rows - down, : columns - across], count * value, out=offer)
            taken = offer > target
            np.maximum(offer, target, out=target)
            adds.append(_Add(t, count, down, across, taken))
        return adds

    def content(self, watts: int) -> Content:
        """The loads and banks behind the best value at so many watts."""
        number = int(self.origin[watts])
        if number < 0:
            return Content(float(self.best[watts]), (), Counter())
        source = self.sources[number]
        loads: Counter[int] = Counter()
        row, column = source.row, min(watts, source.columns)
        for stage in reversed(source.stages):
            row, column = min(row, stage.rows), min(column, stage.columns)
            for add in reversed(stage.adds):
                if row < add.channels or column < add.watts:
                    continue
                if add.taken[row - add.channels, column - add.watts]:
                    loads[add.load] += add.count
                    row -= add.channels
                    column -= add.watts
        return Content(float(self.best[watts]), tuple(sorted(source.banks)), loads)

    def best_for(self, outlet: int, watt_price: float) -> tuple[float, int]:
        """The best value for an output after paying for its watts, and the watts where it is reached."""
        np = self._np
        cap = self.grid.cap(self.corner.kit.outlets[outlet].cap_uw)
        net = self.best[: cap + 1] - watt_price * self.grid.step_uw * np.arange(cap + 1)
        at = int(net.argmax())
        return float(net[at]), at
