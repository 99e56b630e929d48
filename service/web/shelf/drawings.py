"""The season of one thing, small: what is wanted as an outline, what there is as a line."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from service.reports.shelf.counts import Count

WIDTH, HEIGHT = 160, 28  # px
AFTER = timedelta(days=14)


@dataclass(frozen=True, slots=True)
class Spark:
    """Paths in a box of WIDTH by HEIGHT px; `short`: days on which it is short, as (x, y, wide, high)."""

    wanted: str
    there: str
    short: tuple[tuple[float, float, float, float], ...]
    width: int = WIDTH
    height: int = HEIGHT


def sparks(counts: Sequence[Count], today: date) -> dict[str, Spark]:
    """By tag; all on the same days, from today to a little after the last on which anything changes."""
    turns = [step[0] for count in counts for step in count.line]
    last = max(turns, default=today) + AFTER
    return {count.item: _spark(count, today, last) for count in counts if _says_something(count)}


def _says_something(count: Count) -> bool:
    return any(wanted for _, _, wanted, _ in count.line)


def _spark(count: Count, first: date, last: date) -> Spark:
    days = max(1, (last - first).days)
    top = max(max(wanted, there) for _, _, wanted, there in count.line) * 1.05 or 1.0

    def x(day: date) -> float:
        return round(WIDTH * min(days, max(0, (day - first).days)) / days, 1)

    def y(quantity: float) -> float:
        return round(HEIGHT - HEIGHT * quantity / top, 1)

    wanted = there = ""
    short = []
    for n, (start, end, want, have) in enumerate(count.line):
        step = f"M{x(start):g} " if not n else "V"
        wanted += f"{step}{y(want):g}H{x(end):g}"
        there += f"{step}{y(have):g}H{x(end):g}"
        if want > have:
            short.append((x(start), y(want), max(1.0, x(end) - x(start)), round(y(have) - y(want), 1)))
    return Spark(f"{wanted}V{HEIGHT}H0Z", there, tuple(short))
