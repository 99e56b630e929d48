"""The fewest reels or supplies that hold everything: published instances, and a second solver."""

from collections import Counter
from collections.abc import Iterator, Mapping
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from service.allocation.packing import Packing, best_fit, best_pattern, every_content, pack, second_bound
from service.allocation.problem import Effort

# Encyclopaedia article "Cutting stock problem": rolls 5600 mm wide (data from memory; its answer was read).
ROLLS = {
    1380: 22,
    1520: 25,
    1560: 12,
    1710: 14,
    1820: 18,
    1880: 18,
    1930: 20,
    2000: 10,
    2050: 12,
    2100: 14,
    2140: 16,
    2150: 18,
    2200: 20,
}
# Chvatal, Linear Programming (1983), chapter 13; the same data stand in the GAMS Model Library, `cutstock`.
CHVATAL = {45: 97, 36: 610, 31: 395, 14: 211}
# OR-Library, file binpack1, instances of Falkenauer: capacity 150, 120 items, "size" or "size x count".
U120_00 = """98x3 96x2 94 93x2 92 91x2 90 87 86 85x2 84x5 83x2 82x2 81 80x3 79x2 78x4 76
74x2 73x4 72 71 70x3 69x3 67 66 64 62x2 60x2 59 58x3 57x4 55x3 50 49x3 47 46x2 45x2 44x2 43x4 42x5
41x3 39x2 38x3 37 36x3 35 33x3 32x2 30x3 29 28 27x2 26 25x2 24 23x2 20"""
U120_01 = """100x2 99x2 98x5 97x3 95x3 94 92 90x2 88x2 85 82 81x3 80x3 79x2 78x2 76 75x2 74 72x2 71 70x3 68
67x4 66x2 65x2 64 62 61x2 60x3 59 58 57x3 55x2 53x6 52x2 50 49x2 48x2 47x3 46x2 45x3 44 43x3 41 39x3 38x2 37
36x3 35 33 32 30x2 29x2 27x3 25 24 23x2 22x3 20x2"""


def published(text: str) -> dict[int, int]:
    pairs = (word.split("x") for word in text.split())
    return {int(pair[0]): int(pair[1]) if len(pair) > 1 else 1 for pair in pairs}


def holds(packing: Packing, sizes: Mapping[int, int], capacity: int) -> None:
    """Everything is in a bin, nothing twice, and no bin is over."""
    inside: Counter[int] = Counter()
    for content in packing.bins:
        assert sum(size * count for size, count in content) <= capacity
        for size, count in content:
            inside[size] += count
    assert inside == Counter(sizes)
    assert packing.proven == (len(packing.bins) == packing.bound)


def first_fit_decreasing(sizes: Mapping[int, int], capacity: int) -> int:
    free: list[int] = []
    for size in sorted(Counter(dict(sizes)).elements(), reverse=True):
        at = next((n for n, left in enumerate(free) if left >= size), None)
        if at is None:
            free.append(capacity - size)
        else:
            free[at] -= size
    return len(free)


def test_p1_rolls_of_5600_need_73() -> None:
    """P1: 73 rolls, waste 0.401 %. Source: encyclopaedia article "Cutting stock problem"."""
    packing = pack(ROLLS, 5600)

    holds(packing, ROLLS, 5600)
    assert (len(packing.bins), packing.proven) == (73, True)
    used = sum(size * count for size, count in ROLLS.items())
    assert 100 * (73 * 5600 - used) / (73 * 5600) == pytest.approx(0.401, abs=5e-4)


