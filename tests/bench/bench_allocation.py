"""How good and how fast the allocator is, by family of problems. Run by hand:

    python -m tests.bench.bench_allocation [small one-place low-volts shows scarce] [--seeds 10]

Gaps are against the allocator's own proven bound; every plan is judged by the verifier first.
"""

import argparse
import resource
import time
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import partial

from service.allocation.canon import checksum
from service.allocation.loads import stage_loads
from service.allocation.model import solve
from service.allocation.parts import part_problem, split_parts
from service.allocation.problem import Answer, Effort, Problem
from service.allocation.search.kit import Store, build_kit
from service.allocation.search.part import first_plan
from service.allocation.search.plan import left_by_priority, usage
from service.allocation.verify import faults
from tests.bench.families import all_distinct, few_distinct, scarce, whole_show

# The verifier looks at every pair it must; beyond this many blocks it is left to the tests.
JUDGED_BLOCKS = 1200


@dataclass(frozen=True, slots=True)
class Row:
    """One solved problem."""

    gap: float
    seconds: float
    proven: bool
    unfed_w: float
    answer: Answer


def run(problem: Problem, processes: int = 1) -> Row:
    """The answer with its time; a faulty plan ends the benchmark.

    With one process the time is that of the processor, so that a busy machine does not count.
    """
    clock = time.process_time if processes == 1 else time.perf_counter
    began = clock()
    answer = solve(problem, Effort(processes=processes))
    seconds = clock() - began
    if len(problem.blocks) <= JUDGED_BLOCKS:
        found = faults(problem, answer)
        if found:
            raise SystemExit(f"faulty plan: {found[:3]}")
    gap = float("inf") if answer.gap is None else answer.gap
    return Row(gap, seconds, answer.proven, sum(answer.unfed_uw.values()) / 1e6, answer)


def table(name: str, rows: list[Row]) -> None:
    """One printed line a family."""
    gaps = sorted(100 * row.gap for row in rows)
    times = sorted(row.seconds for row in rows)
    print(
        f"{name:34} seeds {len(rows):2}  proven {sum(row.proven for row in rows):2}  "
        f"gap % mean {sum(gaps) / len(gaps):5.2f} worst {gaps[-1]:5.2f}  "
        f"seconds median {times[len(times) // 2]:6.2f} worst {times[-1]:6.2f}",
        flush=True,
    )


def family(name: str, made: Callable[[int], Problem], seeds: Iterable[int], processes: int = 1) -> None:
    table(name, [run(made(seed), processes) for seed in seeds])


def small(seeds: range) -> None:
    for count in (8, 12, 16):
        family(f"few distinct, {count} loads", partial(few_distinct, count), seeds)
        family(f"all distinct, {count} loads", partial(all_distinct, count), seeds)


def one_place(seeds: range) -> None:
    for count in (25, 50, 100, 200):
        family(f"few distinct, {count} loads", partial(few_distinct, count), seeds)
        family(f"all distinct, {count} loads", partial(all_distinct, count), seeds)


def low_volts(seeds: range) -> None:
    for volts in (5, 12):
        for count in (20, 50, 100):
            family(
                f"all distinct, {count} loads at {volts} V",
                partial(all_distinct, count, volts=volts),
                seeds,
            )


def shows(seeds: range) -> None:
    for count in (40, 200, 1000):
        family(f"whole show, {count} elements", partial(whole_show, count), seeds, 2)
    rows = {processes: run(whole_show(5000, 0), processes) for processes in (2, 1)}
    for processes, row in rows.items():
        table(f"whole show, 5000, {processes} processes", [row])
    same = checksum(rows[1].answer) == checksum(rows[2].answer)
    peak_mb = (
        max(resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
        // 1024
    )
    print(
        f"1 and 2 processes give {'the same plan' if same else 'DIFFERENT PLANS'}; most memory {peak_mb} MB"
    )


def scarce_stock(seeds: range) -> None:
    for count, share in ((200, 0.7), (1000, 0.7), (1000, 0.6)):
        for seed in seeds:
            whole = whole_show(count, seed)
            problem = scarce(whole, models_used(whole), share)
            row = run(problem)
            plain_w = largest_first_w(problem)
            print(
                f"scarce, {count} elements at {share:.0%}, seed {seed}: unfed {row.unfed_w:7.0f} W, "
                f"largest first {plain_w:7.0f} W, ratio {row.unfed_w / plain_w if plain_w else 0:.2f}, "
                f"{row.seconds:5.1f} s",
                flush=True,
            )


def models_used(problem: Problem) -> dict[str, int]:
    """Units of each model in a plan with plenty of everything."""
    answer = solve(problem, Effort(scale=0.05, processes=2))
    models = {unit.tag: unit.model for unit in (*problem.supplies, *problem.decoders)}
    return dict(Counter(models[tag] for tag in answer.sites))


def largest_first_w(problem: Problem) -> float:
    """Watts left dark when part after part, the heaviest first, takes its best plan from what is left."""
    store = Store(problem)
    left = {key: store.left(key) for key in store.units}
    kits = [build_kit(stage_loads(part_problem(problem, part)).loads, store) for part in split_parts(problem)]
    dark_uw = 0
    for kit in sorted(kits, key=lambda kit: -kit.total_uw()):
        limited = replace(kit, stock=tuple(left[key] for key in kit.stock_keys))
        plan = first_plan(limited)
        dark_uw += sum(left_by_priority(limited, plan).values())
        for row, count in usage(limited, plan).items():
            left[kit.stock_keys[row]] -= count
    return dark_uw / 1e6


FAMILIES = {
    "small": small,
    "one-place": one_place,
    "low-volts": low_volts,
    "shows": shows,
    "scarce": scarce_stock,
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("families", nargs="*", default=list(FAMILIES), choices=list(FAMILIES))
    parser.add_argument("--seeds", type=int, default=10)
    told = parser.parse_args()
    for name in told.families:
        FAMILIES[name](range(told.seeds))


if __name__ == "__main__":
    main()
