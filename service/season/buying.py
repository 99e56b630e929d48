"""What to order by when, and whether to hire instead. Pure: dates, quantities and money, no database.

Order by = needed from - lead time - receiving (house rule, common practice). Hire is paid by the week begun.
Money is decimal.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from itertools import groupby

from service.season.lines import FAR, Step

WEEK_DAYS = 7


@dataclass(frozen=True, slots=True)
class Terms:
    """What a shop asks: `pack` things in a pack, `least` of them at least; prices of one thing. None: nobody
    entered it."""

    lead_days: int | None = None
    price: Decimal | None = None
    pack: int | None = None
    least: int | None = None
    hire_price_per_week: Decimal | None = None
    hire_lead_days: int | None = None
    reel_pitches: int | None = None


@dataclass(frozen=True, slots=True)
class Hire:
    """`quantity` hired on half-open days."""

    quantity: int
    from_on: date
    until_on: date
    cost: Decimal | None

    @property
    def weeks(self) -> int:
        return weeks(self.from_on, self.until_on)


@dataclass(frozen=True, slots=True)
class Choice:
    """So many to be bought, and what is hired beside. `all_bought`, `all_hired`: what either alone would
    cost; None where a price is not known, or hire would never end."""

    buy: int
    hires: tuple[Hire, ...]
    cost: Decimal | None
    all_bought: Decimal | None
    all_hired: Decimal | None


def order_quantity(needed: int, pack: int | None, least: int | None) -> int:
    """Whole packs, and no less than the shop sells; nothing where nothing is needed.

    >>> order_quantity(7, 5, None), order_quantity(2, None, 6), order_quantity(0, 5, 10)
    (10, 6, 0)
    """
    if needed <= 0:
        return 0
    size = pack or 1
    return -(-max(needed, least or 1) // size) * size


def order_by(needed_from: date, lead_days: int | None, receiving_days: int) -> date | None:
    """The last day to order; None where the lead time is not known.

    >>> order_by(date(2027, 1, 4), 21, 3)
    datetime.date(2026, 12, 11)
    """
    return None if lead_days is None else needed_from - timedelta(days=lead_days + receiving_days)


def weeks(from_on: date, until_on: date) -> int:
    """Weeks begun in half-open days.

    >>> weeks(date(2027, 1, 4), date(2027, 1, 11)), weeks(date(2027, 1, 4), date(2027, 1, 12))
    (1, 2)
    """
    return -(-(until_on - from_on).days // WEEK_DAYS)


def buy_or_hire(line: Sequence[Step], terms: Terms) -> Choice:
    """The cheapest way to cover everything that the line is short of: the first ones bought, those of a short
    peak hired. Of equals more is bought. Without both prices all are bought.
    """
    worst = max((step.short for step in line), default=0)
    by_level = [tuple(_spans(line, level)) for level in range(1, worst + 1)]
    bought = _buying(worst, terms)
    weekly = terms.hire_price_per_week
    if weekly is None:
        return Choice(worst, (), bought, bought, None)
    hired = [_hiring(spans, weekly) for spans in by_level]
    all_hired = _sum(hired)
    if bought is None:
        return Choice(worst, (), None, None, all_hired)
    best: tuple[Decimal, int] | None = None
    for count in range(worst, -1, -1):
        rest, price = _sum(hired[count:]), _buying(count, terms)
        if rest is not None and price is not None and (best is None or price + rest < best[0]):
            best = price + rest, count
    if best is None:
        return Choice(worst, (), bought, bought, all_hired)
    return Choice(best[1], tuple(_hires(by_level[best[1] :], weekly)), best[0], bought, all_hired)


def _spans(line: Sequence[Step], level: int) -> Iterator[tuple[date, date]]:
    """Days without a gap on which at least so many are missing."""
    for is_short, group in groupby(line, key=lambda step: step.short >= level):
        steps = tuple(group)
        if is_short:
            yield steps[0].from_on, steps[-1].until_on


def _buying(count: int, terms: Terms) -> Decimal | None:
    if terms.price is None:
        return None
    return terms.price * order_quantity(count, terms.pack, terms.least)


def _hiring(spans: Sequence[tuple[date, date]], weekly: Decimal) -> Decimal | None:
    if any(until_on == FAR for _, until_on in spans):
        return None
    return sum((weekly * weeks(*span) for span in spans), Decimal(0))


def _sum(costs: Sequence[Decimal | None]) -> Decimal | None:
    return None if None in costs else sum((cost for cost in costs if cost is not None), Decimal(0))


def _hires(by_level: Sequence[Sequence[tuple[date, date]]], weekly: Decimal) -> Iterator[Hire]:
    """What is hired, things with the same days together, the earliest first."""
    counts: dict[tuple[date, date], int] = {}
    for spans in by_level:
        for span in spans:
            counts[span] = counts.get(span, 0) + 1
    for span, count in sorted(counts.items()):
        yield Hire(count, *span, cost=weekly * weeks(*span) * count)
