"""An answer that is always there: pieces go on reels as they come."""

from collections import Counter

from service.cutting.board import ANY, Board, Kind, Sort
from service.cutting.layout import Layout, Reel


class _Shelf:
    """Reels begun and still to be had, for an answer that takes pieces as they come."""

    def __init__(self, board: Board) -> None:
        self.board = board
        self.left = [each.most for each in board.lengths]
        self.bought = dict(board.can_be_had)
        self.begun: list[tuple[int, int, tuple[Kind, ...]]] = []  # left on it, its length, what is cut off

    def copy(self) -> "_Shelf":
        other = _Shelf(self.board)
        other.left, other.bought, other.begun = [*self.left], dict(self.bought), [*self.begun]
        return other

    def cut(self, kind: Kind) -> bool:
        """The piece goes on the fullest reel that takes it, else on another one; false if there is none."""
        pitches, layer = kind
        lengths = self.board.lengths
        fits = [
            (room, n)
            for n, (room, length, _) in enumerate(self.begun)
            if room >= pitches and layer in (ANY, lengths[length].layer)
        ]
        if fits:
            room, at = min(fits)
            _, length, cut = self.begun[at]
            self.begun[at] = room - pitches, length, (*cut, kind)
            return True
        others = [
            n
            for n, each in enumerate(lengths)
            if self.left[n] > 0
            and each.pitches >= pitches
            and layer in (ANY, each.layer)
            and not (layer == ANY and each.layer in self.board.lone)
            and (not each.is_new or self.bought[each.pitches] > 0)
        ]
        if not others:
            return False
        best = min(
            others, key=lambda n: (lengths[n].price_cents, lengths[n].is_sealed, lengths[n].pitches, n)
        )
        self._begin(best, kind)
        return True

    def _begin(self, number: int, kind: Kind) -> None:
        length = self.board.lengths[number]
        self.left[number] -= 1
        if length.is_new:
            self.bought[length.pitches] -= 1
        if length.layer in self.board.lone:
            for n, each in enumerate(self.board.lengths):
                if each.layer == length.layer:
                    self.left[n] = 0
        self.begun.append((length.pitches - kind[0], number, (kind,)))

    @property
    def price_cents(self) -> int:
        return sum(self.board.lengths[number].price_cents for _, number, _ in self.begun)


def first_answer(board: Board) -> Layout:
    """Groups, then pieces, the most urgent and longest first; what does not go on stays out."""
    shelf = _Shelf(board)
    lots: list[int | None] = [None] * len(board.groups)
    urgent = sorted(
        range(len(board.groups)), key=lambda n: (min(s.priority for s in board.groups[n].pieces), n)
    )
    for number in urgent:
        group = board.groups[number]
        tried = []
        for layer in group.layers:
            trial = shelf.copy()
            lengths = sorted(group.by_length().elements(), reverse=True)
            if all(trial.cut((pitches, layer)) for pitches in lengths):
                tried.append((trial.price_cents, layer, trial))
        if tried:
            _, lots[number], shelf = min(tried, key=lambda each: each[:2])
    short: list[Sort] = []
    for sort in sorted(
        Counter(dict(board.single)).elements(), key=lambda each: (each.priority, -each.pitches, each)
    ):
        if not shelf.cut((sort.pitches, ANY)):
            short.append(sort)
    reels = [Reel(number, tuple(sorted(cut, reverse=True))) for _, number, cut in shelf.begun]
    return Layout(tuple(reels), tuple(lots), (), tuple(sorted(short)))
