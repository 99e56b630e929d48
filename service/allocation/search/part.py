"""One part on its own: a first plan, a bound, and improvement until they meet or the effort is spent."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import islice

from service.allocation.columns.bound import supply_floor
from service.allocation.columns.branch import Limits, branch
from service.allocation.columns.dive import tidy
from service.allocation.columns.floors import decoder_floor
from service.allocation.columns.relax import Depth, Search
from service.allocation.search.construct import greedy, policies
from service.allocation.search.exact import Verdict, solve_exactly
from service.allocation.search.improve import Rounds, improve
from service.allocation.search.kit import Kit
from service.allocation.search.plan import Plan, left_by_priority, plan_cost
from service.allocation.search.watch import never

POLICIES_AT_MOST = 120
SMALL_LOADS = 20
MEDIUM_LOADS = 60
MEDIUM_NODES = 1500
TRIES = 24
QUICK_LOADS, QUICK_TRIES = 150, 70


def solve_part(kit: Kit, scale: float = 1.0, seed: int = 0, must_stop: Callable[[], bool] = never) -> Verdict:
    """The best plan found for this kit, with what is proven about it."""
    plan = first_plan(kit, must_stop)
    if any(left_by_priority(kit, plan).values()):
        return _short_part(kit, plan, scale, seed, must_stop)
    floors = (supply_floor(kit), decoder_floor(kit))
    best = open_verdict(kit, plan)
    best = replace(best, bound=min(best.cost, sum(floors)))
    if best.bound >= best.cost or must_stop():
        return _settled(best)
    search = Search(kit, floors)
    plan = tidy(search, plan)
    search.add_plan(plan)
    best = better(kit, best, plan)
    outcome = branch(search, best.cost, tree_limits(kit, scale), must_stop, best.bound)
    if outcome.plan is not None:
        best = better(kit, best, outcome.plan)
    best = replace(best, bound=min(best.cost, max(best.bound, outcome.bound)), work=float(search.work))
    if best.bound < best.cost and sum(kit.counts) > SMALL_LOADS:
        rounds = Rounds(max(1, round(_tries(kit) * scale)), seed=seed)
        plan, work = improve(kit, best.plan, best.bound, rounds, must_stop)
        best = replace(better(kit, best, plan), work=best.work + work)
    return _settled(best)


def _tries(kit: Kit) -> int:
    """Parts taken up anew: more where many loads are alike, for there each try is quick."""
    loads, kinds = sum(kit.counts), sum(1 for count in kit.counts if count)
    return QUICK_TRIES if MEDIUM_LOADS < loads <= QUICK_LOADS and 2 * kinds <= loads else TRIES


def tree_limits(kit: Kit, scale: float) -> Limits:
    """Many nodes for few loads, few and well-priced ones for many."""
    loads = sum(kit.counts)
    if loads <= SMALL_LOADS:
        return Limits(nodes=max(1, round(400 * scale)))
    kinds = sum(1 for count in kit.counts if count)
    return Limits(
        nodes=max(1, round(scale * (MEDIUM_NODES if loads <= MEDIUM_LOADS else 100) / loads)),
        depth=Depth(fine_rounds=max(3, min(24, 1600 // kinds))),
    )


def better(kit: Kit, best: Verdict, plan: Plan) -> Verdict:
    """The cheaper of two plans that both feed everything."""
    cost = plan_cost(kit, plan)
    return replace(best, plan=plan, cost=cost) if cost < best.cost else best


def _settled(best: Verdict) -> Verdict:
    return replace(best, proven=best.bound >= best.cost)


def _short_part(kit: Kit, plan: Plan, scale: float, seed: int, must_stop: Callable[[], bool]) -> Verdict:
    """A part whose own gear is not enough: settled exactly where it is small, else as it stands."""
    if must_stop():
        return open_verdict(kit, plan)
    verdict = solve_exactly(kit, plan, 4.0 * scale, seed, must_stop=must_stop)
    return verdict if verdict is not None else open_verdict(kit, plan)


def quick_part(kit: Kit) -> Verdict:
    """One greedy plan and no proof, for when there is no time left."""
    return open_verdict(kit, greedy(kit))


def open_verdict(kit: Kit, plan: Plan) -> Verdict:
    """The plan with nothing proven about it."""
    left = left_by_priority(kit, plan)
    return Verdict(plan, plan_cost(kit, plan), left, dict.fromkeys(left, 0), 0, not any(kit.counts), 0.0)


def first_plan(kit: Kit, must_stop: Callable[[], bool] = never) -> Plan:
    """The best of several greedy policies: most fed by priority, then cheapest; at least one is tried."""
    plans = _greedy_plans(kit, must_stop)
    return min(plans, key=lambda plan: worth(kit, plan), default=())


def _greedy_plans(kit: Kit, must_stop: Callable[[], bool]) -> Iterator[Plan]:
    for policy in islice(policies(kit), POLICIES_AT_MOST):
        yield greedy(kit, policy)
        if must_stop():
            return


def worth(kit: Kit, plan: Plan) -> tuple[tuple[int, ...], int, Plan]:
    """Smaller is better: watts left out by priority, cost, then the plan itself to break ties."""
    left = left_by_priority(kit, plan)
    return tuple(left[priority] for priority in sorted(left)), plan_cost(kit, plan), plan
