"""What cannot be asked is refused whole, with everything that is wrong and how to mend it."""

from dataclasses import replace

import pytest

from service.cutting.plan import Cut, Effort, Unmet, Why
from service.cutting.problem import Buyable, Problem, Rules, Stock, Wanted
from service.cutting.solve import plan_cuts
from service.cutting.verify import faults
from service.errors import BadValues
from tests.allocation.test_packing import triplets

RULES = Rules(3, 3)


@pytest.mark.parametrize(
    ("stock", "buyable", "wanted", "rules", "named"),
    [
        ((Stock("A", "L", 5), Stock("A", "M", 6)), (), (), RULES, "reel A"),
        ((Stock("A", "L", 0),), (), (), RULES, "reel A"),
        ((Stock("A", "L", 9, False, (9,)),), (), (), RULES, "reel A"),
        ((), (Buyable(50), Buyable(50, 2)), (), RULES, "new reel of 50 pitches"),
        ((), (Buyable(0),), (), RULES, "new reel of 0 pitches"),
        ((), (Buyable(50, 0),), (), RULES, "new reel of 50 pitches"),
        ((), (Buyable(50, 1, -1),), (), RULES, "new reel of 50 pitches"),
        ((), (), (Wanted("p", 4), Wanted("p", 5)), RULES, "piece p"),
        ((), (), (Wanted("p", 0),), RULES, "piece p"),
        ((), (), (), Rules(0, 3), "keep_pitches"),
        ((), (), (), Rules(3, 0), "shortest_joined_pitches"),
        ((), (), (), Rules(3, 3, 2), "most_joints"),
    ],
)
def test_what_cannot_be_is_refused_by_name(
    stock: tuple[Stock, ...],
    buyable: tuple[Buyable, ...],
    wanted: tuple[Wanted, ...],
    rules: Rules,
    named: str,
) -> None:
    with pytest.raises(BadValues) as refused:
        Problem(stock, buyable, wanted, rules)

    assert [error.column for error in refused.value.errors] == [named]
    assert all(error.mend for error in refused.value.errors)


def test_everything_wrong_is_told_at_once() -> None:
    with pytest.raises(BadValues) as refused:
        Problem((Stock("A", None, 0),), (Buyable(0),), (Wanted("p", -1),), RULES)

    assert len(refused.value.errors) == 3


def test_lengths_of_the_rules_round_up_to_whole_pitches() -> None:
    """300 mm are 3 pitches of 100 mm, 6 of 50 mm and 9 of 33.3 mm, not 9.009."""
    assert Rules.for_pitch(100_000) == Rules(3, 3, 1)
    assert Rules.for_pitch(50_000) == Rules(6, 6, 1)
    assert Rules.for_pitch(33_300).keep_pitches == 10


def test_a_changed_problem_has_another_fingerprint() -> None:
    told = Problem((Stock("A", "L", 9),), (Buyable(50),), (Wanted("p", 4),), RULES)
    changed = [
        replace(told, stock=(Stock("A", "M", 9),)),
        replace(told, buyable=(Buyable(50, is_one_lot=True),)),
        replace(told, wanted=(Wanted("p", 4, may_join=True),)),
        replace(told, rules=Rules(3, 4)),
        replace(told, lot_of_group={"g": "L"}),
    ]

    assert len({told.fingerprint(), *(each.fingerprint() for each in changed)}) == 6


def test_nothing_wanted_cuts_nothing() -> None:
    plan = plan_cuts(Problem((Stock("A", "L", 9),), (Buyable(50),), (), RULES))

    assert (plan.reels, plan.unmet, plan.is_proven) == ((), (), True)


def test_with_no_tape_at_all_everything_is_unmet() -> None:
    plan = plan_cuts(Problem((), (), (Wanted("p", 4), Wanted("q", 4, "g")), RULES))

    assert plan.unmet == (Unmet("p", Why.TOO_LONG), Unmet("q", Why.TOO_LONG))
    assert plan.bounds.unmet == 2


def test_a_piece_longer_than_any_reel_is_told_of_and_the_rest_is_cut() -> None:
    problem = Problem((Stock("A", "L", 20),), (Buyable(50),), (Wanted("long", 60), Wanted("p", 18)), RULES)

    plan = plan_cuts(problem)

    assert plan.unmet == (Unmet("long", Why.TOO_LONG),)
    assert [(reel.label, reel.cuts) for reel in plan.reels] == [("A", (Cut("p", 0, 18),))]
    assert plan.is_proven


def test_a_piece_longer_than_any_reel_is_joined_where_it_may_be() -> None:
    """6 m from reels of 5 m that come as one lot: one joint, parts of 300 mm or more."""
    wanted = (Wanted("long", 60, may_join=True),)
    problem = Problem((), (Buyable(50, is_one_lot=True),), wanted, RULES)

    plan = plan_cuts(problem)

    assert faults(problem, plan) == ()
    assert (plan.joints, plan.new_reels, plan.unmet, plan.is_proven) == (1, 2, (), True)


