"""Filling equal lengths, or equal supplies, with given sizes: the fewest that hold everything.

A good start comes from best fit and from filling each bin to the brim; a proof comes from a bound.
Where the two do not meet, whole patterns (the contents of one bin) are priced one at a time into a
linear program, and the program's answer is rounded bin by bin. Effort is counted in rounds, so
equal questions get equal answers.

Source of the method: Gilmore and Gomory, Operations Research 9 (1961); the second bound is Martello
and Toth, *Knapsack Problems* (1990), chapter 8.
"""

from bisect import bisect_left, bisect_right, insort
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import accumulate
from math import ceil, gcd, inf
from random import Random
from typing import Any

from service.allocation.problem import Effort
from service.allocation.quiet import linear_program

Pattern = tuple[tuple[int, int], ...]  # (size, count), largest size first

# Prices are turned into whole numbers at this scale, so that the bound is exact arithmetic.
PRICE_SCALE = 10**9
ROUNDS = 12  # dives, the last of which gives way to a whole-number program that may settle it
SETTLE_WORK = (0.5, 1.0, 6.0)  # its deterministic units, each time
EASY = Effort()
MOST_CONTENTS, MOST_STEPS = 20_000, 400_000


@dataclass(frozen=True, slots=True)
class Packing:
    """Bins that hold everything, and a number of bins that nobody can go below."""

    bins: tuple[Pattern, ...]
    bound: int
    proven: bool


