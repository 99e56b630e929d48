"""One part on its own: a first plan, a bound, and improvement until they meet or the effort is spent."""

from collections.abc import Callable
from itertools import islice

from service.allocation.search.construct import greedy, policies
from service.allocation.search.exact import Verdict, solve_exactly
from service.allocation.search.kit import Kit
from service.allocation.search.plan import Plan, left_by_priority, plan_cost

POLICIES_AT_MOST = 120
SMALL_LOADS = 18


def never() -> bool:
    """Nobody asks to stop."""
    return False


def solve_part(kit: Kit, scale: float = 1.0, seed: int = 0, must_stop: Callable[[], bool] = never) -> Verdict:
    """The best plan found for this kit, with what is proven about it."""
    plan = first_plan(kit)
    if sum(kit.counts) <= SMALL_LOADS and not must_stop():
        verdict = solve_exactly(kit, plan, 4.0 * scale, seed)
        if verdict is not None:
            return verdict
    return open_verdict(kit, plan)


def quick_part(kit: Kit) -> Verdict:
    """One greedy plan and no proof, for when there is no time left."""
    return open_verdict(kit, greedy(kit))


def open_verdict(kit: Kit, plan: Plan) -> Verdict:
    """The plan with nothing proven about it."""
    left = left_by_priority(kit, plan)
    return Verdict(plan, plan_cost(kit, plan), left, dict.fromkeys(left, 0), 0, False, 0.0)


def first_plan(kit: Kit) -> Plan:
    """The best of several greedy policies: most fed by priority, then cheapest."""
    plans = (greedy(kit, policy) for policy in islice(policies(kit), POLICIES_AT_MOST))
    return min(plans, key=lambda plan: worth(kit, plan), default=())


def worth(kit: Kit, plan: Plan) -> tuple[tuple[int, ...], int, Plan]:
    """Smaller is better: watts left out by priority, cost, then the plan itself to break ties."""
    left = left_by_priority(kit, plan)
    return tuple(left[priority] for priority in sorted(left)), plan_cost(kit, plan), plan
