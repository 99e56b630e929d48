"""Every way in which a plan may be wrong is seen."""

from dataclasses import replace

import pytest

from service.cutting.plan import NEW_LOT, Bounds, Cut, CutPlan, ReelPlan, Unmet, Why
from service.cutting.problem import Buyable, Problem, Rules, Stock, Wanted
from service.cutting.verify import faults

PROBLEM = Problem(
    (Stock("A", "L", 20, True, (12,)), Stock("B", "M", 10), Stock("C", None, 9)),
    (Buyable(30, 5, most=1),),
    (
        Wanted("a", 9, "g"),
        Wanted("b", 8, "g"),
        Wanted("j", 12, may_join=True),
        Wanted("p", 7),
        Wanted("out", 40),
    ),
    Rules(3, 4),
)
REEL_A = ReelPlan("A", "L", 20, (Cut("a", 0, 9), Cut("b", 0, 8)), 3, True, False, True, (12,))
REEL_B = ReelPlan("B", "M", 10, (Cut("p", 0, 7),), 3, True, False, False)
REEL_N = ReelPlan("new 1", "new 1", 30, (Cut("j", 0, 12),), 18, True, True, False)
GOOD = CutPlan(
    (REEL_A, REEL_B, REEL_N),
    (Unmet("out", Why.TOO_LONG),),
    price_cents=5,
    new_reels=1,
    opened=1,
    joints=0,
    scrap_pitches=0,
    longest_left=18,
    bounds=Bounds(1, 5, 1, 1, 0),
    is_proven=True,
)


def with_reels(*reels: ReelPlan) -> CutPlan:
    return replace(GOOD, reels=reels)


def test_a_good_plan_has_no_fault() -> None:
    assert faults(PROBLEM, GOOD) == ()


@pytest.mark.parametrize(
    ("plan", "said"),
    [
        (with_reels(REEL_A, replace(REEL_B, cuts=(Cut("x", 0, 7),)), REEL_N), "x is cut but not wanted"),
        (replace(GOOD, unmet=(*GOOD.unmet, Unmet("x", Why.NO_LOT))), "x is unmet but not wanted"),
        (replace(GOOD, unmet=(*GOOD.unmet, Unmet("p", Why.NO_LOT))), "p is both cut and unmet"),
        (with_reels(REEL_A, REEL_N), "p is neither cut once nor unmet"),
        (
            with_reels(REEL_A, replace(REEL_B, cuts=(Cut("p", 0, 6),), left_pitches=4), REEL_N),
            "p is cut 6 pitches long instead of 7",
        ),
        (
            with_reels(REEL_A, replace(REEL_B, cuts=(Cut("p", 1, 4), Cut("p", 2, 3))), REEL_N),
            "p is joined and may not be",
        ),
        (with_reels(REEL_A, replace(REEL_B, left_pitches=4), REEL_N), "B does not add up"),
        (with_reels(REEL_A, replace(REEL_B, is_kept=False), REEL_N), "B keeps what is scrap"),
        (
            with_reels(replace(REEL_A, cuts=REEL_A.cuts[::-1], joins_met=()), REEL_B, REEL_N),
            "A is not marked from the longest down",
        ),
        (with_reels(REEL_A, replace(REEL_B, label="Z"), REEL_N), "Z is not on the shelf"),
        (with_reels(REEL_A, replace(REEL_B, is_opened=True), REEL_N), "B is not as it stands"),
        (with_reels(REEL_A, replace(REEL_B, lot="L"), REEL_N), "B is not as it stands"),
        (with_reels(REEL_A, replace(REEL_B, label="A"), REEL_N), "A is planned twice"),
        (with_reels(REEL_A, REEL_B, replace(REEL_N, label="C")), "C is new and on the shelf"),
        (with_reels(replace(REEL_A, joins_met=()), REEL_B, REEL_N), "A does not tell of the joints"),
        (
            with_reels(REEL_A, REEL_B, replace(REEL_N, pitches=31, left_pitches=19)),
            "a new reel of 31 pitches cannot be had",
        ),
        (
            with_reels(REEL_A, REEL_B, REEL_N, replace(REEL_N, label="new 2", lot="new 2")),
            "2 new reels of 30 pitches cannot be had",
        ),
        (with_reels(REEL_A, REEL_B, replace(REEL_N, lot=NEW_LOT)), "new 1 cannot be asked for as one lot"),
        (with_reels(REEL_A, REEL_B, replace(REEL_N, lot="L")), "which nobody promised"),
        (replace(GOOD, price_cents=6), "price is told as 6 and comes to 5"),
        (replace(GOOD, new_reels=2), "new reels is told as 2"),
        (replace(GOOD, opened=0), "opened is told as 0"),
        (replace(GOOD, joints=1), "joints is told as 1"),
        (replace(GOOD, scrap_pitches=2), "scrap is told as 2"),
        (replace(GOOD, longest_left=3), "longest left is told as 3"),
        (replace(GOOD, bounds=Bounds(2, 5, 1, 1, 0)), "unmet is bounded by 2"),
        (replace(GOOD, bounds=Bounds(1, 6, 1, 1, 0)), "price is bounded by 6"),
        (replace(GOOD, bounds=Bounds(1, 5, 2, 1, 0)), "new reels is bounded by 2"),
        (replace(GOOD, bounds=Bounds(1, 5, 1, 2, 0)), "opened is bounded by 2"),
        (replace(GOOD, bounds=Bounds(1, 5, 1, 1, 1)), "scrap is bounded by 1"),
        (replace(GOOD, bounds=Bounds(1, 4, 1, 1, 0)), "price is called proven at 5 over a bound of 4"),
    ],
)
def test_a_fault_is_told(plan: CutPlan, said: str) -> None:
    assert any(said in fault for fault in faults(PROBLEM, plan)), faults(PROBLEM, plan)


