"""One board worked on: a quick answer, the least price by patterns, then aim after aim in one program."""

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass, replace

from service.cutting.board import lay_out
from service.cutting.first import first_answer
from service.cutting.layout import Clock, Layout
from service.cutting.lots import full_answer, layout_of, relaxed_task, task_of
from service.cutting.naming import Named, name, unname
from service.cutting.patterns.cheapest import cheapest, sum_bound
from service.cutting.patterns.filling import Task, pattern_of
from service.cutting.patterns.remnants import least_scrap
from service.cutting.plan import Unmet, Why
from service.cutting.problem import Problem
from service.cutting.program.arcs import aims, count_columns, write_sheet
from service.cutting.program.whole import Whole, as_values

# A program with more columns than this is not written; what patterns alone say stands.
MOST_COLUMNS = 20_000
# The same where only scrap is still open.
MOST_COLUMNS_SCRAP = 6_000
# With more columns than this, the last aim, which is never claimed, is not worked on.
MOST_COLUMNS_LAST = 1_500
LAST_SHARE = 0.02


@dataclass(frozen=True, slots=True)
class Figures:
    """What an answer comes to, aim by aim, or what nothing goes below. `unmet`: by priority."""

    unmet: tuple[int, ...]
    price_cents: int
    opened: int
    joints: int
    scrap_pitches: int

    @property
    def before_joints(self) -> tuple[tuple[int, ...], int, int]:
        return self.unmet, self.price_cents, self.opened

    @property
    def rank(self) -> tuple[tuple[int, ...], int, int, int, int]:
        return (*self.before_joints, self.joints, self.scrap_pitches)


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer, its figures, and what nothing goes below among what is as good in the aims before."""

    named: Named
    figures: Figures
    bounds: Figures


class Search:
    """All work on one problem, with joints or without."""

    def __init__(self, problem: Problem, clock: Clock, joined_lots: Collection[str] | None = None) -> None:
        """`joined_lots`: lots on the shelf that joined pieces may come from; None where nothing is joined."""
        self.whole_problem, self.clock, self.with_joints = problem, clock, joined_lots is not None
        self.problem, self.hopeless = _possible(problem, self.with_joints)
        self.joined_lots = frozenset(joined_lots or ())
        self.board = lay_out(self.problem, self.joined_lots, self.with_joints)
        self.priorities = tuple(sorted({piece.priority for piece in problem.wanted}))

    @property
    def is_too_large(self) -> bool:
        return count_columns(self.board, self.problem.rules, self.with_joints) > MOST_COLUMNS

    def joins_from(self, lots: Collection[str]) -> bool:
        """Joined pieces may come from all of these."""
        return set(lots) <= self.joined_lots

    def floors(self) -> Figures:
        """What lengths alone say, whatever is joined; nothing is said of the price if pieces stay out."""
        hopeless = self._count_unmet(Layout((), (), (), ()), with_groups=False)
        if any(hopeless) or not self.board.must_meet:
            return Figures(hopeless, 0, 0, 0, 0)
        return Figures(hopeless, sum_bound(relaxed_task(self.board), 0), 0, 0, 0)

    def solve(self, start: Named | None = None) -> Answer:
        """The best answer that the effort finds, from `start` on."""
        floors = self.floors()
        layouts = [first_answer(self.board)]
        if start is not None and (known := unname(self.problem, self.board, start)) is not None:
            layouts.append(known)
        if not self.with_joints and self.board.lengths:
            floors = self._by_patterns(floors, layouts)
        best = min(layouts, key=lambda each: self.figures(each).rank)
        if not self.with_joints and self.figures(best).unmet == floors.unmet:
            best, floors = self._by_remnants(best, floors)
        bounds = floors
        if self._is_worth_a_program(best, floors):
            best, bounds = self._by_program(best, floors)
        named = name(self.problem, self.board, best)
        return Answer(replace(named, unmet=(*self.hopeless, *named.unmet)), self.figures(best), bounds)

    def figures(self, layout: Layout) -> Figures:
        reels = [(self.board.lengths[reel.length], reel.used_pitches) for reel in layout.reels]
        left = [length.pitches - used for length, used in reels]
        return Figures(
            self._count_unmet(layout),
            sum(length.price_cents for length, _ in reels),
            sum(length.is_sealed for length, _ in reels),
            len(layout.joined),
            sum(each for each in left if each < self.problem.rules.keep_pitches),
        )

    def _count_unmet(self, layout: Layout, with_groups: bool = True) -> tuple[int, ...]:
        """By priority, with the pieces that cannot be met at all."""
        out = {each.key for each in self.hopeless}
        priorities = [piece.priority for piece in self.whole_problem.wanted if piece.key in out]
        priorities += [sort.priority for sort in layout.short]
        if with_groups:
            for group, of in zip(self.board.groups, layout.lots, strict=True):
                if of is None:
                    priorities += [
                        sort.priority for sort, count in group.pieces.items() for _ in range(count)
                    ]
        return tuple(priorities.count(each) for each in self.priorities)

    def _can_be_had(self, layout: Layout) -> bool:
        """Reels of one length stand in several layers and are bought out of one number."""
        lengths = [self.board.lengths[reel.length] for reel in layout.reels]
        bought = Counter(length.pitches for length in lengths if length.is_new)
        return all(count <= self.board.can_be_had[pitches] for pitches, count in bought.items())

    def _by_patterns(self, floors: Figures, layouts: list[Layout]) -> Figures:
        """Answers that meet everything, and what those cannot go below."""
        groups = self.board.groups
        task = relaxed_task(self.board) if groups else task_of(self.board, ())
        low = cheapest(task, self.clock)
        if groups:
            found = full_answer(self.board, low.bound, self.clock)
        else:
            found = None if low.taken is None else layout_of(low.taken, ())
        if found is not None and self._can_be_had(found):
            layouts.append(found)
        full = min((self.figures(each) for each in layouts), key=lambda each: each.rank)
        if sum(full.unmet) > sum(floors.unmet):
            return floors
        # Only answers that meet all that can be met count now, so the price of meeting it all is a floor.
        floors = replace(floors, price_cents=max(floors.price_cents, low.bound))
        if not full.opened:
            return floors
        few = _opening_task(task, full.price_cents)
        opened = cheapest(few, self.clock)
        if not groups and opened.taken is not None:
            layouts.append(layout_of(opened.taken, ()))
        return replace(floors, opened=opened.bound)

    def _by_remnants(self, best: Layout, floors: Figures) -> tuple[Layout, Figures]:
        """Less scrap from the very reels of an answer; a bound where no others come at its price."""
        used = Counter(reel.length for reel in best.reels)
        lots = tuple(of for of in best.lots if of is not None)
        task = task_of(self.board, lots)
        lengths = tuple(
            replace(each, most=used[number]) if each.is_new or each.is_sealed else each
            for number, each in enumerate(task.lengths)
        )
        start = [(reel.length, pattern_of(Counter(reel.kinds))) for reel in best.reels]
        keep = self.problem.rules.keep_pitches
        found = least_scrap(Task(task.wanted, lengths, task.prices), start, keep, self.clock)
        sealed = [each for each in lengths if each.is_sealed]
        is_settled = sum(each.is_new for each in lengths) <= 1 and (
            len(sealed) <= 1 or not any(each.most for each in sealed)
        )
        if is_settled and not self.board.groups:
            floors = replace(floors, scrap_pitches=found.bound)
        return layout_of(found.taken, lots), floors

    def _is_worth_a_program(self, best: Layout, floors: Figures) -> bool:
        columns = count_columns(self.board, self.problem.rules, self.with_joints)
        figures = self.figures(best)
        if figures == floors:
            return columns <= MOST_COLUMNS_LAST
        is_nearly_done = figures.before_joints == floors.before_joints
        return columns <= (MOST_COLUMNS_SCRAP if is_nearly_done else MOST_COLUMNS)

    def _by_program(self, best: Layout, floors: Figures) -> tuple[Layout, Figures]:
        sheet = write_sheet(self.board, self.problem.rules, self.with_joints)
        whole = Whole(sheet, self.clock)
        values = as_values(sheet, best)
        if values is None:
            return best, floors
        whole.start_from(values)
        all_aims = aims(sheet, self.priorities)
        hopeless = floors.unmet
        unmet = tuple(
            hopeless[n] + whole.least(all_aims[f"unmet {each}"], 0) for n, each in enumerate(self.priorities)
        )
        price = whole.least(all_aims["price"], floors.price_cents)
        opened = whole.least(all_aims["opened"], floors.opened)
        joints = whole.least(all_aims["joints"], 0)
        scrap = whole.least(all_aims["scrap"], floors.scrap_pitches)
        if len(sheet.columns) <= MOST_COLUMNS_LAST:
            whole.least(all_aims["offcuts"], -len(self.problem.stock), LAST_SHARE)
        return whole.layout(), Figures(unmet, price, opened, joints, scrap)


def _opening_task(task: Task, price_cents: int) -> Task:
    """As few sealed reels as can be, with what the price buys for nothing."""
    lengths = tuple(
        replace(each, most=min(each.most, price_cents // each.price_cents)) if each.is_new else each
        for each in task.lengths
    )
    return Task(task.wanted, lengths, tuple(int(each.is_sealed) for each in lengths))


def _possible(problem: Problem, with_joints: bool) -> tuple[Problem, tuple[Unmet, ...]]:
    """The problem without the pieces that no reel holds, nor two that are joined; and those."""
    longest = max(
        [reel.pitches for reel in problem.stock]
        + [each.pitches for each in problem.buyable if each.most != 0],
        default=0,
    )

    def is_possible(pitches: int, may_join: bool) -> bool:
        return pitches <= longest * (2 if with_joints and may_join else 1)

    lone = {piece.key for piece in problem.wanted if not is_possible(piece.pitches, piece.may_join)}
    torn = {piece.group for piece in problem.wanted if piece.key in lone and piece.group is not None}
    hopeless = [
        Unmet(piece.key, Why.TOO_LONG if piece.key in lone else Why.NO_LOT)
        for piece in problem.wanted
        if piece.key in lone or piece.group in torn
    ]
    out = {each.key for each in hopeless}
    kept = tuple(piece for piece in problem.wanted if piece.key not in out)
    return replace(problem, wanted=kept), tuple(hopeless)


def least_opened(task: Task, price_cents: int) -> int:
    """What lengths alone say of how many sealed reels must be opened."""
    return sum_bound(_opening_task(task, price_cents), 0)
