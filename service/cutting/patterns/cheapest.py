"""Which reels come cheapest: whole patterns (the contents of one reel) priced into a linear program.

The program's shadow prices say what one more piece of each kind would cost; the content that is worth more
than its reel becomes a new pattern. No content being worth more proves a bound; the program's fractions are
rounded reel by reel to an answer. Effort is counted in rounds, so equal questions get equal answers.

Source of the method: Gilmore and Gomory, Operations Research 9 (1961) and 11 (1963), from memory.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import reduce
from math import ceil, gcd, inf
from random import Random

from service.cutting.board import ANY
from service.cutting.layout import Clock
from service.cutting.patterns.filling import (
    Pattern,
    Taken,
    Task,
    best_fit,
    quick_answers,
    to_the_brim,
)
from service.cutting.patterns.master import SCALE, Master, best_contents
from service.cutting.patterns.settle import settle

ROUNDS = 12  # dives, the last of which gives way to a whole-number program that may settle it
SETTLE_WORK = (0.5, 1.0, 6.0)  # its deterministic units, each time
# So many sums of money are looked through for one that could be the price.
MOST_SUMS = 300_000


@dataclass(frozen=True, slots=True)
class Cheapest:
    """Reels with what is cut off them (None if none was found), and a price that nobody can go below."""

    taken: Taken | None
    bound: int

    def price(self, task: Task) -> int | None:
        return None if self.taken is None else task.price_of(self.taken)


def cheapest(task: Task, clock: Clock) -> Cheapest:
    """Every kind is cut as often as it is wanted, at the least price that the effort finds."""
    if not task.kinds:
        return Cheapest([], 0)
    bound = sum_bound(task, 0)
    best = min(quick_answers(task), key=task.price_of, default=None)
    if best is not None and task.price_of(best) <= bound:
        return Cheapest(best, bound)
    search = _Search(task, best, bound, clock)
    search.improve()
    return Cheapest(search.best, search.bound)


def sum_bound(task: Task, least: int) -> int:
    """The least sum of prices, from `least` on, for reels that are long enough all together.

    The shelf is taken whole, so this holds for every way to cut.
    """
    shelf = sum(
        each.pitches * each.most for each, price in zip(task.lengths, task.prices, strict=True) if not price
    )
    short = task.needed_pitches - shelf
    offers: dict[int, tuple[int, int]] = {}
    for each, price in zip(task.lengths, task.prices, strict=True):
        if price:
            longest, most = offers.get(price, (0, 0))
            offers[price] = (max(longest, each.pitches), most + each.most)
    if not offers or (short <= 0 and least <= 0):
        return max(0, least)
    unit = reduce(gcd, offers)
    start = max(0, -(-least // unit))
    if len(offers) == 1:
        ((_, (longest, _)),) = offers.items()
        return max(start, -(-short // longest)) * unit
    longest_by_sum = [0]
    steps = [(price // unit, longest) for price, (longest, _) in sorted(offers.items())]
    while len(longest_by_sum) <= MOST_SUMS:
        total = len(longest_by_sum) - 1
        if total >= start and longest_by_sum[total] >= max(short, 0):
            return total * unit
        total += 1
        ways = [longest_by_sum[total - step] + longest for step, longest in steps if step <= total]
        longest_by_sum.append(max((way for way in ways if way >= 0), default=-(10**12)))
    return start * unit


class _Search:
    """Best answer and best bound so far, brought together by pricing, diving and a last whole program."""

    def __init__(self, task: Task, best: Taken | None, bound: int, clock: Clock) -> None:
        self.task, self.best, self.bound, self.clock = task, best, bound, clock
        self.kinds = task.kinds
        self.wanted = [task.wanted[kind] for kind in self.kinds]
        self.row = {kind: number for number, kind in enumerate(self.kinds)}
        self.most = [each.most for each in task.lengths]
        self.master = Master(task, self.kinds)
        for answer in quick_answers(task):
            for length, pattern in answer:
                self.master.add(length, pattern, task.prices[length])

    @property
    def best_price(self) -> float:
        return inf if self.best is None else self.task.price_of(self.best)

    @property
    def done(self) -> bool:
        return self.best_price <= self.bound or self.clock.is_late()

    def offer(self, taken: Taken) -> None:
        if self.task.price_of(taken) < self.best_price:
            self.best = taken

    def improve(self) -> None:
        """Bound and answer meet, or the effort is spent."""
        shares, _ = self._price(self.wanted, self.most, prove=True)
        self.bound = max(self.bound, sum_bound(self.task, self.bound))
        for number in range(max(2, round(len(SETTLE_WORK) * ROUNDS * self.clock.scale))):
            if self.done:
                return
            self.clock.work += 1
            if number % ROUNDS == ROUNDS - 1:
                self._settle(SETTLE_WORK[min(number // ROUNDS, 2)] * self.clock.scale)
            else:
                self._dive(shares, number, Random(number))

    def _price(
        self, wanted: Sequence[int], most: Sequence[int], prove: bool = False
    ) -> tuple[list[float], float]:
        """New patterns are added until none pays; with `prove`, the bound is raised on the way."""
        self.master.ask_for(wanted, most)
        while True:
            shares, signed, reels, total = self.master.solve()
            kinds = [max(0, price) for price in signed]
            worth, added = [0] * len(most), False
            for layer, numbers in self._layers(most).items():
                seen = [n for n, kind in enumerate(self.kinds) if kind[1] in (ANY, layer)]
                contents = best_contents(
                    [kinds[n] for n in seen],
                    [self.kinds[n] for n in seen],
                    [wanted[n] for n in seen],
                    max(self.task.lengths[n].pitches for n in numbers),
                )
                for number in numbers:
                    pitches = self.task.lengths[number].pitches
                    worth[number] = contents.value[pitches]
                    # Within a millionth of a unit the linear program is at its end; rounding is below that.
                    if worth[number] - reels[number] > self.task.prices[number] * SCALE + SCALE // 10**6:
                        pattern = contents.pattern(pitches)
                        added |= self.master.add(number, pattern, self.task.prices[number])
            if prove:
                self._raise_bound(kinds, wanted, worth)
            if not added or (prove and self.done) or self.clock.is_late():
                return shares, total

    def _layers(self, most: Sequence[int]) -> dict[int, list[int]]:
        layers: dict[int, list[int]] = {}
        for number, each in enumerate(self.task.lengths):
            if most[number] > 0:
                layers.setdefault(each.layer, []).append(number)
        return layers

    def _raise_bound(self, kinds: Sequence[int], wanted: Sequence[int], worth: Sequence[int]) -> None:
        """Prices under which no new reel holds more than it costs bound every answer from below.

        What a reel of the shelf could hold beyond its price counts against it, as often as it is there.
        """
        total = sum(price * count for price, count in zip(kinds, wanted, strict=True))
        priced = [n for n, price in enumerate(self.task.prices) if price]
        scale = max((Fraction(worth[n], self.task.prices[n] * SCALE) for n in priced), default=Fraction(1))
        for factor in {max(scale, Fraction(1, SCALE)), Fraction(1)}:
            value = Fraction(total) / factor
            for number, each in enumerate(self.task.lengths):
                over = Fraction(worth[number]) / factor - self.task.prices[number] * SCALE
                value -= each.most * max(Fraction(0), over)
            self.bound = max(self.bound, ceil(value / SCALE))

    def _dive(self, shares: list[float], number: int, random: Random) -> None:
        """Reels are fixed from the fractions, the rest is priced again, until nothing is left."""
        left, most, fixed = list(self.wanted), list(self.most), list[tuple[int, Pattern]]()
        while any(left):
            taken = self._fix(shares, left, most, number, random)
            if not taken:
                return
            fixed += taken
            rest = self._rest(left, most)
            for tail in (best_fit(rest), to_the_brim(rest)):
                if tail is not None:
                    self.offer(fixed + tail)
            if self.done or not any(left):
                return
            shares, total = self._price(left, most)
            if self.task.price_of(fixed) + ceil(total - 1e-6) >= self.best_price:
                return

    def _rest(self, left: Sequence[int], most: Sequence[int]) -> Task:
        lengths = tuple(
            each if each.most == count else replace(each, most=count)
            for each, count in zip(self.task.lengths, most, strict=True)
        )
        return Task(dict(zip(self.kinds, left, strict=True)), lengths, self.task.prices)

    def _fix(
        self, shares: list[float], left: list[int], most: list[int], number: int, random: Random
    ) -> Taken:
        """Whole shares are taken; where there are none, a large one, and others that are nearly whole."""
        columns, taken = self.master.columns, Taken()
        for at, share in enumerate(shares):
            for _ in range(int(share + 1e-6)):
                taken += self.cut_to(*columns[at], left, most)
        if taken:
            return taken
        large = (at for at, share in enumerate(shares) if share > 1e-6)
        ranked = sorted(large, key=lambda at: (-shares[at], at))
        if not ranked:
            return taken
        taken += self.cut_to(*columns[ranked[random.randrange(min(1 + number, len(ranked)))]], left, most)
        for at in ranked[1:]:
            if shares[at] > 0.8:
                taken += self.cut_to(*columns[at], left, most, whole=True)
        return taken

    def cut_to(
        self, length: int, pattern: Pattern, left: list[int], most: list[int], whole: bool = False
    ) -> Taken:
        """One reel of this pattern, cut down to what is still wanted; none if nothing of it is."""
        cut = tuple((kind, k) for kind, count in pattern if (k := min(count, left[self.row[kind]])) > 0)
        if not cut or most[length] < 1 or (whole and cut != pattern):
            return []
        most[length] -= 1
        for kind, count in cut:
            left[self.row[kind]] -= count
        return [(length, cut)]

    def _settle(self, work: float) -> None:
        """Whether the bound itself can be the price is decided, over all contents if they can be listed."""
        settled = settle(self.task, self.bound, [*self.master.columns], work)
        if settled.taken is not None:
            left, most, taken = list(self.wanted), list(self.most), Taken()
            for length, pattern in settled.taken:
                taken += self.cut_to(length, pattern, left, most)
            self.offer(taken)
        elif settled.is_impossible:
            self.bound = max(self.bound + 1, sum_bound(self.task, self.bound + 1))
