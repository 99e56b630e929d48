"""Published instances, and classes drawn anew by their published rule, through the whole planner."""

from collections import Counter
from collections.abc import Mapping

import pytest

from service.cutting.board import ANY, Length
from service.cutting.patterns.cheapest import sum_bound
from service.cutting.patterns.filling import Task, best_fit
from service.cutting.plan import CutPlan
from service.cutting.problem import Buyable, Problem, Rules, Wanted
from service.cutting.solve import plan_cuts
from service.cutting.verify import faults
from tests.allocation.test_packing import CHVATAL, ROLLS, U120_00, U120_01, published, triplets, uniform
from tests.cutting.first_fit import first_fit_decreasing


def reels_of(sizes: Mapping[int, int], reel: int, keep: int = 1) -> Problem:
    """Pieces of these sizes from any number of equal new reels."""
    pieces = enumerate(sorted(Counter(dict(sizes)).elements(), reverse=True))
    wanted = tuple(Wanted(f"P{number:04}", size) for number, size in pieces)
    return Problem((), (Buyable(reel),), wanted, Rules(keep, 1))


def proven(problem: Problem) -> CutPlan:
    plan = plan_cuts(problem)
    assert faults(problem, plan) == ()
    assert plan.is_proven
    assert plan.gap == 0.0
    return plan


def test_p1_rolls_of_5600_need_73() -> None:
    """P1: 73 rolls, waste 0.401 %. Source: encyclopaedia article "Cutting stock problem" (from memory)."""
    plan = proven(reels_of(ROLLS, 5600))

    assert plan.new_reels == plan.bounds.new_reels == 73
    left = sum(reel.left_pitches for reel in plan.reels)
    assert 100 * left / (73 * 5600) == pytest.approx(0.401, abs=5e-4)


def test_p1_as_tape_on_a_10_mm_pitch() -> None:
    """5.6 m reels with a 10 mm cut pitch are 560 pitches long; what is left is scrap below 300 mm."""
    plan = proven(reels_of({size // 10: count for size, count in ROLLS.items()}, 560, keep=30))

    assert plan.new_reels == 73
    assert plan.scrap_pitches + sum(reel.left_pitches for reel in plan.reels if reel.is_kept) == 164


def test_p2_as_tape_on_a_50_mm_pitch() -> None:
    """P2: 453 reels of 5 m; the sum alone says 416. Source: Chvatal 1983, chapter 13; GAMS `cutstock`."""
    plan = proven(reels_of(CHVATAL, 100))

    assert plan.new_reels == 453
    assert -(-sum(size * count for size, count in CHVATAL.items()) // 100) == 416


def test_p3_is_bounded_above_its_sum() -> None:
    """P3: the sum bounds by 3, the optimum is 4. Source: Martello & Toth 1990, chapter 8 (from memory)."""
    sizes = {70: 1, 60: 1, 50: 1, 33: 3, 11: 1, 7: 1, 3: 1}

    plan = proven(reels_of(sizes, 100))

    task = Task({(size, ANY): n for size, n in sizes.items()}, (Length(0, 100, True, False, 1, 9),), (1,))
    assert (sum_bound(task, 0), plan.bounds.new_reels, plan.new_reels) == (3, 4, 4)


def test_p4_a_longer_reel_needs_no_more_reels() -> None:
    """P4: first-fit-decreasing needs one more at 61 than at 60. Source: known anomaly (from memory)."""
    sizes = {44: 1, 24: 2, 22: 1, 21: 1, 17: 1, 8: 2, 6: 2}

    assert [first_fit_decreasing(reels_of(sizes, reel))[0] for reel in (60, 61)] == [3, 4]
    assert [proven(reels_of(sizes, reel)).new_reels for reel in (60, 61)] == [3, 3]


def test_p5_best_fit_is_not_the_fewest() -> None:
    """P5: optimum 3; both greedy rules give 4. Source: made for this test, settled by another solver."""
    sizes = {5: 2, 4: 2, 3: 4}
    task = Task({(size, ANY): n for size, n in sizes.items()}, (Length(0, 10, True, False, 1, 8),), (1,))

    assert first_fit_decreasing(reels_of(sizes, 10))[0] == len(best_fit(task) or ()) == 4
    assert proven(reels_of(sizes, 10)).new_reels == 3


@pytest.mark.parametrize(("text", "best_known"), [(U120_00, 48), (U120_01, 49)])
def test_p6_p7_u120_reaches_the_best_known(text: str, best_known: int) -> None:
    """P6 `u120_00`: 48 (greedy 49), P7 `u120_01`: 49. Source: OR-Library binpack1 (Falkenauer)."""
    problem = reels_of(published(text), 150)

    assert first_fit_decreasing(problem)[0] == 49
    assert proven(problem).new_reels == best_known


@pytest.mark.parametrize(("count", "seed"), [(120, 1), (250, 2), (500, 3)])
def test_uniform_classes_are_proven_optimal(count: int, seed: int) -> None:
    """Sizes 20 to 100, capacity 150 (the rule of the published files); only a proof counts."""
    problem = reels_of(uniform(count, seed), 150)

    plan = proven(problem)

    assert plan.new_reels >= -(-sum(piece.pitches for piece in problem.wanted) // 150)
    assert plan.new_reels <= first_fit_decreasing(problem)[0]


@pytest.mark.parametrize(("count", "seed"), [(60, 1), (60, 7), (120, 2)])
def test_triplets_fill_every_reel(count: int, seed: int) -> None:
    """Known by construction: n / 3 reels with nothing left."""
    plan = proven(reels_of(triplets(count, seed), 1000))

    assert plan.new_reels == count // 3
    assert all(reel.left_pitches == 0 for reel in plan.reels)


def test_several_lengths_come_cheapest_together() -> None:
    """5, 10 and 20 m at 52, 100 and 190: 12 pieces of 4.9 m. By hand: 3 × 20 m hold four each, 570.

    They are 58.8 m long, reels come in steps of 5 m, and 60 m cost 570 at the least.
    """
    wanted = tuple(Wanted(f"P{n:02}", 49) for n in range(12))
    lengths = (Buyable(50, 52), Buyable(100, 100), Buyable(200, 190))

    plan = proven(Problem((), lengths, wanted, Rules(3, 3)))

    assert (plan.price_cents, plan.new_reels) == (570, 3)


def test_a_short_rest_is_bought_short() -> None:
    """Four pieces of 5 m fill a 20 m reel, 190; for 0.4 m more the shortest reel is enough, 52."""
    wanted = (*(Wanted(f"P{n:02}", 50) for n in range(4)), Wanted("rest", 4))
    lengths = (Buyable(50, 52), Buyable(100, 100), Buyable(200, 190))

    plan = proven(Problem((), lengths, wanted, Rules(3, 3)))

    assert (plan.price_cents, sorted(reel.pitches for reel in plan.reels)) == (242, [50, 200])
