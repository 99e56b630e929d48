"""How many reels to order: what the pieces need, cut by cut, not metres; and the spare longest piece of each.

Source of the spare: house rule, common practice.
"""

import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from service.cutting.plan import CutPlan, Effort
from service.cutting.problem import Buyable, Wanted
from service.cutting.solve import plan_cuts
from service.planning.cutting.needing import needs_of
from service.planning.cutting.reading import TapeQuestion
from service.planning.season.items import Item
from service.planning.season.ordering import (
    NO_LEAD,
    NO_PRICE,
    OrderQuestion,
    gear_orders,
    late_orders,
    timing,
)
from service.planning.season.schemas import OrderOut
from service.season.buying import order_by, order_quantity
from service.season.lines import least_free, shortages

SPARE = "spare"
RAN_OUT = "the time for working it out ran out"


@dataclass(slots=True)
class _Clock:
    end: float | None

    @property
    def left_s(self) -> float | None:
        return None if self.end is None else max(0.1, self.end - time.monotonic())


def suggested_orders(ask: OrderQuestion, deadline_s: float | None = None) -> list[OrderOut]:
    """Everything to order, the most urgent first. It solves: ask with no transaction open."""
    clock = _Clock(None if deadline_s is None else time.monotonic() + deadline_s)
    rows = gear_orders(ask)
    tapes = {} if ask.cuts is None else {tape.tape: tape for tape in ask.cuts.tapes}
    for tag, item in sorted(ask.season.items.items()):
        if item.kind == "tape" and item.needs:
            row = _row(ask, item, tapes.get(tag), clock)
            rows += [row] if row is not None else []
    return sorted(rows, key=lambda row: (row.act == "too late", row.order_by or row.needed_from, row.item))


def is_proven(row: OrderOut) -> bool:
    """Whether no fewer would do, as far as the row says; what is counted by the piece always is."""
    return RAN_OUT not in row.unknown


def _row(ask: OrderQuestion, item: Item, tape: TapeQuestion | None, clock: _Clock) -> OrderOut | None:
    reel = item.terms.reel_pitches
    if reel is None or tape is None:
        return _by_metres(ask, item, reel)
    pieces = _by_show(ask, item, tape, reel)
    desk = _Desk(ask, item, tape, reel, pieces, clock)
    plan = desk.planned(pieces)
    coming = desk.coming(max(_start(ask, code) for code in pieces))
    spare = desk.planned(pieces, max(piece.pitches for own in pieces.values() for piece in own))
    if max(plan.new_reels, spare.new_reels) <= coming and not plan.unmet:
        return None
    first = desk.first_without() if plan.new_reels > coming else next(iter(pieces))
    return _told(desk, plan, spare, coming, first)


@dataclass(frozen=True, slots=True)
class _Desk:
    """One tape: its pieces by show, the show that begins first before the others."""

    ask: OrderQuestion
    item: Item
    tape: TapeQuestion
    reel_pitches: int
    pieces: Mapping[str, Sequence[Wanted]]
    clock: _Clock

    def planned(self, codes: Iterable[str], spare_pitches: int = 0) -> CutPlan:
        """The pieces of those shows, and a spare one, off the shelf and off as many new reels as it takes."""
        wanted = [piece for code in codes for piece in self.pieces[code]]
        if spare_pitches:
            wanted.append(Wanted(SPARE, spare_pitches))
        new = Buyable(self.reel_pitches, most=None, is_one_lot=True)
        problem = replace(self.tape.problem, wanted=tuple(wanted), buyable=(new,))
        return plan_cuts(problem, Effort(deadline_s=self.clock.left_s))

    def coming(self, day: date) -> int:
        """Whole reels on order and due by that day."""
        pitches = sum(stock.due for stock in self.item.stocks if stock.from_on <= day)
        return pitches // self.reel_pitches

    def first_without(self) -> str:
        """The first show that would be without, were each served in its turn from what is there by then. A
        show more never takes fewer new reels, so that halving finds it."""
        codes = list(self.pieces)
        low, high = 0, len(codes) - 1
        while low < high:
            middle = (low + high) // 2
            day = _start(self.ask, codes[middle])
            if self.planned(codes[: middle + 1]).new_reels > self.coming(day):
                high = middle
            else:
                low = middle + 1
        return codes[low]


def _start(ask: OrderQuestion, code: str) -> date:
    return ask.season.windows[code].needed_from


