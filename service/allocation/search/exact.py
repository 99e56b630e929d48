"""Small parts as one whole-number model over every unit there is, one aim after another.

Every unit that could be of use has its own place in the model, so "optimal" means optimal: no number
of supplies or decoders has been guessed beforehand.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from service.allocation.search.kit import Kit
from service.allocation.search.plan import (
    Column,
    Filled,
    Plan,
    left_by_priority,
    missing,
    plan_cost,
)
from service.allocation.search.watch import never, solve_watched

# Beyond this many bank-output pairs the model is slower than the column search.
PAIRS_AT_MOST = 1500
LEAF_PAIRS = 1500


@dataclass(frozen=True, slots=True)
class Verdict:
    """The best plan found; what it leaves out by priority; and what is proven about both."""

    plan: Plan
    cost: int
    left_uw: dict[int, int]
    left_bound_uw: dict[int, int]
    bound: int
    proven: bool
    work: float


@dataclass(frozen=True, slots=True)
class _Place:
    """An output or a bank of one unit: its kind, the unit's number, and whether the unit is in use."""

    kind: int
    unit: int
    used: Any


class _Model:
    """The part as variables: which unit is in use, which bank is on which output, who is where."""

    def __init__(self, kit: Kit) -> None:
        from ortools.sat.python import cp_model  # heavy: loaded only where the work is done

        self.kit = kit
        self.model: Any = cp_model.CpModel()
        self.scale = math.gcd(*(load.load_uw for load in kit.types)) or 1
        self.weights = [load.load_uw // self.scale for load in kit.types]
        self.supply_use, self.outputs = self._supplies()
        self.decoder_use, self.banks = self._decoders()
        self.joined = {
            (b, o): self.model.new_bool_var(f"join {b} {o}")
            for b, bank in enumerate(self.banks)
            for o, output in enumerate(self.outputs)
            if kit.bank_cell[bank.kind] == kit.outlet_cell[output.kind]
        }
        self.held = self._held()
        self.left = [self.model.new_int_var(0, count, "left") for count in kit.counts]
        self._carry()
        self._feed_all()
        self._keep_stock()

    def _supplies(self) -> tuple[list[tuple[int, Any]], list[_Place]]:
        used: list[tuple[int, Any]] = []
        outputs: list[_Place] = []
        for number, kind in enumerate(self.kit.supplies):
            serves = [t for t, load in enumerate(self.kit.types) if set(load.outlets) & set(kind.outlets)]
            for on in self._units(self.kit.stock[kind.stock], serves):
                unit = len(used)
                used.append((number, on))
                outputs.extend(
                    _Place(outlet, unit, on)
                    for outlet in kind.outlets
                    for _ in range(self.kit.outlets[outlet].number)
                )
        return used, outputs

    def _decoders(self) -> tuple[list[tuple[int, Any]], list[_Place]]:
        used: list[tuple[int, Any]] = []
        banks: list[_Place] = []
        for number, kind in enumerate(self.kit.decoders):
            serves = [t for t, load in enumerate(self.kit.types) if set(load.banks) & set(kind.banks)]
            for on in self._units(self.kit.stock[kind.stock], serves):
                unit = len(used)
                used.append((number, on))
                banks.extend(
                    _Place(bank, unit, on) for bank in kind.banks for _ in range(self.kit.banks[bank].number)
                )
        return used, banks

    def _units(self, stock: int, serves: Sequence[int]) -> list[Any]:
        """As many units as there are loads for them; equal ones are used in order."""
        wanted = min(stock, sum(self.kit.counts[kind] for kind in serves))
        units = [self.model.new_bool_var("unit") for _ in range(wanted)]
        for first, second in pairwise(units):
            self.model.add_implication(second, first)
        return units

    def _held(self) -> dict[tuple[int, int, bool], Any]:
        """How many loads of a type each bank, or each output directly, holds."""
        variables: dict[tuple[int, int, bool], Any] = {}
        for t, load in enumerate(self.kit.types):
            places = self.banks if load.channels else self.outputs
            fits = self.kit.fits_bank[t] if load.channels else self.kit.fits_outlet[t]
            for p, place in enumerate(places):
                if place.kind in fits:
                    variables[t, p, load.channels > 0] = self.model.new_int_var(0, self.kit.counts[t], "held")
        return variables

    def _carry(self) -> None:
        """Banks keep channels and watts, outputs and supplies their watts.

        for a bank b on output o:  flow[b,o] <= cap[o] join[b,o],   sum_o flow[b,o] = sum_t w[t] held[t,b]
        for an output o:           sum_b flow[b,o] + direct <= cap[o]
        """
        add, kit = self.model.add, self.kit
        flow: dict[tuple[int, int], Any] = {}
        for (b, o), join in self.joined.items():
            cap = (
                min(kit.outlets[self.outputs[o].kind].cap_uw, kit.banks[self.banks[b].kind].cap_uw)
                // self.scale
            )
            flow[b, o] = self.model.new_int_var(0, cap, "flow")
            add(flow[b, o] <= cap * join)
            for t in range(len(kit.types)):
                if (t, b, True) in self.held and self.outputs[o].kind not in kit.fits_outlet[t]:
                    add(self.held[t, b, True] <= kit.counts[t] * (1 - join))
        for b, bank in enumerate(self.banks):
            inside = [(t, var) for (t, p, on_bank), var in self.held.items() if on_bank and p == b]
            joins = [join for (p, _), join in self.joined.items() if p == b]
            add(sum(joins) <= bank.used)
            size = kit.banks[bank.kind]
            add(sum(kit.types[t].channels * var for t, var in inside) <= size.channels * sum(joins))
            own = [var for (p, _), var in flow.items() if p == b]
            add(sum(own) == sum(self.weights[t] * var for t, var in inside))
        spent: dict[int, list[Any]] = {}
        for o, output in enumerate(self.outputs):
            terms = [var for (_, p), var in flow.items() if p == o]
            terms += [
                self.weights[t] * var for (t, p, on_bank), var in self.held.items() if not on_bank and p == o
            ]
            add(sum(terms) <= kit.outlets[output.kind].cap_uw // self.scale * output.used)
            for (_, p), join in self.joined.items():
                if p == o:
                    self.model.add_implication(join, output.used)
            spent.setdefault(output.unit, []).extend(terms)
        for unit, terms in spent.items():
            kind = kit.supplies[self.supply_use[unit][0]]
            if kind.total_binds:
                add(sum(terms) <= kind.total_uw // self.scale)

    def _feed_all(self) -> None:
        """sum over places of held[t] + left[t] = count[t]"""
        for t, count in enumerate(self.kit.counts):
            own = [var for (kind, _, _), var in self.held.items() if kind == t]
            self.model.add(sum(own) + self.left[t] == count)

    def _keep_stock(self) -> None:
        for row, stock in enumerate(self.kit.stock):
            own = [on for number, on in self.supply_use if self.kit.supplies[number].stock == row]
            own += [on for number, on in self.decoder_use if self.kit.decoders[number].stock == row]
            if len(own) > stock:
                self.model.add(sum(own) <= stock)

    def left_watts(self, priority: int) -> Any:
        """Scaled load left out at one priority."""
        kinds = [t for t, load in enumerate(self.kit.types) if load.priority == priority]
        return sum(self.weights[t] * self.left[t] for t in kinds)

    def cost(self) -> Any:
        """Weight of every unit in use."""
        supplies = sum(self.kit.supplies[number].cost * on for number, on in self.supply_use)
        return supplies + sum(self.kit.decoders[number].cost * on for number, on in self.decoder_use)

    def read(self, solver: Any) -> Plan:
        """The plan that the solved variables tell."""
        columns: dict[int, list[Column]] = {}
        for o, output in enumerate(self.outputs):
            banks = [
                (self.banks[b].kind, inside)
                for (b, p), join in self.joined.items()
                if p == o and solver.value(join) and (inside := self._inside(solver, b, True))
            ]
            column = Column(output.kind, tuple(sorted(banks)), self._inside(solver, o, False))
            if column.banks or column.direct:
                columns.setdefault(output.unit, []).append(column)
        return tuple(
            sorted(Filled(self.supply_use[unit][0], tuple(sorted(own))) for unit, own in columns.items())
        )

    def _inside(self, solver: Any, place: int, on_bank: bool) -> tuple[tuple[int, int], ...]:
        return tuple(
            sorted(
                (t, solver.value(var))
                for (t, p, bank), var in self.held.items()
                if p == place and bank == on_bank and solver.value(var)
            )
        )

    def hint(self, plan: Plan) -> None:
        """The search starts from this plan."""
        self.model.clear_hints()
        free_supplies = list(range(len(self.supply_use)))
        free_banks = list(range(len(self.banks)))
        on: dict[int, int] = {}
        joins: set[tuple[int, int]] = set()
        inside: dict[tuple[int, int, bool], int] = {}
        for filled in plan:
            unit = next((u for u in free_supplies if self.supply_use[u][0] == filled.supply), None)
            if unit is None:
                return
            free_supplies.remove(unit)
            on[unit] = 1
            outputs = [o for o, output in enumerate(self.outputs) if output.unit == unit]
            for column in filled.columns:
                o = next(o for o in outputs if self.outputs[o].kind == column.outlet)
                outputs.remove(o)
                for kind, count in column.direct:
                    inside[kind, o, False] = count
                for bank, content in column.banks:
                    b = next((b for b in free_banks if self.banks[b].kind == bank), None)
                    if b is None:
                        return
                    free_banks.remove(b)
                    joins.add((b, o))
                    for kind, count in content:
                        inside[kind, b, True] = count
        for unit, (_, var) in enumerate(self.supply_use):
            self.model.add_hint(var, on.get(unit, 0))
        for pair, var in self.joined.items():
            self.model.add_hint(var, int(pair in joins))
        for key, var in self.held.items():
            self.model.add_hint(var, inside.get(key, 0))


def solve_exactly(
    kit: Kit,
    start: Plan,
    effort: float = 4.0,
    seed: int = 0,
    cost_floor: int = 0,
    must_stop: Callable[[], bool] = never,
) -> Verdict | None:
    """The best plan over all units there are, proven level by level; None when the part is too large.

    `effort` is the solver's deterministic time for each level, `start` the plan it must not fall behind.
    """
    if not _is_small(kit):
        return None
    model = _Model(kit)
    plan, work = start, 0.0
    left_bound: dict[int, int] = {}
    proven = True
    for priority in sorted({load.priority for load in kit.types}):
        amount = model.left_watts(priority)
        best = _left(kit, plan, priority) // model.scale
        floor = 0
        if best:
            model.model.minimize(amount)
            model.hint(plan)
            told = _run(model, effort, seed, must_stop)
            work += told.work
            floor = told.bound
            if told.plan is not None and _left(kit, told.plan, priority) // model.scale < best:
                plan, best = told.plan, _left(kit, told.plan, priority) // model.scale
            proven = proven and floor >= best
        model.model.add(amount <= best)
        left_bound[priority] = min(floor, best) * model.scale
    cost = plan_cost(kit, plan)
    model.model.add(model.cost() <= cost)
    model.model.add(model.cost() >= cost_floor)
    model.model.minimize(model.cost())
    model.hint(plan)
    told = _run(model, effort, seed, must_stop)
    if told.plan is not None and plan_cost(kit, told.plan) < cost:
        plan, cost = told.plan, plan_cost(kit, told.plan)
    bound = min(cost, max(told.bound, cost_floor))
    # A level whose optimum was not proven may have been beaten on the way to a lower cost.
    left = left_by_priority(kit, plan)
    left_bound = {priority: min(left[priority], floor) for priority, floor in left_bound.items()}
    return Verdict(plan, cost, left, left_bound, bound, proven and bound == cost, work + told.work)


def _is_small(kit: Kit, most: int = PAIRS_AT_MOST) -> bool:
    """The pairs of banks and outputs that the model would need are few."""
    loads = sum(kit.counts)
    outputs = [0] * len(kit.cells)
    banks = [0] * len(kit.cells)
    for kind in kit.supplies:
        outputs[kind.cell] += min(loads, kit.stock[kind.stock]) * sum(
            kit.outlets[n].number for n in kind.outlets
        )
    for decoder in kit.decoders:
        banks[decoder.cell] += min(loads, kit.stock[decoder.stock]) * sum(
            kit.banks[n].number for n in decoder.banks
        )
    return sum(a * b for a, b in zip(outputs, banks, strict=True)) <= most


def _left(kit: Kit, plan: Plan, priority: int) -> int:
    pairs = zip(kit.types, missing(kit, plan), strict=True)
    return sum(load.load_uw * count for load, count in pairs if load.priority == priority)


@dataclass(frozen=True, slots=True)
class _Told:
    plan: Plan | None
    bound: int
    work: float


def _run(model: _Model, effort: float, seed: int, must_stop: Callable[[], bool]) -> _Told:
    if must_stop():
        return _Told(None, 0, 0.0)
    from ortools.sat.python import cp_model  # heavy: loaded only where the work is done

    solver: Any = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.max_deterministic_time = effort
    status = solve_watched(solver, model.model, must_stop)
    plan = model.read(solver) if status in (cp_model.OPTIMAL, cp_model.FEASIBLE) else None
    bound = math.ceil(solver.best_objective_bound - 1e-6) if status != cp_model.UNKNOWN else 0
    return _Told(plan, max(0, bound), solver.response_proto.deterministic_time)


def pack_exactly(kit: Kit, effort: float, seed: int = 0) -> tuple[bool | None, Plan | None]:
    """Whether the units of the kit can feed every load: yes with a plan, no, or not known (None)."""
    from ortools.sat.python import cp_model  # heavy: loaded only where the work is done

    if not _is_small(kit, LEAF_PAIRS):
        return None, None
    model = _Model(kit)
    for left in model.left:
        model.model.add(left == 0)
    solver: Any = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.max_deterministic_time = effort
    status = solver.solve(model.model)
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return True, model.read(solver)
    return (False, None) if status == cp_model.INFEASIBLE else (None, None)