def test_no_joint_where_it_saves_no_reel() -> None:
    """Three pieces of 6 are no longer than two reels of 10, but beside a part of 4 one of 2 is too short."""
    wanted = tuple(Wanted(f"p{n}", 6, may_join=True) for n in range(3))

    plan = plan_cuts(Problem((), (Buyable(10, is_one_lot=True),), wanted, Rules(3, 4)))

    assert (plan.joints, plan.new_reels, plan.is_proven) == (0, 3, True)


def test_a_joint_that_saves_a_reel_is_made() -> None:
    """Three pieces of 6 on two reels of 10: only with 3 + 3 joined, each part no shorter than 3."""
    wanted = tuple(Wanted(f"p{n}", 6, may_join=True) for n in range(3))
    stock = (Stock("A", "L", 10), Stock("B", "L", 10))
    problem = Problem(stock, (Buyable(20, is_one_lot=True),), wanted, RULES)

    plan = plan_cuts(problem)
    unjoined = plan_cuts(replace(problem, rules=Rules(3, 3, most_joints=0)))

    assert faults(problem, plan) == ()
    assert (plan.joints, plan.new_reels) == (1, 0)
    assert (unjoined.joints, unjoined.new_reels) == (0, 1)
    parts = sorted(cut for reel in plan.reels for cut in reel.cuts if cut.part)
    assert [cut.pitches for cut in parts] == [3, 3]


def test_a_piece_is_not_joined_of_two_lots() -> None:
    wanted = tuple(Wanted(f"p{n}", 6, may_join=True) for n in range(3))
    problem = Problem((Stock("A", "L", 10), Stock("B", "M", 10)), (), wanted, RULES)

    assert len(plan_cuts(problem).unmet) == 1


def test_the_urgent_is_met_first() -> None:
    """One reel of 10: the urgent piece of 8 before two others of 5, though they would be more."""
    wanted = (Wanted("a", 5, priority=2), Wanted("b", 5, priority=2), Wanted("urgent", 8, priority=1))

    plan = plan_cuts(Problem((Stock("A", "L", 10),), (), wanted, RULES))

    assert [each.key for each in plan.unmet] == ["a", "b"]
    assert {each.why for each in plan.unmet} == {Why.TOO_LITTLE}


def test_a_group_bound_to_a_lot_comes_from_it_or_not_at_all() -> None:
    stock = (Stock("A", "L", 10), Stock("B", "M", 10))
    wanted = (Wanted("p", 8, "g"), Wanted("q", 5, "h"))

    bound = plan_cuts(Problem(stock, (Buyable(50),), wanted, RULES, {"g": "M"}))
    gone = plan_cuts(Problem(stock[:1], (Buyable(50),), wanted, RULES, {"g": "M"}))

    assert {reel.lot: [cut.key for cut in reel.cuts] for reel in bound.reels} == {"L": ["q"], "M": ["p"]}
    assert gone.unmet == (Unmet("p", Why.NO_LOT),)


def test_tape_of_a_lot_that_is_not_known_serves_no_group() -> None:
    plan = plan_cuts(Problem((Stock("A", None, 10),), (), (Wanted("p", 4, "g"), Wanted("q", 4)), RULES))

    assert plan.unmet == (Unmet("p", Why.NO_LOT),)


def test_offcuts_before_open_reels_before_sealed_ones() -> None:
    """A piece of 8: from the sealed 20 nothing; of what is open the one that leaves no scrap."""
    stock = (Stock("sealed", "L", 20, is_sealed=True), Stock("tight", "L", 10), Stock("exact", "L", 8))

    plan = plan_cuts(Problem(stock, (Buyable(20),), (Wanted("p", 8),), RULES))

    assert [reel.label for reel in plan.reels] == ["exact"]


def test_marking_runs_from_the_longest_down_and_keeps_groups_together() -> None:
    wanted = (Wanted("a", 5, "g"), Wanted("b", 5), Wanted("c", 5, "g"), Wanted("d", 9))

    plan = plan_cuts(Problem((Stock("A", "L", 24),), (), wanted, RULES))

    assert [cut.key for cut in plan.reels[0].cuts] == ["d", "b", "a", "c"]


def test_joints_of_the_factory_inside_a_cut_are_told_of() -> None:
    """A reel of 20 from outside: 9 (20 to 11), 5 (11 to 6), 6 left; joints at 15, 11 and 4 from the hub."""
    reel = Stock("A", "L", 20, joins=(4, 11, 15))

    plan = plan_cuts(Problem((reel,), (), (Wanted("p", 9), Wanted("q", 5)), RULES))

    assert plan.reels[0].joins_met == (15,)


def test_a_deadline_that_is_over_still_leaves_an_answer() -> None:
    sizes = sorted(triplets(60, 1).elements())
    wanted = tuple(Wanted(f"P{number:03}", size) for number, size in enumerate(sizes))
    problem = Problem((), (Buyable(1000),), wanted, RULES)

    plan = plan_cuts(problem, Effort(deadline_s=0.0))

    assert faults(problem, plan) == ()
    assert plan.stopped_early
    assert not plan.is_proven
    assert not plan.unmet
