"""The day after: as much as can be is fed, and what is built is left alone."""

from dataclasses import replace
from random import Random

import pytest
from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from service.allocation.model import solve
from service.allocation.problem import Answer, Block, Effort, Installed, Problem, Unit
from service.allocation.verify import faults
from tests.allocation.everything import Everything
from tests.allocation.problems import (
    a_block,
    a_decoder_model,
    a_problem,
    a_run,
    a_supply_model,
    installed_as,
    with_spares,
    without_units,
)
from tests.allocation.shows import a_show, a_tiny_change

# No time at all: every part gets its first plan, which is as good as any to be changed later.
LITTLE = Effort(deadline_s=0.0)


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
    assert len(changed(problem, answer)) == best.key[1]
    assert answer.cost == best.key[3]
    assert answer.bound <= best.key[3]


def changed(problem: Problem, answer: Answer) -> set[str]:
    """Installed runs that could have stayed as they were and did not."""
    there = {"", *(unit.tag for unit in problem.supplies), *(unit.tag for unit in problem.decoders)}
    runs = {run.tag for block in problem.blocks for run in block.runs}
    alive = {was.run for was in problem.installed if was.supply in there and was.decoder in there} & runs
    return set(answer.moved) | (alive - {feed.run for feed in answer.feeds})


def a_built_show(elements: int, seed: int = 1) -> tuple[Problem, Answer]:
    """A show with a generous store, allocated and built."""
    problem = a_show(seed, elements, stock=12.0)
    answer = solve(problem, LITTLE)
    return installed_as(answer, problem), answer


def test_when_nothing_happened_nothing_changes() -> None:
    problem, answer = a_built_show(80)

    again = solve(problem)

    assert again.feeds == answer.feeds
    assert (again.moved, again.refed, again.cost) == ((), (), 0)
    assert faults(problem, again) == []


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_five_dead_supplies_move_nothing_when_there_are_spares(seed: int) -> None:
    """Every run of a dead supply keeps its decoder and channels; only the decoder's feed is plugged again."""
    problem, before = a_built_show(120, seed)
    dead = Random(seed).sample(sorted({feed.supply for feed in before.feeds}), 5)
    after = without_units(with_spares(problem, *dead), *dead)

    answer = solve(after)

    assert faults(after, answer) == []
    assert answer.moved == ()
    assert {one.run for one in answer.unfed} == {one.run for one in before.unfed}
    lost = {feed.run: (feed.decoder, feed.first_channel) for feed in before.feeds if feed.supply in dead}
    assert set(answer.refed) == set(lost)
    assert {f.run: (f.decoder, f.first_channel) for f in answer.feeds if f.run in lost} == lost


def test_five_dead_supplies_and_ten_newcomers_in_a_big_show_move_nothing() -> None:
    """1,000 elements."""
    problem, before = a_built_show(1000)
    dead = Random(5).sample(sorted({feed.supply for feed in before.feeds}), 5)
    new = tuple(a_block(f"NEW{n}", 6, 6, 6, 6, sites=(f"place {1 + n % 9}",)) for n in range(10))
    after = without_units(with_spares(replace(problem, blocks=(*problem.blocks, *new)), *dead), *dead)

    answer = solve(after)

    assert faults(after, answer) == []
    assert changed(after, answer) == set()
    assert {one.run for one in answer.unfed} == {one.run for one in before.unfed}


# One supply of 4 A and 96 W at 24 V, decoders of four channels: the small house of the tests below.
WINDOW = a_block("WIN", 10, 10, 10, 10)
HEARTH = a_block("HEA", 20)


def built(problem: Problem, *rows: Installed) -> Problem:
    sites = {tag: "deck" for row in rows for tag in (row.supply, row.decoder)}
    return replace(
        problem,
        installed=rows,
        supplies=tuple(replace(unit, site=sites.get(unit.tag, "")) for unit in problem.supplies),
        decoders=tuple(replace(unit, site=sites.get(unit.tag, "")) for unit in problem.decoders),
    )


def test_room_on_what_stands_costs_nothing() -> None:
    """The hearth goes on the spare channel beside the sign: no new gear."""
    sign = a_block("SGN", 5, 5, 5)
    problem = built(a_problem((sign, HEARTH)), Installed("SGN.1", "S96-01", 1, "D4-01", 1))

    answer = solve(problem)

    assert [(f.run, f.supply, f.decoder, f.first_channel) for f in answer.feeds] == [
        ("HEA.1", "S96-01", "D4-01", 4),
        ("SGN.1", "S96-01", "D4-01", 1),
    ]
    assert (answer.cost, answer.proven) == (0, True)


