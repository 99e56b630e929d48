"""The cheapest move of one show's dates that removes a shortage.

Only the days on which a show wants its gear move, never what is on stage: gear must be there by load-in and
may not leave before strike ends. What begins or ends with its show goes on doing so; what has days of its own
keeps them. Source: common practice.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from service.season.lines import FAR, Need, Shortage, step_line

DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Window:
    """When a show wants its gear, both days counting, and the two days that bound a move of them."""

    who: str
    needed_from: date
    needed_to: date
    load_in: date
    strike_end: date


@dataclass(frozen=True, slots=True)
class Case:
    """A shortage, and all that is wanted of the thing."""

    short: Shortage
    needs: tuple[Need, ...]


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


def moved(
    needs: Iterable[Need], window: Window, needed_from: date | None, needed_to: date | None
) -> tuple[Need, ...]:
    """The needs with the days of that show changed; what is left without a day is gone."""
    found = []
    for need in needs:
        if need.who == window.who:
            if needed_from is not None and need.from_on == window.needed_from:
                need = need._replace(from_on=needed_from)
            if needed_to is not None and need.until_on == window.needed_to + DAY:
                need = need._replace(until_on=needed_to + DAY)
        if need.from_on < need.until_on:
            found.append(need)
    return tuple(found)


def cheapest_move(
    cases: Sequence[Case], windows: Mapping[str, Window], today: date, is_lent: bool = True
) -> Move | None:
    """The move by the fewest days that removes all these shortages; where none does, that by the fewest days
    which leaves the least on the worst day of each. Of equals the later show moves. None: each move leaves
    as much on the worst days.

    What is not lent is used up, so that bringing it back sooner is no move. A show that has begun cannot
    begin later.
    """
    best: tuple[tuple[object, ...], Move] | None = None
    whole = sum(case.short.worst for case in cases)
    for move in _moves(cases, windows, today, is_lent):
        remains = _remains(cases, windows[move.who], move)
        worst = sum(one.worst for one in remains)
        if worst >= whole:
            continue
        start = windows[move.who].needed_from
        key = (bool(remains), worst, move.days, date.max - start, move.who, move.needed_from is None)
        if best is None or key < best[0]:
            best = key, replace(move, remains=remains)
    return best[1] if best else None


def _moves(
    cases: Sequence[Case], windows: Mapping[str, Window], today: date, is_lent: bool
) -> Iterator[Move]:
    """To each side, to the days on which what a show wants, or what there is, turns: between them nothing
    does. What reaches too far is cut short."""
    turns: dict[str, set[date]] = {}
    for case in cases:
        days = {day for step in case.short.steps for day in (step.from_on, step.until_on)}
        for who in {who for step in case.short.steps for who, _ in step.wanted_by}:
            mine = {day for n in case.needs if n.who == who for day in (n.from_on, n.until_on)}
            turns.setdefault(who, set()).update(days | mine)
    for who in sorted(turns.keys() & windows.keys()):
        window = windows[who]
        later = {min(day, window.load_in) for day in turns[who]}
        for day in sorted(later):
            if today < window.needed_from < day:
                yield Move(who, (day - window.needed_from).days, day, None)
        sooner = {max(day - DAY, window.strike_end, today) for day in turns[who]}
        for day in sorted(sooner):
            if is_lent and day < window.needed_to:
                yield Move(who, (window.needed_to - day).days, None, day)


def _remains(cases: Sequence[Case], window: Window, move: Move) -> tuple[Remains, ...]:
    """What is left of each shortage."""
    found = []
    for number, case in enumerate(cases):
        parts = [part for part in _parts(case, window, move) if part[2] > 0]
        if parts:
            days = sum((until_on - from_on).days for from_on, until_on, _ in parts)
            end = parts[-1][1]
            worst = max(short for _, _, short in parts)
            found.append(Remains(number, worst, parts[0][0], None if end == FAR else end, days))
    return tuple(found)


def _parts(case: Case, window: Window, move: Move) -> Iterator[tuple[date, date, int]]:
    """The days of a shortage with what it is then short of."""
    steps = case.short.steps
    mine = [need for need in case.needs if need.who == move.who]
    after = moved(mine, window, move.needed_from, move.needed_to)
    for then in step_line(after, (), steps[0].from_on, steps[-1].until_on):
        for step in steps:
            from_on, until_on = max(step.from_on, then.from_on), min(step.until_on, then.until_on)
            if from_on < until_on:
                wanted = step.wanted - dict(step.wanted_by).get(move.who, 0) + then.wanted
                yield from_on, until_on, wanted - step.usable - step.due
