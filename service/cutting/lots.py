"""Which lot each match group is cut from: what yields every piece, and a first answer for everything."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import prod

from service.cutting.board import ANY, Board, Kind, Length, group_pieces
from service.cutting.layout import Clock, Layout, Reel
from service.cutting.patterns.cheapest import cheapest
from service.cutting.patterns.filling import Taken, Task, quick_answers
from service.cutting.plan import Effort
from service.cutting.problem import Problem

# So many ways to give groups to lots are looked at one by one; beyond, one group is moved at a time.
MOST_WAYS = 200
MOST_PASSES = 4
# So many of the best ways are worked out with all effort.
BEST_WAYS = 6


@dataclass(frozen=True, slots=True)
class Yield:
    """What one lot on the shelf gives for one match group, all of the lot being free for it.

    `missing_reels`: how many more of the longest reel this lot would have to have, 0 if it yields every
    piece, None where none is long enough. `pieces`: how many can be cut from it.
    """

    group: str
    lot: str
    pitches: int
    pieces: int
    wanted_pieces: int
    wanted_pitches: int
    missing_reels: int | None

    @property
    def yields_all(self) -> bool:
        return self.missing_reels == 0

    @property
    def says(self) -> str:
        """In words."""
        if self.yields_all:
            return "this lot yields every piece"
        if self.pitches >= self.wanted_pitches:
            return "this lot has more metres but not the pieces"
        return "this lot has too few metres"


def yields(problem: Problem, effort: Effort | None = None) -> tuple[Yield, ...]:
    """For every match group and every lot on the shelf: does the lot yield every piece, and what is missing?

    One group at a time: two groups that one lot yields may still not both come from it.
    """
    clock = Clock((effort or Effort()).scale)
    longest_new = max((each.pitches for each in problem.buyable), default=0)
    found = []
    for name, pieces in sorted(group_pieces(problem.wanted).items()):
        wanted = Counter(piece.pitches for piece in pieces)
        for lot in sorted({reel.lot for reel in problem.stock if reel.lot is not None}):
            shelf = Counter(reel.pitches for reel in problem.stock if reel.lot == lot)
            missing = _missing(wanted, shelf, max(longest_new, *shelf), clock)
            found.append(
                Yield(
                    name,
                    lot,
                    sum(pitches * count for pitches, count in shelf.items()),
                    len(pieces) if missing == 0 else _most_pieces(wanted, shelf),
                    len(pieces),
                    sum(piece.pitches for piece in pieces),
                    missing,
                )
            )
    return tuple(found)


def _missing(wanted: Mapping[int, int], shelf: Mapping[int, int], new: int, clock: Clock) -> int | None:
    lengths = [Length(0, pitches, False, False, 0, count) for pitches, count in sorted(shelf.items())]
    lengths.append(Length(0, new, True, False, 1, sum(wanted.values())))
    prices = tuple(each.price_cents for each in lengths)
    if max(wanted) > new:
        return None
    task = Task({(pitches, ANY): count for pitches, count in wanted.items()}, tuple(lengths), prices)
    return cheapest(task, clock).price(task)


def _most_pieces(wanted: Mapping[int, int], shelf: Mapping[int, int]) -> int:
    """Longest first, as many as go on."""
    left = sorted(Counter(dict(shelf)).elements())
    count = 0
    for pitches in sorted(Counter(dict(wanted)).elements()):
        at = next((n for n, room in enumerate(left) if room >= pitches), None)
        if at is not None:
            left[at] -= pitches
            left.sort()
            count += 1
    return count


def relaxed_task(board: Board) -> Task:
    """The board as if lots did not matter: no way to cut it is cheaper."""
    counts: Counter[tuple[int, bool, bool, int]] = Counter()
    for each in board.lengths:
        if each.layer not in board.lone:
            counts[each.pitches, each.is_new, each.is_sealed, each.price_cents] += each.most
    lengths = tuple(
        Length(0, pitches, is_new, is_sealed, price, most)
        for (pitches, is_new, is_sealed, price), most in sorted(counts.items())
    )
    wanted: Counter[Kind] = Counter()
    for own in (board.single_by_length(), *(group.by_length() for group in board.groups)):
        for pitches, count in own.items():
            wanted[pitches, ANY] += count
    return Task(wanted, lengths, tuple(each.price_cents for each in lengths))


def task_of(board: Board, lots: Sequence[int]) -> Task:
    """The board with each group cut from the layer named; a lone layer offers its longest reel."""
    lengths = [
        each
        if each.layer not in board.lone or each.pitches == board.reach_of(each.layer)
        else replace(each, most=0)
        for each in board.lengths
    ]
    wanted: Counter[Kind] = Counter()
    for pitches, count in board.single_by_length().items():
        wanted[pitches, ANY] += count
    for group, layer in zip(board.groups, lots, strict=True):
        for pitches, count in group.by_length().items():
            wanted[pitches, layer] += count
    return Task(wanted, tuple(lengths), tuple(each.price_cents for each in lengths))


def layout_of(taken: Taken, lots: Sequence[int]) -> Layout:
    """Reels without counts."""
    reels = [
        Reel(length, tuple(kind for kind, count in pattern for _ in range(count)))
        for length, pattern in taken
    ]
    return Layout(tuple(reels), tuple(lots))


def full_answer(board: Board, floor_cents: int, clock: Clock) -> Layout | None:
    """Everything cut, each group from one lot, as cheaply as was found; None if nothing was."""
    best: tuple[int, Layout] | None = None
    for lots in _promising(board):
        task = task_of(board, lots)
        answer = cheapest(task, clock)
        if answer.taken is not None and (best is None or task.price_of(answer.taken) < best[0]):
            best = task.price_of(answer.taken), layout_of(answer.taken, lots)
        if clock.is_late() or (best is not None and best[0] <= floor_cents):
            break
    return None if best is None else best[1]


def _quick_price(board: Board, lots: Sequence[int]) -> int | None:
    task = task_of(board, lots)
    return min((task.price_of(answer) for answer in quick_answers(task)), default=None)


def _promising(board: Board) -> list[tuple[int, ...]]:
    """Ways to give groups to lots, the quickly cheapest first; those that seem impossible come last."""
    if any(not group.layers for group in board.groups):
        return []
    if prod(len(group.layers) for group in board.groups) <= MOST_WAYS:
        ways: list[tuple[int, ...]] = [()]
        for group in board.groups:
            ways = [(*way, layer) for way in ways for layer in group.layers]
    else:
        ways = _moved(board)

    def rank(lots: tuple[int, ...]) -> tuple[bool, int, tuple[int, ...]]:
        price = _quick_price(board, lots)
        return price is None, price or 0, lots

    return sorted(ways, key=rank)[:BEST_WAYS]


def _moved(board: Board) -> list[tuple[int, ...]]:
    """Where one group at a time goes to the lot that is cheapest with the others as they are."""
    lots = [group.layers[-1] for group in board.groups]
    seen = {tuple(lots)}
    for _ in range(MOST_PASSES):
        before = tuple(lots)
        for number, group in enumerate(board.groups):
            tried = [[*lots[:number], layer, *lots[number + 1 :]] for layer in group.layers]

            def rank(way: list[int]) -> tuple[bool, int, list[int]]:
                price = _quick_price(board, way)
                return price is None, price or 0, way

            lots = min(tried, key=rank)
            seen.add(tuple(lots))
        if tuple(lots) == before:
            break
    return sorted(seen)
