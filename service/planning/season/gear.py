"""Models of gear as items of the season: units, holds, kept plans and orders, read in seven selects."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import select, union
from sqlalchemy.orm import Session

from service.planning.records import Allotment, Plan, PlanStatus
from service.planning.season.items import Item, Late, Named
from service.planning.snapshot.availability import Claim, Want, gear_claims
from service.season.buying import Terms
from service.season.lines import FAR, Need, Stock
from service.season.records import OrderLine
from service.stock.gear import GearKind, GearModel, Unit, UnitState

DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class _Unit:
    tag: str
    model: str
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
    """Every model with what wants it. `codes`: of all productions, by id."""
    models = {
        row.id: row
        for row in session.execute(
            select(
                GearModel.id, GearModel.tag, GearModel.kind, GearModel.lead_days, GearModel.price,
                GearModel.pack_quantity, GearModel.least_quantity, GearModel.hire_price_per_week,
                GearModel.hire_lead_days,
            ).where(GearModel.retired_on.is_(None), GearModel.kind != GearKind.ENCLOSURE)
        )
    }  # fmt: skip
    tags = {i: model.tag for i, model in models.items()}
    units = _units(session, tags)
    claims, wants = gear_claims(session, today)
    named = [_named(claim, units[claim.unit_id], codes) for claim in claims if claim.unit_id in units]
    needs = _needs(named, wants, _placeholders(session), tags, codes)
    stocks: dict[str, list[Stock]] = defaultdict(list)
    for tag, stock in _there(units.values()):
        stocks[tag].append(stock)
    for tag, stock in _missing(named):
        stocks[tag].append(stock)
    due, late = _due(session, tags, today)
    for tag, stock in due:
        stocks[tag].append(stock)
    items = {
        m.tag: Item(m.kind.value, m.tag, tuple(needs[m.tag]), tuple(stocks[m.tag]), terms=Terms(*m[3:]))
        for m in models.values()
    }
    return Gear(items, tuple(named), tuple(late))


def _units(session: Session, tags: Mapping[int, str]) -> dict[int, _Unit]:
    rows = select(Unit.id, Unit.tag, Unit.model_id, Unit.state, Unit.hired_from, Unit.hired_until)
    return {
        i: _Unit(tag, tags.get(model_id or 0, ""), state is UnitState.GOOD, hired_from, hired_until)
        for i, tag, model_id, state, hired_from, hired_until in session.execute(
            rows.where(Unit.retired_on.is_(None)).order_by(Unit.id)
        )
    }


def _placeholders(session: Session) -> Iterable[tuple[int, int, date, date]]:
    """Models that a kept plan takes one of, no unit chosen yet: (production, model, days)."""
    parts = [
        select(Plan.production_id, column, Plan.from_on, Plan.until_on)
        .join(Plan, Plan.id == Allotment.plan_id)
        .where(Plan.status == PlanStatus.KEPT, column.is_not(None))
        for column in (Allotment.supply_model_id, Allotment.decoder_model_id)
    ]
    return [(row[0], row[1] or 0, row[2], row[3]) for row in session.execute(union(*parts))]


def _named(claim: Claim, unit: _Unit, codes: Mapping[int, str]) -> Named:
    """`is_overdue`: it is with the show up to the day it was due, and missing from then on."""
    stock = None
    if claim.is_overdue and claim.due_on is not None and unit.is_sound:
        first, last = unit.days
        stock = Stock(max(claim.due_on + DAY, first), last, late=1)
    return Named(
        unit.tag, unit.model, codes[claim.production_id], claim.from_on, claim.until_on, claim.is_held,
        claim.due_on if claim.is_overdue else None, stock,
    )  # fmt: skip


def _needs(
    named: Iterable[Named],
    wants: Iterable[Want],
    placeholders: Iterable[tuple[int, int, date, date]],
    tags: Mapping[int, str],
    codes: Mapping[int, str],
) -> dict[str, list[Need]]:
    """Of each model, with what is alike told once. A unit with a tag counts as used, held or not."""
    alike: dict[tuple[str, str, date, date], list[int]] = {}
    for one in named:
        last = one.until_on if one.due_on is None else one.due_on + DAY
        both = alike.setdefault((one.item, one.who, one.from_on, last), [0, 0])
        both[0] += one.is_held
        both[1] += 1
    for want in wants:
        key = (tags.get(want.model_id, ""), codes[want.production_id], want.from_on, want.until_on)
        alike.setdefault(key, [0, 0])[0] += want.quantity
    for production_id, model_id, from_on, until_on in placeholders:
        key = (tags.get(model_id, ""), codes[production_id], from_on, until_on)
        alike.setdefault(key, [0, 0])[1] += 1
    found: dict[str, list[Need]] = defaultdict(list)
    for (item, who, from_on, until_on), (promised, used) in alike.items():
        found[item].append(Need(who, from_on, until_on, promised, used))
    return found


def _there(units: Iterable[_Unit]) -> Iterable[tuple[str, Stock]]:
    counts: dict[tuple[str, date, date, bool], Counter[bool]] = defaultdict(Counter)
    for unit in units:
        counts[unit.model, *unit.days, unit.is_hired][unit.is_sound] += 1
    for (model, from_on, until_on, is_hired), sound in counts.items():
        owned = 0 if is_hired else sound.total()
        yield model, Stock(from_on, until_on, owned, sound[True], hired=sound[True] * is_hired)


def _missing(named: Iterable[Named]) -> Iterable[tuple[str, Stock]]:
    """What is late, once a unit, from the first day it is missed."""
    first: dict[str, Named] = {}
    for one in named:
        before = first.get(one.tag)
        if one.stock and (before is None or before.stock is None or one.stock.from_on < before.stock.from_on):
            first[one.tag] = one
    return [(one.item, one.stock) for one in first.values() if one.stock is not None]


def _due(
    session: Session, tags: Mapping[int, str], today: date
) -> tuple[list[tuple[str, Stock]], list[Late]]:
    """What is on order, from the day it is due; hired things on the days of their hire."""
    due: list[tuple[str, Stock]] = []
    late: list[Late] = []
    lines = select(
        OrderLine.order_number, OrderLine.line, OrderLine.model_id, OrderLine.due_on, OrderLine.is_hire,
        OrderLine.hire_from, OrderLine.hire_until, OrderLine.quantity - OrderLine.received_quantity,
    )  # fmt: skip
    for order, line, model_id, due_on, is_hire, hire_from, hire_until, left in session.execute(
        lines.where(OrderLine.received_on.is_(None), OrderLine.model_id.is_not(None)).order_by(OrderLine.id)
    ):
        tag = tags.get(model_id or 0)
        first = due_on or (hire_from if is_hire else None)
        if tag is None or left <= 0:
            continue
        if first is None or first < today:
            late.append(Late(order, line, tag, left, due_on))
            continue
        last = hire_until if is_hire and hire_until is not None else FAR
        first = max(first, hire_from) if is_hire and hire_from is not None else first
        if first < last:
            due.append((tag, Stock(first, last, due=left)))
    return due, late
