"""What must stay dark by a plain sum: load less the usable watts of every supply that may feed it."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.allocation.model import solve
from service.allocation.problem import Effort, Installed, Problem, Source, Unit
from service.allocation.shortfall import dark_floor
from tests.allocation.everything import Everything
from tests.allocation.problems import a_block, a_decoder_model, a_problem, a_supply_model
from tests.allocation.shows import a_show, a_tiny_change, a_tiny_problem

MICRO = 1_000_000
WIDE = a_decoder_model("D8", banks=((8, 12.0),), channel_a=6.0)


@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 10**9), st.booleans())
def test_the_floor_is_never_above_what_trying_everything_leaves_dark(seed: int, built: bool) -> None:
    """Priority by priority, whatever plan it is measured from: here from one that feeds nothing at all."""
    problem = a_tiny_change(seed) if built else a_tiny_problem(seed)
    priorities = sorted({block.priority for block in problem.blocks})
    best = dict(zip(priorities, Everything(problem).search().key[0], strict=True))
    all_dark = {
        p: sum(r.load_uw for b in problem.blocks if b.priority == p for r in b.runs) for p in priorities
    }

    for dark in (best, all_dark):
        floors = dark_floor(problem, dark, {})
        assert all(floor <= best[priority] for priority, floor in floors.items())


def three_signs_and_two_supplies(**of_the_last: object) -> Problem:
    """3 x 90 W asked, 2 x 96 W there."""
    signs = (a_block("A", 90, priority=1), a_block("B", 90, priority=2))
    last = a_block("C", 90, priority=3, **of_the_last)  # type: ignore[arg-type]
    return a_problem((*signs, last), ((a_supply_model(), 2),), ((WIDE, 3),))


def test_load_less_watts_must_stay_dark_at_the_least_urgent() -> None:
    """270 W less 192 W is 78 W, and the third sign is 90 W dark."""
    floors = dark_floor(three_signs_and_two_supplies(), {3: 90 * MICRO}, {})
    assert floors == {3: 78 * MICRO}


def test_after_a_priority_that_is_not_proven_only_what_no_plan_escapes_is_counted() -> None:
    """With B dark as well the second priority has no floor, so the third may have what B would not get."""
    floors = dark_floor(three_signs_and_two_supplies(), {2: 90 * MICRO, 3: 90 * MICRO}, {})
    assert floors == {}


def test_batteries_do_not_count_for_what_takes_mains_supplies_only() -> None:
    problem = three_signs_and_two_supplies()
    battery = replace(a_supply_model("B96"), source=Source.BATTERY)
    with_battery = replace(
        problem,
        supply_models=(*problem.supply_models, battery),
        supplies=(*problem.supplies, Unit("B1", "B96")),
    )
    dark = {3: 90 * MICRO}
    assert dark_floor(with_battery, dark, {}) == {3: 78 * MICRO}
    either = replace(
        with_battery, blocks=tuple(replace(b, sources=frozenset(Source)) for b in with_battery.blocks)
    )
    assert dark_floor(either, dark, {}) == {}


def test_a_supply_that_is_over_counts_for_what_it_carries() -> None:
    """Both signs stay on one supply of 96 W, 180 W in all: nothing need be dark."""
    problem = a_problem((a_block("A", 90), a_block("B", 90)), ((a_supply_model(), 1),), ((WIDE, 1),))
    built = replace(
        problem,
        installed=tuple(Installed(f"{t}.1", "S96-01", 1, "D8-01", n) for t, n in (("A", 1), ("B", 5))),
    )
    assert dark_floor(built, {3: 90 * MICRO}, {}) == {}


def test_an_output_that_is_over_leaves_the_others_what_they_may_carry() -> None:
    """50 W on the first of four outputs of 24 W: 50 W and 3 x 24 W could be fed, 122 W in all."""
    wide = a_supply_model("S200", 200, (1.0, 1.0, 1.0, 1.0))
    blocks = (a_block("A", 50), *(a_block(tag, 24) for tag in "BCD"))
    problem = a_problem(blocks, ((wide, 1),), ((WIDE, 4),))
    built = replace(problem, installed=(Installed("A.1", "S200-01", 1, "D8-01", 1),))

    assert dark_floor(built, {3: 72 * MICRO}, {}) == {}
    assert dark_floor(problem, {3: 72 * MICRO}, {}) == {3: 26 * MICRO}


@pytest.mark.parametrize("seed", [1, 2])
def test_a_short_show_says_at_least_how_much_must_stay_dark(seed: int) -> None:
    """And has no gap of gear while a plan might feed more."""
    problem = a_show(seed, 40, stock=0.25)
    answer = solve(problem, Effort(scale=0.05))

    assert answer.unfed_bound_uw
    assert all(floor <= answer.unfed_uw[priority] for priority, floor in answer.unfed_bound_uw.items())
    assert (answer.gap is None) == (not answer.is_fed_proven or not answer.bound)