def pack(sizes: Mapping[int, int], capacity: int, effort: Effort = EASY) -> Packing:
    """Every size stands in a bin `count` times, no bin holds more than `capacity`.

    >>> pack({5: 2, 4: 2, 3: 4}, 10).bins
    (((5, 2),), ((4, 1), (3, 2)), ((4, 1), (3, 2)))
    """
    wanted = _checked(sizes, capacity)
    if not wanted:
        return Packing((), 0, True)
    unit = reduce(gcd, wanted)
    small = {size // unit: count for size, count in wanted.items()}
    limit = capacity // unit
    bound = second_bound(small, limit)
    best = best_fit(small, limit)
    if len(best) > bound:
        best = min(best, to_the_brim(small, limit), key=len)
    if len(best) > bound:
        search = _Search(small, limit, best, bound)
        search.improve(effort)
        best, bound = search.best, search.bound
    bins = sorted((tuple((size * unit, k) for size, k in pattern) for pattern in best), reverse=True)
    return Packing(tuple(bins), bound, len(bins) == bound)


def _checked(sizes: Mapping[int, int], capacity: int) -> dict[int, int]:
    """The sizes that are wanted at all, largest first."""
    wanted = {size: count for size, count in sorted(sizes.items(), reverse=True) if count > 0}
    for size in wanted:
        if not 0 < size <= capacity:
            raise ValueError(f"a size of {size} does not go into a capacity of {capacity}")
    return wanted


def best_fit(sizes: Mapping[int, int], capacity: int) -> list[Pattern]:
    """Largest first, each into the fullest bin that still takes it."""
    free: list[tuple[int, int]] = []
    bins: list[Counter[int]] = []
    for size in sorted(sizes, reverse=True):
        for _ in range(sizes[size]):
            at = bisect_left(free, (size, -1))
            if at < len(free):
                left, number = free.pop(at)
            else:
                left, number = capacity, len(bins)
                bins.append(Counter())
            bins[number][size] += 1
            insort(free, (left - size, number))
    return [_pattern(content) for content in bins]


def to_the_brim(sizes: Mapping[int, int], capacity: int) -> list[Pattern]:
    """Each bin takes the largest size left, then is filled as full as the rest allows."""
    left = Counter({size: count for size, count in sizes.items() if count > 0})
    bins: list[Pattern] = []
    while left:
        largest = max(left)
        left -= Counter([largest])
        content = _fullest(left, capacity - largest)
        left -= content
        content[largest] += 1
        bins.append(_pattern(content))
    return bins


def _fullest(sizes: Counter[int], room: int) -> Counter[int]:
    """The content that fills `room` best, large sizes preferred. Bit s of a set says: s can be reached."""
    mask = (1 << (room + 1)) - 1
    reached, stages = 1, []
    for size in sorted(sizes, reverse=True):
        for _ in range(min(sizes[size], room // size)):
            more = (reached | (reached << size)) & mask
            if more == reached:
                break
            stages.append((size, reached))
            reached = more
        if reached >> room & 1:
            break
    total = reached.bit_length() - 1
    content: Counter[int] = Counter()
    for size, before in reversed(stages):
        if not before >> total & 1:
            content[size] += 1
            total -= size
    return content


def second_bound(sizes: Mapping[int, int], capacity: int) -> int:
    """No packing has fewer bins.

    For a threshold k: sizes over capacity - k stand alone among those counted, sizes over half stand
    one to a bin, and what is between k and half fills up beside the middle ones.

    Source: Martello and Toth, *Knapsack Problems* (1990), chapter 8, bound L2 (from memory).

    >>> second_bound({70: 1, 60: 1, 50: 1, 33: 3, 11: 1, 7: 1, 3: 1}, 100)
    4
    """
    ordered = sorted(size for size, count in sizes.items() for _ in range(count))
    upto = [0, *accumulate(ordered)]
    best = -(-upto[-1] // capacity)
    half = bisect_right(ordered, capacity // 2)
    for k in {size for size in ordered if 2 * size <= capacity}:
        alone = bisect_right(ordered, capacity - k)
        small = bisect_left(ordered, k)
        beside = (alone - half) * capacity - (upto[alone] - upto[half])
        over = max(0, -(-(upto[half] - upto[small] - beside) // capacity))
        best = max(best, len(ordered) - half + over)
    return best


def best_pattern(
    prices: Sequence[int], sizes: Sequence[int], counts: Sequence[int], capacity: int
) -> tuple[int, Pattern]:
    """The dearest content of one bin, exactly, with at most `counts` of each size.

    Counts are taken in parcels of 1, 2, 4 …, so a size wanted 600 times costs ten passes.
    """
    import numpy as np  # heavy: loaded only where the work is done

    value = np.zeros(capacity + 1, dtype=np.int64)
    steps: list[tuple[int, int, Any]] = []
    for price, size, count in zip(prices, sizes, counts, strict=True):
        fit, parcel = min(count, capacity // size), 1
        while price > 0 and fit > 0:
            take = min(parcel, fit)
            fit, parcel = fit - take, parcel * 2
            width = take * size
            offer = value[: capacity + 1 - width] + take * price
            better = offer > value[width:]
            if better.any():
                np.maximum(offer, value[width:], out=value[width:])
                steps.append((size, take, better))
    content: Counter[int] = Counter()
    room = capacity
    for size, take, better in reversed(steps):
        if room >= size * take and better[room - size * take]:
            content[size] += take
            room -= size * take
    return int(value[capacity]), _pattern(content)


def _pattern(content: Mapping[int, int]) -> Pattern:
    return tuple(sorted(((size, count) for size, count in content.items() if count > 0), reverse=True))


class _Master:
    """The linear program over patterns: every size covered, fewest bins, fractions allowed."""

    def __init__(self, sizes: Sequence[int]) -> None:
        import numpy as np  # heavy: loaded only where the work is done

        self._np = np
        self._lp = linear_program()
        # The program grows by one column at a time from its last answer; presolving would forget that.
        self._lp.setOptionValue("presolve", "off")
        self._row = {size: row for row, size in enumerate(sizes)}
        for _ in sizes:
            self._lp.addRow(0.0, inf, 0, np.array([], dtype=np.int32), np.array([]))
        self.patterns: list[Pattern] = []
        self._known: set[Pattern] = set()

    def add(self, pattern: Pattern) -> bool:
        """The pattern is a column; false if it was one already."""
        if not pattern or pattern in self._known:
            return False
        self._known.add(pattern)
        self.patterns.append(pattern)
        rows = self._np.array([self._row[size] for size, _ in pattern], dtype=self._np.int32)
        counts = self._np.array([float(count) for _, count in pattern])
        self._lp.addCol(1.0, 0.0, inf, len(rows), rows, counts)
        return True

    def ask_for(self, counts: Sequence[int]) -> None:
        for row, count in enumerate(counts):
            self._lp.changeRowBounds(row, float(count), inf)

    def solve(self) -> tuple[list[float], list[int]]:
        """How many of each pattern, and what one more of each size would cost (scaled to whole numbers)."""
        self._lp.run()
        answer = self._lp.getSolution()
        prices = [max(0, int(price * PRICE_SCALE)) for price in answer.row_dual]
        return list(answer.col_value), prices


class _Search:
    """Best packing and best bound so far, brought together by pricing, diving and a last whole program."""

    def __init__(self, sizes: Mapping[int, int], capacity: int, best: list[Pattern], bound: int) -> None:
        self.capacity, self.best, self.bound = capacity, best, bound
        self.sizes = sorted(sizes, reverse=True)
        self.wanted = [sizes[size] for size in self.sizes]
        self.row = {size: number for number, size in enumerate(self.sizes)}
        self.master = _Master(self.sizes)
        for size in self.sizes:
            self.master.add(((size, min(sizes[size], capacity // size)),))
        for pattern in best:
            self.master.add(pattern)

    @property
    def done(self) -> bool:
        return len(self.best) <= self.bound

    def improve(self, effort: Effort) -> None:
        """Bound and packing meet, or the effort is spent."""
        shares = self._price(self.wanted, prove=True)
        for number in range(max(2, round(len(SETTLE_WORK) * ROUNDS * effort.scale))):
            if self.done:
                return
            if number % ROUNDS == ROUNDS - 1:
                self._settle(SETTLE_WORK[min(number // ROUNDS, 2)] * effort.scale)
            else:
                self._dive(shares, number, Random(1000 * effort.seed + number))

    def _price(self, wanted: Sequence[int], prove: bool = False) -> list[float]:
        """New patterns are added until none pays; with `prove`, the bound is raised on the way.

        With whole prices, no bin is worth more than the dearest pattern, so
        bins >= (worth of everything) / (dearest pattern), rounded up.
        """
        self.master.ask_for(wanted)
        while True:
            shares, prices = self.master.solve()
            dearest, pattern = best_pattern(prices, self.sizes, wanted, self.capacity)
            worth = sum(price * count for price, count in zip(prices, wanted, strict=True))
            if prove and dearest > 0:
                self.bound = max(self.bound, -(-worth // dearest))
            # Within a millionth of one bin the linear program is at its end; rounding noise is below that.
            at_end = dearest * 1_000_000 <= PRICE_SCALE * 1_000_001
            if at_end or (prove and self.done) or not self.master.add(pattern):
                return shares

    def _dive(self, shares: list[float], number: int, random: Random) -> None:
        """Bins are fixed from the fractions, the rest is priced again, until nothing is left."""
        left, fixed = list(self.wanted), []
        while any(left):
            taken = self._fix(shares, left, number, random)
            if not taken:
                return
            fixed += taken
            rest = dict(zip(self.sizes, left, strict=True))
            tail = best_fit(rest, self.capacity)
            if len(fixed) + len(tail) > self.bound:
                tail = min(tail, to_the_brim(rest, self.capacity), key=len)
            if len(fixed) + len(tail) < len(self.best):
                self.best = fixed + tail
            if self.done or not any(left):
                return
            shares = self._price(left)
            if len(fixed) + ceil(sum(shares) - 1e-6) >= len(self.best):
                return

    def _fix(self, shares: list[float], left: list[int], number: int, random: Random) -> list[Pattern]:
        """Whole shares are taken; where there are none, a large one, and others that are nearly whole."""
        patterns, taken = self.master.patterns, list[Pattern]()
        for at, share in enumerate(shares):
            for _ in range(int(share + 1e-6)):
                taken += self.cut_to(patterns[at], left)
        if taken:
            return taken
        ranked = sorted(
            (at for at, share in enumerate(shares) if share > 1e-6), key=lambda at: (-shares[at], at)
        )
        if not ranked:
            return taken
        taken += self.cut_to(patterns[ranked[random.randrange(min(1 + number, len(ranked)))]], left)
        for at in ranked[1:]:
            if shares[at] > 0.8:
                taken += self.cut_to(patterns[at], left, whole=True)
        return taken

    def cut_to(self, pattern: Pattern, left: list[int], whole: bool = False) -> list[Pattern]:
        """One bin of this pattern, cut down to what is still wanted; none if nothing of it is."""
        cut = tuple((size, k) for size, count in pattern if (k := min(count, left[self.row[size]])) > 0)
        if not cut or (whole and cut != pattern):
            return []
        for size, count in cut:
            left[self.row[size]] -= count
        return [cut]

    def _settle(self, work: float) -> None:
        """Whether `bound` bins are enough is decided over all contents that could be one of them.

        With `bound` bins, the room left over in all of them together is known, so no bin may leave more.
        Where such contents are few enough to list, a no is a proof that one more bin is needed.
        """
        spare = self.bound * self.capacity - sum(s * k for s, k in zip(self.sizes, self.wanted, strict=True))
        contents = every_content(self.sizes, self.wanted, self.capacity, spare)
        patterns = contents if contents is not None else self.master.patterns
        plan, impossible = _whole_program(patterns, contents is not None, self, work)
        if plan is not None:
            self.best = plan
        elif impossible and contents is not None:
            self.bound += 1


def every_content(
    sizes: Sequence[int], counts: Sequence[int], capacity: int, spare: int
) -> list[Pattern] | None:
    """All contents of a bin that leave at most `spare` room; None if there are too many to list.

    Sizes come largest first. A branch is dropped when even all that is left cannot fill the bin.
    """
    after = [0, *accumulate(s * k for s, k in zip(reversed(sizes), reversed(counts), strict=True))][::-1]
    found: list[Pattern] = []
    steps = 0

    def fill(at: int, room: int, chosen: Pattern) -> bool:
        nonlocal steps
        steps += 1
        if room <= spare:
            found.append(chosen)
        if steps > MOST_STEPS or len(found) > MOST_CONTENTS:
            return False
        for next_at in range(at, len(sizes)):
            if room - after[next_at] > spare:
                return True
            for count in range(1, min(counts[next_at], room // sizes[next_at]) + 1):
                more = (*chosen, (sizes[next_at], count))
                if not fill(next_at + 1, room - count * sizes[next_at], more):
                    return False
        return True

    return found if fill(0, capacity, ()) else None


def _whole_program(
    patterns: Sequence[Pattern], exact: bool, search: _Search, work: float
) -> tuple[list[Pattern] | None, bool]:
    """Bins made of these patterns, as many as the bound says; or whether there can be none such."""
    from ortools.sat.python import cp_model  # heavy: loaded only where the work is done

    model = cp_model.CpModel()
    covers: dict[int, list[Any]] = {size: [] for size in search.sizes}
    uses = [model.new_int_var(0, search.bound, "") for _ in patterns]
    for use, pattern in zip(uses, patterns, strict=True):
        for size, count in pattern:
            covers[size].append(count * use)
    for size, count in zip(search.sizes, search.wanted, strict=True):
        # Where every content is listed, none need be cut down, and equality prunes more.
        model.add_linear_constraint(sum(covers[size]), count, count if exact else count + search.capacity)
    model.add(sum(uses) == search.bound)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = work
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None, bool(status == cp_model.INFEASIBLE)
    left, bins = list(search.wanted), []
    for use, pattern in zip(uses, patterns, strict=True):
        for _ in range(solver.value(use)):
            bins += search.cut_to(pattern, left)
    return bins, False
