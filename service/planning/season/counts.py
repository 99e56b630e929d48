"""Models of gear as items of the season, counted by the database: who has which unit is not told.

The same rules as in `gear`, where every unit is told by tag; a test holds the two together.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, String, case, exists, func, select, type_coerce, union
from sqlalchemy.orm import Session

from service.planning.records import Allotment, Placing, Plan, PlanStatus
from service.planning.season.gear import DAY, Gear, model_items, on_order, placeholders
from service.planning.season.items import Missing
from service.planning.snapshot.availability import FAR, Want, still_wanted
from service.season.lines import Need, Stock
from service.season.records import Hold
from service.stock.gear import Unit, UnitState

_hold, _unit = Hold.__table__.c, Unit.__table__.c
_plan, _allotment, _placing = Plan.__table__.c, Allotment.__table__.c, Placing.__table__.c
_FIRST: ColumnElement[Any] = case((_hold.issued_on < _hold.from_on, _hold.issued_on), else_=_hold.from_on)
_UNTIL: ColumnElement[Any] = func.coalesce(_hold.until_on, FAR)
_LAST: ColumnElement[Any] = case((_hold.returned_on < _UNTIL, _hold.returned_on), else_=_UNTIL)
_IS_SOUND = type_coerce(_unit.state, String) == UnitState.GOOD.value
_Alike = dict[tuple[int, int, date, date], list[int]]


def count_gear(session: Session, today: date, codes: Mapping[int, str]) -> Gear:
    """Every model with what wants it, in eight selects. `codes`: of all productions, by id."""
    alike: _Alike = {}
    stocks: dict[int, list[Stock]] = defaultdict(list)
    for model_id, stock in _there(session):
        stocks[model_id].append(stock)
    _add_named(session, alike)
    _add_promised(session, alike)
    for production_id, model_id, from_on, until_on in placeholders(session):
        alike.setdefault((model_id, production_id, from_on, until_on), [0, 0])[1] += 1
    needs: dict[int, list[Need]] = defaultdict(list)
    for (model_id, production_id, from_on, until_on), (promised, used) in alike.items():
        needs[model_id].append(Need(codes[production_id], from_on, until_on, promised, used))
    due, late = on_order(session, today)
    for model_id, stock in due:
        stocks[model_id].append(stock)
    return model_items(session, needs, stocks, _missing(session, today, codes), (), late)


def _there(session: Session) -> Iterator[tuple[int, Stock]]:
    rows = session.execute(
        select(_unit.model_id, _unit.hired_from, _unit.hired_until, _IS_SOUND, func.count())
        .where(_unit.retired_on.is_(None), _unit.model_id.is_not(None))
        .group_by(_unit.model_id, _unit.hired_from, _unit.hired_until, _IS_SOUND)
    )
    for model_id, hired_from, hired_until, is_sound, count in rows:
        is_hired = hired_from is not None or hired_until is not None
        sound = count if is_sound else 0
        owned = 0 if is_hired else count
        days = hired_from or date.min, hired_until or FAR
        yield model_id, Stock(*days, owned, sound, hired=sound if is_hired else 0)


def _missing(session: Session, today: date, codes: Mapping[int, str]) -> Iterator[tuple[int, Missing]]:
    """Sound units that should be back, once a hold, from the first day they are missed."""
    rows = session.execute(
        select(
            _unit.tag, _unit.model_id, _unit.hired_from, _unit.hired_until, _hold.production_id,
            _hold.until_on,
        )
        .select_from(Unit.__table__)
        .join(Hold.__table__, _hold.unit_id == _unit.id)
        .where(
            _unit.retired_on.is_(None), _unit.model_id.is_not(None), _IS_SOUND,
            _hold.returned_on.is_(None), _hold.until_on <= today,
        )
    )  # fmt: skip
    for tag, model_id, hired_from, hired_until, production_id, missed_on in rows:
        stock = Stock(max(missed_on, hired_from or date.min), hired_until or FAR, late=1)
        yield model_id, Missing(tag, codes[production_id], missed_on - DAY, stock)


def _add_named(session: Session, alike: _Alike) -> None:
    """Units held by tag, and those of kept plans that their show does not hold."""
    for model_id, production_id, first, last, count in session.execute(_held()):
        both = alike.setdefault((model_id, production_id, first, last), [0, 0])
        both[0] += count
        both[1] += count
    for model_id, production_id, first, last, count in session.execute(_kept_and_not_held()):
        alike.setdefault((model_id, production_id, first, last), [0, 0])[1] += count


def _held() -> Any:
    """Units held by tag: each from the day on which what its show held of it before is over."""
    before = func.max(_LAST).over(
        partition_by=(_hold.unit_id, _hold.production_id), order_by=(_FIRST, _hold.id), rows=(None, -1)
    )
    each = (
        select(
            _unit.model_id, _hold.production_id, _FIRST.label("first"), _LAST.label("last"),
            before.label("before"),
        )
        .select_from(Hold.__table__)
        .join(Unit.__table__, _unit.id == _hold.unit_id)
        .where(_unit.retired_on.is_(None), _unit.model_id.is_not(None), _FIRST < _LAST)
        .subquery()
    )  # fmt: skip
    first = case((each.c.before > each.c.first, each.c.before), else_=each.c.first)
    days = each.c.model_id, each.c.production_id, first, each.c.last
    return select(*days, func.count()).where(first < each.c.last).group_by(*days)


def _kept_and_not_held() -> Any:
    used = union(
        select(_allotment.plan_id, _allotment.supply_id.label("unit_id")).where(
            _allotment.supply_id.is_not(None)
        ),
        select(_allotment.plan_id, _allotment.decoder_id).where(_allotment.decoder_id.is_not(None)),
        select(_placing.plan_id, _placing.unit_id),
    ).subquery()
    days = _unit.model_id, _plan.production_id, _plan.from_on, _plan.until_on
    return (
        select(*days, func.count())
        .select_from(used)
        .join(Plan.__table__, _plan.id == used.c.plan_id)
        .join(Unit.__table__, _unit.id == used.c.unit_id)
        .where(
            _plan.status == PlanStatus.KEPT, _unit.retired_on.is_(None), _unit.model_id.is_not(None),
            ~exists().where(_hold.unit_id == used.c.unit_id, _hold.production_id == _plan.production_id),
        )
        .group_by(*days)
    )  # fmt: skip


def _add_promised(session: Session, alike: _Alike) -> None:
    """Holds of models, less what was drawn from them."""
    drawn: dict[int, list[date]] = defaultdict(list)
    for promise_id, first in session.execute(
        select(_hold.drawn_from_id, _FIRST).where(_hold.drawn_from_id.is_not(None))
    ):
        drawn[promise_id].append(first)
    for i, production_id, model_id, from_on, until_on, quantity in session.execute(
        select(
            _hold.id, _hold.production_id, _hold.model_id, _hold.from_on, _hold.until_on, _hold.quantity
        ).where(_hold.model_id.is_not(None))
    ):
        last = until_on or FAR
        if i not in drawn:
            alike.setdefault((model_id, production_id, from_on, last), [0, 0])[0] += quantity
            continue
        for want in still_wanted(Want(model_id, production_id, from_on, last, quantity), drawn[i]):
            key = (model_id, production_id, want.from_on, want.until_on)
            alike.setdefault(key, [0, 0])[0] += want.quantity
