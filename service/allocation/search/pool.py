"""Several plans for one part, whole and cut down, so that scarce stock can be shared by choosing."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain, islice

from service.allocation.search.construct import greedy, policies
from service.allocation.search.kit import Kit
from service.allocation.search.plan import (
    Plan,
    column_uw,
    left_by_priority,
    plan_cost,
    usage,
)
from service.allocation.search.watch import never

# More plans than this for one part only slow the choice down.
PLANS_AT_MOST = 60
POLICIES = 48


@dataclass(frozen=True, slots=True)
class Option:
    """A plan with what it leaves out by priority, what it takes from stock, and its cost."""

    left: tuple[tuple[int, int], ...]
    cost: int
    taken: tuple[tuple[int, int], ...]
    plan: Plan

    @property
    def left_uw(self) -> tuple[int, ...]:
        return tuple(left for _, left in self.left)


def option(kit: Kit, plan: Plan) -> Option:
    """The plan with its figures at the true costs."""
    return Option(
        tuple(sorted(left_by_priority(kit, plan).items())),
        plan_cost(kit, plan),
        tuple(sorted(usage(kit, plan).items())),
        plan,
    )


def pool(
    kit: Kit,
    known: Sequence[Plan],
    dear: Sequence[float] | None = None,
    must_stop: Callable[[], bool] = never,
) -> list[Option]:
    """Options of a part, none of them twice, the fullest and cheapest first.

    Those of the known plans are always there; of others as many as there is time for. `dear` raises the
    cost of units by stock row while plans are made, so that scarce ones are spared.
    """
    best: dict[tuple[object, object], Option] = {}
    priced = kit if dear is None else dearer(kit, dear)
    for number, whole in enumerate(chain(known, _whole_plans(priced))):
        if number >= len(known) and must_stop():
            break
        for plan in (whole, *_cut_down(kit, whole)):
            one = option(kit, plan)
            key = (one.left, one.taken)
            if key not in best or (one.cost, one.plan) < (best[key].cost, best[key].plan):
                best[key] = one
    return thin(list(best.values()))


def cut_down(kit: Kit, plan: Plan) -> list[Option]:
    """The plan, and what is left of it with fewer and fewer of its supplies."""
    return [option(kit, one) for one in (plan, *_cut_down(kit, plan))]


def thin(options: Sequence[Option]) -> list[Option]:
    """The best options, and always the empty one: those that no other beats come first.

    One beats another when it leaves out no more, costs no more and takes no more of anything.
    """
    import numpy as np  # heavy: loaded only where the work is done

    ordered = sorted(options, key=lambda one: (one.left_uw, one.cost, one.taken, one.plan))
    rows = 1 + max((row for one in ordered for row, _ in one.taken), default=0)
    figures = np.zeros((len(ordered), rows), dtype=np.int64)
    for number, one in enumerate(ordered):
        for row, count in one.taken:
            figures[number, row] = count
    told = np.array([[*one.left_uw, one.cost] for one in ordered], dtype=np.int64)
    figures = np.hstack([told, figures]) if ordered else figures
    kept: list[Option] = []
    best = np.empty_like(figures)
    for one, figure in zip(ordered, figures, strict=True):
        if not bool((best[: len(kept)] <= figure).all(axis=1).any()):
            best[len(kept)] = figure
            kept.append(one)
    step = max(1.0, len(kept) / PLANS_AT_MOST)
    spread = [kept[int(n * step)] for n in range(min(len(kept), PLANS_AT_MOST))]
    return [*spread, *(one for one in kept if not one.plan and one not in spread)]


def dearer(kit: Kit, dear: Sequence[float]) -> Kit:
    """The kit with dearer units."""
    return replace(
        kit,
        supplies=tuple(replace(kind, cost=kind.cost + round(dear[kind.stock])) for kind in kit.supplies),
        decoders=tuple(replace(kind, cost=kind.cost + round(dear[kind.stock])) for kind in kit.decoders),
    )


def _whole_plans(kit: Kit) -> Iterator[Plan]:
    """Plans by several policies, and plans that do without one of the models."""
    every = list(policies(kit))
    for policy in every[:: max(1, len(every) // POLICIES)]:
        yield greedy(kit, policy)
    rows = sorted({kind.stock for kind in kit.supplies} | {kind.stock for kind in kit.decoders})
    for row in rows:
        stock = tuple(0 if n == row else count for n, count in enumerate(kit.stock))
        for policy in islice(every, 2):
            yield greedy(replace(kit, stock=stock), policy)


def _cut_down(kit: Kit, plan: Plan) -> Iterator[Plan]:
    """The plan without each of its supplies, and with fewer and fewer of the smallest."""
    order = sorted(plan, key=lambda filled: (-sum(column_uw(kit, c) for c in filled.columns), filled))
    for count in range(len(order)):
        yield tuple(sorted(order[:count]))
    for count in range(len(order)):
        yield tuple(sorted(order[:count] + order[count + 1 :]))
