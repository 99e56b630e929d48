"""Tiny problems: the plan is as good as the best of all ways to cut, and its own bounds say so."""

from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.cutting.plan import CutPlan
from service.cutting.problem import Buyable, Problem, Rules, Stock, Wanted
from service.cutting.solve import plan_cuts
from service.cutting.verify import faults
from tests.cutting.everything import Rank, best_rank
from tests.cutting.first_fit import first_fit_decreasing


def rank(problem: Problem, plan: CutPlan) -> Rank:
    """The aims of a plan, counted from its reels and not from its own figures."""
    assert faults(problem, plan) == ()
    out = {each.key for each in plan.unmet}
    priorities = sorted({piece.priority for piece in problem.wanted})
    left_out = [piece.priority for piece in problem.wanted if piece.key in out]
    unmet = tuple(left_out.count(each) for each in priorities)
    return unmet, plan.price_cents, plan.opened, plan.joints, plan.scrap_pitches


@st.composite
def problems(draw: st.DrawFn, groups: bool, joints: bool) -> Problem:
    reel = draw(st.integers(5, 12))
    lots = st.sampled_from(["L1", "L2", None]) if groups or joints else st.just(None)
    most = 3 if joints else 4
    stock = draw(st.lists(st.tuples(lots, st.integers(1, reel), st.booleans()), max_size=most))
    lengths = draw(st.lists(st.integers(3, 12), unique=True, max_size=1 if joints else 2))
    buyable = [
        Buyable(pitches, draw(st.integers(1, 9)), draw(st.sampled_from([None, 0, 1, 2])), draw(st.booleans()))
        for pitches in lengths
    ]
    group = st.sampled_from([None, "g1", "g2"]) if groups else st.just(None)
    pieces = draw(
        st.lists(
            st.tuples(st.integers(1, 10), group, st.integers(0, 1)), min_size=1, max_size=3 if joints else 5
        )
    )
    return Problem(
        tuple(Stock(f"R{n}", lot, pitches, sealed) for n, (lot, pitches, sealed) in enumerate(stock)),
        tuple(buyable),
        tuple(
            Wanted(f"P{n}", pitches, name, joints and n < 2, priority)
            for n, (pitches, name, priority) in enumerate(pieces)
        ),
        Rules(draw(st.integers(1, 4)), draw(st.integers(1, 3))),
        {"g1": "L1"} if groups and draw(st.integers(0, 3)) == 0 else {},
    )


@settings(max_examples=80, deadline=None)
@given(problems(groups=False, joints=False))
def test_no_way_to_cut_is_better(problem: Problem) -> None:
    plan = plan_cuts(problem)

    assert rank(problem, plan) == best_rank(problem)
    assert plan.is_proven


@settings(max_examples=80, deadline=None)
@given(problems(groups=True, joints=False))
def test_no_way_to_cut_with_match_groups_is_better(problem: Problem) -> None:
    plan = plan_cuts(problem)

    assert rank(problem, plan) == best_rank(problem)
    assert plan.is_proven


@settings(max_examples=60, deadline=None)
@given(problems(groups=False, joints=True))
def test_no_way_to_cut_with_joints_is_better(problem: Problem) -> None:
    plan = plan_cuts(problem)

    assert rank(problem, plan) == best_rank(problem)
    assert plan.is_proven


@settings(max_examples=60, deadline=None)
@given(problems(groups=True, joints=True))
def test_no_way_to_cut_with_groups_and_joints_is_better(problem: Problem) -> None:
    plan = plan_cuts(problem)

    assert rank(problem, plan) == best_rank(problem)
    assert plan.is_proven


@pytest.mark.parametrize("seed", range(6))
def test_the_order_in_which_it_is_told_changes_nothing(seed: int) -> None:
    draw = Random(seed)
    stock = [Stock(f"R{n}", f"L{n % 2}", draw.randint(4, 20), n % 3 == 0) for n in range(8)]
    wanted = [Wanted(f"P{n}", draw.randint(2, 12), "g" if n < 4 else None, n > 20) for n in range(24)]
    told = Problem(tuple(stock), (Buyable(20, 5, None, True), Buyable(30, 7)), tuple(wanted), Rules(3, 3))
    draw.shuffle(stock)
    draw.shuffle(wanted)
    other = Problem(tuple(stock), (Buyable(30, 7), Buyable(20, 5, None, True)), tuple(wanted), Rules(3, 3))

    assert told.fingerprint() == other.fingerprint()
    assert plan_cuts(told) == plan_cuts(other)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.integers(1, 40), min_size=1, max_size=30),
    st.lists(st.integers(1, 40), max_size=6),
    st.integers(40, 60),
    st.randoms(use_true_random=False),
)
def test_whatever_is_asked_the_sums_hold(sizes: list[int], shelf: list[int], reel: int, draw: Random) -> None:
    """Never fewer reels than the lengths alone say, never more than first-fit-decreasing, in any order."""
    stock = [Stock(f"R{n}", None, pitches) for n, pitches in enumerate(shelf)]
    wanted = [Wanted(f"P{n:02}", size) for n, size in enumerate(sizes)]
    problem = Problem(tuple(stock), (Buyable(reel),), tuple(wanted), Rules(6, 6))
    draw.shuffle(stock)
    draw.shuffle(wanted)

    plan = plan_cuts(problem)

    assert faults(problem, plan) == ()
    assert -(-(sum(sizes) - sum(shelf)) // reel) <= plan.bounds.new_reels <= plan.new_reels
    assert plan.new_reels <= first_fit_decreasing(problem)[0]
    assert plan_cuts(Problem(tuple(stock), (Buyable(reel),), tuple(wanted), Rules(6, 6))) == plan
