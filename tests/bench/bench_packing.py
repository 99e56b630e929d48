"""How often the fewest bins are proven, and how long it takes: `python -m tests.bench.bench_packing`.

Classes are drawn anew after the published uniform and triplet files, ten seeds each. Uniform classes
have no published optimum, so only a proof counts; triplets fill n / 3 bins by construction.
"""

from collections import Counter
from collections.abc import Callable
from time import perf_counter

from service.allocation.packing import pack
from tests.allocation.test_packing import first_fit_decreasing, triplets, uniform

SEEDS = range(1, 11)
CLASSES: tuple[tuple[str, Callable[[int, int], Counter[int]], int, tuple[int, ...], float], ...] = (
    ("uniform", uniform, 150, (120, 250, 500, 1000), 2.0),
    ("triplets", triplets, 1000, (60, 120, 249, 501), 10.0),
)


def main() -> None:
    heads = f"{'class':<14}{'proven':>8}{'in time':>9}{'mean s':>8}{'worst s':>9}{'bins':>7}"
    print(f"{heads}{'first-fit-decreasing':>22}")
    for name, draw, capacity, counts, limit_s in CLASSES:
        for count in counts:
            seconds, proven, bins, greedy = [], 0, 0, 0
            for seed in SEEDS:
                sizes = draw(count, seed)
                start = perf_counter()
                packing = pack(sizes, capacity)
                seconds.append(perf_counter() - start)
                proven += packing.proven
                bins += len(packing.bins)
                greedy += first_fit_decreasing(sizes, capacity)
            in_time = sum(s <= limit_s for s in seconds)
            mean_s, worst_s = sum(seconds) / len(seconds), max(seconds)
            print(
                f"{name + ' ' + str(count):<14}{proven:>5}/10{in_time:>6}/10{mean_s:>8.2f}{worst_s:>9.2f}"
                f"{bins:>7}{greedy:>15} (+{greedy - bins})",
                flush=True,
            )


if __name__ == "__main__":
    main()