def _by_show(
    ask: OrderQuestion, item: Item, tape: TapeQuestion, reel_pitches: int
) -> dict[str, list[Wanted]]:
    """The pieces of each show; what it holds beyond them counts in whole lengths."""
    found: dict[str, list[Wanted]] = {}
    for wanted in tape.problem.wanted:
        found.setdefault(tape.pieces[wanted.key].production, []).append(wanted)
    for code, quantity in item.line(ask.day)[-1].wanted_by:
        beyond = quantity - sum(piece.pitches for piece in found.get(code, ()))
        for number, begun in enumerate(range(0, beyond, reel_pitches), start=1):
            length = min(reel_pitches, beyond - begun)
            found.setdefault(code, []).append(Wanted(f"{code} held {number:03}", length))
    return dict(sorted(found.items(), key=lambda pair: (_start(ask, pair[0]), pair[0])))


def _told(desk: _Desk, plan: CutPlan, spare: CutPlan, coming: int, first: str) -> OrderOut:
    ask, item, terms = desk.ask, desk.item, desk.item.terms
    needed = max(0, plan.new_reels - coming)
    with_spare = max(needed, spare.new_reels - coming)
    quantity = order_quantity(with_spare, terms.pack, terms.least)
    worst = least_free(item.line(ask.day))
    start = _start(ask, first)
    alone = order_by(_start(ask, next(iter(desk.pieces))), terms.lead_days, ask.receiving_days)
    unmet = f"no reel yields {len(plan.unmet)} of the pieces" if plan.unmet else ""
    blank = [NO_LEAD] * (terms.lead_days is None) + [NO_PRICE] * (terms.price is None)
    if plan.bounds.new_reels < plan.new_reels:
        blank.append(f"whether {plan.bounds.new_reels} reels would do: {RAN_OUT}")
    elif spare.bounds.new_reels < spare.new_reels:
        blank.append(f"whether the spare wants a reel more: {RAN_OUT}")
    return OrderOut(
        act="buy",
        item=item.tag,
        kind=item.kind,
        quantity=quantity,
        sold_as="reel",
        packs=quantity // terms.pack if terms.pack else None,
        spare=with_spare - needed,
        needed_from=start,
        needed_to=None,
        wanted_by=[who for who, _ in worst.wanted_by],
        unit=item.unit,
        wanted=item.figure(worst.wanted),
        usable=item.figure(worst.usable),
        due_in=item.figure(worst.due),
        short=item.figure(worst.short),
        least_reels=plan.bounds.new_reels,
        one_lot=_lots(desk, plan),
        price_each=None if terms.price is None else float(terms.price),
        cost=None if terms.price is None else float(terms.price * quantity),
        hire_weeks=None,
        instead=unmet,
        unknown=", ".join(blank),
        late_orders=late_orders(ask, item),
        **timing(ask, start, terms.lead_days) | {"order_by_alone": alone},
    )


def _lots(desk: _Desk, plan: CutPlan) -> str:
    """What must come as one lot, as cut planning says it."""
    if desk.ask.cuts is None or not plan.new_reels:
        return ""
    found = needs_of(replace(desk.ask.cuts, tapes=(desk.tape,)), desk.clock.left_s)
    return " ".join(note for one in found for note in one.one_lot)


def _by_metres(ask: OrderQuestion, item: Item, reel_pitches: int | None) -> OrderOut | None:
    """Where no piece is drawn, or nobody entered how long a reel is: as metres say."""
    short = shortages(item.line(ask.day))
    if not short:
        return None
    worst, terms = max(short, key=lambda one: one.worst), item.terms
    reels = 0 if reel_pitches is None else -(-worst.worst // reel_pitches)
    quantity = order_quantity(reels, terms.pack, terms.least)
    blank = [NO_LEAD] * (terms.lead_days is None) + [NO_PRICE] * (terms.price is None)
    blank += ["length of a reel"] * (reel_pitches is None)
    step = worst.at_worst
    return OrderOut(
        act="buy",
        item=item.tag,
        kind=item.kind,
        quantity=quantity,
        sold_as="reel",
        packs=quantity // terms.pack if terms.pack else None,
        spare=0,
        needed_from=short[0].from_on,
        needed_to=None,
        wanted_by=[who for who, _ in step.wanted_by],
        unit=item.unit,
        wanted=item.figure(step.wanted),
        usable=item.figure(step.usable),
        due_in=item.figure(step.due),
        short=item.figure(step.short),
        least_reels=reels if reel_pitches else None,
        one_lot="",
        price_each=None if terms.price is None else float(terms.price),
        cost=None if terms.price is None or not quantity else float(terms.price * quantity),
        hire_weeks=None,
        instead="",
        unknown=", ".join(blank),
        late_orders=late_orders(ask, item),
        **timing(ask, short[0].from_on, terms.lead_days),
    )
