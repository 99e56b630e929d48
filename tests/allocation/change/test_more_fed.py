"""What lost its supply is fed by moving others out of the way, and what no packing feeds is proven dark."""

from dataclasses import replace
from random import Random

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.allocation.change.floor import packed_floor
from service.allocation.model import solve
from service.allocation.problem import Effort, Installed, Problem
from service.allocation.search.watch import pace_of
from service.allocation.verify import faults
from tests.allocation.everything import Everything
from tests.allocation.problems import (
    a_block,
    a_decoder_model,
    a_problem,
    a_supply_model,
    installed_as,
    without_units,
)
from tests.allocation.shows import a_show, a_tiny_change

MICRO = 1_000_000
LARGE = a_supply_model("S256", watts=256, outputs_a=(10.64,), cost=1032)
SMALL = a_supply_model("S77", watts=76.8, outputs_a=(3.2,), cost=1009)
PACE = pace_of(Effort(), None)
DECODER = a_decoder_model(channel_a=4.0, banks=((4, 16.0),))


def a_dead_large_supply() -> Problem:
    """Three large supplies carry four long rows and sixty short ones; the one with two long rows dies.

    A long row (92.16 W) fits on a large supply only, so many short ones have to leave for small supplies.
    """
    long_rows = tuple(a_block(f"LONG{n}", *[23.04] * 4) for n in range(4))
    short_rows = tuple(a_block(f"SHORT{n}", *[1.9] * 4) for n in range(60))
    problem = a_problem((*long_rows, *short_rows), ((LARGE, 3), (SMALL, 6)), ((DECODER, 64),))
    feeds = [Installed(f"LONG{n}.1", "S256-03", 1, f"D4-{n + 1:02d}", 1) for n in range(2)]
    feeds += [Installed(f"LONG{n}.1", f"S256-{n - 1:02d}", 1, f"D4-{n + 1:02d}", 1) for n in (2, 3)]
    feeds += [Installed(f"SHORT{n}.1", f"S256-{1 + n % 2:02d}", 1, f"D4-{n + 5:02d}", 1) for n in range(42)]
    feeds += [Installed(f"SHORT{n}.1", "S256-03", 1, f"D4-{n + 5:02d}", 1) for n in range(42, 50)]
    stands = {unit.tag: "deck" for unit in (*problem.supplies, *problem.decoders)}
    built = replace(
        problem,
        installed=tuple(feeds),
        supplies=tuple(
            replace(unit, site=stands[unit.tag]) if unit.model == "S256" else unit
            for unit in problem.supplies
        ),
        decoders=tuple(replace(unit, site=stands[unit.tag]) for unit in problem.decoders),
    )
    return without_units(built, "S256-03")


def test_many_give_way_so_that_everything_is_fed() -> None:
    problem = a_dead_large_supply()

    answer = solve(problem)

    assert faults(problem, answer) == []
    assert answer.unfed == ()
    assert {f.supply for f in answer.feeds if f.run.startswith("LONG")} == {"S256-01", "S256-02"}


def test_five_dead_supplies_without_spares_leave_little_dark() -> None:
    """Fifty elements: a quick repair leaves 217 W of the least urgent dark; moving others feeds 60 W more."""
    problem = a_show(3, 50, stock=12.0)
    before = solve(problem, Effort(deadline_s=0.0))
    built = installed_as(before, problem)
    dead = Random(3).sample(sorted({feed.supply for feed in before.feeds}), 5)
    short = without_units(built, *dead)
    short = replace(short, supplies=tuple(unit for unit in short.supplies if unit.site))

    answer = solve(short)

    assert faults(short, answer) == []
    assert answer.unfed_uw[2] <= 102.4 * MICRO
    assert answer.unfed_uw[3] <= 160 * MICRO


def test_a_plan_that_grew_is_the_same_every_time_in_any_order() -> None:
    problem = a_dead_large_supply()
    shuffled = replace(
        problem,
        blocks=problem.blocks[::-1],
        supplies=problem.supplies[::-1],
        installed=problem.installed[::-1],
    )

    assert solve(problem).feeds == solve(shuffled).feeds


def test_runs_that_cannot_be_divided_are_proven_dark_where_the_watts_would_do() -> None:
    """Three rows of 45 W are 135 W, two supplies carry 76.8 W each: 153.6 W, and yet one row stays dark."""
    rows = tuple(a_block(f"ROW{n}", 45) for n in range(3))
    problem = a_problem(rows, ((SMALL, 2),), ((DECODER, 3),))
    answer = solve(problem)
    again = solve(installed_as(answer, problem))

    assert packed_floor(problem, [one.run for one in answer.unfed], PACE) == {3: 45 * MICRO}
    for one in (answer, again):
        assert one.unfed_uw == {3: 45 * MICRO}
        assert one.unfed_bound_uw == {3: 45 * MICRO}


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 10**9))
def test_no_floor_is_above_what_trying_everything_leaves_dark(seed: int) -> None:
    problem = a_tiny_change(seed)
    best = Everything(problem).search().key[0]
    every_run = [run.tag for block in problem.blocks for run in block.runs]

    floors = packed_floor(problem, every_run, PACE)

    for priority, dark_uw in zip(sorted({block.priority for block in problem.blocks}), best, strict=True):
        assert floors.get(priority, 0) <= dark_uw
        if floors.get(priority, 0) < dark_uw:
            break
