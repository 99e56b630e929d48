"""Quick answers: each reel filled as full as it goes, or each piece on the fullest reel that takes it."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from service.cutting.board import ANY, Kind, Length

Pattern = tuple[tuple[Kind, int], ...]  # kind and count, longest first


@dataclass(frozen=True, slots=True)
class Task:
    """Kinds, each cut so many times, from lengths at a price each: what comes cheapest?

    The price is whatever is to be least: cents, or 1 for each reel that is opened.
    """

    wanted: Mapping[Kind, int]
    lengths: tuple[Length, ...]
    prices: tuple[int, ...]

    @property
    def kinds(self) -> list[Kind]:
        return sorted((kind for kind, count in self.wanted.items() if count > 0), reverse=True)

    @property
    def needed_pitches(self) -> int:
        return sum(pitches * count for (pitches, _), count in self.wanted.items())

    def price_of(self, taken: Sequence[tuple[int, Pattern]]) -> int:
        return sum(self.prices[length] for length, _ in taken)


Taken = list[tuple[int, Pattern]]  # the number of a length, and what is cut off one reel of it


def pattern_of(content: Mapping[Kind, int]) -> Pattern:
    return tuple(sorted(((kind, count) for kind, count in content.items() if count > 0), reverse=True))


def pattern_pitches(pattern: Pattern) -> int:
    return sum(pitches * count for (pitches, _), count in pattern)


def fullest(kinds: Sequence[tuple[Kind, int]], room: int) -> Counter[Kind]:
    """What fills `room` best; kinds told first are preferred. Bit s of a set says: s can be reached."""
    mask = (1 << (room + 1)) - 1
    reached, stages = 1, list[tuple[Kind, int]]()
    for kind, count in kinds:
        pitches = kind[0]
        for _ in range(min(count, room // pitches)):
            more = (reached | (reached << pitches)) & mask
            if more == reached:
                break
            stages.append((kind, reached))
            reached = more
        if reached >> room & 1:
            break
    total = reached.bit_length() - 1
    content: Counter[Kind] = Counter()
    for kind, before in reversed(stages):
        if not before >> total & 1:
            content[kind] += 1
            total -= kind[0]
    return content


class Rack:
    """Reels still to be had, by number of their length."""

    def __init__(self, task: Task) -> None:
        self.task = task
        self.left = [each.most for each in task.lengths]

    def of(self, layer: int | None) -> list[int]:
        """Lengths of a layer (None: of all) that can still be had."""
        lengths = self.task.lengths
        return [n for n, left in enumerate(self.left) if left > 0 and layer in (None, lengths[n].layer)]

    def cheapest_for(self, pitches: int, layer: int | None) -> int | None:
        """Shelf first, the shortest that holds it; else the new length with the least price a pitch."""
        fits = [n for n in self.of(layer) if self.task.lengths[n].pitches >= pitches]
        free = [n for n in fits if not self.task.prices[n]]
        if free:
            return min(free, key=lambda n: (self.task.lengths[n].pitches, n))
        return min(fits, key=lambda n: (self.task.prices[n] / self.task.lengths[n].pitches, n), default=None)


def to_the_brim(task: Task, shortest_first: bool = True) -> Taken | None:
    """What costs nothing is filled reel by reel, then new ones from the longest piece on; None if stuck."""
    rack, left = Rack(task), Counter({kind: task.wanted[kind] for kind in task.kinds})
    taken: Taken = []
    free = sorted(
        (n for n in rack.of(None) if not task.prices[n]),
        key=lambda n: (task.lengths[n].pitches if shortest_first else -task.lengths[n].pitches, n),
    )
    for number in free:
        for _ in range(rack.left[number]):
            content = fullest(_visible(left, task.lengths[number].layer), task.lengths[number].pitches)
            if content:
                _take(taken, rack, left, number, content)
    while left := +left:
        # Groups first: their tape is scarcer than any.
        kind = max(left, key=lambda each: (each[1] != ANY, each))
        layer = None if kind[1] == ANY else kind[1]
        chosen = rack.cheapest_for(kind[0], layer)
        if chosen is None:
            return None
        length = task.lengths[chosen]
        rest = left - Counter([kind])
        content = fullest(_visible(rest, length.layer), length.pitches - kind[0])
        content[kind] += 1
        _take(taken, rack, left, chosen, content)
    return cheaper_reels(task, taken)


def _visible(left: Mapping[Kind, int], layer: int) -> list[tuple[Kind, int]]:
    """What may be cut off tape of a layer: what needs this lot first, then the longest."""
    own = [(kind, count) for kind, count in left.items() if count > 0 and kind[1] in (ANY, layer)]
    return sorted(own, key=lambda item: (item[0][1] == ANY, -item[0][0]))


def _take(taken: Taken, rack: Rack, left: Counter[Kind], number: int, content: Counter[Kind]) -> None:
    rack.left[number] -= 1
    left.subtract(content)
    taken.append((number, pattern_of(content)))


def best_fit(task: Task) -> Taken | None:
    """Longest first, each on the fullest reel that takes it; None if stuck."""
    rack = Rack(task)
    free: list[list[int]] = []  # left on a reel, number of its length, place in `contents`
    contents: list[Counter[Kind]] = []
    for kind in sorted(task.kinds, key=lambda each: (each[1] == ANY, -each[0], each[1])):
        for _ in range(task.wanted[kind]):
            fits = [
                reel for reel in free if reel[0] >= kind[0] and kind[1] in (ANY, task.lengths[reel[1]].layer)
            ]
            reel = min(fits, default=None)
            if reel is None:
                chosen = rack.cheapest_for(kind[0], None if kind[1] == ANY else kind[1])
                if chosen is None:
                    return None
                rack.left[chosen] -= 1
                reel = [task.lengths[chosen].pitches, chosen, len(contents)]
                free.append(reel)
                contents.append(Counter())
            reel[0] -= kind[0]
            contents[reel[2]][kind] += 1
    taken = [(number, pattern_of(contents[at])) for _, number, at in sorted(free, key=lambda each: each[2])]
    return cheaper_reels(task, taken)


def cheaper_reels(task: Task, taken: Taken) -> Taken:
    """Each content moves to the cheapest length still to be had that holds it."""
    rack = Rack(task)
    for number, _ in taken:
        rack.left[number] -= 1
    moved: Taken = []
    for number, pattern in sorted(taken, key=lambda each: (-task.prices[each[0]], each)):
        used, layer = pattern_pitches(pattern), task.lengths[number].layer
        bound_here = any(of != ANY for (_, of), _ in pattern)
        fits = [
            n
            for n in rack.of(layer if bound_here else None)
            if task.lengths[n].pitches >= used and task.prices[n] < task.prices[number]
        ]
        better = min(fits, key=lambda n: (task.prices[n], task.lengths[n].pitches, n), default=number)
        if better != number:
            rack.left[better] -= 1
            rack.left[number] += 1
        moved.append((better, pattern))
    return moved


def quick_answers(task: Task) -> Iterator[Taken]:
    """Every quick way that comes to an answer."""
    for answer in (best_fit(task), to_the_brim(task), to_the_brim(task, shortest_first=False)):
        if answer is not None:
            yield answer
