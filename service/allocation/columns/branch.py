"""Proof by counts: what a plan costs depends only on how many of each model it takes.

The tree branches on those numbers, so the pricing stays as it is; where all numbers are whole, a
packing question remains, settled by the whole-number model with exactly that gear.
"""

import heapq
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from service.allocation.columns.dive import dive
from service.allocation.columns.leaf import pack_leaf
from service.allocation.columns.master import Box
from service.allocation.columns.relax import DEEP, Depth, Search
from service.allocation.search.kit import Kit
from service.allocation.search.plan import Plan, faulty, missing, plan_cost

# Nodes at which a plan is looked for.
DIVES = frozenset({1, 2, 3, 4, 6, 9, 13, 20, 30, 50, 80, 120, 200})


@dataclass(frozen=True, slots=True)
class Limits:
    """How far a tree may grow, in nodes and in the whole-number model's deterministic time a leaf."""

    nodes: int = 200
    leaf_work: float = 0.5
    depth: Depth = DEEP


@dataclass(slots=True)
class Tree:
    """Boxes still open, the best plan, and boxes whose leaf could not be settled."""

    search: Search
    limits: Limits
    plan: Plan | None
    cost: int
    unsettled: list[float]
    nodes: int = 0

    def offer(self, plan: Plan) -> bool:
        """The plan is taken when it feeds all, breaks nothing and costs less."""
        kit = self.search.kit
        if any(missing(kit, plan)) or plan_cost(kit, plan) >= self.cost or faulty(kit, plan):
            return False
        self.plan, self.cost = plan, plan_cost(kit, plan)
        self.search.add_plan(plan)
        return True


@dataclass(frozen=True, slots=True)
class Outcome:
    """The best plan feeding everything (None: none better than the one given) and a proven bound."""

    plan: Plan | None
    cost: int
    bound: int
    nodes: int


def branch(
    search: Search,
    cost: int,
    limits: Limits,
    must_stop: Callable[[], bool],
    floor: int = 0,
) -> Outcome:
    """The cheapest plan below `cost` that feeds every load, as far as the limits allow to look."""
    tree = Tree(search, limits, None, cost, [])
    master = search.master
    top = Box((0,) * master.kinds, master.most())
    heap: list[tuple[float, int, Box]] = [(float(floor), 0, top)]
    order, bound = 1, floor
    while heap:
        bound = max(bound, _lowest(tree, heap))
        if bound >= tree.cost or tree.nodes >= limits.nodes or must_stop():
            break
        if search.rounded(heap[0][0]) >= tree.cost:
            break
        above, _, box = heapq.heappop(heap)
        for low, child in _expand(tree, above, box):
            heapq.heappush(heap, (low, order, child))
            order += 1
    bound = max(bound, _lowest(tree, heap))
    return Outcome(tree.plan, tree.cost, min(tree.cost, bound), tree.nodes)


def _lowest(tree: Tree, heap: Sequence[tuple[float, int, Box]]) -> int:
    """No plan outside the settled boxes costs less than this."""
    lows = [heap[0][0]] if heap else []
    lowest = min([*lows, *tree.unsettled], default=math.inf)
    return min(tree.cost, tree.search.rounded(lowest))


def _expand(tree: Tree, above: float, box: Box) -> list[tuple[float, Box]]:
    """The children of a box, or none when it is settled."""
    search = tree.search
    tree.nodes += 1
    relaxed = search.relax(box, tree.cost, tree.limits.depth)
    low = max(above, relaxed.bound)
    if search.rounded(low) >= tree.cost or relaxed.duals is None:
        return []
    amounts = search.master.amounts()
    fraction = [abs(each - round(each)) for each in amounts]
    if max(fraction) < 1e-6 and not search.master.is_short():
        return _leaf(tree, low, box, [round(each) for each in amounts])
    if tree.nodes in DIVES:
        tree.offer(dive(search, box))
        if search.rounded(low) >= tree.cost:
            return []
    if max(fraction) < 1e-6:
        return _widest(low, box)
    number = max(
        range(len(amounts)),
        key=lambda n: (fraction[n] > 1e-6, search.master.costs[n] * (0.1 + fraction[n]), -n),
    )
    return _split(low, box, number, math.floor(amounts[number] + 1e-7))


def _split(low: float, box: Box, number: int, below: int) -> list[tuple[float, Box]]:
    """At most `below` of one kind, or more."""
    high, least = list(box.high), list(box.low)
    high[number] = below
    least[number] = below + 1
    children = [Box(box.low, tuple(high)), Box(tuple(least), box.high)]
    return [(low, child) for child in children if child.low[number] <= child.high[number]]


def _widest(low: float, box: Box) -> list[tuple[float, Box]]:
    """A box whose program leaves loads out is cut where it is widest; a single point is settled."""
    width = [high - least for high, least in zip(box.high, box.low, strict=True)]
    number = max(range(len(width)), key=lambda n: (width[n], -n))
    if width[number] == 0:
        return []
    return _split(low, box, number, (box.low[number] + box.high[number]) // 2)


def _leaf(tree: Tree, low: float, box: Box, counts: list[int]) -> list[tuple[float, Box]]:
    """Whole numbers of everything: do the loads fit exactly that gear? If not, the boxes around it."""
    kit = tree.search.kit
    # Where leaves do not settle, more of the same kind seldom do: each gets less work than the one before.
    effort = tree.limits.leaf_work / (1 + len(tree.unsettled))
    told, plan = pack_leaf(limited(kit, counts), tree.search.fitter, effort)
    if plan is not None and tree.offer(plan):
        return []
    if told is None:
        tree.unsettled.append(low)
    children = []
    for number, count in enumerate(counts):
        for side in (0, 1):
            least = [max(a, b) for a, b in zip(box.low[:number], counts[:number], strict=True)]
            most = [min(a, b) for a, b in zip(box.high[:number], counts[:number], strict=True)]
            new_low, new_high = [*least, *box.low[number:]], [*most, *box.high[number:]]
            if side == 0:
                new_high[number] = count - 1
            else:
                new_low[number] = count + 1
            if new_low[number] <= new_high[number]:
                children.append((low, Box(tuple(new_low), tuple(new_high))))
    return children


def limited(kit: Kit, counts: Sequence[int]) -> Kit:
    """The kit with exactly so many units of each kind, each kind on a stock row of its own."""
    supplies = tuple(replace(kind, stock=row) for row, kind in enumerate(kit.supplies))
    first = len(supplies)
    decoders = tuple(replace(kind, stock=first + row) for row, kind in enumerate(kit.decoders))
    keys = [kit.stock_keys[kind.stock] for kind in kit.supplies]
    keys += [kit.stock_keys[kind.stock] for kind in kit.decoders]
    return replace(kit, supplies=supplies, decoders=decoders, stock=tuple(counts), stock_keys=tuple(keys))