def test_a_new_run_joins_the_channels_of_its_block() -> None:
    """An element that grows keeps one row of channels while amps allow."""
    grown = a_block("SGN", runs=(a_run("SGN.1", 10, 10), a_run("SGN.2", 10, 10)))
    problem = built(a_problem((grown,)), Installed("SGN.1", "S96-01", 1, "D4-01", 3))

    answer = solve(problem)

    assert {(f.decoder, f.first_channel) for f in answer.feeds} == {("D4-01", 3)}
    assert answer.split == ()


def test_the_fewest_runs_move_to_let_another_in() -> None:
    """Two small supplies and a large newcomer: one run of the two moves, and only one."""
    blocks = (a_block("A", 20), a_block("B", 25), a_block("NEW", 40, priority=1))
    problem = a_problem(blocks, ((a_supply_model("S48", 48, (2.0,)), 2),), ((a_decoder_model(), 3),))
    problem = built(
        problem, Installed("A.1", "S48-01", 1, "D4-01", 1), Installed("B.1", "S48-02", 1, "D4-02", 1)
    )

    answer = solve(problem)

    assert faults(problem, answer) == []
    assert answer.unfed == ()
    assert len(answer.moved) == 1


def test_a_locked_feed_stays_even_when_a_newcomer_stays_dark_for_it() -> None:
    blocks = (a_block("A", 20), a_block("B", 25), a_block("NEW", 40, priority=1))
    problem = a_problem(blocks, ((a_supply_model("S48", 48, (2.0,)), 2),), ((a_decoder_model(), 3),))
    problem = built(
        problem,
        Installed("A.1", "S48-01", 1, "D4-01", 1, locked=True),
        Installed("B.1", "S48-02", 1, "D4-02", 1, locked=True),
    )

    answer = solve(problem)

    assert faults(problem, answer) == []
    assert [one.run for one in answer.unfed] == ["NEW.1"]
    assert answer.unfed[0].limit == "lock"


def test_a_dead_decoder_is_replaced_on_the_same_output() -> None:
    """The supply has room again, so one decoder is all that is new."""
    problem = built(a_problem((WINDOW,)), Installed("WIN.1", "S96-01", 1, "D4-01", 1))
    after = without_units(problem, "D4-01")

    answer = solve(after)

    assert answer.refed == ("WIN.1",)
    assert (answer.feeds[0].supply, answer.feeds[0].decoder, answer.cost) == ("S96-01", "D4-02", 500)


def an_overloaded_output(mend: bool) -> Problem:
    """70 W, 30 W and 10 W on one output of 96 W, each on a decoder of its own."""
    blocks = (a_block("A", 35, 35), a_block("B", 30), a_block("C", 10))
    rows = [Installed(f"{tag}.1", "S96-01", 1, f"D4-0{n}", 1) for n, tag in enumerate("ABC", 1)]
    return replace(built(a_problem(blocks), *rows), mend=mend)


def test_a_feed_over_its_limit_stays_when_nobody_asks_to_mend() -> None:
    problem = an_overloaded_output(mend=False)

    answer = solve(problem)

    assert (answer.moved, answer.cost, answer.unfed) == ((), 0, ())
    assert faults(problem, answer) == []


def test_mending_moves_the_fewest_runs() -> None:
    """110 W on 96 W: moving 30 W away is enough, moving 10 W is not; one run moves."""
    problem = an_overloaded_output(mend=True)

    answer = solve(problem)

    assert faults(problem, answer) == []
    assert answer.unfed == ()
    assert answer.moved in (("A.1",), ("B.1",))


def test_mending_leaves_dark_what_nothing_else_can_feed() -> None:
    """With no other supply, the least load goes dark that brings the rest under the limit."""
    problem = replace(an_overloaded_output(mend=True), supplies=an_overloaded_output(True).supplies[:1])

    answer = solve(problem)

    assert faults(problem, answer) == []
    assert [one.run for one in answer.unfed] == ["B.1"]


def test_mending_takes_a_run_off_the_wrong_voltage() -> None:
    """A 12 V run that was plugged into a 24 V supply."""
    twelve = a_supply_model("S12", 60, (5.0,), volts=12)
    problem = a_problem((a_block("LOW", 10, volts=12),), ((a_supply_model(), 1), (twelve, 1)))
    problem = replace(built(problem, Installed("LOW.1", "S96-01", 1, "D4-01", 1)), mend=True)

    answer = solve(problem)

    assert faults(problem, answer) == []
    assert (answer.feeds[0].supply, answer.moved) == ("S12-01", ("LOW.1",))


