"""The day after: as much as can be is fed, and what is built is left alone."""

from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from service.allocation.model import solve
from service.allocation.verify import faults
from tests.allocation.everything import Everything
from tests.allocation.shows import a_tiny_change


@settings(max_examples=300, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 10**9))
def test_the_least_change_agrees_with_trying_everything(seed: int) -> None:
    """Dark watts by priority, then runs moved, then runs taken off their channels, then new gear."""
    problem = a_tiny_change(seed)
    best = Everything(problem).search()
    answer = solve(problem)
    note(f"{problem.installed}\n{best}\n{answer}")

    assert faults(problem, answer) == []
    priorities = sorted({block.priority for block in problem.blocks})
    assert tuple(answer.unfed_uw.get(p, 0) for p in priorities) == best.key[0]
    fed = {feed.run for feed in answer.feeds}
    there = {unit.tag for unit in (*problem.supplies, *problem.decoders)}
    runs = {run.tag for block in problem.blocks for run in block.runs}
    alive = {
        w.run for w in problem.installed if w.supply in there and (not w.decoder or w.decoder in there)
    } & runs
    assert len(set(answer.moved) | (alive - fed)) == best.key[1]
    assert answer.cost == best.key[3]
    assert answer.bound <= best.key[3]
