"""The least that must stay dark because runs cannot be divided: they are put on outputs, decoders left aside.

Every plan is such a packing, so what no packing feeds no plan does. Runs that re-planning never moves stay
where they are.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from math import ceil
from typing import Any

from service.allocation.change.room import Rack, Room, suits
from service.allocation.change.standing import sort_installed
from service.allocation.problem import Block, Problem, Run
from service.allocation.search.watch import Pace, solve_watched

Member = tuple[Block, Run]
MOST_CHOICES = 4000  # runs times outputs; beyond that the question is not small
WORK = 1.0  # deterministic units for one voltage


def packed_floor(problem: Problem, dark: Iterable[str], pace: Pace) -> dict[int, int]:
    """What no plan can feed, by priority, where the more urgent ones are fed as far as can be.

    `dark`: the runs that a plan leaves dark. Each voltage is asked by itself; one that is too large to ask
    counts as if everything could be fed. After a priority of which more might be fed nothing is known.
    """
    standing = sort_installed(problem)
    room = standing.room(problem, standing.frozen)
    stay = {run.tag for tenant in standing.frozen for run in tenant.row.runs}
    unfed = {*dark}
    of_class: dict[int, list[Member]] = defaultdict(list)
    for block in problem.blocks:
        of_class[block.class_mv] += [(block, run) for run in block.runs if run.tag not in stay]
    short = [members for members in of_class.values() if any(run.tag in unfed for _, run in members)]
    packings = [_Packing(room, members, unfed) for members in short]
    floors: dict[int, int] = {}
    for priority in sorted({block.priority for members in short for block, _ in members}):
        dark_uw = sum(packing.dark_uw(priority) for packing in packings)
        floors[priority] = sum(packing.floor_uw(priority, pace) for packing in packings)
        if floors[priority] < dark_uw:
            break
    return {priority: uw for priority, uw in floors.items() if uw}


class _Packing:
    """Runs of one voltage on the outputs that may feed them, as a whole-number model."""

    def __init__(self, room: Room, members: Sequence[Member], unfed: set[str]) -> None:
        from ortools.sat.python import cp_model  # heavy: loaded only where the work is done

        self.cp, self.model = cp_model, cp_model.CpModel()
        self.members, self.unfed = members, unfed
        self.fed: list[Any] = []
        outputs = [
            (rack, output) for rack in room.racks.values() for output in range(1, len(rack.outputs_uw) + 1)
        ]
        able = [
            [at for at, output in enumerate(outputs) if _could_feed(*output, *member)] for member in members
        ]
        self.is_small = sum(map(len, able)) <= MOST_CHOICES
        if not self.is_small:
            return
        loads: dict[int, list[Any]] = defaultdict(list)
        for (_, run), places in zip(members, able, strict=True):
            choices = {at: self.model.new_bool_var("") for at in places}
            self.fed.append(sum(choices.values()))
            if choices:
                self.model.add_at_most_one(choices.values())
            for at, chosen in choices.items():
                loads[at].append(run.load_uw * chosen)
        self._limit(outputs, loads)

    def _limit(self, outputs: Sequence[tuple[Rack, int]], loads: Mapping[int, list[Any]]) -> None:
        """Watts of outputs and of supplies; of idle units that are alike the first carries most."""
        of_rack: dict[str, list[Any]] = defaultdict(list)
        alike: dict[str, list[Any]] = defaultdict(list)
        for at, load in loads.items():
            rack, output = outputs[at]
            self.model.add(sum(load) <= rack.outputs_uw[output - 1])
            of_rack[rack.unit.tag] += load
            if not rack.used and not rack.site and len(rack.outputs_uw) == 1:
                alike[rack.model.tag].append(sum(load))
        for tag, load in of_rack.items():
            rack = next(rack for rack, _ in outputs if rack.unit.tag == tag)
            self.model.add(sum(load) <= rack.free_uw)
        for group in alike.values():
            for first, second in pairwise(group):
                self.model.add(first >= second)

    def dark_uw(self, priority: int) -> int:
        """What the plan leaves dark."""
        return sum(
            run.load_uw for block, run in self.members if block.priority == priority and run.tag in self.unfed
        )

    def floor_uw(self, priority: int, pace: Pace) -> int:
        """The least of this priority that stays dark where the more urgent ones are as dark as the plan's."""
        known = self.dark_uw(priority)
        if not self.is_small or pace.must_stop():
            return 0
        dark = sum(
            run.load_uw * (1 - fed)
            for (block, run), fed in zip(self.members, self.fed, strict=True)
            if block.priority == priority
        )
        if isinstance(dark, int):
            return dark
        self.model.add(dark <= known)
        if not known:
            return 0
        self.model.minimize(dark)
        solver = self.cp.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = pace.effort.seed
        solver.parameters.linearization_level = 2
        solver.parameters.max_deterministic_time = WORK * pace.effort.scale
        solve_watched(solver, self.model, pace.must_stop)
        return min(known, max(0, ceil(solver.best_objective_bound - 1e-6)))


def _could_feed(rack: Rack, output: int, block: Block, run: Run) -> bool:
    if not suits(rack.model, block) or rack.left_uw(output) < run.load_uw:
        return False
    sites = block.sites_for((run,))
    return rack.site in sites or (not rack.site and bool(sites))
