"""Supplies filled by watts and channels at once, against optima settled by a second solver."""

from service.allocation.model import solve
from service.allocation.problem import Problem
from service.allocation.verify import faults
from tests.allocation.problems import a_block, a_decoder_model, a_problem, a_supply_model


def supplies_of_384_w_and_8_channels(loads: list[tuple[int, int]]) -> Problem:
    """The bin is a bank: eight channels, and 16 A at 24 V, which is what one supply gives."""
    blocks = tuple(a_block(f"L{n:02d}", *([watts / count] * count)) for n, (watts, count) in enumerate(loads))
    supply = a_supply_model("S384", 384, (16.0,), cost=1000)
    decoder = a_decoder_model("D8", banks=((8, 16.0),), channel_a=16.0, cost=1000)
    return a_problem(blocks, ((supply, len(loads)),), ((decoder, len(loads)),))


def test_p8_channels_decide_where_watts_alone_would_not() -> None:
    """P8: six of 60 W on 4 channels and five of 30 W on 1: 4 supplies, by watts alone 2.

    Source: made for this table, settled by CP-SAT on a model of its own.
    """
    loads = [(60, 4)] * 6 + [(30, 1)] * 5
    problem = supplies_of_384_w_and_8_channels(loads)

    answer = solve(problem)

    assert faults(problem, answer) == []
    assert -(-sum(watts for watts, _ in loads) // 384) == 2
    assert (len({feed.decoder for feed in answer.feeds}), answer.proven) == (4, True)


def test_p9_watts_and_channels_together() -> None:
    """P9: 4 supplies. Source: made for this table, settled by CP-SAT on a model of its own."""
    loads = [(200, 4), (184, 1), (192, 3), (192, 3), (150, 4), (134, 4), (100, 1), (96, 2), (96, 2), (48, 1)]
    problem = supplies_of_384_w_and_8_channels(loads)

    answer = solve(problem)

    assert faults(problem, answer) == []
    assert len({feed.decoder for feed in answer.feeds}) == len({feed.supply for feed in answer.feeds}) == 4
    assert answer.proven
