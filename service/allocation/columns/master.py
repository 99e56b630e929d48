"""The master program: how many of each column, supply and decoder, as a linear program that grows.

    min   sum cost[s] y[s] + sum cost[d] y[d] + sum big[t] out[t]
    load t:     sum_c n[t,c] x[c] + out[t]            >=  count[t]
    outlet o:   sum_c on o x[c] - number[o] y[s]      <=  0
    supply s:   sum_c watts[c] x[c] - total[s] y[s]   <=  0     (only where the total binds)
    bank k:     sum_c banks[k,c] x[c] - number[k] y[d] <= 0
    stock r:    sum of y that draw on r               <=  stock[r]
    floors:     sum cost[s] y[s] >= least supplies,  sum cost[d] y[d] >= least decoders

Columns cost nothing themselves, so that branching on y leaves the pricing as it is.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from service.allocation.quiet import linear_program
from service.allocation.search.kit import Kit
from service.allocation.search.plan import Column, column_uw, loads_of

PRIMAL, DUAL = 4, 1  # the program's own numbers for its two methods
WATT = 1e-6  # microwatts are too large for the program's tolerances


@dataclass(frozen=True, slots=True, order=True)
class Loose:
    """A content whose banks are pooled: good for the bound, not for building."""

    outlet: int
    banks: tuple[int, ...]
    loads: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Box:
    """Least and most of every kind of supply and decoder: one node of the branching."""

    low: tuple[int, ...]
    high: tuple[int, ...]


@dataclass(slots=True)
class Duals:
    """Shadow prices of the rows, all as non-negative numbers."""

    load: list[float]
    outlet: list[float]
    watt: list[float]
    bank: list[float]
    stock: list[float]
    floors: tuple[float, float]
    value: float = field(default=0.0)


class Master:
    """The linear program of one kit with the columns found so far."""

    def __init__(self, kit: Kit, floors: tuple[int, int] = (0, 0), big: float = 0.0) -> None:
        self.kit, self.floors = kit, floors
        self.columns: list[Column | Loose] = []
        self._known: dict[Column | Loose, int] = {}
        self.kinds = len(kit.supplies) + len(kit.decoders)
        self.costs = [kind.cost for kind in kit.supplies] + [kind.cost for kind in kit.decoders]
        self.box = Box((0,) * self.kinds, self.most())
        self.big = big or 4.0 * (sum(sorted(self.costs)[-3:]) + 1)
        self._number_rows()
        self.program: Any = linear_program()
        self._add_rows()
        self._add_kinds()
        self.x: list[float] = []

    def most(self) -> tuple[int, ...]:
        """No good plan has more units of a kind than there are loads or units."""
        loads = sum(self.kit.counts)
        rows = [kind.stock for kind in self.kit.supplies] + [kind.stock for kind in self.kit.decoders]
        return tuple(min(loads, self.kit.stock[row]) for row in rows)

    def _number_rows(self) -> None:
        kit = self.kit
        self.outlet_row = len(kit.types)
        self.watt_row = self.outlet_row + len(kit.outlets)
        self.bank_row = self.watt_row + len(kit.supplies)
        self.stock_row = self.bank_row + len(kit.banks)
        self.floor_row = self.stock_row + len(kit.stock)
        self.first_column = self.kinds + len(kit.types)

    def _add_rows(self) -> None:
        import highspy  # heavy: loaded only where the work is done

        self.inf: float = highspy.kHighsInf
        for count in self.kit.counts:
            self.program.addRow(float(count), self.inf, 0, [], [])
        for _ in range(self.watt_row - self.outlet_row + len(self.kit.supplies) + len(self.kit.banks)):
            self.program.addRow(-self.inf, 0.0, 0, [], [])
        for stock in self.kit.stock:
            self.program.addRow(-self.inf, float(stock), 0, [], [])
        for floor in self.floors:
            self.program.addRow(float(floor), self.inf, 0, [], [])

    def _add_kinds(self) -> None:
        kit = self.kit
        for number, kind in enumerate(kit.supplies):
            entries = {self.outlet_row + n: -float(kit.outlets[n].number) for n in kind.outlets}
            if kind.total_binds:
                entries[self.watt_row + number] = -kind.total_uw * WATT
            entries[self.stock_row + kind.stock] = 1.0
            entries[self.floor_row] = float(kind.cost)
            self._add(kind.cost, self.box.high[number], entries)
        for number, decoder in enumerate(kit.decoders):
            entries = {self.bank_row + n: -float(kit.banks[n].number) for n in decoder.banks}
            entries[self.stock_row + decoder.stock] = 1.0
            entries[self.floor_row + 1] = float(decoder.cost)
            self._add(decoder.cost, self.box.high[len(kit.supplies) + number], entries)
        for t in range(len(kit.types)):
            self._add(self.big, self.inf, {t: 1.0})

    def _add(self, cost: float, most: float, entries: dict[int, float]) -> None:
        kept = {row: value for row, value in sorted(entries.items()) if value}
        self.program.addCol(float(cost), 0.0, float(most), len(kept), list(kept), list(kept.values()))

    def add(self, column: Column | Loose) -> bool:
        """The column is in the program; False when it was before."""
        if column in self._known:
            return False
        kit = self.kit
        if isinstance(column, Loose):
            loads, banks = column.loads, Counter(column.banks)
            load_uw = sum(kit.types[t].load_uw * count for t, count in loads)
        else:
            loads, banks = loads_of(column), Counter(bank for bank, _ in column.banks)
            load_uw = column_uw(kit, column)
        entries = {t: float(count) for t, count in loads}
        entries[self.outlet_row + column.outlet] = 1.0
        supply = kit.outlets[column.outlet].supply
        if kit.supplies[supply].total_binds:
            entries[self.watt_row + supply] = load_uw * WATT
        entries.update({self.bank_row + n: float(count) for n, count in banks.items()})
        self._known[column] = len(self.columns)
        self.columns.append(column)
        self._add(0.0, self.inf, entries)
        return True

    def set_box(self, box: Box) -> None:
        """Bounds on how many of each kind."""
        self.box = box
        for number, (low, high) in enumerate(zip(box.low, box.high, strict=True)):
            self.program.changeColBounds(number, float(low), float(high))

    def close(self, number: int, closed: bool) -> None:
        """A column may not, or may again, be used."""
        self.program.changeColBounds(self.first_column + number, 0.0, 0.0 if closed else self.inf)

    def set_demand(
        self, counts: Sequence[int], outlets: Sequence[int], banks: Sequence[int], watts: Sequence[int]
    ) -> None:
        """What is still to be fed, and the outlets, banks and watts by supply that are already given away."""
        for t, count in enumerate(counts):
            self.program.changeRowBounds(t, float(count), self.inf)
        for n, count in enumerate(outlets):
            self.program.changeRowBounds(self.outlet_row + n, -self.inf, -float(count))
        for n, count in enumerate(banks):
            self.program.changeRowBounds(self.bank_row + n, -self.inf, -float(count))
        for n, load_uw in enumerate(watts):
            if not self.kit.supplies[n].total_binds:
                continue
            self.program.changeRowBounds(self.watt_row + n, -self.inf, -load_uw * WATT)

    def solve(self, columns_changed: bool = True) -> Duals | None:
        """Shadow prices of the optimum, or None when the box allows no plan at all.

        After new columns the primal method goes on where it stood, after new bounds the dual one does.
        """
        import highspy  # heavy: loaded only where the work is done

        self.program.setOptionValue("simplex_strategy", PRIMAL if columns_changed else DUAL)
        self.program.run()
        if self.program.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        solution = self.program.getSolution()
        self.x = list(solution.col_value)
        dual = list(solution.row_dual)
        turned = [max(0.0, -each) for each in dual]
        return Duals(
            load=[max(0.0, each) for each in dual[: self.outlet_row]],
            outlet=turned[self.outlet_row : self.watt_row],
            watt=[each * WATT for each in turned[self.watt_row : self.bank_row]],
            bank=turned[self.bank_row : self.stock_row],
            stock=turned[self.stock_row : self.floor_row],
            floors=(max(0.0, dual[self.floor_row]), max(0.0, dual[self.floor_row + 1])),
            value=float(self.program.getInfo().objective_function_value),
        )

    def shares(self) -> list[float]:
        """How much of each column the last optimum uses."""
        return self.x[self.first_column :]

    def amounts(self) -> list[float]:
        """How many of each kind of supply and decoder the last optimum uses."""
        return self.x[: self.kinds]

    def is_short(self) -> bool:
        """The last optimum leaves a load out."""
        return any(each > 1e-6 for each in self.x[self.kinds : self.first_column])

    def bound(self, duals: Duals, excess: Sequence[float]) -> float:
        """A proven lower bound from any prices, once every outlet's price is raised by its `excess`.

        The prices, divided by one number, must leave no unit worth more than it costs; where they do,
        the most units of that kind count against the bound. Both ways are tried.
        """
        kit = self.kit
        gain = [
            sum(kit.outlets[n].number * (duals.outlet[n] + excess[n]) for n in kind.outlets)
            + (kind.total_uw * duals.watt[number] if kind.total_binds else 0.0)
            - duals.stock[kind.stock]
            + kind.cost * duals.floors[0]
            for number, kind in enumerate(kit.supplies)
        ]
        gain += [
            sum(kit.banks[n].number * duals.bank[n] for n in kind.banks)
            - duals.stock[kind.stock]
            + kind.cost * duals.floors[1]
            for kind in kit.decoders
        ]
        worth = sum(price * count for price, count in zip(duals.load, kit.counts, strict=True))
        worth -= sum(price * count for price, count in zip(duals.stock, kit.stock, strict=True))
        worth += sum(price * floor for price, floor in zip(duals.floors, self.floors, strict=True))
        scale = max((each / cost for each, cost in zip(gain, self.costs, strict=True) if cost), default=1.0)
        return max(self._at_scale(worth, gain, 1.0), self._at_scale(worth, gain, max(1.0, scale)))

    def _at_scale(self, worth: float, gain: Sequence[float], scale: float) -> float:
        total = worth / scale
        for number, each in enumerate(gain):
            reduced = self.costs[number] - each / scale
            total += min(self.box.low[number] * reduced, self.box.high[number] * reduced)
        return total
