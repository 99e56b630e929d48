"""Scarce stock joins the parts: what each may have so that the most is fed, and all at least cost."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from service.allocation.columns.bound import cover
from service.allocation.loads import Load
from service.allocation.quiet import linear_program
from service.allocation.search.construct import Builder, greedy, in_order
from service.allocation.search.exact import Verdict, solve_exactly
from service.allocation.search.kit import Kit, StockKey, Store, build_kit
from service.allocation.search.part import first_plan, open_verdict, worth
from service.allocation.search.plan import Plan, left_by_priority, missing, plan_cost, usage
from service.allocation.search.pool import Option, cut_down, option, pool, thin
from service.allocation.search.watch import Pace, solve_watched

JOINT_LOADS = 24
JOINT_EFFORT = 8.0
CHOICE_EFFORT = 4.0
REPAIR_EFFORT = 1.0
# What a watt left dark weighs against cost when scarce units get their prices.
DARK_PER_W = 1000.0


def share_stock(
    kits: Sequence[Kit], verdicts: Sequence[Verdict], loads: Sequence[Load], store: Store, pace: Pace
) -> tuple[list[Kit], list[Verdict]]:
    """Kits and plans that together stay within the store; proven together where they are few and small."""
    if len(loads) <= JOINT_LOADS:
        joint = build_kit(loads, store)
        effort = JOINT_EFFORT * pace.effort.scale
        start = first_plan(joint, pace.must_stop)
        verdict = solve_exactly(joint, start, effort, pace.effort.seed, must_stop=pace.must_stop)
        if verdict is not None:
            return [joint], [verdict]
    left = {key: store.left(key) for key in store.units}
    shared = Sharing(list(kits), left, pace)
    plans = shared.solve([verdict.plan for verdict in verdicts])
    return list(kits), bounded(kits, plans, verdicts, left)


@dataclass(slots=True)
class Sharing:
    """Parts that draw on one store."""

    kits: list[Kit]
    left: Mapping[StockKey, int]
    pace: Pace

    def solve(self, known: Sequence[Plan]) -> list[Plan]:
        """One plan for each part, together within the store; never worse than what is found at once."""
        stop = self.pace.must_stop
        first = [greedy(kit) for kit in self.kits]
        best = self.at_once(first)
        pools = [pool(kit, [plan], None, stop) for kit, plan in zip(self.kits, first, strict=True)]
        best = min(best, self.picked(pools), key=self.worth)
        if not stop():
            pools = [
                thin([*options, *cut_down(kit, plan)])
                for options, kit, plan in zip(pools, self.kits, known, strict=True)
            ]
            best = min(best, self.picked(self.sparing(pools)), key=self.worth)
        return best

    def at_once(self, known: Sequence[Plan]) -> list[Plan]:
        """Part after part, the heaviest first, from what the ones before have left; then whatever fits."""
        left = Counter(self.left)
        plans = list(known)
        for number in sorted(range(len(plans)), key=lambda n: (-self.kits[n].total_uw(), n)):
            kit = self.kits[number]
            limited = replace(kit, stock=tuple(left[key] for key in kit.stock_keys))
            plans[number] = greedy(limited)
            left.subtract({kit.stock_keys[row]: c for row, c in usage(kit, plans[number]).items()})
        return self.insert(plans, thorough=False)

    def worth(self, plans: Sequence[Plan]) -> tuple[tuple[int, ...], int]:
        """Smaller is better: watts dark by priority over all parts, then the weight of the gear."""
        left: Counter[int] = Counter()
        for kit, plan in zip(self.kits, plans, strict=True):
            left.update(left_by_priority(kit, plan))
        cost = sum(plan_cost(kit, plan) for kit, plan in zip(self.kits, plans, strict=True))
        return tuple(left[priority] for priority in sorted(left)), cost

    def sparing(self, pools: Sequence[Sequence[Option]]) -> list[Sequence[Option]]:
        """The options and others that spare what is scarce."""
        prices = self.prices(pools)
        more = list(pools)
        for number, kit in enumerate(self.kits):
            dear = [prices.get(key, 0.0) for key in kit.stock_keys]
            if any(dear) and not self.pace.must_stop():
                more[number] = thin([*pools[number], *pool(kit, [], dear, self.pace.must_stop)])
        return more

    def picked(self, pools: Sequence[Sequence[Option]]) -> list[Plan]:
        """The best choice of one option each, and then whatever still fits."""
        start = self.largest_first(pools)
        return self.insert([one.plan for one in self.choose(pools, start)])

    def largest_first(self, pools: Sequence[Sequence[Option]]) -> list[Option]:
        """Part after part, the heaviest first, the best that what is left still allows."""
        left = Counter(self.left)
        chosen: list[Option | None] = [None] * len(pools)
        for number in sorted(range(len(pools)), key=lambda n: (-self.kits[n].total_uw(), n)):
            kit = self.kits[number]
            possible = (
                one
                for one in pools[number]
                if all(left[kit.stock_keys[row]] >= count for row, count in one.taken)
            )
            one = min(possible, key=lambda o: (o.left_uw, o.cost, o.plan), default=option(kit, ()))
            chosen[number] = one
            for row, count in one.taken:
                left[kit.stock_keys[row]] -= count
        return [one for one in chosen if one is not None]

    def prices(self, pools: Sequence[Sequence[Option]]) -> dict[StockKey, float]:
        """What one more unit of each model would save, from the choice as a linear program."""
        keys = sorted(self.left)
        row_of = {key: len(pools) + number for number, key in enumerate(keys)}
        program: Any = linear_program()
        infinity = program.getInfinity()
        for _ in pools:
            program.addRow(1.0, 1.0, 0, [], [])
        for key in keys:
            program.addRow(-infinity, float(self.left[key]), 0, [], [])
        for number, options in enumerate(pools):
            stock_keys = self.kits[number].stock_keys
            for one in options:
                entries = {number: 1.0}
                entries.update({row_of[stock_keys[row]]: float(count) for row, count in one.taken})
                weight = one.cost + DARK_PER_W * sum(one.left_uw) / 1e6
                program.addCol(weight, 0.0, infinity, len(entries), list(entries), list(entries.values()))
        program.run()
        dual = list(program.getSolution().row_dual)
        return {key: -dual[row] for key, row in row_of.items() if dual and dual[row] < -1e-6}

    def choose(self, pools: Sequence[Sequence[Option]], start: Sequence[Option]) -> list[Option]:
        """One option for each part: least left dark by priority, then least cost."""
        choice = _Choice(pools, [kit.stock_keys for kit in self.kits], self.left)
        return choice.solve(start, CHOICE_EFFORT * self.pace.effort.scale, self.pace)

    def insert(self, plans: Sequence[Plan], thorough: bool = True) -> list[Plan]:
        """What is still dark goes wherever there is room or a unit left, the most urgent first.

        `thorough`: the parts it concerns are worked out anew with what is left for them.
        """
        left = Counter(self.left)
        for kit, plan in zip(self.kits, plans, strict=True):
            left.subtract({kit.stock_keys[row]: count for row, count in usage(kit, plan).items()})
        filled = list(plans)
        urgent = sorted(
            range(len(plans)),
            key=lambda n: (_first_dark(self.kits[n], plans[n]), -self.kits[n].total_uw(), n),
        )
        for number in urgent:
            kit, plan = self.kits[number], filled[number]
            own = usage(kit, plan)
            stock = tuple(left[key] + own[row] for row, key in enumerate(kit.stock_keys))
            filled[number] = self._fuller(replace(kit, stock=stock), plan, thorough)
            left.update({kit.stock_keys[row]: count for row, count in own.items()})
            left.subtract({kit.stock_keys[row]: count for row, count in usage(kit, filled[number]).items()})
        return filled

    def _fuller(self, kit: Kit, plan: Plan, thorough: bool) -> Plan:
        """The part with what is left for it: loads put where there is room, then it is worked out anew."""
        builder = Builder(kit, plan)
        for t in in_order(kit, missing(kit, plan), 0):
            builder.place(t)
        fuller = builder.plan()
        if not thorough or not any(missing(kit, fuller)) or self.pace.must_stop():
            return fuller
        anew = first_plan(kit, self.pace.must_stop)
        fuller = min(fuller, anew, key=lambda one: worth(kit, one))
        effort = REPAIR_EFFORT * self.pace.effort.scale
        verdict = solve_exactly(kit, fuller, effort, self.pace.effort.seed, must_stop=self.pace.must_stop)
        return verdict.plan if verdict is not None else fuller


def _first_dark(kit: Kit, plan: Plan) -> int:
    pairs = zip(kit.types, missing(kit, plan), strict=True)
    return min((load.priority for load, count in pairs if count), default=10**6)


class _Choice:
    """One option a part under the stock, as a whole-number model."""

    def __init__(
        self,
        pools: Sequence[Sequence[Option]],
        keys: Sequence[Sequence[StockKey]],
        left: Mapping[StockKey, int],
    ) -> None:
        from ortools.sat.python import cp_model  # heavy: loaded only where the work is done

        self.cp, self.pools = cp_model, pools
        self.model: Any = cp_model.CpModel()
        self.picked = [[self.model.new_bool_var("") for _ in options] for options in pools]
        taken: dict[StockKey, list[Any]] = {}
        for number, options in enumerate(pools):
            self.model.add_exactly_one(self.picked[number])
            for one, var in zip(options, self.picked[number], strict=True):
                for row, count in one.taken:
                    taken.setdefault(keys[number][row], []).append(count * var)
        for key, terms in sorted(taken.items()):
            self.model.add(sum(terms) <= left[key])

    def solve(self, start: Sequence[Option], effort: float, pace: Pace) -> list[Option]:
        """Level after level, each holding the ones before."""
        best = list(start)
        priorities = sorted(
            {priority for options in self.pools for one in options for priority, _ in one.left}
        )
        for priority in priorities:
            amount = self._total(lambda one, p=priority: dict(one.left).get(p, 0) // 1000)
            best = self._level(amount, best, effort, pace)
            got = sum(dict(one.left).get(priority, 0) // 1000 for one in best)
            self.model.add(amount <= got)
        return self._level(self._total(lambda one: one.cost), best, effort, pace)

    def _total(self, measure: Any) -> Any:
        return sum(
            measure(one) * var
            for options, row in zip(self.pools, self.picked, strict=True)
            for one, var in zip(options, row, strict=True)
        )

    def _level(self, amount: Any, best: list[Option], effort: float, pace: Pace) -> list[Option]:
        if pace.must_stop():
            return best
        self.model.minimize(amount)
        self.model.clear_hints()
        for options, row, chosen in zip(self.pools, self.picked, best, strict=True):
            for one, var in zip(options, row, strict=True):
                self.model.add_hint(var, one == chosen)
        solver: Any = self.cp.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = pace.effort.seed
        solver.parameters.max_deterministic_time = effort
        if solve_watched(solver, self.model, pace.must_stop) not in (self.cp.OPTIMAL, self.cp.FEASIBLE):
            return best
        return [
            next(one for one, var in zip(options, row, strict=True) if solver.value(var))
            for options, row in zip(self.pools, self.picked, strict=True)
        ]


def bounded(
    kits: Sequence[Kit], plans: Sequence[Plan], alone: Sequence[Verdict], left: Mapping[StockKey, int]
) -> list[Verdict]:
    """The plans with what is proven of them together; joint bounds stand with the first part.

    What each part needs when it has the store to itself stays a bound while all is fed.
    """
    verdicts = [open_verdict(kit, plan) for kit, plan in zip(kits, plans, strict=True)]
    if not any(uw for verdict in verdicts for uw in verdict.left_uw.values()):
        floors = [min(v.cost, a.bound) for v, a in zip(verdicts, alone, strict=True)]
        return [
            replace(v, bound=floor, proven=floor == v.cost) for v, floor in zip(verdicts, floors, strict=True)
        ]
    dark = dark_floor(kits, left)
    fed_uw = sum(kit.total_uw() for kit in kits) - sum(
        uw for verdict in verdicts for uw in verdict.left_uw.values()
    )
    floor = _supplies_for(kits, fed_uw, left)
    return [
        replace(verdict, left_bound_uw=dark if n == 0 else {}, bound=floor if n == 0 else 0)
        for n, verdict in enumerate(verdicts)
    ]


def dark_floor(kits: Sequence[Kit], left: Mapping[StockKey, int]) -> dict[int, int]:
    """Watts of the most urgent priority that all supplies together cannot carry, voltage by voltage.

    Lower priorities get no floor of their own: what is dark there depends on what is dark above.
    """
    urgent = min((load.priority for kit in kits for load in kit.types), default=0)
    need: Counter[int] = Counter()
    have: Counter[int] = Counter()
    counted: set[tuple[int, StockKey]] = set()
    for kit in kits:
        for load, count in zip(kit.types, kit.counts, strict=True):
            cell = next((kit.outlet_cell[n] for n in load.outlets), None)
            if load.priority == urgent and cell is not None:
                need[kit.cells[cell].class_mv] += load.load_uw * count
        for kind in kit.supplies:
            class_mv, key = kit.cells[kind.cell].class_mv, kit.stock_keys[kind.stock]
            if (class_mv, key) not in counted:
                counted.add((class_mv, key))
                have[class_mv] += kind.total_uw * left[key]
    return {urgent: sum(max(0, need[class_mv] - have[class_mv]) for class_mv in sorted(need))}


def _supplies_for(kits: Sequence[Kit], fed_uw: int, left: Mapping[StockKey, int]) -> int:
    """The least that supplies for so many watts cost, whichever loads those are."""
    kinds = {(kit.stock_keys[k.stock], k.total_uw, k.cost) for kit in kits for k in kit.supplies}
    free_uw = sum(total_uw * left[key] for key, total_uw, cost in kinds if cost == 0)
    return cover(fed_uw - free_uw, sorted((uw, cost) for _, uw, cost in kinds if cost))
