"""At equal cost, the fuller outputs give loads to the emptier ones, so that headroom is even."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from service.allocation.search.kit import Kit
from service.allocation.search.plan import Column, Filled, Plan, column_uw, held

# Exchanges looked at, and made, at most: this only polishes.
LOOKS = 20_000
MOVES = 60


@dataclass(slots=True)
class _Bank:
    """A bank in use on one output."""

    output: int
    kind: int
    loads: Counter[int]


@dataclass(frozen=True, slots=True)
class _Exchange:
    """A load goes from one bank to another, and perhaps a lighter one comes back."""

    giver: int
    taker: int
    gives: int
    takes: int | None


def even_out(kit: Kit, plan: Plan) -> Plan:
    """The same gear with the loads spread so that the fullest outputs are less full."""
    return _Spreading(kit, plan).run()


class _Spreading:
    def __init__(self, kit: Kit, plan: Plan) -> None:
        self.kit, self.plan, self.looks = kit, plan, LOOKS
        self.columns = [(n, column) for n, filled in enumerate(plan) for column in filled.columns]
        self.load = [column_uw(kit, column) for _, column in self.columns]
        self.supply_load = [sum(column_uw(kit, c) for c in filled.columns) for filled in plan]
        self.banks = [
            _Bank(output, bank, Counter(dict(content)))
            for output, (_, column) in enumerate(self.columns)
            for bank, content in column.banks
        ]

    def run(self) -> Plan:
        """Exchanges are made as long as they help and the looks last."""
        for _ in range(MOVES):
            exchange = next((each for each in self._offers() if self._helps(each)), None)
            if exchange is None:
                break
            self._make(exchange)
        return self._plan()

    def _fill(self, output: int, change_uw: int = 0) -> float:
        """How full an output is, or its supply where that is fuller."""
        supply, column = self.columns[output]
        kind = self.kit.supplies[self.plan[supply].supply]
        own = (self.load[output] + change_uw) / self.kit.outlets[column.outlet].cap_uw
        return max(own, (self.supply_load[supply] + change_uw) / kind.total_uw)

    def _offers(self) -> Iterator[_Exchange]:
        """Loads of the fullest outputs, each to every bank elsewhere, alone or against a lighter one."""
        order = sorted(range(len(self.banks)), key=lambda n: (-self._fill(self.banks[n].output), n))
        for giver in order:
            for taker in reversed(order):
                one, other = self.banks[giver], self.banks[taker]
                if self.columns[one.output][0] == self.columns[other.output][0]:
                    continue
                for gives in sorted(one.loads):
                    for takes in (None, *sorted(other.loads)):
                        self.looks -= 1
                        if self.looks < 0:
                            return
                        yield _Exchange(giver, taker, gives, takes)

    def _helps(self, exchange: _Exchange) -> bool:
        """The fuller of the two outputs gets less full, and every limit is kept."""
        types = self.kit.types
        one, other = self.banks[exchange.giver], self.banks[exchange.taker]
        if exchange.takes is None and sum(one.loads.values()) == 1:
            return False
        back_uw = types[exchange.takes].load_uw if exchange.takes is not None else 0
        change_uw = types[exchange.gives].load_uw - back_uw
        if change_uw <= 0:
            return False
        now = max(self._fill(one.output), self._fill(other.output))
        then = max(self._fill(one.output, -change_uw), self._fill(other.output, change_uw))
        return (
            then < now - 1e-6
            and self._fits(other, exchange.gives, exchange.takes)
            and (exchange.takes is None or self._fits(one, exchange.takes, exchange.gives))
        )

    def _fits(self, bank: _Bank, comes: int, goes: int | None) -> bool:
        """The bank may take a load once another has left it."""
        kit, size = self.kit, self.kit.banks[bank.kind]
        loads = bank.loads + Counter([comes])
        if goes is not None:
            loads -= Counter([goes])
        return (
            bank.kind in kit.fits_bank[comes]
            and self.columns[bank.output][1].outlet in kit.fits_outlet[comes]
            and sum(kit.types[t].channels * count for t, count in loads.items()) <= size.channels
            and sum(kit.types[t].load_uw * count for t, count in loads.items()) <= size.cap_uw
        )

    def _make(self, exchange: _Exchange) -> None:
        pairs = [(exchange.giver, exchange.taker, exchange.gives)]
        if exchange.takes is not None:
            pairs.append((exchange.taker, exchange.giver, exchange.takes))
        for giver, taker, t in pairs:
            for bank, sign in ((self.banks[giver], -1), (self.banks[taker], 1)):
                bank.loads[t] += sign
                bank.loads += Counter()
                self.load[bank.output] += sign * self.kit.types[t].load_uw
                self.supply_load[self.columns[bank.output][0]] += sign * self.kit.types[t].load_uw

    def _plan(self) -> Plan:
        columns: dict[int, list[Column]] = {}
        for output, (supply, column) in enumerate(self.columns):
            banks = sorted((b.kind, held(b.loads.elements())) for b in self.banks if b.output == output)
            columns.setdefault(supply, []).append(Column(column.outlet, tuple(banks), column.direct))
        return tuple(
            sorted(Filled(filled.supply, tuple(sorted(columns[n]))) for n, filled in enumerate(self.plan))
        )
