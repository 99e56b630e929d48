"""Equal problems get equal plans, whatever the order, the number of processes or the hash seed."""

import os
import subprocess
import sys
from dataclasses import replace
from random import Random

import pytest

from service.allocation.canon import checksum
from service.allocation.model import Progress, solve
from service.allocation.problem import Answer, Effort, Problem, Unit
from service.allocation.verify import faults
from tests.allocation.problems import a_block, a_problem
from tests.bench.families import few_distinct, whole_show

QUICK = Effort(scale=0.1)


def shuffled(problem: Problem, seed: int) -> Problem:
    """The same problem told in another order."""
    random = Random(seed)

    def mixed(things: tuple[object, ...]) -> tuple[object, ...]:
        return tuple(random.sample(things, len(things)))

    told = {
        name: mixed(getattr(problem, name))
        for name in ("blocks", "supply_models", "decoder_models", "supplies", "decoders", "installed")
    }
    return replace(problem, **told)  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", [1, 2])
def test_a_problem_told_in_another_order_gets_the_same_plan(seed: int) -> None:
    problem = whole_show(40, seed)

    assert solve(shuffled(problem, seed), QUICK) == solve(problem, QUICK)


def test_scarce_stock_told_in_another_order_gets_the_same_plan() -> None:
    problem = short_of_gear()

    assert solve(shuffled(problem, 3), QUICK) == solve(problem, QUICK)


def test_one_and_two_processes_give_the_same_plan() -> None:
    problem = whole_show(40, 3)

    assert solve(problem, replace(QUICK, processes=2)) == solve(problem, QUICK)


def test_the_order_of_hashes_does_not_matter() -> None:
    """Two fresh interpreters with different hash seeds print the same checksum."""
    told = {_in_a_fresh_interpreter(seed) for seed in ("1", "2")}

    assert told == {checksum(solve(whole_show(40, 4), QUICK))}


def _in_a_fresh_interpreter(hash_seed: str) -> str:
    code = (
        "from tests.bench.families import whole_show\n"
        "from service.allocation.canon import checksum\n"
        "from service.allocation.model import solve\n"
        "from service.allocation.problem import Effort\n"
        "print(checksum(solve(whole_show(40, 4), Effort(scale=0.1))))\n"
    )
    environment = {**os.environ, "PYTHONHASHSEED": hash_seed}
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment
    )
    return done.stdout.strip()


def test_a_listener_that_says_no_gets_a_whole_plan_marked_as_stopped() -> None:
    problem = whole_show(40, 1)
    heard: list[Progress] = []

    def one_is_enough(progress: Progress) -> bool:
        heard.append(progress)
        return False

    answer = solve(problem, QUICK, one_is_enough)

    assert answer.stopped_early
    assert heard
    assert faults(problem, answer) == []


def test_a_listener_hears_every_part() -> None:
    problem = whole_show(40, 1)
    heard: list[Progress] = []

    def listen(progress: Progress) -> bool:
        heard.append(progress)
        return True

    answer = solve(problem, QUICK, listen)

    assert not answer.stopped_early
    told = [one.parts_done for one in heard]  # long work is told of in between as well
    assert told == sorted(told)
    assert set(told) - {0} == set(range(1, answer.parts + 1))
    assert (heard[-1].cost, heard[-1].bound) == (answer.cost, answer.bound)


def test_a_part_that_the_watchdog_ends_is_still_fed() -> None:
    problem = few_distinct(30, 1)

    answer = solve(problem, replace(QUICK, deadline_s=0.0))

    assert answer.stopped_early
    assert not answer.unfed
    assert faults(problem, answer) == []


def test_rows_of_one_bank_follow_each_other_in_the_order_of_tags() -> None:
    blocks = tuple(a_block(tag, 5) for tag in ("C", "A", "B"))

    answer = solve(a_problem(blocks))

    assert [(feed.run, feed.first_channel) for feed in answer.feeds] == [("A.1", 1), ("B.1", 2), ("C.1", 3)]


def short_of_gear() -> Problem:
    """A show with six tenths of the supplies and decoders it would use, and none to take their place."""
    whole = whole_show(60, 5)
    used = models_used(whole, solve(whole, QUICK))

    def kept(units: tuple[Unit, ...]) -> tuple[Unit, ...]:
        return tuple(u for u in units if int(u.tag.rpartition("/")[2]) < 0.6 * used.get(u.model, 0))

    return replace(whole, supplies=kept(whole.supplies), decoders=kept(whole.decoders))


def models_used(problem: Problem, answer: Answer) -> dict[str, int]:
    models = {unit.tag: unit.model for unit in (*problem.supplies, *problem.decoders)}
    used: dict[str, int] = {}
    for tag in answer.sites:
        used[models[tag]] = used.get(models[tag], 0) + 1
    return used


def test_scarce_stock_is_kept_and_what_is_dark_is_told_with_its_limit() -> None:
    problem = short_of_gear()

    answer = solve(problem, QUICK)

    assert answer.unfed
    assert all(one.limit and one.because for one in answer.unfed)
    assert faults(problem, answer) == []
    for priority, floor_uw in answer.unfed_bound_uw.items():
        assert floor_uw <= answer.unfed_uw[priority]


def test_of_plans_at_one_cost_the_evenly_loaded_one_is_taken() -> None:
    """Four loads of 40 W and 20 W on two supplies of 96 W: 60 W each, not 80 W and 40 W."""
    blocks = tuple(a_block(tag, watts) for tag, watts in (("A", 40), ("B", 40), ("C", 20), ("D", 20)))
    problem = a_problem(blocks)

    answer = solve(problem)

    load = dict(zip("ABCD", (40, 40, 20, 20), strict=True))
    fed: dict[str, int] = {}
    for feed in answer.feeds:
        fed[feed.supply] = fed.get(feed.supply, 0) + load[feed.run[0]]
    assert sorted(fed.values()) == [60, 60]


def test_a_match_group_goes_on_one_supply_where_that_costs_nothing() -> None:
    blocks = tuple(replace(a_block(f"E{n}", 40), match="moon" if n % 2 else "stars") for n in range(4))

    answer = solve(a_problem(blocks))

    by_group: dict[str, set[str]] = {}
    for feed in answer.feeds:
        by_group.setdefault("moon" if int(feed.run[1]) % 2 else "stars", set()).add(feed.supply)
    assert all(len(supplies) == 1 for supplies in by_group.values())