def joined(one: int, two: int, lot: str | None = "L") -> CutPlan:
    """The piece that may be joined, in two parts from A and from a reel of the lot named."""
    shelf = {"L": ("D", 20), "M": ("B", 10), None: ("C", 9)}
    label, pitches = shelf[lot]
    first = ReelPlan("A", "L", 20, (Cut("j", 1, one),), 20 - one, True, False, True, (12,) * (20 - one < 12))
    second = ReelPlan(
        label, lot, pitches, (Cut("j", 2, two),), pitches - two, pitches - two >= 3, False, False
    )
    return replace(GOOD, reels=(first, second), joints=1)


@pytest.mark.parametrize(
    ("plan", "said"),
    [
        (joined(9, 3), "j has a part shorter than 4 pitches"),
        (joined(7, 6), "j is joined to another length"),
        (joined(7, 5, "M"), "j is joined of two lots"),
        (joined(7, 5, None), "j is joined of two lots"),
    ],
)
def test_a_bad_joint_is_told(plan: CutPlan, said: str) -> None:
    problem = replace(PROBLEM, stock=(*PROBLEM.stock, Stock("D", "L", 20)))
    assert not any("j is joined" in fault or "j has" in fault for fault in faults(problem, joined(7, 5)))

    assert any(said in fault for fault in faults(problem, plan)), faults(problem, plan)


def test_a_torn_or_mixed_or_misplaced_group_is_told() -> None:
    torn = replace(
        GOOD,
        reels=(replace(REEL_A, cuts=REEL_A.cuts[:1], left_pitches=11), REEL_B, REEL_N),
        unmet=(*GOOD.unmet, Unmet("b", Why.NO_LOT)),
    )
    mixed = with_reels(
        replace(REEL_A, cuts=REEL_A.cuts[:1], left_pitches=11),
        replace(REEL_B, cuts=(Cut("b", 0, 8),), left_pitches=2, is_kept=False),
        REEL_N,
    )

    assert "match group g is cut in part" in faults(PROBLEM, torn)
    assert any("from more than one lot" in fault for fault in faults(PROBLEM, mixed))
    elsewhere = replace(PROBLEM, lot_of_group={"g": "M"})
    assert "match group g is bound to another lot" in faults(elsewhere, GOOD)
