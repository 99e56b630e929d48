"""The cheapest move of one show's dates that removes a shortage.

Only the days on which a show wants its gear move, never what is on stage: gear must be there by load-in and
may not leave before strike ends. Source: common practice.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from service.season.lines import FAR, Need, Shortage, Step


@dataclass(frozen=True, slots=True)
class Window:
    """When a show wants its gear, both days counting, and the two days that bound a move of them."""

    who: str
    needed_from: date
    needed_to: date
    load_in: date
    strike_end: date


@dataclass(frozen=True, slots=True)
class Remains:
    """What a move leaves of the shortage at that place of those asked about."""

    number: int
    worst: int
    from_on: date
    clears_on: date | None
    short_days: int


@dataclass(frozen=True, slots=True)
class Move:
    """Gear of one show wanted later (`needed_from`) or back sooner (`needed_to`), by `days`. `remains` is
    empty where that removes every shortage asked about."""

    who: str
    days: int
    needed_from: date | None
    needed_to: date | None
    remains: tuple[Remains, ...] = ()


def moved(needs: Sequence[Need], move: Move) -> tuple[Need, ...]:
    """The needs with that show's days cut to the new ones."""
    first = move.needed_from or date.min
    last = FAR if move.needed_to is None else move.needed_to + timedelta(days=1)
    found = []
    for need in needs:
        if need.who != move.who:
            found.append(need)
        elif max(need.from_on, first) < min(need.until_on, last):
            days = max(need.from_on, first), min(need.until_on, last)
            found.append(Need(need.who, *days, need.promised, need.used))
    return tuple(found)


def cheapest_move(
    shorts: Sequence[Shortage], windows: Mapping[str, Window], today: date, is_lent: bool = True
) -> Move | None:
    """The move by the fewest days that removes all these shortages; where none does, the one that leaves the
    least. Of equals the later show moves. None: no move makes any of them smaller.

    What is not lent is used up, so that bringing it back sooner is no move. A show that has begun cannot
    begin later. Of what remains `worst` is compared
    first, then quantity by days.
    """
    best: tuple[tuple[object, ...], Move] | None = None
    whole = sum(step.short * step.days for short in shorts for step in short.steps)
    for move in _moves(shorts, windows, today, is_lent):
        remains, left = _remains(shorts, move)
        if left >= whole:
            continue
        start = windows[move.who].needed_from
        worst = sum(one.worst for one in remains)
        key = (bool(remains), worst, left, move.days, date.max - start, move.who, move.needed_from is None)
        if best is None or key < best[0]:
            best = key, Move(move.who, move.days, move.needed_from, move.needed_to, remains)
    return best[1] if best else None


def _moves(
    shorts: Sequence[Shortage], windows: Mapping[str, Window], today: date, is_lent: bool
) -> Iterator[Move]:
    """To each side, to the ends of the steps on which the show wants any: between them nothing turns. What
    reaches too far is cut short."""
    wanting: dict[str, list[Step]] = {}
    for short in shorts:
        for step in short.steps:
            for who, _ in step.wanted_by:
                wanting.setdefault(who, []).append(step)
    for who in sorted(wanting.keys() & windows.keys()):
        window = windows[who]
        later = {min(step.until_on, window.load_in) for step in wanting[who]}
        for day in sorted(later):
            if today < window.needed_from < day:
                yield Move(who, (day - window.needed_from).days, day, None)
        earliest = max(window.strike_end, today)
        sooner = {max(step.from_on - timedelta(days=1), earliest) for step in wanting[who]}
        for day in sorted(sooner):
            if is_lent and day < window.needed_to:
                yield Move(who, (window.needed_to - day).days, None, day)


def _remains(shorts: Sequence[Shortage], move: Move) -> tuple[tuple[Remains, ...], int]:
    """What is left of each shortage, and what is left over all of them, quantity by days."""
    found = []
    left = 0
    for number, short in enumerate(shorts):
        parts = [part for step in short.steps for part in _parts(step, move) if part[2] > 0]
        if parts:
            days = sum((until_on - from_on).days for from_on, until_on, _ in parts)
            left += sum((until_on - from_on).days * worst for from_on, until_on, worst in parts)
            end = parts[-1][1]
            worst = max(part[2] for part in parts)
            found.append(Remains(number, worst, parts[0][0], None if end == FAR else end, days))
    return tuple(found), left


def _parts(step: Step, move: Move) -> list[tuple[date, date, int]]:
    """A step cut in two at the day moved to, each part with what it is then short of."""
    wanted = dict(step.wanted_by).get(move.who, 0)
    eased = step.wanted - wanted - step.usable - step.due
    if move.needed_from is not None:
        cut = min(max(move.needed_from, step.from_on), step.until_on)
        parts = [(step.from_on, cut, eased), (cut, step.until_on, step.short)]
    else:
        assert move.needed_to is not None
        cut = min(max(move.needed_to + timedelta(days=1), step.from_on), step.until_on)
        parts = [(step.from_on, cut, step.short), (cut, step.until_on, eased)]
    return [part for part in parts if part[0] < part[1]]
