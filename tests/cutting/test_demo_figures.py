"""Two shelves of an invented house in plain numbers: what must be bought, and why metres are not enough."""

from service.cutting.lots import Yield, yields
from service.cutting.plan import NEW_LOT, Unmet, Why
from service.cutting.problem import Buyable, Problem, Rules, Stock, Wanted
from service.cutting.solve import plan_cuts
from service.cutting.verify import faults


def colour_tape() -> Problem:
    """100 mm pitch, 5 m reels: 67.7 m wanted, 31.5 m on the shelf."""
    counts = {50: 1, 48: 2, 22: 2, 20: 12, 15: 12, 10: 4, 9: 3}
    lots = {"R-101": "F", "R-102": "F", "R-103": "F", "R-104": "K", "R-105": "K"}
    stock = [Stock(tag, lot, 50, is_sealed=True) for tag, lot in lots.items()]
    stock += [Stock("R-106", "F", 34), Stock("R-107", "K", 22), Stock("R-108", "F", 9)]
    wanted = [Wanted(f"{size}/{n}", size) for size, count in counts.items() for n in range(count)]
    return Problem(tuple(stock), (Buyable(50),), tuple(wanted), Rules.for_pitch(100_000))


def test_eight_new_reels_and_no_fewer() -> None:
    """ceil((67.7 − 31.5) / 5) = 8 by the sum, and 8 can be done. Source: worked by hand beside the shelf."""
    problem = colour_tape()
    assert sum(piece.pitches for piece in problem.wanted) == 677
    assert sum(reel.pitches for reel in problem.stock) == 315

    plan = plan_cuts(problem)

    assert faults(problem, plan) == ()
    assert (plan.new_reels, plan.bounds.new_reels, plan.opened) == (8, 8, 5)
    assert plan.is_proven
    assert not plan.unmet


PORTHOLES, HORIZON = "portholes", "horizon"


def tunable_tape(*more: Stock, buyable: tuple[Buyable, ...] = ()) -> Problem:
    """50 mm pitch, 5 m reels: 20.4 m wanted in two match groups and four loose pieces; 22.5 m in two lots."""
    stock = [Stock(tag, "B", 100, is_sealed=True) for tag in ("R-131", "R-132", "R-133")]
    stock += [Stock("R-134", "E", 100, is_sealed=True), Stock("R-135", "E", 50), *more]
    wanted = [Wanted(f"porthole {n}", 25, PORTHOLES) for n in range(1, 9)]
    wanted += [Wanted(f"horizon {n}", 80, HORIZON) for n in (1, 2)]
    wanted += [Wanted(f"jar {n}", 12) for n in range(1, 5)]
    return Problem(tuple(stock), buyable, tuple(wanted), Rules.for_pitch(50_000))


def test_metres_enough_and_still_not_the_pieces() -> None:
    """22.5 m ≥ 20.4 m, yet either group takes two whole reels of a lot, and no two lots have two each."""
    problem = tunable_tape()

    plan = plan_cuts(problem)

    assert sum(reel.pitches for reel in problem.stock) == 450
    assert sum(piece.pitches for piece in problem.wanted) == 408
    assert plan.unmet == (Unmet("horizon 1", Why.NO_LOT), Unmet("horizon 2", Why.NO_LOT))
    assert plan.bounds.unmet == 2
    assert faults(problem, plan) == ()


def test_one_more_reel_of_either_lot_mends_it() -> None:
    for lot in ("B", "E"):
        problem = tunable_tape(Stock("R-136", lot, 100, is_sealed=True))

        plan = plan_cuts(problem)

        assert faults(problem, plan) == ()
        assert not plan.unmet, lot
        assert plan.new_reels == 0


def test_two_reels_of_one_new_lot_mend_it_too() -> None:
    problem = tunable_tape(buyable=(Buyable(100, is_one_lot=True),))

    plan = plan_cuts(problem)

    assert faults(problem, plan) == ()
    assert (plan.new_reels, plan.bounds.new_reels, plan.is_proven) == (2, 2, True)
    assert {reel.lot for reel in plan.reels if reel.is_new} == {NEW_LOT}


def test_new_reels_each_of_its_own_lot_do_not() -> None:
    plan = plan_cuts(tunable_tape(buyable=(Buyable(100),)))

    assert {each.key for each in plan.unmet} == {"horizon 1", "horizon 2"}
    assert plan.is_proven


def test_which_lot_yields_what() -> None:
    """Two pieces of 4 m take two reels of 5 m; eight of 1.25 m take two as well."""
    told = {(each.group, each.lot): each for each in yields(tunable_tape())}

    assert [each.yields_all for each in told.values()] == [True, False, True, False]
    assert told[HORIZON, "E"] == Yield(HORIZON, "E", 150, 1, 2, 160, 1)
    assert told[PORTHOLES, "E"] == Yield(PORTHOLES, "E", 150, 6, 8, 200, 1)
    assert told[HORIZON, "B"].says == "this lot yields every piece"
    assert told[HORIZON, "E"].says == "this lot has too few metres"


def test_more_metres_but_not_the_pieces() -> None:
    """Lot P has 6 m in three lengths of 2 m, lot Q 5 m in one: two pieces of 2.5 m come from Q alone."""
    stock = [Stock(f"P{n}", "P", 40) for n in range(3)] + [Stock("Q", "Q", 100)]
    wanted = (Wanted("sill 1", 50, "sills"), Wanted("sill 2", 50, "sills"))

    of_p, of_q = yields(Problem(tuple(stock), (), wanted, Rules.for_pitch(50_000)))

    assert of_p.says == "this lot has more metres but not the pieces"
    assert (of_p.pieces, of_p.missing_reels) == (0, None)
    assert (of_q.says, of_q.pieces) == ("this lot yields every piece", 2)
