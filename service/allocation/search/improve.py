"""Improvement by taking some supplies apart: their loads are fed anew, and the better plan is kept."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from random import Random

from service.allocation.columns.bound import supply_floor
from service.allocation.columns.branch import Limits, branch
from service.allocation.columns.dive import tidy
from service.allocation.columns.relax import Depth, Search
from service.allocation.search.construct import greedy
from service.allocation.search.kit import Kit
from service.allocation.search.plan import (
    Filled,
    Plan,
    column_uw,
    faulty,
    missing,
    plan_cost,
    served,
    usage,
)

# Loads taken out at once, in turn; measured on the benchmark families.
SIZES = (34, 14)
SHALLOW = Depth(coarse_rounds=60, fine_rounds=1, passes=12)
QUICK = Depth(coarse_rounds=60, fine_rounds=0, passes=12)
# After so many tries without gain the search ends.
PATIENCE = 40


@dataclass(frozen=True, slots=True)
class Rounds:
    """How often to try, and how many nodes each try may grow."""

    tries: int
    nodes: int = 3
    seed: int = 0


def improve(
    kit: Kit, plan: Plan, bound: int, rounds: Rounds, must_stop: Callable[[], bool]
) -> tuple[Plan, int]:
    """A plan at most as costly that feeds the same loads, and the work it took."""
    random = Random(rounds.seed)
    cost, idle, work = plan_cost(kit, plan), 0, 0
    failed: set[frozenset[Filled] | tuple[Filled, ...]] = set()
    for number in range(rounds.tries):
        if cost <= bound or idle > PATIENCE or must_stop() or len(plan) < 2:
            break
        size = SIZES[number % len(SIZES)]
        chosen = _choose(kit, plan, size, random)
        taken = tuple(plan[n] for n in chosen)
        if taken in failed or len(taken) < 2:
            idle += 1
            continue
        rest = tuple(filled for n, filled in enumerate(plan) if n not in set(chosen))
        better, spent = _again(kit, rest, taken, rounds.nodes if size > 20 else 4 * rounds.nodes)
        work += spent
        new_cost = plan_cost(kit, better) if better is not None else cost
        if better is not None and new_cost < cost and not faulty(kit, better):
            plan, cost, idle = better, new_cost, 0
        else:
            failed.add(taken)
            idle += 1
    return plan, work


def _choose(kit: Kit, plan: Plan, size: int, random: Random) -> list[int]:
    """Supplies to take apart: mostly those that give little for their cost, sometimes any."""
    order = list(range(len(plan)))
    if random.random() < 0.4:
        random.shuffle(order)
    else:
        weight = [_dearness(kit, filled) * (0.5 + random.random()) for filled in plan]
        order.sort(key=lambda n: (-weight[n], n))
    chosen: list[int] = []
    loads = 0
    for n in order:
        own = sum(served(kit, (plan[n],)))
        if loads + own <= size or not chosen:
            chosen.append(n)
            loads += own
    return sorted(chosen)


def _dearness(kit: Kit, filled: Filled) -> float:
    """Cost of a supply and its decoders for each watt and channel it serves."""
    load_w = sum(column_uw(kit, column) for column in filled.columns) / 1e6
    channels = sum(kit.types[t].channels * count for t, count in enumerate(served(kit, (filled,))) if count)
    return plan_cost(kit, (filled,)) / (load_w + 6.0 * channels + 1.0)


def _again(kit: Kit, rest: Plan, taken: Plan, nodes: int) -> tuple[Plan | None, int]:
    """The loads of the supplies taken apart, fed anew with what the rest leaves in stock."""
    part = part_kit(kit, served(kit, taken), rest)
    allowed = plan_cost(kit, tuple(sorted([*rest, *taken]))) - plan_cost(kit, rest)
    floor = supply_floor(part)
    if floor >= allowed:
        return None, 1
    search = Search(part, (floor, 0), fine_steps=1200, coarse_steps=200)
    search.add_plan(taken)
    start = tidy(search, greedy(part))
    search.add_plan(start)
    best, limit = None, allowed
    if not any(missing(part, start)) and plan_cost(part, start) < limit:
        best, limit = start, plan_cost(part, start)
    depth = SHALLOW if nodes > 6 else QUICK
    outcome = branch(search, limit, Limits(nodes, 0.1, depth), lambda: False, floor)
    best = outcome.plan if outcome.plan is not None else best
    return (tuple(sorted([*rest, *best])) if best is not None else None), search.work


def part_kit(kit: Kit, counts: Sequence[int], rest: Plan) -> Kit:
    """The kit with only so many loads of each type, and only the units that a plan leaves over."""
    used = usage(kit, rest)
    return replace(
        kit,
        members=tuple(each[:count] for each, count in zip(kit.members, counts, strict=True)),
        stock=tuple(stock - used[row] for row, stock in enumerate(kit.stock)),
    )
