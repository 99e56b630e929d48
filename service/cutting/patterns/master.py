"""The linear program over patterns, and the content of a reel that is worth most under its shadow prices."""

from collections.abc import Sequence
from math import inf
from typing import Any

from service.allocation.quiet import linear_program
from service.cutting.board import Kind
from service.cutting.patterns.filling import Pattern, Task, pattern_of

# Prices are turned into whole numbers at this scale, so that bounds are exact arithmetic.
SCALE = 10**9
# Worth less than anything that can be cut.
NEVER = -(10**16)


class Contents:
    """What is worth most, by room."""

    def __init__(self, value: list[int], steps: list[tuple[Kind, int, Any]]) -> None:
        self.value, self._steps = value, steps

    def pattern(self, room: int) -> Pattern:
        content: dict[Kind, int] = {}
        for kind, take, better in reversed(self._steps):
            width = kind[0] * take
            if room >= width and better[room - width]:
                content[kind] = content.get(kind, 0) + take
                room -= width
        return pattern_of(content)


def best_contents(
    prices: Sequence[int], kinds: Sequence[Kind], counts: Sequence[int], longest: int, full: bool = False
) -> Contents:
    """The dearest content of every room up to `longest`, with at most `counts` of each kind.

    With `full` only contents that fill the room to the mark count, even at a loss. Counts are taken in
    parcels of 1, 2, 4 …, so a kind wanted 600 times costs ten passes.
    """
    import numpy as np  # heavy: loaded only where the work is done

    value = np.zeros(longest + 1, dtype=np.int64)
    if full:
        value[1:] = NEVER
    steps: list[tuple[Kind, int, Any]] = []
    for price, kind, count in zip(prices, kinds, counts, strict=True):
        fit, parcel = min(count, longest // kind[0]), 1
        while (full or price > 0) and fit > 0:
            take = min(parcel, fit)
            fit, parcel = fit - take, parcel * 2
            width = take * kind[0]
            offer = value[: longest + 1 - width] + take * price
            better = offer > value[width:]
            if better.any():
                np.maximum(offer, value[width:], out=value[width:])
                steps.append((kind, take, better))
    return Contents([int(each) for each in value], steps)


class Master:
    """The linear program over patterns: every kind covered at the least cost, fractions allowed."""

    def __init__(self, task: Task, kinds: Sequence[Kind]) -> None:
        import numpy as np  # heavy: loaded only where the work is done

        self._np, self.task = np, task
        self._lp = linear_program()
        # The program grows by a few columns at a time from its last answer; presolving would forget that.
        self._lp.setOptionValue("presolve", "off")
        self._row = {kind: row for row, kind in enumerate(kinds)}
        none = np.array([], dtype=np.int32), np.array([])
        for _ in kinds:
            self._lp.addRow(0.0, inf, 0, *none)
        for each in task.lengths:
            self._lp.addRow(-inf, float(each.most), 0, *none)
        self._without = 10.0 * (sum(task.prices) + 1)
        for row, _ in enumerate(kinds):
            self._lp.addCol(self._without, 0.0, inf, 1, np.array([row], dtype=np.int32), np.array([1.0]))
        self.columns: list[tuple[int, Pattern]] = []
        self._known: set[tuple[int, Pattern]] = set()

    def add(self, length: int, pattern: Pattern, cost: int) -> bool:
        """The pattern is a column; false if it was one already."""
        if not pattern or (length, pattern) in self._known:
            return False
        self._known.add((length, pattern))
        self.columns.append((length, pattern))
        rows = [self._row[kind] for kind, _ in pattern] + [len(self._row) + length]
        values = [float(count) for _, count in pattern] + [1.0]
        index = self._np.array(rows, dtype=self._np.int32)
        self._lp.addCol(float(cost), 0.0, inf, len(rows), index, self._np.array(values))
        return True

    def ask_for(self, counts: Sequence[int], reels: Sequence[int], exactly: bool = False) -> None:
        """So many of each kind, or more unless `exactly`; no more than so many reels of each length."""
        for row, count in enumerate(counts):
            self._lp.changeRowBounds(row, float(count), float(count) if exactly else inf)
        for number, most in enumerate(reels):
            self._lp.changeRowBounds(len(counts) + number, -inf, float(most))

    def solve(self) -> tuple[list[float], list[int], list[int], float]:
        """Shares of the columns, prices of one more of each kind and one reel less of each length, cost."""
        self._lp.run()
        answer = self._lp.getSolution()
        dual = [int(each * SCALE) for each in answer.row_dual]
        shares = list(answer.col_value)[len(self._row) :]
        kinds = dual[: len(self._row)]
        reels = [max(0, -each) for each in dual[len(self._row) :]]
        return shares, kinds, reels, float(self._lp.getInfo().objective_function_value)
