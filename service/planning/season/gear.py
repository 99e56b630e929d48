"""Models of gear as items of the season: units, holds, kept plans and orders, with who has which unit."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from sqlalchemy import select, union
from sqlalchemy.orm import Session

from service.planning.records import Allotment, Plan, PlanStatus
from service.planning.season.items import Item, Late, Missing, Named
from service.planning.snapshot.availability import Claim, Want, gear_claims
from service.season.buying import Terms
from service.season.lines import FAR, Need, Stock
from service.season.records import OrderLine
from service.stock.gear import GearKind, GearModel, Unit, UnitState

DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class _Unit:
    id: int
    tag: str
    model_id: int  # 0: a box
    is_sound: bool
    hired_from: date | None
    hired_until: date | None

    @property
    def is_hired(self) -> bool:
        return self.hired_from is not None or self.hired_until is not None

    @property
    def days(self) -> tuple[date, date]:
        """The half-open days on which it is in the house."""
        return self.hired_from or date.min, self.hired_until or FAR


@dataclass(frozen=True, slots=True)
class Gear:
    items: dict[str, Item]
    named: tuple[Named, ...]
    late: tuple[Late, ...]


def read_gear(session: Session, today: date, codes: Mapping[int, str]) -> Gear:
    """Every model with what wants it, and who has which unit. `codes`: of all productions, by id."""
    units = _units(session)
    claims, wants = gear_claims(session, today)
    tags = {row.id: row.tag for row in session.execute(select(GearModel.id, GearModel.tag))}
    named = [_named(claim, units[claim.unit_id], tags, codes) for claim in claims if claim.unit_id in units]
    needs = _needs(claims, units, wants, placeholders(session), codes)
    stocks: dict[int, list[Stock]] = defaultdict(list)
    for model_id, stock in _there(units.values()):
        stocks[model_id].append(stock)
    due, late = on_order(session, today)
    for model_id, stock in due:
        stocks[model_id].append(stock)
    return model_items(session, needs, stocks, _missing(named, units), tuple(named), late)


def model_items(
    session: Session,
    needs: Mapping[int, Sequence[Need]],
    stocks: Mapping[int, Sequence[Stock]],
    missing: Iterable[tuple[int, Missing]],
    named: tuple[Named, ...],
    late: Sequence[tuple[int, Late]],
) -> Gear:
    """Every model in use as an item, with what is wanted, what there is and what is missing of it, by its id.
    A unit that is missing from two shows is told once, with the show that should have brought it first."""
    away: dict[int, dict[str, Missing]] = defaultdict(dict)
    for model_id, unit in sorted(missing, key=lambda one: (one[1].due_on, one[1].tag, one[1].who)):
        away[model_id].setdefault(unit.tag, unit)
    m = GearModel.__table__.c
    models = session.execute(
        select(
            m.id, m.tag, m.kind, m.lead_days, m.price, m.pack_quantity, m.least_quantity,
            m.hire_price_per_week, m.hire_lead_days,
        ).where(m.retired_on.is_(None), m.kind != GearKind.ENCLOSURE)
    ).all()  # fmt: skip
    items = {
        tag: Item(
            kind.value,
            tag,
            tuple(needs.get(i, ())),
            (*stocks.get(i, ()), *(unit.stock for unit in away[i].values())),
            terms=Terms(*terms),
            missing=tuple(away[i].values()),
        )
        for i, tag, kind, *terms in models
    }
    tags = {model.id: model.tag for model in models}
    told = tuple(replace(one, item=tags[model_id]) for model_id, one in late if model_id in tags)
    return Gear(items, named, told)


def _units(session: Session) -> dict[int, _Unit]:
    rows = select(Unit.id, Unit.tag, Unit.model_id, Unit.state, Unit.hired_from, Unit.hired_until)
    return {
        i: _Unit(i, tag, model_id or 0, state is UnitState.GOOD, hired_from, hired_until)
        for i, tag, model_id, state, hired_from, hired_until in session.execute(
            rows.where(Unit.retired_on.is_(None)).order_by(Unit.id)
        )
    }


def placeholders(session: Session) -> Iterable[tuple[int, int, date, date]]:
    """Models that a kept plan takes one of, no unit chosen yet: (production, model, days)."""
    parts = [
        select(Plan.production_id, column, Plan.from_on, Plan.until_on)
        .join(Plan, Plan.id == Allotment.plan_id)
        .where(Plan.status == PlanStatus.KEPT, column.is_not(None))
        for column in (Allotment.supply_model_id, Allotment.decoder_model_id)
    ]
    return [(row[0], row[1] or 0, row[2], row[3]) for row in session.execute(union(*parts))]


def _named(claim: Claim, unit: _Unit, tags: Mapping[int, str], codes: Mapping[int, str]) -> Named:
    """`due_on`: it is with the show up to that day, and missing from then on."""
    stock = None
    if claim.is_overdue and claim.due_on is not None and unit.is_sound:
        first, last = unit.days
        stock = Stock(max(claim.due_on + DAY, first), last, late=1)
    return Named(
        unit.tag, tags.get(unit.model_id, ""), codes[claim.production_id], claim.from_on, claim.until_on,
        claim.is_held, claim.due_on if claim.is_overdue else None, stock,
    )  # fmt: skip


def _needs(
    claims: Iterable[Claim],
    units: Mapping[int, _Unit],
    wants: Iterable[Want],
    open_places: Iterable[tuple[int, int, date, date]],
    codes: Mapping[int, str],
) -> dict[int, list[Need]]:
    """Of each model, with what is alike told once. A unit with a tag counts as used, held or not, and once
    where a show holds it twice."""
    alike: dict[tuple[int, int, date, date], list[int]] = {}
    had: dict[tuple[int, int], date] = {}
    for claim in sorted(claims, key=lambda one: one.from_on):
        unit = units.get(claim.unit_id)
        if unit is not None:
            is_late = claim.is_overdue and claim.due_on is not None
            last = claim.due_on + DAY if is_late and claim.due_on else claim.until_on
            first = claim.from_on
            if claim.is_held:
                twice = claim.unit_id, claim.production_id
                first = max(first, had.get(twice, first))
                if first >= last:
                    continue
                had[twice] = last
            key = (unit.model_id, claim.production_id, first, last)
            both = alike.setdefault(key, [0, 0])
            both[0] += claim.is_held
            both[1] += 1
    for want in wants:
        key = (want.model_id, want.production_id, want.from_on, want.until_on)
        alike.setdefault(key, [0, 0])[0] += want.quantity
    for production_id, model_id, from_on, until_on in open_places:
        alike.setdefault((model_id, production_id, from_on, until_on), [0, 0])[1] += 1
    found: dict[int, list[Need]] = defaultdict(list)
    for (model_id, production_id, from_on, until_on), (promised, used) in alike.items():
        found[model_id].append(Need(codes[production_id], from_on, until_on, promised, used))
    return found


def _there(units: Iterable[_Unit]) -> Iterable[tuple[int, Stock]]:
    counts: dict[tuple[int, date, date, bool], Counter[bool]] = defaultdict(Counter)
    for unit in units:
        counts[unit.model_id, *unit.days, unit.is_hired][unit.is_sound] += 1
    for (model_id, from_on, until_on, is_hired), sound in counts.items():
        owned = 0 if is_hired else sound.total()
        yield model_id, Stock(from_on, until_on, owned, sound[True], hired=sound[True] * is_hired)


def _missing(named: Iterable[Named], units: Mapping[int, _Unit]) -> Iterable[tuple[int, Missing]]:
    """What is late, once a show that should have brought it, from the first day it is missed."""
    models = {unit.tag: unit.model_id for unit in units.values()}
    return [
        (models[one.tag], Missing(one.tag, one.who, one.due_on, one.stock))
        for one in named
        if one.stock is not None and one.due_on is not None
    ]


def on_order(session: Session, today: date) -> tuple[list[tuple[int, Stock]], list[tuple[int, Late]]]:
    """What is on order, by model, from the day it is due; hired things on the days of their hire. Beside it,
    what should have come and did not, and a hire of no days: its item is not named yet."""
    due: list[tuple[int, Stock]] = []
    late: list[tuple[int, Late]] = []
    lines = select(
        OrderLine.order_number, OrderLine.line, OrderLine.model_id, OrderLine.due_on, OrderLine.is_hire,
        OrderLine.hire_from, OrderLine.hire_until, OrderLine.quantity - OrderLine.received_quantity,
    )  # fmt: skip
    for order, line, model_id, due_on, is_hire, hire_from, hire_until, left in session.execute(
        lines.where(OrderLine.received_on.is_(None), OrderLine.model_id.is_not(None)).order_by(OrderLine.id)
    ):
        first = due_on or (hire_from if is_hire else None)
        if model_id is None or left <= 0:
            continue
        has_no_days = is_hire and (hire_from is None or hire_until is None)
        if first is None or first < today or has_no_days:
            late.append((model_id, Late(order, line, "", left, None if has_no_days else due_on, left)))
            continue
        last = hire_until if is_hire and hire_until is not None else FAR
        first = max(first, hire_from) if is_hire and hire_from is not None else first
        if first < last:
            due.append((model_id, Stock(first, last, due=left)))
    return due, late