def test_nothing_is_added_to_an_output_that_is_over() -> None:
    problem = an_overloaded_output(mend=False)
    more = replace(problem, blocks=(*problem.blocks, a_block("NEW", 1)))

    answer = solve(more)

    assert faults(more, answer) == []
    assert next(feed.supply for feed in answer.feeds if feed.run == "NEW.1") == "S96-02"


def test_the_last_spare_goes_to_what_is_fed_first() -> None:
    """Two voltages want the one decoder left in the store; the first in priority gets it."""
    low = a_supply_model("S12", 60, (5.0,), volts=12)
    blocks = (
        a_block("A", 20, 20, 20),
        a_block("B", 10, 10, 10, 10),
        a_block("LOW", 10, 10, 10, 10, volts=12, priority=1),
    )
    problem = a_problem(blocks, ((a_supply_model(), 1), (low, 1)), ((a_decoder_model(), 2),))
    problem = built(problem, Installed("A.1", "S96-01", 1, "D4-01", 1))

    answer = solve(problem)

    assert faults(problem, answer) == []
    assert [one.run for one in answer.unfed] == ["B.1"]


def test_equal_problems_get_equal_changes_in_any_order() -> None:
    problem, before = a_built_show(40, 2)
    after = without_units(problem, *sorted({feed.supply for feed in before.feeds})[:3])
    backwards = replace(
        after,
        blocks=after.blocks[::-1],
        supplies=after.supplies[::-1],
        decoders=after.decoders[::-1],
        installed=after.installed[::-1],
    )

    assert solve(after) == solve(backwards)


def test_mending_leaves_alone_what_rests_on_a_limit_nobody_knows() -> None:
    """A pixel driver without amps on its label is not over its limit: it stays, and is reported."""
    problem = an_overloaded_output(mend=False)
    models = tuple(replace(m, channel_ua=None) for m in problem.decoder_models)
    kept = replace(problem, decoder_models=models)
    within = replace(kept, installed=kept.installed[:1])

    answer = solve(replace(within, mend=True))

    assert [f for f in answer.feeds if f.run == within.installed[0].run]
    assert within.installed[0].run not in answer.moved
    assert faults(replace(within, mend=True), answer) == []


def test_a_newcomer_goes_round_a_row_whose_decoder_gets_another_supply() -> None:
    """B has channels 2 and 3 of its decoder; its supply dies; A comes new onto the same decoder."""
    blocks = (a_block("A", 10), a_block("B", 20))
    problem = a_problem(blocks, ((a_supply_model(), 1),))
    decoder = problem.decoders[0].tag
    problem = replace(
        problem,
        decoders=problem.decoders[:1],
        installed=(Installed("B.1", "GONE", 1, decoder, 2),),
    )

    answer = solve(problem)

    assert faults(problem, answer) == []
    where = {feed.run: feed.first_channel for feed in answer.feeds}
    assert where["B.1"] == 2
    assert where["A.1"] != 2


def a_row_on(decoder: str, watts: float, supply: str) -> tuple[Block, Installed]:
    """An element of one run, on the first channel of a decoder of its own."""
    block = a_block(decoder.replace("D", "E"), watts)
    return block, Installed(block.runs[0].tag, supply, 1, decoder, 1)


def a_dead_supply_without_a_spare() -> Problem:
    """Room is left for the dead supply's 70 W nowhere, but 80 W in two halves."""
    rows = [a_row_on("D1", 60, "S1"), a_row_on("D2", 30, "S2"), a_row_on("D3", 30, "S2")]
    rows.append(a_row_on("D4", 70, "dead"))
    bare = a_problem(
        tuple(block for block, _ in rows),
        supplies=((a_supply_model("S100", 100, (5.0,)), 0),),
        decoders=((a_decoder_model("D", channel_a=4.0), 0),),
    )
    return replace(
        bare,
        supplies=(Unit("S1", "S100", "deck"), Unit("S2", "S100", "deck")),
        decoders=tuple(Unit(f"D{number}", "D", "deck") for number in range(1, 5)),
        installed=tuple(was for _, was in rows),
    )


def test_a_whole_decoder_is_plugged_elsewhere_before_its_rows_are_taken_off_it() -> None:
    """One run must change its output; it keeps its decoder and its channels, so no address changes."""
    problem = a_dead_supply_without_a_spare()

    answer = solve(problem)

    assert (dict(answer.unfed_uw), len(answer.moved), answer.refed) == ({}, 1, ("E4.1",))
    now = {feed.run: (feed.decoder, feed.first_channel) for feed in answer.feeds}
    assert now == {was.run: (was.decoder, was.first_channel) for was in problem.installed}
    assert faults(problem, answer) == []
