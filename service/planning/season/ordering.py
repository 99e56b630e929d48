"""What to order so that no show is short: gear by the piece, to be bought or hired."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from sqlalchemy.orm import Session

from service.planning.cutting.reading import CutQuestion, read_question
from service.planning.season.asking import in_order
from service.planning.season.items import Item, Season
from service.planning.season.reading import read_season
from service.planning.season.schemas import OrderOut
from service.planning.season.telling import (
    back_words,
    best_move,
    last_day,
    late_words,
    move_words,
    taken_back,
)
from service.planning.snapshot.house import read_policy
from service.season.buying import Choice, Hire, Terms, buy_or_hire, order_by, order_quantity
from service.season.lines import Shortage, Step, shortages

NO_LEAD, NO_PRICE = "lead time", "price"


@dataclass(frozen=True)
class OrderQuestion:
    """All that is asked: what is wanted from `day` on, and the pieces that tape is wanted for."""

    season: Season
    cuts: CutQuestion | None
    receiving_days: int
    day: date


def read_orders(session: Session, day: date, today: date | None = None) -> OrderQuestion:
    """Read in a number of statements that does not grow with the season."""
    season = read_season(session, day, today, with_names=False)
    wanting = {need.who for item in season.items.values() if item.kind == "tape" for need in item.needs}
    cuts = read_question(session, sorted(wanting), season.today) if wanting else None
    return OrderQuestion(season, cuts, round(read_policy(session).receiving_days), day)


def gear_orders(ask: OrderQuestion) -> list[OrderOut]:
    """Every model that is short, those to be ordered first before the others."""
    gear = [item for item in in_order(ask.season) if item.is_lent]
    return [row for item in gear for row in _orders(ask, item)]


def shelf_on(ask: OrderQuestion, lead_days: int | None) -> date:
    """When what is ordered today is on the shelf; the first day where the lead time is not known."""
    return max(ask.day, ask.season.today + timedelta(days=(lead_days or 0) + ask.receiving_days))


def _orders(ask: OrderQuestion, item: Item) -> Iterator[OrderOut]:
    line = item.line(ask.day)
    short = shortages(line)
    if not short:
        return
    terms = item.terms
    here_on = ask.day if terms.lead_days is None else shelf_on(ask, terms.lead_days)
    in_time = [one for one in short if one.clears_on is None or one.clears_on > here_on]
    choice = buy_or_hire(_from(line, here_on), terms)
    if choice.buy:
        yield _bought(ask, item, in_time, choice)
    for hire in choice.hires:
        yield _hired(ask, item, in_time, hire, choice)
    for one in short:
        if one not in in_time:
            yield _too_late(ask, item, one)


def _from(line: Sequence[Step], day: date) -> tuple[Step, ...]:
    """The line from that day on."""
    return tuple(
        step if step.from_on >= day else step._replace(from_on=day) for step in line if step.until_on > day
    )


def _bought(ask: OrderQuestion, item: Item, short: Sequence[Shortage], choice: Choice) -> OrderOut:
    terms = item.terms
    quantity = order_quantity(choice.buy, terms.pack, terms.least)
    first, worst = short[0], max(short, key=lambda one: one.worst)
    last = None if short[-1].clears_on is None else short[-1].clears_on
    instead = [_moved(ask, item, short)]
    if choice.all_hired is not None and not choice.hires:
        instead.append(f"hired for all those days: {choice.all_hired:.2f}")
    return OrderOut(
        act="buy",
        quantity=quantity,
        packs=quantity // terms.pack if terms.pack else None,
        spare=0,
        needed_from=first.from_on,
        needed_to=None if last is None else last_day(last),
        cost=_money(None if terms.price is None else terms.price * quantity),
        price_each=_money(terms.price),
        hire_weeks=None,
        instead="; ".join(part for part in instead if part),
        **timing(ask, first.from_on, terms.lead_days),
        **_figures(ask, item, worst),
        unknown=_unknown(terms),
    )


def _hired(ask: OrderQuestion, item: Item, short: Sequence[Shortage], hire: Hire, choice: Choice) -> OrderOut:
    terms = item.terms
    worst = max(short, key=lambda one: one.worst)
    weekly = terms.hire_price_per_week
    bought = "" if choice.all_bought is None else f"all bought: {choice.all_bought:.2f}"
    lead = terms.hire_lead_days
    return OrderOut(
        act="hire",
        quantity=hire.quantity,
        packs=None,
        spare=0,
        needed_from=hire.from_on,
        needed_to=last_day(hire.until_on),
        cost=_money(hire.cost),
        price_each=_money(weekly),
        hire_weeks=hire.weeks,
        instead="; ".join(part for part in (_moved(ask, item, short), bought) if part),
        **timing(ask, hire.from_on, lead),
        **_figures(ask, item, worst),
        unknown="" if lead is not None else "lead time of hire",
    )


def _too_late(ask: OrderQuestion, item: Item, one: Shortage) -> OrderOut:
    return OrderOut(
        act="too late",
        quantity=0,
        packs=None,
        spare=0,
        needed_from=one.from_on,
        needed_to=None if one.clears_on is None else last_day(one.clears_on),
        cost=None,
        price_each=_money(item.terms.price),
        hire_weeks=None,
        instead=_moved(ask, item, [one]),
        **timing(ask, one.from_on, item.terms.lead_days),
        **_figures(ask, item, one),
        unknown="",
    )


def timing(ask: OrderQuestion, needed_from: date, lead_days: int | None) -> dict[str, Any]:
    """The last day to order, and how late that is today."""
    last = order_by(needed_from, lead_days, ask.receiving_days)
    return {
        "order_by": last,
        "order_by_alone": None,
        "late_days": None if last is None else max(0, (ask.season.today - last).days),
        "comes_on": None if lead_days is None else shelf_on(ask, lead_days),
        "lead_days": lead_days,
    }


def _figures(ask: OrderQuestion, item: Item, short: Shortage) -> dict[str, Any]:
    worst = short.at_worst
    return {
        "item": item.tag,
        "kind": item.kind,
        "sold_as": "piece",
        "wanted_by": [who for who, _ in worst.wanted_by],
        "unit": item.unit,
        "wanted": item.figure(worst.wanted),
        "usable": item.figure(worst.usable),
        "due_in": item.figure(worst.due),
        "short": item.figure(worst.short),
        "least_reels": None,
        "one_lot": "",
        "late_orders": late_orders(ask, item),
    }


def late_orders(ask: OrderQuestion, item: Item) -> list[str]:
    """What should have come of it and did not, which whoever orders may be about to order twice."""
    return [late_words(one) for one in ask.season.late if one.item == item.tag]


def _moved(ask: OrderQuestion, item: Item, short: Sequence[Shortage]) -> str:
    """Overdue units to take back, and a move of dates, each of which makes ordering needless."""
    back = back_words(taken_back(item, short))
    move = best_move(ask.season, [(one, item.needs) for one in short])
    if move is None or move.remains:
        return back
    moved = move_words(move, ask.season.windows[move.who])
    return f"{back}; {moved}" if back else moved


def _money(price: Decimal | None) -> float | None:
    return None if price is None else float(price)


def _unknown(terms: Terms) -> str:
    blank = [NO_LEAD] * (terms.lead_days is None) + [NO_PRICE] * (terms.price is None)
    return ", ".join(blank + ["hire price"] * (terms.hire_price_per_week is None))
