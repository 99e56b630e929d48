"""Lines, shortages and moves of dates in words and in the units of their item."""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from itertools import groupby
from typing import Any

from service.planning.season.items import Item, Late, Missing, Season
from service.planning.season.schemas import LineStepOut, ShortageOut
from service.season.lines import FAR, Need, Shortage, Step, shortages, step_line
from service.season.moves import Case, Move, Window, cheapest_move

DAY = timedelta(days=1)


def last_day(until_on: date) -> date | None:
    """The last day of half-open days; None: they do not end."""
    return None if until_on == FAR else until_on - DAY


def wanted_by(item: Item, step: Step) -> list[str]:
    """
    >>> step = Step(date(2027, 1, 4), FAR, 0, 0, 0, 0, 0, 0, 19, (("SQ", 8), ("TL", 11)))
    >>> wanted_by(Item("decoder", "D4", (), ()), step)
    ['TL 11', 'SQ 8']
    """
    return [f"{who} {quantity:g}" for who, quantity in shares(item, step)]


def shares(item: Item, step: Step) -> list[tuple[str, float]]:
    """Which show wants how much in the unit of the item, the most first."""
    most_first = sorted(step.wanted_by, key=lambda pair: (-pair[1], pair[0]))
    return [(who, item.figure(quantity)) for who, quantity in most_first]


def step_out(item: Item, step: Step) -> LineStepOut:
    return LineStepOut(
        kind=item.kind,
        item=item.tag,
        lot=item.lot,
        unit=item.unit,
        from_on=step.from_on,
        to_on=last_day(step.until_on),
        owned=item.figure(step.owned),
        sound=item.figure(step.sound),
        overdue=item.figure(step.late),
        hired=item.figure(step.hired),
        recovered=item.figure(step.recovered),
        usable=item.figure(step.usable),
        due_in=item.figure(step.due),
        wanted=item.figure(step.wanted),
        free=item.figure(step.free),
        short=item.figure(step.short),
        short_undelivered=item.figure(step.short_undelivered),
        short_if_back=item.figure(step.short_if_back),
        wanted_by=wanted_by(item, step),
    )


def shortage_out(season: Season, item: Item, short: Shortage) -> ShortageOut:
    worst = short.at_worst
    whole = _whole(season, item, short)
    move = best_move(season, [(whole, item.needs)], item.is_lent)
    back = taken_back(item, [whole])
    said = ""
    if move is not None:
        said = move_words(move, season.windows[move.who])
        for left in move.remains:
            clears = f"to {left.clears_on - DAY}" if left.clears_on else "for good"
            figure = f"{item.figure(left.worst):g} {item.unit if item.pitch_um else item.tag}"
            said += f"; {figure} short remain from {left.from_on} {clears}"
    return ShortageOut(
        kind=item.kind,
        item=item.tag,
        lot=item.lot,
        unit=item.unit,
        short=item.figure(short.worst),
        worst_on=short.worst_on,
        from_on=short.from_on,
        clears_on=short.clears_on,
        wanted=item.figure(worst.wanted),
        usable=item.figure(worst.usable),
        due_in=item.figure(worst.due),
        short_undelivered=item.figure(worst.short_undelivered),
        short_if_back=item.figure(worst.short_if_back),
        wanted_by=wanted_by(item, worst),
        wanted_shows=[who for who, _ in shares(item, worst)],
        wanted_each=[quantity for _, quantity in shares(item, worst)],
        **move_fields(move, said),
        back=back_words(back),
        back_tags=[one.tag for one in back],
        back_from=[one.who for one in back],
    )


def _whole(season: Season, item: Item, short: Shortage) -> Shortage:
    """The shortage with its days before and after those asked about: a move of dates must remove them too."""
    whole = shortages(item.line(min(season.today, short.from_on)))
    return next(one for one in whole if one.steps[-1].until_on >= short.steps[-1].until_on)


def taken_back(item: Item, shorts: Sequence[Shortage]) -> tuple[Missing, ...]:
    """Missing units that end all of these shortages once they are back, as few as will do; none where what is
    missing does not."""
    if not item.missing or any(step.short_if_back for short in shorts for step in short.steps):
        return ()
    least = max(step.short for short in shorts for step in short.steps)
    for count in range(least, len(item.missing) + 1):
        back = item.missing[:count]
        if _clears(item, back, shorts):
            break
    else:
        return ()
    for one in back[::-1] if len(back) > least else ():
        fewer = tuple(other for other in back if other is not one)
        back = fewer if _clears(item, fewer, shorts) else back
    return back


def _clears(item: Item, back: Sequence[Missing], shorts: Iterable[Shortage]) -> bool:
    then = item.with_back(back)
    days = [(short.from_on, short.clears_on or FAR) for short in shorts]
    return not any(step.short for day in days for step in step_line(then.needs, then.stocks, *day))


def back_words(back: Iterable[Missing]) -> str:
    """
    >>> from service.season.lines import Stock
    >>> stock = Stock(date(2026, 11, 4), late=1)
    >>> back_words([Missing(tag, "CO", date(2026, 11, 3), stock) for tag in ("DC-03", "DC-07")])
    'take DC-03, DC-07 back from CO'
    """
    by_show = groupby(sorted(back, key=lambda one: one.who), key=lambda one: one.who)
    parts = [f"{', '.join(one.tag for one in units)} back from {who}" for who, units in by_show]
    return f"take {' and '.join(parts)}" if parts else ""


def late_words(one: Late) -> str:
    """
    >>> late_words(Late("PO-2611-1", 1, "RGBW24", 200, date(2026, 12, 18), 2))
    '2 on PO-2611-1 are late since 2026-12-18 and not counted'
    """
    be, have = ("is", "has") if one.count == 1 else ("are", "have")
    why = f"{be} late since {one.due_on} and" if one.due_on else f"{have} no day and {be}"
    return f"{one.count} on {one.order} {why} not counted"


def best_move(
    season: Season, shorts: Iterable[tuple[Shortage, tuple[Need, ...]]], is_lent: bool = True
) -> Move | None:
    """The cheapest move that eases the worst days of them all; None where there is none."""
    cases = [Case(short, needs) for short, needs in shorts]
    return cheapest_move(cases, season.windows, season.today, is_lent)


def move_words(move: Move, window: Window) -> str:
    """
    >>> days = Window("TL", date(2027, 1, 4), date(2027, 4, 6), date(2027, 1, 25), date(2027, 3, 30))
    >>> move_words(Move("TL", 16, date(2027, 1, 20), None), days)
    'TL wants its gear from 2027-01-20, 16 days later (load-in 2027-01-25)'
    """
    days = f"{move.days} day{'' if move.days == 1 else 's'}"
    if move.needed_from is not None:
        return f"{move.who} wants its gear from {move.needed_from}, {days} later (load-in {window.load_in})"
    return (
        f"{move.who} gives its gear back by {move.needed_to}, {days} sooner (strike ends {window.strike_end})"
    )


def move_fields(move: Move | None, said: str) -> dict[str, Any]:
    if move is None:
        return {}
    return {
        "move": said,
        "move_production": move.who,
        "move_days": move.days,
        "move_needed_from": move.needed_from,
        "move_needed_to": move.needed_to,
        "removes": not move.remains,
    }
