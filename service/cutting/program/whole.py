"""The whole-number program at work: one aim after the other, each among what is best for those before."""

from collections.abc import Mapping, Sequence
from math import ceil, inf
from typing import Any

from service.allocation.quiet import linear_program
from service.cutting.board import Kind, Sort
from service.cutting.layout import Clock, Layout, Reel
from service.cutting.program.arcs import Arc, End, Lot, Out, Row, Sheet, Short, Split, Thing

# Branches that one aim may take at full effort: fewer in a larger program, where each takes longer.
NODES_BY_COLUMNS = 600_000
TINY = 1e-6
FAR = 1e15
FEASIBLE = 2  # the solver's own number


class Whole:
    """One program; its best answer so far is where the next aim starts."""

    def __init__(self, sheet: Sheet, clock: Clock) -> None:
        import highspy  # heavy: loaded only where the work is done
        import numpy as np

        self.sheet, self.clock = sheet, clock
        self.best: list[int] | None = None
        rows = {row: number for number, row in enumerate(sheet.rows)}
        model: Any = highspy.HighsLp()
        model.num_col_, model.num_row_ = len(sheet.columns), len(rows)
        model.col_cost_ = np.zeros(len(sheet.columns))
        model.col_lower_ = np.zeros(len(sheet.columns))
        model.col_upper_ = np.array([float(column.most) for column in sheet.columns])
        bounds = list(sheet.rows.values())
        model.row_lower_ = np.array([-highspy.kHighsInf if low is None else float(low) for low, _ in bounds])
        model.row_upper_ = np.array([float(high) for _, high in bounds])
        starts, index, value = [0], list[int](), list[float]()
        for column in sheet.columns:
            index += [rows[row] for row in column.entries]
            value += [float(each) for each in column.entries.values()]
            starts.append(len(index))
        model.a_matrix_.format_ = highspy.MatrixFormat.kColwise
        model.a_matrix_.start_ = np.array(starts, dtype=np.int32)
        model.a_matrix_.index_ = np.array(index, dtype=np.int32)
        model.a_matrix_.value_ = np.array(value)
        model.integrality_ = [highspy.HighsVarType.kInteger] * len(sheet.columns)
        self.program: Any = linear_program()
        self.program.passModel(model)
        self._costs: Mapping[int, int] = {}
        self._kept: list[tuple[Mapping[int, int], int]] = []

    def start_from(self, values: Sequence[int]) -> None:
        self.best = list(values)

    def worth(self, aim: Mapping[int, int]) -> int:
        """What the best answer so far comes to."""
        if self.best is None:
            raise ValueError("there is no answer yet")
        return _sum(aim, self.best)

    def least(self, aim: Mapping[int, int], floor_value: int, share: float = 1.0) -> int:
        """The best answer comes as low in this aim as the effort allows; a proven bound comes back.

        `floor_value`: what nothing goes below, known from elsewhere; an answer that reaches it needs no work.
        The answer's own value is then a limit for every later aim.
        """
        bound = floor_value
        if self.best is None or self.worth(aim) > floor_value:
            bound = max(bound, self._solve(aim, floor_value, share))
        if self.best is not None:
            self._keep(aim, self.worth(aim))
        return bound

    def _keep(self, aim: Mapping[int, int], most: int) -> None:
        if aim:
            self._kept.append((aim, most))
            numbers, values = list(aim), [float(each) for each in aim.values()]
            self.program.addRow(-inf, float(most), len(numbers), numbers, values)

    def _solve(self, aim: Mapping[int, int], floor_value: int, share: float) -> int:
        import highspy

        if self.clock.is_late():
            return floor_value
        for number in self._costs:
            self.program.changeColCost(number, 0.0)
        for number, each in aim.items():
            self.program.changeColCost(number, float(each))
        self._costs = aim
        nodes = NODES_BY_COLUMNS * share * self.clock.scale / (len(self.sheet.columns) + 1)
        options: dict[str, float | int] = {
            "mip_rel_gap": 0.0,
            "mip_abs_gap": 0.99,
            "mip_max_nodes": max(1, round(nodes)),
            "objective_target": floor_value + 0.5,
        }
        if self.clock.deadline_s is not None:
            # The solver counts the time of all its runs together.
            options["time_limit"] = self.program.getRunTime() + self.clock.left_s()
        for name, setting in options.items():
            self.program.setOptionValue(name, setting)
        if self.best is not None:
            solution = highspy.HighsSolution()
            solution.col_value = [float(each) for each in self.best]
            self.program.setSolution(solution)
        told = self._run(aim)
        if told < self.worth(aim):
            # The solver may tell of a better answer and hand back the one it began with: from nothing, then.
            self.program.clearSolver()
            self._run(aim)
        known = self.program.getInfo().mip_dual_bound
        return ceil(known - TINY) if -inf < known < FAR else floor_value

    def _run(self, aim: Mapping[int, int]) -> float:
        """What the solver says its answer comes to; it is taken if it holds and is better."""
        import highspy

        self.program.run()
        info = self.program.getInfo()
        self.clock.work += 1 + max(0, info.mip_node_count)
        if self.program.getModelStatus() == highspy.HighsModelStatus.kTimeLimit:
            self.clock.stopped = True
        if info.primal_solution_status != FEASIBLE:
            return inf
        values = [round(each) for each in self.program.getSolution().col_value]
        is_better = self.best is None or _sum(aim, values) < self.worth(aim)
        if (
            is_better
            and holds(self.sheet, values)
            and all(_sum(each, values) <= most for each, most in self._kept)
        ):
            self.best = values
        return float(round(info.objective_function_value))

    def layout(self) -> Layout:
        """The best answer as reels."""
        if self.best is None:
            raise ValueError("there is no answer yet")
        flow: dict[tuple[int, int], list[list[int]]] = {}
        ends: list[tuple[int, int, int]] = []
        lots: list[int | None] = [None] * len(self.sheet.board.groups)
        joined: list[tuple[Kind, int, int]] = []
        short: list[Sort] = []
        for column, count in zip(self.sheet.columns, self.best, strict=True):
            match column.thing:
                case Arc(layer, start, (pitches, of)) if count:
                    flow.setdefault((layer, start), []).append([pitches, of, count])
                case End(length, at) if count:
                    ends += [(self.sheet.board.lengths[length].layer, at, length)] * count
                case Lot(group, layer) if count:
                    lots[group] = layer
                case Split(kind, part, layer):
                    joined += [(kind, part, layer)] * count
                case Short(sort):
                    short += [sort] * count
        reels = [Reel(length, _path(flow, layer, at)) for layer, at, length in sorted(ends)]
        return Layout(tuple(reels), tuple(lots), tuple(sorted(joined)), tuple(sorted(short)))


