"""How blocks become loads, and how a show falls apart into parts."""

from dataclasses import replace

from service.allocation.loads import fewest_rows, stage_loads
from service.allocation.parts import split_parts
from service.allocation.problem import Installed, Unit
from service.allocation.search.kit import Store, build_kit
from tests.allocation.problems import (
    a_block,
    a_decoder_model,
    a_problem,
    a_run,
    a_supply_model,
)


def test_a_block_is_one_load_when_amps_and_watts_allow() -> None:
    block = a_block("W", runs=tuple(a_run(f"W.{n}", 10, 10, 10) for n in range(3)))

    stage = stage_loads(a_problem((block,)))

    assert [(load.tag, load.runs, load.channels) for load in stage.loads] == [("W", ("W.0", "W.1", "W.2"), 3)]
    assert stage.loads[0].peak_uw == 30_000_000
    assert stage.loads[0].load_uw == 90_000_000
    assert stage.split == ()


def test_a_block_is_split_into_the_fewest_rows_that_the_amps_of_a_channel_allow() -> None:
    """2.4 A at 24 V is 57.6 W a channel: of four runs of 20 W two go on a row, not three."""
    block = a_block("W", runs=tuple(a_run(f"W.{n}", 20) for n in range(4)))

    stage = stage_loads(a_problem((block,)))

    assert [len(load.runs) for load in stage.loads] == [2, 2]
    assert sorted(run for load in stage.loads for run in load.runs) == ["W.0", "W.1", "W.2", "W.3"]
    assert stage.split == ("W",)


def test_exactly_the_amps_of_a_channel_do_not_split_a_block() -> None:
    """Equality with a limit is ok: 2.4 A on 2.4 A."""
    block = a_block("W", runs=(a_run("W.1", 28.8), a_run("W.2", 28.8)))

    assert len(stage_loads(a_problem((block,))).loads) == 1


def test_a_run_is_never_divided_and_one_that_nothing_can_carry_is_set_aside() -> None:
    block = a_block("W", runs=(a_run("W.1", 20), a_run("W.2", 60)))

    stage = stage_loads(a_problem((block,)))

    assert [load.runs for load in stage.loads] == [("W.1",)]
    assert [(owner.tag, [run.tag for run in runs]) for owner, runs in stage.never] == [("W", ["W.2"])]


def test_uneven_runs_are_split_into_the_fewest_rows_and_not_merely_in_order() -> None:
    """5 5 4 4 3 3 3 3 at 10 a row: three rows exist, first-fit-decreasing needs four (made here)."""
    runs = [a_run(f"R.{n}", watts) for n, watts in enumerate((5, 5, 4, 4, 3, 3, 3, 3))]

    rows = fewest_rows(runs, lambda row: sum(run.load_uw for run in row) <= 10_000_000)

    assert len(rows) == 3
    assert sorted(run.tag for row in rows for run in row) == [run.tag for run in runs]


def test_parts_are_split_by_voltage_and_by_places_that_hang_together() -> None:
    blocks = (
        a_block("A", 10, sites=("left",)),
        a_block("B", 10, sites=("left", "right")),
        a_block("C", 10, sites=("right",)),
        a_block("D", 10, sites=("wagon",)),
        a_block("E", 10, sites=("left",), volts=12),
    )

    parts = split_parts(a_problem(blocks))

    assert [[block.tag for block in part.blocks] for part in parts] == [["A", "B", "C"], ["D"], ["E"]]


def test_polarity_and_signal_do_not_split_a_part_because_a_supply_may_feed_both() -> None:
    blocks = (a_block("A", 10), a_block("B", 10, polarity="negative"))

    assert len(split_parts(a_problem(blocks))) == 1


def test_blocks_on_one_installed_unit_stay_together_wherever_they_are() -> None:
    blocks = (a_block("A", 10, sites=("left",)), a_block("B", 10, sites=("right",)))
    installed = (Installed("A.1", "S96-01", 1, "D4-01", 1), Installed("B.1", "S96-01", 1, "D4-01", 2))

    assert len(split_parts(a_problem(blocks, installed=installed))) == 1


def test_gear_goes_only_to_sites_that_serve_most_or_where_gear_stands() -> None:
    """A reaches left and right, B only right: nothing is gained by putting gear at left."""
    blocks = (a_block("A", 10, sites=("left", "right")), a_block("B", 10, sites=("right",)))
    problem = a_problem(blocks)

    kit = build_kit(stage_loads(problem).loads, Store(problem))

    assert [cell.site for cell in kit.cells] == ["right"]


def test_a_unit_that_stands_is_a_kind_of_its_own_and_costs_nothing() -> None:
    problem = a_problem((a_block("A", 10),))
    problem = replace(problem, supplies=(*problem.supplies, Unit("S96-77", "S96", "deck")))

    kit = build_kit(stage_loads(problem).loads, Store(problem))

    assert sorted((kit.stock_keys[kind.stock].site, kind.cost) for kind in kit.supplies) == [
        ("", 1000),
        ("deck", 0),
    ]


def test_a_decoder_whose_range_ends_below_what_the_battery_really_gives_is_not_used() -> None:
    """25.6 V counts as 24 V for the tape, but a decoder for 12 to 24 V is not for 25.6 V."""
    battery = replace(a_supply_model("B256"), output_mv=25_600)
    narrow = a_decoder_model("D24", volts=(12, 24))
    wide = a_decoder_model("D36", volts=(12, 36))
    problem = a_problem((a_block("A", 10),), supplies=((battery, 1),), decoders=((narrow, 1), (wide, 1)))

    kit = build_kit(stage_loads(problem).loads, Store(problem))

    assert [kind.model for kind in kit.decoders] == ["D36"]
