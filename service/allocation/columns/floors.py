"""The least that decoders alone can cost: patterns of single banks priced by a small table each."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service.allocation.columns.master import PRIMAL
from service.allocation.quiet import linear_program
from service.allocation.search.kit import Kit
from service.allocation.search.plan import Held

STEPS = 200
ROUNDS = 300
PASSES = 40
NOISE = 1e-7


def decoder_floor(kit: Kit, rounds: int = ROUNDS) -> int:
    """No plan that feeds every load has decoders of less cost than this."""
    kinds = [t for t, load in enumerate(kit.types) if load.channels and kit.counts[t]]
    if not kinds:
        return 0
    costs = [kind.cost for kind in kit.decoders]
    unit = math.gcd(*costs) or 1
    return math.ceil(_Patterns(kit, kinds).bound(rounds) / unit - 1e-6) * unit


@dataclass(slots=True)
class _Prices:
    load: list[float]
    bank: list[float]
    stock: list[float]
    value: float


class _Patterns:
    """A linear program over what single banks hold; supplies are left out of it."""

    def __init__(self, kit: Kit, kinds: Sequence[int]) -> None:
        import highspy  # heavy: loaded only where the work is done

        self.kit, self.kinds = kit, list(kinds)
        self.row = {t: row for row, t in enumerate(self.kinds)}
        self.bank_row = len(self.kinds)
        self.stock_row = self.bank_row + len(kit.banks)
        self.known: set[tuple[int, Held]] = set()
        self.program: Any = linear_program()
        self.program.setOptionValue("simplex_strategy", PRIMAL)
        self.inf: float = highspy.kHighsInf
        for t in self.kinds:
            self.program.addRow(float(kit.counts[t]), self.inf, 0, [], [])
        for _ in kit.banks:
            self.program.addRow(-self.inf, 0.0, 0, [], [])
        for stock in kit.stock:
            self.program.addRow(-self.inf, float(stock), 0, [], [])
        self.most = [min(kit.stock[kind.stock], sum(kit.counts)) for kind in kit.decoders]
        for number, kind in enumerate(kit.decoders):
            entries = {self.bank_row + n: -float(kit.banks[n].number) for n in kind.banks}
            entries[self.stock_row + kind.stock] = 1.0
            self._column(kind.cost, self.most[number], entries)
        self.big = 4.0 * (max((kind.cost for kind in kit.decoders), default=0) + 1)
        for t in self.kinds:
            self._column(self.big, self.inf, {self.row[t]: 1.0})
        self.tables = self._tables()

    def _column(self, cost: float, most: float, entries: dict[int, float]) -> None:
        kept = dict(sorted(entries.items()))
        self.program.addCol(float(cost), 0.0, float(most), len(kept), list(kept), list(kept.values()))

    def _tables(self) -> list[tuple[list[int], list[int]]]:
        """Banks that fit the same loads share a table."""
        groups: dict[tuple[int, ...], list[int]] = {}
        for bank in range(len(self.kit.banks)):
            fits = tuple(t for t in self.kinds if bank in self.kit.fits_bank[t])
            if fits:
                groups.setdefault(fits, []).append(bank)
        return [(banks, list(fits)) for fits, banks in sorted(groups.items())]

    def bound(self, rounds: int) -> float:
        """The best bound seen while patterns are added until none helps."""
        best = 0.0
        for _ in range(rounds):
            prices = self._solve()
            if prices is None:
                return best
            added, excess = self._price(prices)
            best = max(best, self._proven(prices, excess))
            if not added or best >= prices.value - 1e-6:
                break
        return best

    def _solve(self) -> _Prices | None:
        import highspy  # heavy: loaded only where the work is done

        self.program.run()
        if self.program.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        dual = list(self.program.getSolution().row_dual)
        return _Prices(
            [max(0.0, each) for each in dual[: self.bank_row]],
            [max(0.0, -each) for each in dual[self.bank_row : self.stock_row]],
            [max(0.0, -each) for each in dual[self.stock_row :]],
            float(self.program.getInfo().objective_function_value),
        )

    def _price(self, prices: _Prices) -> tuple[int, list[float]]:
        """Patterns worth more than their bank are added; by how much each bank's price falls short.

        Further passes look at the loads that the patterns so far leave over.
        """
        added, excess = 0, [0.0] * len(self.kit.banks)
        for banks, fits in self.tables:
            left = {t: self.kit.counts[t] for t in fits}
            worth = [prices.load[self.row[t]] for t in fits]
            for number in range(PASSES):
                table = _BankTable(self.kit, banks, left, worth)
                best, most = None, NOISE * 1000
                for bank in banks:
                    value, content = table.best(bank)
                    gain = value - prices.bank[bank]
                    if gain <= NOISE * 1000:
                        continue
                    if number == 0:
                        excess[bank] = gain
                    added += self._add_pattern(bank, content)
                    if gain > most:
                        best, most = content, gain
                if best is None:
                    break
                for t, count in best:
                    left[t] -= count
        return added, excess

    def _add_pattern(self, bank: int, content: Held) -> int:
        if (bank, content) in self.known:
            return 0
        self.known.add((bank, content))
        entries = {self.row[t]: float(count) for t, count in content}
        self._column(0.0, self.inf, {**entries, self.bank_row + bank: 1.0})
        return 1

    def _proven(self, prices: _Prices, excess: Sequence[float]) -> float:
        """As in the master program: prices scaled until no decoder is worth more than it costs."""
        kit = self.kit
        gain = [
            sum(kit.banks[n].number * (prices.bank[n] + excess[n]) for n in kind.banks)
            - prices.stock[kind.stock]
            for kind in kit.decoders
        ]
        worth = sum(prices.load[self.row[t]] * kit.counts[t] for t in self.kinds)
        worth -= sum(price * stock for price, stock in zip(prices.stock, kit.stock, strict=True))
        pairs = [(each, kind.cost) for each, kind in zip(gain, kit.decoders, strict=True)]
        scale = max((each / cost for each, cost in pairs if cost), default=1.0)
        return max(self._at(worth, gain, 1.0), self._at(worth, gain, max(1.0, scale)))

    def _at(self, worth: float, gain: Sequence[float], scale: float) -> float:
        total = worth / scale
        for number, each in enumerate(gain):
            total += min(0.0, self.most[number] * (self.kit.decoders[number].cost - each / scale))
        return total


class _BankTable:
    """Best value of what one bank holds, by channels and watts; watts rounded down, so never too low."""

    def __init__(
        self, kit: Kit, banks: Sequence[int], left: Mapping[int, int], worth: Sequence[float]
    ) -> None:
        import numpy as np  # heavy: loaded only where the work is done

        self.kit, self.left = kit, left
        self.caps = {bank: min(kit.banks[bank].cap_uw, self._outlet_uw(bank)) for bank in banks}
        self.channels = max(kit.banks[bank].channels for bank in banks)
        cap = max(self.caps.values())
        self.step = self._step(cap, list(left))
        width = int(cap / self.step + 1e-9) + 1
        self.table: Any = np.zeros((self.channels + 1, width))
        self.taken: list[tuple[int, int, int, int, Any]] = []
        for t, value in zip(left, worth, strict=True):
            if value > NOISE:
                self._add(np, t, value, width)

    def _outlet_uw(self, bank: int) -> int:
        """A bank hangs on one output, so it never carries more than the largest of its cell."""
        kit = self.kit
        own = (o.cap_uw for n, o in enumerate(kit.outlets) if kit.outlet_cell[n] == kit.bank_cell[bank])
        return max(own, default=0)

    def _step(self, cap: int, fits: Sequence[int]) -> float:
        common = math.gcd(*(self.kit.types[t].load_uw for t in fits)) or 1
        return float(max(common, cap / STEPS))

    def _add(self, np: Any, t: int, value: float, width: int) -> None:
        load = self.kit.types[t]
        weight = int(load.load_uw / self.step + 1e-9)
        left = min(self.left[t], self.channels // load.channels)
        left = min(left, (width - 1) // weight) if weight else left
        batch = 1
        while left > 0:
            count = min(batch, left)
            left -= count
            batch *= 2
            down, across = count * load.channels, count * weight
            offer = self.table[: self.channels + 1 - down, : width - across] + count * value
            target = self.table[down:, across:]
            taken = offer > target + NOISE
            self.taken.append((t, count, down, across, taken))
            np.maximum(offer, target, out=target)

    def best(self, bank: int) -> tuple[float, Held]:
        """The most valuable content of a bank."""
        row, column = self.kit.banks[bank].channels, int(self.caps[bank] / self.step + 1e-9)
        value = float(self.table[row, column])
        found: dict[int, int] = {}
        for t, count, down, across, taken in reversed(self.taken):
            if row >= down and column >= across and taken[row - down, column - across]:
                found[t] = found.get(t, 0) + count
                row -= down
                column -= across
        return value, tuple(sorted(found.items()))
