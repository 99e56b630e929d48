"""The line of one thing through time: what is wanted of it against what there is, exact to the day.

Days are half-open. Figures are whole pieces of gear or whole cut pitches of tape. Nothing here reads a
database. Definitions: house rules, common practice.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Any, NamedTuple

FAR = date(9999, 12, 31)  # the end of what has no end


class Need(NamedTuple):
    """One stretch of what one show wants. `promised`: held for it; `used`: in use by its kept plan, or, of
    tape, drawn and not cut. On each day the larger of the two sums counts: they are never added."""

    who: str
    from_on: date
    until_on: date
    promised: int = 0
    used: int = 0


class Stock(NamedTuple):
    """One stretch of what there is. `sound` includes what is `hired`; `late`: sound, and not back from a show
    that should have brought it; `recovered`: tape that a strike is expected to bring; `due`: on order."""

    from_on: date
    until_on: date = FAR
    owned: int = 0
    sound: int = 0
    late: int = 0
    hired: int = 0
    recovered: int = 0
    due: int = 0


class Step(NamedTuple):
    """The same figures on every day from `from_on` up to but not on `until_on`."""

    from_on: date
    until_on: date
    owned: int
    sound: int
    late: int
    hired: int
    recovered: int
    due: int
    wanted: int
    wanted_by: tuple[tuple[str, int], ...]

    @property
    def usable(self) -> int:
        """There without waiting for an order."""
        return self.sound - self.late + self.recovered

    @property
    def free(self) -> int:
        return max(0, self.usable + self.due - self.wanted)

    @property
    def short(self) -> int:
        return max(0, self.wanted - self.usable - self.due)

    @property
    def short_undelivered(self) -> int:
        """What it would be short of if nothing on order came."""
        return max(0, self.wanted - self.usable)

    @property
    def short_if_back(self) -> int:
        """What it would be short of if what is overdue were back."""
        return max(0, self.wanted - self.usable - self.due - self.late)

    @property
    def days(self) -> int:
        return (self.until_on - self.from_on).days


@dataclass(frozen=True, slots=True)
class Shortage:
    """Days without a gap on which more is wanted than there is. `clears_on`: the first day on which that is
    over; None: it never is. `worst`: the most it is short of, first on `worst_on`."""

    from_on: date
    clears_on: date | None
    worst: int
    worst_on: date
    steps: tuple[Step, ...]

    @property
    def at_worst(self) -> Step:
        return next(step for step in self.steps if step.from_on == self.worst_on)


def step_line(
    needs: Iterable[Need], stocks: Iterable[Stock], from_on: date, until_on: date = FAR
) -> tuple[Step, ...]:
    """The line through the half-open days, as the fewest steps; none where the days are none.

    >>> need = Need("ICE", date(2027, 1, 4), date(2027, 1, 20), promised=3)
    >>> line = step_line([need], [Stock(date(2027, 1, 1), sound=2)], date(2027, 1, 1), date(2027, 2, 1))
    >>> [(step.from_on.day, step.wanted, step.short) for step in line]
    [(1, 0, 0), (4, 3, 1), (20, 0, 0)]
    """
    if from_on >= until_on:
        return ()
    wants: dict[date, list[tuple[str, int, int]]] = {}
    for who, first, last, promised, used in needs:
        if first < until_on and last > from_on and first < last:
            wants.setdefault(first if first > from_on else from_on, []).append((who, promised, used))
            if last < until_on:
                wants.setdefault(last, []).append((who, -promised, -used))
    there: dict[date, list[tuple[int, tuple[int, ...]]]] = {from_on: []}
    for stock in stocks:
        first, last = max(stock.from_on, from_on), min(stock.until_on, until_on)
        if first < last:
            there.setdefault(first, []).append((1, stock[2:]))
            if last < until_on:
                there.setdefault(last, []).append((-1, stock[2:]))
    found: list[tuple[date, tuple[Any, ...]]] = []
    for day, figures in _figures(wants, there):
        if not found or found[-1][1] != figures:
            found.append((day, figures))
    ends = [*(day for day, _ in found[1:]), until_on]
    return tuple(Step._make((day, end, *figures)) for (day, figures), end in zip(found, ends, strict=True))


def _figures(
    wants: Mapping[date, Sequence[tuple[str, int, int]]],
    there: Mapping[date, Sequence[tuple[int, tuple[int, ...]]]],
) -> Iterator[tuple[date, tuple[Any, ...]]]:
    """What holds from each day on which anything turns. A season has tens of thousands of them: each is told
    from the one before."""
    stock: tuple[int, ...] = (0,) * 6
    sums: dict[str, tuple[int, int]] = {}
    most: dict[str, int] = {}
    wanted_by: tuple[tuple[str, int], ...] = ()
    wanted = 0
    for day in sorted(wants.keys() | there.keys()):
        for sign, figures in there.get(day, ()):
            stock = tuple(have + sign * more for have, more in zip(stock, figures, strict=True))
        if changes := wants.get(day):
            for who, promised, used in changes:
                before = sums.get(who)
                if before is not None:
                    promised, used = before[0] + promised, before[1] + used
                sums[who] = promised, used
                now = promised if promised > used else used
                wanted += now - most.pop(who, 0)
                if now:
                    most[who] = now
            wanted_by = tuple(sorted(most.items()))
        yield day, (*stock, wanted, wanted_by)


def shortages(line: Sequence[Step], until_on: date = FAR) -> tuple[Shortage, ...]:
    """The shortages that begin before `until_on`, the earliest first. When each clears is read from the whole
    line; how bad it is, from its days before `until_on`."""
    found = []
    for is_short, group in groupby(line, key=lambda step: step.short > 0):
        steps = tuple(group)
        if not is_short or steps[0].from_on >= until_on:
            continue
        clears_on = None if steps[-1].until_on == FAR else steps[-1].until_on
        worst = max((s for s in steps if s.from_on < until_on), key=lambda step: step.short)
        found.append(Shortage(steps[0].from_on, clears_on, worst.short, worst.from_on, steps))
    return tuple(found)


def least_free(line: Sequence[Step]) -> Step:
    """The step with the least to spare, or the most short; the first of those that are alike."""
    return min(line, key=lambda step: step.free - step.short)
