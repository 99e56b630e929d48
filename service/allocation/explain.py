"""Why a run is dark: the one limit that binds."""

from collections.abc import Sequence

from service.allocation.problem import Block, Feed, Problem, Run

Why = tuple[str, float | None, float | None, str, str, str]


def why_never(problem: Problem, block: Block, runs: Sequence[Run]) -> Why | None:
    """The limit that no unit of any model there is could keep; None when stock alone is short."""
    return None


def why_left(problem: Problem, feeds: Sequence[Feed], block: Block, runs: Sequence[Run]) -> Why:
    """The limit that binds beside what is already fed."""
    watts = sum(run.load_uw for run in runs) / 1e6
    return "packing", watts, None, "W", f"{block.tag}: no free place for {watts:g} W", "one more supply or decoder"