def _sum(aim: Mapping[int, int], values: Sequence[int]) -> int:
    return sum(each * values[number] for number, each in aim.items())


def _path(flow: dict[tuple[int, int], list[list[int]]], layer: int, at: int) -> tuple[Kind, ...]:
    """Pieces along one way from the outer end to the mark `at`; they are taken out of the flow.

    Taking the shortest ends first, a way that ends exactly there is searched for, never given up half-way.
    """
    trail: list[tuple[int, list[int]]] = []
    stack: list[tuple[int, int]] = [(0, 0)]
    dead: set[int] = set()
    while stack:
        mark, turn = stack.pop()
        if mark == at:
            for _, arc in trail:
                arc[2] -= 1
            return tuple(sorted(((arc[0], arc[1]) for _, arc in trail), reverse=True))
        ways = flow.get((layer, mark), [])
        while turn < len(ways) and not (
            ways[turn][2] and mark + ways[turn][0] <= at and mark + ways[turn][0] not in dead
        ):
            turn += 1
        if turn == len(ways):
            dead.add(mark)
            if trail:
                trail.pop()
            continue
        stack += [(mark, turn + 1), (mark + ways[turn][0], 0)]
        trail.append((mark, ways[turn]))
    raise ValueError(f"no way leads to mark {at}")


def as_values(sheet: Sheet, layout: Layout) -> list[int] | None:
    """The columns that make this answer; None if the program has no column for some of it."""
    values = [0] * len(sheet.columns)

    def count(thing: Thing) -> bool:
        number = sheet.number.get(thing)
        if number is not None:
            values[number] += 1
        return number is not None

    whole = True
    for reel in layout.reels:
        layer, at = sheet.board.lengths[reel.length].layer, 0
        for kind in sorted(reel.kinds, reverse=True):
            whole &= count(Arc(layer, at, kind))
            at += kind[0]
        whole &= count(End(reel.length, at))
    for group, of in enumerate(layout.lots):
        whole &= count(Out(group) if of is None else Lot(group, of))
    for kind, part, layer in layout.joined:
        whole &= count(Split(kind, part, layer))
    for sort in layout.short:
        whole &= count(Short(sort))
    return values if whole and holds(sheet, values) else None


def holds(sheet: Sheet, values: Sequence[int]) -> bool:
    """Every row of the program comes to what it may."""
    sums: dict[Row, int] = dict.fromkeys(sheet.rows, 0)
    for column, value in zip(sheet.columns, values, strict=True):
        if value > column.most:
            return False
        if value:
            for row, each in column.entries.items():
                sums[row] += each * value
    return all(
        (low is None or sums[row] >= low) and sums[row] <= high for row, (low, high) in sheet.rows.items()
    )