def test_p1_as_tape_is_the_same_on_a_10_mm_pitch() -> None:
    """5.6 m reels with a 10 mm cut pitch are 560 pitches long."""
    assert len(pack({size // 10: count for size, count in ROLLS.items()}, 560).bins) == 73


def test_p2_rolls_of_100_need_453() -> None:
    """P2: 453 rolls; the sum alone says 416. Source: Chvatal 1983, chapter 13; GAMS `cutstock`."""
    packing = pack(CHVATAL, 100)

    holds(packing, CHVATAL, 100)
    assert (len(packing.bins), packing.proven) == (453, True)
    assert -(-sum(size * count for size, count in CHVATAL.items()) // 100) == 416


def test_p3_the_second_bound_sees_what_the_sum_does_not() -> None:
    """P3: L1 = 3, L2 = 4 = optimum. Source: Martello & Toth 1990, chapter 8 (from memory)."""
    sizes = {70: 1, 60: 1, 50: 1, 33: 3, 11: 1, 7: 1, 3: 1}

    assert -(-sum(size * count for size, count in sizes.items()) // 100) == 3
    assert second_bound(sizes, 100) == 4
    assert len(pack(sizes, 100).bins) == 4


def test_p4_a_longer_reel_needs_no_more_reels() -> None:
    """P4: first-fit-decreasing needs one more at 61 than at 60. Source: known anomaly (from memory)."""
    sizes = {44: 1, 24: 2, 22: 1, 21: 1, 17: 1, 8: 2, 6: 2}

    assert (first_fit_decreasing(sizes, 60), first_fit_decreasing(sizes, 61)) == (3, 4)
    assert (len(pack(sizes, 60).bins), len(pack(sizes, 61).bins)) == (3, 3)


def test_p5_best_fit_is_not_the_fewest() -> None:
    """P5: optimum 3; both greedy rules give 4. Source: made for this test, settled by a second solver."""
    sizes = {5: 2, 4: 2, 3: 4}

    assert (first_fit_decreasing(sizes, 10), len(best_fit(sizes, 10))) == (4, 4)
    assert len(pack(sizes, 10).bins) == 3


@pytest.mark.parametrize(
    ("text", "total", "best_known", "greedy"), [(U120_00, 7078, 48, 49), (U120_01, 7205, 49, 49)]
)
def test_p6_p7_u120_reaches_the_best_known(text: str, total: int, best_known: int, greedy: int) -> None:
    """P6 `u120_00`: 48, P7 `u120_01`: 49. Source: OR-Library binpack1 (Falkenauer)."""
    sizes = published(text)
    assert (sum(sizes.values()), sum(size * count for size, count in sizes.items())) == (120, total)

    packing = pack(sizes, 150)

    holds(packing, sizes, 150)
    assert (len(packing.bins), packing.proven) == (best_known, True)
    assert first_fit_decreasing(sizes, 150) == greedy


def uniform(count: int, seed: int) -> Counter[int]:
    """The class of the published uniform files, drawn anew: sizes 20 to 100, capacity 150."""
    draw = Random(seed)
    return Counter(draw.randint(20, 100) for _ in range(count))


def triplets(count: int, seed: int) -> Counter[int]:
    """The class of the published triplet files, drawn anew: by threes they fill 1000 exactly."""
    draw, sizes = Random(seed), Counter[int]()
    for _ in range(count // 3):
        first = draw.randint(380, 490)
        second = draw.randint(250, (1000 - first) // 2)
        sizes.update((first, second, 1000 - first - second))
    return sizes


@pytest.mark.parametrize("count", [120, 250, 500])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_uniform_classes_are_proven_optimal(count: int, seed: int) -> None:
    """There is no published optimum for a class drawn anew: the proof is the bound."""
    sizes = uniform(count, seed)

    packing = pack(sizes, 150)

    holds(packing, sizes, 150)
    assert packing.proven


@pytest.mark.parametrize("seed", [1, 7, 10])
def test_triplets_fill_every_bin(seed: int) -> None:
    """Known by construction: n / 3 bins, and no fewer since every bin is full."""
    sizes = triplets(60, seed)

    packing = pack(sizes, 1000)

    holds(packing, sizes, 1000)
    assert (len(packing.bins), packing.bound) == (20, 20)


def maximal_patterns(sizes: Mapping[int, int], capacity: int) -> Iterator[dict[int, int]]:
    """Contents to which nothing can be added."""

    def fill(rest: tuple[int, ...], room: int) -> Iterator[dict[int, int]]:
        if not rest:
            yield {}
            return
        for count in range(min(sizes[rest[0]], room // rest[0]), -1, -1):
            for more in fill(rest[1:], room - count * rest[0]):
                yield {rest[0]: count, **more}

    for content in fill(tuple(sorted(sizes, reverse=True)), capacity):
        room = capacity - sum(size * count for size, count in content.items())
        if all(size > room or content[size] == sizes[size] for size in sizes):
            yield content


def fewest_by_another_solver(sizes: Mapping[int, int], capacity: int) -> int:
    """scipy.optimize.milp over all maximal patterns."""
    patterns = list(maximal_patterns(sizes, capacity))
    kinds = sorted(sizes)
    covers = np.array([[content[size] for content in patterns] for size in kinds])
    answer = milp(
        np.ones(len(patterns)),
        constraints=LinearConstraint(covers, lb=np.array([sizes[size] for size in kinds])),
        integrality=np.ones(len(patterns)),
        bounds=Bounds(0, np.inf),
    )
    return round(float(answer.fun))


@settings(max_examples=80, deadline=None)
@given(st.dictionaries(st.integers(3, 30), st.integers(1, 5), min_size=1, max_size=6), st.integers(30, 60))
def test_the_fewest_agree_with_another_solver(sizes: dict[int, int], capacity: int) -> None:
    packing = pack(sizes, capacity)

    holds(packing, sizes, capacity)
    assert packing.bound <= fewest_by_another_solver(sizes, capacity)
    assert len(packing.bins) == fewest_by_another_solver(sizes, capacity)
    assert packing.proven


@pytest.mark.parametrize(("sizes", "capacity"), [(ROLLS, 5600), (CHVATAL, 100)])
def test_published_instances_agree_with_another_solver(sizes: dict[int, int], capacity: int) -> None:
    assert len(pack(sizes, capacity).bins) == fewest_by_another_solver(sizes, capacity)


@given(
    st.lists(
        st.tuples(st.integers(1, 12), st.integers(0, 50), st.integers(0, 3)),
        max_size=5,
        unique_by=lambda t: t[0],
    ),
    st.integers(5, 30),
)
def test_the_dearest_content_is_found(kinds: list[tuple[int, int, int]], capacity: int) -> None:
    """Against trying every content."""
    prices = {size: price for size, price, _ in kinds}
    sizes = {size: count for size, _, count in kinds}
    contents = list(maximal_patterns(sizes, capacity))
    dearest = max((sum(prices[s] * k for s, k in content.items()) for content in contents), default=0)

    value, pattern = best_pattern(list(prices.values()), list(sizes), list(sizes.values()), capacity)

    assert value == dearest == sum(prices[size] * count for size, count in pattern)
    assert sum(size * count for size, count in pattern) <= capacity
    assert all(count <= sizes[size] for size, count in pattern)


def test_every_content_with_no_room_to_spare_is_listed() -> None:
    assert every_content([6, 5, 4, 2], [1, 2, 1, 1], 10, 0) == [((6, 1), (4, 1)), ((5, 2),)]


def test_equal_questions_get_equal_answers_in_any_order() -> None:
    sizes = triplets(60, 3)
    backwards = dict(sorted(sizes.items()))

    assert pack(sizes, 1000) == pack(backwards, 1000)


def test_little_effort_still_holds_everything() -> None:
    """With next to no effort the answer may be unproven, but it is a packing and its bound is a bound."""
    sizes = triplets(120, 5)

    packing = pack(sizes, 1000, Effort(scale=0.01))

    holds(packing, sizes, 1000)
    assert packing.bound <= 40 <= len(packing.bins)


def test_nothing_needs_no_bins() -> None:
    assert pack({}, 10) == pack({4: 0}, 10) == Packing((), 0, True)


def test_a_size_over_the_capacity_is_refused() -> None:
    with pytest.raises(ValueError, match="11 does not go into a capacity of 10"):
        pack({11: 1}, 10)
