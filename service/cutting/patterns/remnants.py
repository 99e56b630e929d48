"""The least scrap, with the reels settled: whole patterns, each kind cut exactly as often as it is wanted."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service.cutting.board import ANY, Kind
from service.cutting.layout import Clock
from service.cutting.patterns.filling import Pattern, Taken, Task, pattern_pitches
from service.cutting.patterns.master import NEVER, SCALE, Contents, Master, best_contents

CHOICE_WORK = 2.0  # deterministic units of the program that chooses among patterns
MOST_ROUNDS = 400


@dataclass(frozen=True, slots=True)
class LeastScrap:
    """Reels with what is cut off them, and scrap that nobody can go below with these reels."""

    taken: Taken
    bound: int


def scrap_of(task: Task, taken: Sequence[tuple[int, Pattern]], keep_pitches: int) -> int:
    left = [task.lengths[length].pitches - pattern_pitches(pattern) for length, pattern in taken]
    return sum(each for each in left if each < keep_pitches)


def forced_scrap(task: Task, keep_pitches: int) -> int:
    """Scrap there must be, if whatever is not used is too short to be kept: a sum of lengths alone.

    Every reel that is bought counts as used; what stays untouched on the shelf is no scrap.
    """
    over = sum(each.pitches * each.most for each in task.lengths) - task.needed_pitches
    if not 0 < over < keep_pitches:
        return 0
    reached = 1
    for each in task.lengths:
        if not each.is_new and each.pitches <= over:
            for _ in range(min(each.most, over // each.pitches)):
                reached |= reached << each.pitches
    untouched = (reached & ((1 << (over + 1)) - 1)).bit_length() - 1
    return over - untouched


def least_scrap(task: Task, start: Taken, keep_pitches: int, clock: Clock) -> LeastScrap:
    """`task`: exactly the reels that may be used. Never worse than `start`."""
    search = _Search(task, start, keep_pitches)
    bound = max(forced_scrap(task, keep_pitches), 0)
    if search.scrap <= bound:
        return LeastScrap(start, bound)
    bound = search.price(bound, clock)
    if search.scrap > bound and not clock.is_late():
        search.choose(bound, clock)
    return LeastScrap(search.best, bound)


class _Search:
    def __init__(self, task: Task, start: Taken, keep_pitches: int) -> None:
        self.task, self.best, self.keep = task, start, keep_pitches
        self.kinds = task.kinds
        self.wanted = [task.wanted[kind] for kind in self.kinds]
        self.most = [each.most for each in task.lengths]
        self.master = Master(task, self.kinds)
        for length, pattern in start:
            self._add(length, pattern)

    @property
    def scrap(self) -> int:
        return scrap_of(self.task, self.best, self.keep)

    def _add(self, length: int, pattern: Pattern) -> bool:
        return self.master.add(length, pattern, self._scrap_at(length, pattern_pitches(pattern)))

    def _scrap_at(self, length: int, used: int) -> int:
        left = self.task.lengths[length].pitches - used
        return left if left < self.keep else 0

    def price(self, bound: int, clock: Clock) -> int:
        """New patterns until none pays; the bound is raised on the way."""
        self.master.ask_for(self.wanted, self.most, exactly=True)
        for _ in range(MOST_ROUNDS):
            _, kinds, reels, _ = self.master.solve()
            total = sum(price * count for price, count in zip(kinds, self.wanted, strict=True))
            added = False
            for layer, numbers in _by_layer(self.task).items():
                contents = self._contents(kinds, layer, numbers)
                for number in numbers:
                    worth, at = self._best_end(contents, number)
                    total -= self.most[number] * max(0, worth)
                    # Within a millionth the program is at its end; rounding is below that.
                    if worth > reels[number] + SCALE // 10**6:
                        added |= self._add(number, contents.pattern(at))
            bound = max(bound, -(-total // SCALE))
            if not added or self.scrap <= bound or clock.is_late():
                break
        return bound

    def _contents(self, kinds: Sequence[int], layer: int, numbers: Sequence[int]) -> Contents:
        seen = [n for n, kind in enumerate(self.kinds) if kind[1] in (ANY, layer)]
        return best_contents(
            [kinds[n] for n in seen],
            [self.kinds[n] for n in seen],
            [self.wanted[n] for n in seen],
            max(self.task.lengths[n].pitches for n in numbers),
            full=True,
        )

    def _best_end(self, contents: Contents, number: int) -> tuple[int, int]:
        """The most that a reel of this length is worth beyond its scrap, and where its last cut is."""
        ends = (
            (contents.value[at] - self._scrap_at(number, at) * SCALE, at)
            for at in range(1, self.task.lengths[number].pitches + 1)
            if contents.value[at] > NEVER // 2
        )
        return max(ends, default=(NEVER, 0))

    def choose(self, bound: int, clock: Clock) -> None:
        """The best of the patterns found."""
        from ortools.sat.python import cp_model  # heavy: loaded only where the work is done

        model = cp_model.CpModel()
        columns = self.master.columns
        uses = [model.new_int_var(0, self.most[number], "") for number, _ in columns]
        covers: Mapping[Kind, list[Any]] = {kind: [] for kind in self.kinds}
        reels: list[list[Any]] = [[] for _ in self.most]
        for use, (number, pattern) in zip(uses, columns, strict=True):
            reels[number].append(use)
            for kind, count in pattern:
                covers[kind].append(count * use)
        for kind, count in zip(self.kinds, self.wanted, strict=True):
            model.add(sum(covers[kind]) == count)
        for own, most in zip(reels, self.most, strict=True):
            if own:
                model.add(sum(own) <= most)
        costs = [self._scrap_at(number, pattern_pitches(pattern)) for number, pattern in columns]
        scrap = sum(cost * use for cost, use in zip(costs, uses, strict=True))
        model.add(scrap >= bound)
        model.minimize(scrap)
        for use, column in zip(uses, columns, strict=True):
            model.add_hint(use, self.best.count(column))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.max_deterministic_time = CHOICE_WORK * clock.scale
        if clock.deadline_s is not None:
            solver.parameters.max_time_in_seconds = max(0.01, clock.left_s())
        status = solver.solve(model)
        clock.work += solver.response_proto.deterministic_time
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            chosen = [each for use, each in zip(uses, columns, strict=True) for _ in range(solver.value(use))]
            if scrap_of(self.task, chosen, self.keep) < self.scrap:
                self.best = chosen


def _by_layer(task: Task) -> dict[int, list[int]]:
    layers: dict[int, list[int]] = {}
    for number, each in enumerate(task.lengths):
        if each.most > 0:
            layers.setdefault(each.layer, []).append(number)
    return layers
