"""Bounds are true: no plan costs less. The oracle is the whole-number model over every unit there is."""

from collections.abc import Callable

import pytest

from service.allocation.columns.bound import cover, reachable_uw, supply_floor
from service.allocation.columns.floors import decoder_floor
from service.allocation.columns.master import Box
from service.allocation.columns.relax import Search
from service.allocation.loads import stage_loads
from service.allocation.problem import Problem
from service.allocation.search.exact import solve_exactly
from service.allocation.search.kit import Kit, Store, build_kit
from service.allocation.search.part import first_plan, solve_part
from service.allocation.search.plan import faulty, missing, plan_cost
from tests.allocation.problems import a_block, a_decoder_model, a_problem, a_supply_model
from tests.bench.families import all_distinct, few_distinct

SMALL = [(family, seed) for family in (few_distinct, all_distinct) for seed in range(6)]


def kit_of(problem: Problem) -> Kit:
    return build_kit(stage_loads(problem).loads, Store(problem))


def best_cost(kit: Kit) -> int:
    """The optimum, proven without any of the bounds under test."""
    verdict = solve_exactly(kit, first_plan(kit), effort=20.0)
    assert verdict is not None
    assert verdict.proven
    return verdict.cost


@pytest.mark.parametrize(("family", "seed"), SMALL)
def test_no_bound_is_above_the_optimum(family: Callable[[int, int], Problem], seed: int) -> None:
    kit = kit_of(family(5, seed))
    optimum = best_cost(kit)

    search = Search(kit)
    relaxed = search.relax(Box((0,) * search.master.kinds, search.master.most()))

    assert supply_floor(kit) + decoder_floor(kit) <= optimum
    assert search.rounded(relaxed.bound) <= optimum


@pytest.mark.parametrize("seed", range(8))
def test_no_bound_is_above_the_optimum_where_the_amps_of_a_bank_bind(seed: int) -> None:
    """At 5 V a bank runs out of amps before channels, and whole bundles of banks are priced."""
    kit = kit_of(all_distinct(6, seed, 5))

    search = Search(kit)
    relaxed = search.relax(Box((0,) * search.master.kinds, search.master.most()))

    assert search.rounded(relaxed.bound) <= best_cost(kit)


@pytest.mark.parametrize(("family", "seed"), SMALL)
def test_the_column_search_finds_and_proves_the_same_optimum(
    family: Callable[[int, int], Problem], seed: int
) -> None:
    kit = kit_of(family(5, seed))

    verdict = solve_part(kit)

    assert verdict.proven
    assert verdict.cost == best_cost(kit)


@pytest.mark.parametrize("seed", range(4))
def test_sixteen_loads_are_proven(seed: int) -> None:
    kit = kit_of(few_distinct(16, seed))

    verdict = solve_part(kit)

    assert verdict.proven
    assert faulty(kit, verdict.plan) == ""
    assert not any(missing(kit, verdict.plan))
    assert plan_cost(kit, verdict.plan) == verdict.cost


def test_a_bound_holds_where_two_decoders_share_one_output() -> None:
    """Twelve and four channels on one output of 120 W are one plan; two outputs would cost more."""
    blocks = tuple(a_block(f"E{n:02d}", 7.5) for n in range(16))
    problem = a_problem(
        blocks,
        supplies=((a_supply_model("S120", 120, (5.0,), cost=2000), 4),),
        decoders=(
            (a_decoder_model("D4", cost=1000), 4),
            (a_decoder_model("D12", ((12, 20.0),), cost=2200), 4),
        ),
    )

    verdict = solve_part(kit_of(problem))

    assert (verdict.cost, verdict.bound) == (2000 + 2200 + 1000, 2000 + 2200 + 1000)


def test_a_supply_counts_only_for_watts_that_loads_can_bring_onto_it() -> None:
    """Three loads of 60 W on outputs of 96 W: one each, so three supplies and not two."""
    problem = a_problem(tuple(a_block(f"E{n}", 30, 30) for n in range(3)), supplies=((a_supply_model(), 9),))
    kit = kit_of(problem)

    assert reachable_uw(kit, 0) == 60_000_000
    assert supply_floor(kit) == 3000


def test_the_cheapest_cover_mixes_sizes() -> None:
    """By hand: 250 W from 120 W at 20 and 70 W at 13 is 120 + 70 + 70 at 46, not 3 x 120 at 60."""
    assert cover(250, [(120, 20), (70, 13)]) == 46
    assert cover(0, [(120, 20)]) == 0


def test_many_units_in_the_store_are_no_reason_to_stop_short_of_the_optimum() -> None:
    """Ten small supplies are dearer than two large ones; a search that counts on few units misses it."""
    blocks = tuple(a_block(f"E{n:02d}", 19) for n in range(10))
    problem = a_problem(
        blocks,
        supplies=((a_supply_model("S20", 20, (1.0,), cost=400), 12), (a_supply_model(cost=1000), 12)),
    )

    verdict = solve_part(kit_of(problem))

    # 190 W: two of 96 W hold five loads each; three decoders of four channels would have to straddle
    # them, so each has two.
    assert verdict.proven
    assert verdict.cost == 2 * 1000 + 4 * 500
