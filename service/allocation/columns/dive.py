"""From the linear program to a plan: columns are fixed a few at a time, and the rest priced again."""

from collections import Counter
from collections.abc import Sequence

from service.allocation.columns.fitting import within
from service.allocation.columns.master import Box, Loose
from service.allocation.columns.relax import COARSE_ROWS, Search, Sweep
from service.allocation.search.construct import Builder, in_order
from service.allocation.search.plan import Column, Filled, Plan, assemble, column_uw, loads_of, usage

NEARLY_WHOLE = 0.8
PRICING_ROUNDS = 1
PASSES = 3


class Dive:
    """One way down: what is fixed, and what is left to feed."""

    def __init__(self, search: Search, rounds: int = PRICING_ROUNDS) -> None:
        self.search, self.kit, self.rounds = search, search.kit, rounds
        self.left = list(self.kit.counts)
        self.fixed: list[Column] = []
        self.outlets = [0] * len(self.kit.outlets)
        self.banks = [0] * len(self.kit.banks)
        self.watts = [0] * len(self.kit.supplies)

    def run(self) -> Plan:
        """A plan that keeps the stock; loads that found no column are placed one by one."""
        master = self.search.master
        loose = [number for number, column in enumerate(master.columns) if isinstance(column, Loose)]
        for number in loose:
            master.close(number, True)
        try:
            while any(self.left) and self._step():
                pass
        finally:
            for number in loose:
                master.close(number, False)
            kit = self.kit
            master.set_demand(
                kit.counts, [0] * len(kit.outlets), [0] * len(kit.banks), [0] * len(kit.supplies)
            )
        return self._completed()

    def _step(self) -> bool:
        """Some columns more are fixed; False when the program offers none."""
        search, master = self.search, self.search.master
        master.set_demand(self.left, self.outlets, self.banks, self.watts)
        duals = master.solve(columns_changed=False)
        for _ in range(self.rounds):
            if duals is None:
                return False
            sweep = Sweep(search.coarse, self.left, COARSE_ROWS, PASSES, buildable=True)
            if not search.price(duals, sweep)[0]:
                break
            duals = master.solve()
        if duals is None:
            return False
        return self._fix(master.shares())

    def _fix(self, shares: Sequence[float]) -> bool:
        """Whole and nearly whole columns are taken; where there are none, the largest share."""
        columns, fixed = self.search.master.columns, 0
        order = sorted(
            (n for n, share in enumerate(shares) if share > 1e-6), key=lambda n: (-round(shares[n], 6), n)
        )
        for number in order:
            share = shares[number]
            if fixed and share < NEARLY_WHOLE:
                break
            column = columns[number]
            if isinstance(column, Loose):
                continue
            for _ in range(max(1, int(share + 1e-6))):
                kept = within(column, self.left)
                if kept is None or (fixed and kept != column) or not self._has_stock(kept):
                    break
                self._take(kept)
                fixed += 1
        return fixed > 0

    def _has_stock(self, column: Column) -> bool:
        """One unit more of what the column needs is in stock, whatever its other outputs do."""
        plan = assemble(self.kit, [*self.fixed, column]) if self._is_tight(column) else ()
        return all(count <= self.kit.stock[row] for row, count in usage(self.kit, plan).items())

    def _is_tight(self, column: Column) -> bool:
        rows = {self.kit.supplies[self.kit.outlets[column.outlet].supply].stock}
        rows |= {self.kit.decoders[self.kit.banks[bank].decoder].stock for bank, _ in column.banks}
        return any(self.kit.stock[row] <= len(self.fixed) * 4 + 4 for row in rows)

    def _take(self, column: Column) -> None:
        self.fixed.append(column)
        self.outlets[column.outlet] += 1
        for bank, _ in column.banks:
            self.banks[bank] += 1
        self.watts[self.kit.outlets[column.outlet].supply] += column_uw(self.kit, column)
        for t, count in loads_of(column):
            self.left[t] -= count

    def _completed(self) -> Plan:
        plan = tidy(self.search, assemble(self.kit, self.fixed))
        if any(self.left):
            builder = Builder(self.kit, plan)
            for t in in_order(self.kit, self.left, 0):
                builder.place(t)
            plan = tidy(self.search, builder.plan())
        return plan


def dive(search: Search, box: Box | None = None, rounds: int = PRICING_ROUNDS) -> Plan:
    """A plan from the last state of the program, inside a box where one is given."""
    if box is not None:
        search.master.set_box(box)
    search.work += 1
    return Dive(search, rounds).run()


def tidy(search: Search, plan: Plan) -> Plan:
    """Every output on the cheapest banks and supply that hold what it carries, within the stock."""
    kit = search.kit
    left = [stock - used for stock, used in zip(kit.stock, _used(kit.stock, usage(kit, plan)), strict=True)]
    columns: list[Column] = []
    kept: list[Filled] = []
    for filled in plan:
        better = [search.fitter.cheaper(column, left) for column in filled.columns]
        _settle(search, left, filled.columns, better)
        if [c.outlet for c in better] == [c.outlet for c in filled.columns]:
            kept.append(Filled(filled.supply, tuple(sorted(better))))
        else:
            columns.extend(better)
    return tuple(sorted([*kept, *assemble(kit, columns)]))


def _used(stock: Sequence[int], used: Counter[int]) -> list[int]:
    return [used[row] for row in range(len(stock))]


def _settle(search: Search, left: list[int], before: Sequence[Column], after: Sequence[Column]) -> None:
    """Units given back and taken when columns change their gear."""
    kit = search.kit
    for columns, sign in ((before, 1), (after, -1)):
        for column in columns:
            for bank, _ in column.banks:
                left[kit.decoders[kit.banks[bank].decoder].stock] += sign
            supply = kit.supplies[kit.outlets[column.outlet].supply]
            if len(supply.outlets) == 1 and kit.outlets[column.outlet].number == 1:
                left[supply.stock] += sign
