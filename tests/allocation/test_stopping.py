"""Who may end the work, how they are heard, and what they get then: a whole plan, never a broken one."""

from collections.abc import Callable

import pytest

from service.allocation.model import Progress, solve
from service.allocation.problem import Effort, Problem
from service.allocation.search.watch import Watch, solve_watched
from service.allocation.verify import faults
from tests.allocation.problems import installed_as, without_units
from tests.allocation.shows import a_show

LITTLE = Effort(scale=0.2)
NO_TIME = Effort(deadline_s=0.0)


def a_listener(heard: list[Progress], goes_on: bool) -> Callable[[Progress], bool]:
    def listen(progress: Progress) -> bool:
        heard.append(progress)
        return goes_on

    return listen


def test_between_parts_the_listener_hears_the_last_figures_again_after_a_while() -> None:
    heard: list[Progress] = []
    watch = Watch(a_listener(heard, goes_on=True), last=Progress(3, 7, 5000, 4000, 0, 1.0))

    assert not watch.is_late()
    assert heard == []

    watch.told_at -= 10.0
    assert not watch.is_late()
    assert [(one.parts_done, one.parts, one.cost) for one in heard] == [(3, 7, 5000)]


def test_a_listener_that_says_no_ends_the_work_without_waiting_for_the_part() -> None:
    watch = Watch(a_listener([], goes_on=False))
    watch.told_at -= 10.0
    assert watch.is_late()


def test_a_solver_at_work_on_something_endless_hears_the_wish_to_stop() -> None:
    """Forty pigeons in thirty-nine holes, told so that no solver ever finishes: it returns, with nothing."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    at = [[model.new_bool_var("") for _ in range(39)] for _ in range(40)]
    for pigeon in at:
        model.add_bool_or(pigeon)
    for hole in zip(*at, strict=True):
        for number, first in enumerate(hole):
            for second in hole[number + 1 :]:
                model.add_bool_or(~first, ~second)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.symmetry_level = 0
    solver.parameters.cp_model_presolve = False
    solver.parameters.linearization_level = 0

    assert solve_watched(solver, model, lambda: True) == cp_model.UNKNOWN


def short(seed: int) -> Problem:
    """A show for whose elements the store has not enough."""
    return a_show(seed, 40, stock=0.25)


def a_show_that_lost_a_supply() -> Problem:
    show = a_show(1, 60, stock=1.0)
    built = solve(show, NO_TIME)
    return without_units(installed_as(built, show), built.feeds[0].supply)


@pytest.mark.parametrize("problem", [short(1), a_show_that_lost_a_supply()], ids=["short", "built"])
def test_no_time_at_all_still_gives_a_whole_plan_marked_as_stopped(problem: Problem) -> None:
    answer = solve(problem, NO_TIME)

    assert answer.stopped_early
    assert faults(problem, answer) == []


def test_re_planning_ended_before_it_began_leaves_what_stands_as_it_is() -> None:
    problem = a_show_that_lost_a_supply()
    there = {"", *(unit.tag for unit in (*problem.supplies, *problem.decoders))}
    stood = [was for was in problem.installed if {was.supply, was.decoder} <= there]

    answer = solve(problem, NO_TIME)

    now = {(f.run, f.supply, f.output, f.decoder, f.first_channel) for f in answer.feeds}
    assert answer.moved == ()
    assert {(w.run, w.supply, w.output, w.decoder, w.first_channel) for w in stood} <= now


@pytest.mark.parametrize("seed", range(1, 9))
def test_with_time_to_think_a_short_show_is_never_darker_than_at_once(seed: int) -> None:
    """Watts dark by priority, the most urgent first."""
    problem = short(seed)
    at_once, thought = solve(problem, NO_TIME), solve(problem, LITTLE)

    priorities = sorted({block.priority for block in problem.blocks})
    dark = [tuple(one.unfed_uw.get(p, 0) for p in priorities) for one in (thought, at_once)]
    assert dark[0] <= dark[1]
    assert faults(problem, thought) == []
