"""A lead that would be too long keeps a run dark, in figures; what is fed already stays and is reported."""

from dataclasses import replace

from service.allocation.model import solve
from service.allocation.problem import Answer, Block, Problem, Reach, Unfed, Unit
from service.allocation.verify import faults
from tests.allocation.problems import a_block, a_problem, a_run, installed_as

M = 1_000_000
WITH = "with 18 AWG, fed at one end, it keeps within 10 % up to 9.2 m"
OTHERS = ((11 * M, "use 16 AWG, good for 11.0 m"), (15 * M, "use 14 AWG, good for 15.0 m"))


def a_sign(reach: Reach | None, sites: tuple[str, ...] = ("deck",), watts: float = 10.0) -> Block:
    return a_block("SGN", runs=(replace(a_run("SGN.1", watts), reach=reach),), sites=sites)


def solved(problem: Problem) -> Answer:
    answer = solve(problem)
    assert faults(problem, answer) == []
    return answer


def the_dark_one(problem: Problem) -> Unfed:
    [one] = solved(problem).unfed
    return one


def test_a_lead_as_typed_is_too_long_and_the_least_wire_that_would_do_is_named() -> None:
    one = the_dark_one(a_problem((a_sign(Reach(9_200_000, 14 * M, because=WITH, others=OTHERS)),)))

    assert (one.limit, one.value, one.bound, one.unit) == ("lead-length", 14.0, 9.2, "m")
    assert one.because == f"its lead is 14 m; {WITH}"
    assert one.mend == "use 14 AWG, good for 15.0 m"


def test_where_no_change_would_do_its_gear_must_stand_nearer() -> None:
    one = the_dark_one(a_problem((a_sign(Reach(9_299_999, 20 * M, because=WITH, others=OTHERS)),)))

    assert one.mend == "stand its gear nearer, within 9.2 m of lead"


def test_a_run_that_no_lead_would_feed_says_what_binds() -> None:
    reach = Reach(
        -1, None, (), "lead-amps", 3.84, 3.0, "A", "3.84 A > 3.00 A in 22 AWG", ((M, "use 20 AWG"),)
    )
    one = the_dark_one(a_problem((a_sign(reach),)))

    assert (one.limit, one.value, one.bound, one.unit) == ("lead-amps", 3.84, 3.0, "A")
    assert (one.because, one.mend) == ("3.84 A > 3.00 A in 22 AWG", "use 20 AWG")


def test_of_two_places_the_near_one_feeds_it() -> None:
    far = Reach(9 * M, None, (("pit", 14 * M), ("wing", 8 * M)), because=WITH)
    answer = solved(a_problem((a_sign(far, ("pit", "wing")),)))

    assert set(answer.sites.values()) == {"wing"}


def test_gear_that_stands_too_far_off_is_not_used_and_the_lead_is_told() -> None:
    far = Reach(9 * M, None, (("pit", 14 * M), ("wing", 8 * M)), because=WITH)
    problem = a_problem((a_sign(far, ("pit", "wing")),))
    problem = replace(problem, supplies=(Unit("S96-01", "S96", "pit"),))
    one = the_dark_one(problem)

    assert one.limit == "site"
    assert f"from pit the lead would be 14 m; {WITH}" in one.because
    assert one.mend == "move S96-01 to wing"


def test_what_is_fed_stays_when_its_lead_proves_too_long_and_mending_does_not_put_it_out() -> None:
    """No move would shorten it: it stays and is reported, whatever else is mended."""
    built = a_problem((a_sign(None),))
    before = solve(built)
    later = replace(installed_as(before, built), blocks=(a_sign(Reach(9 * M, 14 * M, because=WITH)),))

    for problem in (later, replace(later, mend=True)):
        assert solved(problem).feeds == before.feeds


def test_mending_moves_what_is_too_far_off_where_another_place_is_near() -> None:
    built = a_problem((a_sign(None, ("pit",)),))
    far = Reach(9 * M, None, (("pit", 14 * M), ("wing", 8 * M)), because=WITH)
    later = replace(installed_as(solve(built), built), blocks=(a_sign(far, ("pit", "wing")),), mend=True)
    answer = solved(later)

    assert answer.moved == ("SGN.1",)
    assert {answer.sites[feed.supply] for feed in answer.feeds} == {"wing"}


def test_the_judge_refuses_a_feed_from_too_far_off() -> None:
    near = a_problem((a_sign(None),))
    answer = solve(near)
    far = replace(near, blocks=(a_sign(Reach(9 * M, 14 * M, because=WITH)),))

    assert any("its lead would be too long" in fault for fault in faults(far, answer))


def test_a_run_on_a_long_lead_is_dark_by_itself_and_its_neighbours_are_fed() -> None:
    long = replace(a_run("SGN.2", 10.0), reach=Reach(9 * M, 14 * M, because=WITH))
    problem = a_problem((a_block("SGN", runs=(a_run("SGN.1", 10.0), long)),))
    answer = solved(problem)

    assert [feed.run for feed in answer.feeds] == ["SGN.1"]
    assert [one.run for one in answer.unfed] == ["SGN.2"]
