"""The allocator against trying everything on tiny problems, and against the judge on many shows."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, note, settings

from service.allocation.model import solve
from service.allocation.problem import Effort, Problem
from service.allocation.verify import faults
from tests.allocation.everything import Everything
from tests.allocation.problems import an_answer
from tests.allocation.shows import a_show, tiny_problems

SLOW = (HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large)


@settings(max_examples=300, deadline=None, suppress_health_check=SLOW)
@given(tiny_problems(most_runs=1))
def test_the_solver_agrees_with_trying_everything(problem: Problem) -> None:
    """What stays dark and what the gear weighs are the least there is; nothing is over; bounds are bounds."""
    best = Everything(problem).search()
    answer = solve(problem)
    note(f"{best}\n{answer}")

    assert faults(problem, answer) == []
    priorities = sorted({block.priority for block in problem.blocks})
    assert tuple(answer.unfed_uw.get(p, 0) for p in priorities) == best.key[0]
    assert answer.cost == best.key[3]
    assert answer.bound <= best.key[3]
    assert not answer.proven or answer.bound == answer.cost
    assert answer.unfed_bound_uw.get(priorities[0], 0) <= best.key[0][0]


@settings(max_examples=150, deadline=None, suppress_health_check=SLOW)
@given(tiny_problems(most_runs=2))
def test_blocks_of_several_runs_are_never_worse_than_their_bound(problem: Problem) -> None:
    """Where runs must be divided into rows there may be several ways; the answer takes one of them."""
    best = Everything(problem).search()
    answer = solve(problem)
    note(f"{best}\n{answer}")

    assert faults(problem, answer) == []
    priorities = sorted({block.priority for block in problem.blocks})
    dark = tuple(answer.unfed_uw.get(p, 0) for p in priorities)
    assert (dark, answer.cost) >= (best.key[0], best.key[3])
    if not answer.split:
        assert (dark, answer.cost) == (best.key[0], best.key[3])


@settings(max_examples=150, deadline=None, suppress_health_check=SLOW)
@given(tiny_problems(most_runs=2))
def test_the_judge_and_trying_everything_mean_the_same_rules(problem: Problem) -> None:
    """The best plan by trying everything has no faults either."""
    best = Everything(problem).search()
    rows: dict[str, set[tuple[str, int]]] = {}
    for feed in best.feeds:
        block = next(b.tag for b in problem.blocks if any(run.tag == feed.run for run in b.runs))
        rows.setdefault(block, set()).add((feed.decoder, feed.first_channel))
    split = tuple(tag for tag, ways in rows.items() if len(ways) > 1)

    assert faults(problem, an_answer(problem, best.feeds, best.key[3], best.sites, split)) == []


@pytest.mark.parametrize("hundred", range(5))
def test_five_hundred_shows_have_no_faults(hundred: int) -> None:
    """Short and plentiful stores, one to ten elements."""
    for seed in range(100 * hundred, 100 * hundred + 100):
        problem = a_show(seed, 1 + seed % 10, stock=(0.4, 1.0, 4.0)[seed % 3])
        answer = solve(problem, Effort(scale=0.05, seed=seed))
        assert faults(problem, answer) == [], seed


def test_a_show_with_nothing_in_the_store_is_all_dark() -> None:
    problem = replace(a_show(1, 12), supplies=(), decoders=())
    answer = solve(problem)

    assert faults(problem, answer) == []
    assert answer.feeds == ()
    assert all(dark.because and dark.mend for dark in answer.unfed)
