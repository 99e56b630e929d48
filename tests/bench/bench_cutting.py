"""Cut plans beside first-fit-decreasing: `python -m tests.bench.bench_cutting [fast]`.

Classes are drawn anew. Uniform classes have no published optimum, so only a proof counts; triplets fill
n / 3 reels by construction. Shops are drawn after a theatre's: lengths around 0.9 m, a few of them again
and again, one offcut on the shelf for each twelve pieces, offcuts from 300 mm kept (invented shares).
The whole aim is weighed: a new reel 10,000, a sealed one 1,000, a pitch of scrap 20. Seconds are of the
processor, on one thread, so that what else the machine does is not counted.
"""

import math
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from random import Random
from time import process_time

from service.cutting.plan import CutPlan, Effort
from service.cutting.problem import Buyable, Problem, Rules, Stock, Wanted
from service.cutting.solve import plan_cuts
from service.cutting.verify import faults
from tests.allocation.test_packing import triplets, uniform
from tests.cutting.first_fit import first_fit_decreasing

REEL, SEALED, SCRAP = 10_000, 1_000, 20


@dataclass(frozen=True)
class Row:
    """One class of problems, and the seconds in which each should be done."""

    name: str
    problems: tuple[Problem, ...]
    limit_s: float


def pieces(sizes: Sequence[int]) -> tuple[Wanted, ...]:
    return tuple(Wanted(f"P{number:05}", size) for number, size in enumerate(sorted(sizes)))


def equal_reels(sizes: Counter[int], reel: int) -> Problem:
    return Problem((), (Buyable(reel),), pieces(list(sizes.elements())), Rules(1, 1))


def shop(count: int, pitch_mm: int, seed: int, sealed: int = 0) -> Problem:
    """Pieces, offcuts and sealed reels of one tape; 5 m reels can be bought."""
    draw = Random(seed * 7919 + count)
    reel = 5000 // pitch_mm
    often = [draw.randint(3, reel) for _ in range(6)]
    sizes = []
    for _ in range(count):
        by_chance = round(draw.lognormvariate(math.log(900 / pitch_mm), 0.7))
        size = draw.choice(often) if draw.random() < 0.4 else by_chance
        sizes.append(max(1, min(reel, size)))
    shortest = -(-300 // pitch_mm)
    offcuts = [draw.randint(shortest, reel - 1) for _ in range(max(4, count // 12))]
    stock = [Stock(f"O{number:04}", None, pitches) for number, pitches in enumerate(offcuts)]
    stock += [Stock(f"S{number:04}", None, reel, is_sealed=True) for number in range(sealed)]
    return Problem(tuple(stock), (Buyable(reel),), pieces(sizes), Rules(shortest, shortest))


def three_lengths(count: int, seed: int) -> Problem:
    """Pieces of 0.3 to 3 m on a 10 mm pitch from reels of 5, 10 and 20 m at 52, 100 and 190."""
    draw = Random(seed)
    sizes = [draw.randint(30, 300) for _ in range(count)]
    return Problem(
        (), (Buyable(500, 52), Buyable(1000, 100), Buyable(2000, 190)), pieces(sizes), Rules(30, 30)
    )


def match_groups(count: int, seed: int) -> Problem:
    """A quarter of the pieces in groups of three to eight equal ones; three lots; new reels as one lot."""
    plain = shop(count, 50, seed)
    draw = Random(seed)
    wanted, group, left = [], 0, 0
    size = 0
    for piece in plain.wanted[: count // 4]:
        if left == 0:
            group, left, size = group + 1, draw.randint(3, 8), draw.randint(6, 60)
        left -= 1
        wanted.append(Wanted(piece.key, size, f"G{group:02}"))
    lots = ("L1", "L2", "L3")
    stock = [Stock(reel.tag, lots[n % 3], reel.pitches) for n, reel in enumerate(plain.stock)]
    stock += [Stock(f"S{n}", lots[n % 3], 100, is_sealed=True) for n in range(6)]
    return Problem(
        tuple(stock), (Buyable(100, is_one_lot=True),), (*wanted, *plain.wanted[count // 4 :]), plain.rules
    )


def rows(seeds: range) -> Iterator[Row]:
    for count in (120, 250, 500, 1000):
        yield Row(f"uniform {count}", tuple(equal_reels(uniform(count, s), 150) for s in seeds), 2.0)
    for count in (60, 120, 249):
        yield Row(f"triplets {count}", tuple(equal_reels(triplets(count, s), 1000) for s in seeds), 10.0)
    for count in (50, 150, 400):
        yield Row(f"5, 10, 20 m, {count}", tuple(three_lengths(count, s) for s in seeds), 10.0)
    for count in (50, 500, 2000):
        for pitch_mm in (100, 50):
            yield Row(f"shop {count} at {pitch_mm} mm", tuple(shop(count, pitch_mm, s) for s in seeds), 15.0)
    yield Row("shop 200, 20 sealed", tuple(shop(200, 50, s, 20) for s in seeds), 15.0)
    for count in (40, 120):
        yield Row(f"match groups {count}", tuple(match_groups(count, s) for s in seeds), 15.0)


def gap(plan: CutPlan) -> float:
    """Of the whole aim; where several lengths have prices, those count instead of reels."""
    reels, least = plan.new_reels, plan.bounds.new_reels
    if plan.price_cents != plan.new_reels:
        return plan.gap or 0.0
    value = REEL * reels + SEALED * plan.opened + SCRAP * plan.scrap_pitches
    bound = REEL * least + SEALED * plan.bounds.opened + SCRAP * plan.bounds.scrap_pitches
    return value / bound - 1 if bound else 0.0


def main() -> None:
    seeds = range(1, 4) if "fast" in sys.argv else range(1, 11)
    print(
        f"{'class':<22}{'reels':>7}{'all':>5}{'worst':>9}{'mean s':>8}{'worst s':>9}{'in time':>9}"
        f"{'price':>8}{'scrap':>7}{'  first-fit-decreasing: reels, scrap'}"
    )
    print(f"{'':<22}{'proven':>7}{'':>5}{'gap %':>9}")
    for row in rows(seeds):
        plans, seconds = [], []
        for problem in row.problems:
            start = process_time()
            plan = plan_cuts(problem, Effort())
            seconds.append(process_time() - start)
            assert faults(problem, plan) == (), faults(problem, plan)
            plans.append(plan)
        greedy = [first_fit_decreasing(problem) for problem in row.problems]
        count = len(plans)
        print(
            f"{row.name:<22}{sum(plan.gap == 0.0 for plan in plans):>4}/{count}"
            f"{sum(plan.is_proven for plan in plans):>4}{100 * max(gap(plan) for plan in plans):>9.3f}"
            f"{sum(seconds) / count:>8.2f}{max(seconds):>9.2f}"
            f"{sum(s <= row.limit_s for s in seconds):>6}/{count}"
            f"{sum(plan.price_cents for plan in plans):>9}{sum(plan.scrap_pitches for plan in plans):>7}"
            f"{sum(reels for reels, _ in greedy):>12}{sum(scrap for _, scrap in greedy):>7}",
            flush=True,
        )


if __name__ == "__main__":
    main()
