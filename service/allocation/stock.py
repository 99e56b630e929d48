"""Scarce stock joins the parts: what each may have so that the most is fed, and all at least cost."""

from collections.abc import Sequence
from dataclasses import replace

from service.allocation.loads import Load
from service.allocation.problem import Effort
from service.allocation.search.construct import greedy
from service.allocation.search.exact import Verdict, solve_exactly
from service.allocation.search.kit import Kit, Store, build_kit
from service.allocation.search.part import first_plan, open_verdict
from service.allocation.search.plan import Plan, usage

JOINT_LOADS = 24
JOINT_EFFORT = 8.0


def share_stock(
    kits: Sequence[Kit], verdicts: Sequence[Verdict], loads: Sequence[Load], store: Store, effort: Effort
) -> tuple[list[Kit], list[Verdict]]:
    """Kits and plans that together stay within the store; proven together where they are few and small."""
    if len(loads) <= JOINT_LOADS:
        joint = build_kit(loads, store)
        verdict = solve_exactly(joint, first_plan(joint), JOINT_EFFORT * effort.scale, effort.seed)
        if verdict is not None:
            return [joint], [verdict]
    shared = _largest_first(kits, store)
    return list(kits), [open_verdict(kit, plan) for kit, plan in zip(kits, shared, strict=True)]


def _largest_first(kits: Sequence[Kit], store: Store) -> list[Plan]:
    """Part after part, the heaviest first, with what the earlier ones have left in the store."""
    left = {key: store.left(key) for key in store.units}
    plans: list[Plan] = [()] * len(kits)
    for number in sorted(range(len(kits)), key=lambda n: (-kits[n].total_uw(), n)):
        kit = replace(kits[number], stock=tuple(left[key] for key in kits[number].stock_keys))
        plans[number] = greedy(kit)
        for row, count in usage(kit, plans[number]).items():
            left[kit.stock_keys[row]] -= count
    return plans
