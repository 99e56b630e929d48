"""What went out and came back on a day, and what should be back by now."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from sqlalchemy import ColumnElement, case, select
from sqlalchemy.orm import Session

from service.planning.issuing.books import OVER, placed_at
from service.season.issuing.standing import Standing, holds_standing
from service.season.records import Hold, Production, ProductionStatus
from service.stock.gear import GearModel, Unit


@dataclass(frozen=True, slots=True)
class Moved:
    """A unit that went out to a show, or came back from it. `due_on`: the last day it may be out; `goes_to`:
    the place where the kept plan of the show has it."""

    tag: str
    model: str
    production: str
    by: str
    state: str
    due_on: date | None
    goes_to: str


@dataclass(frozen=True, slots=True)
class Overdue:
    """`days`: since its last day."""

    tag: str
    model: str
    production: str
    days: int


def went_out(session: Session, code: str, day: date) -> list[Moved]:
    """Units that went out to the show that day and are out, the last first."""
    return _moved(
        session, Hold.issued_on == day, Hold.returned_on.is_(None), Production.tag == code, by=Hold.issued_by
    )


def came_back(session: Session, day: date) -> list[Moved]:
    """Units that came back that day, the last first."""
    return _moved(session, Hold.returned_on == day, by=Hold.returned_by)


def _moved(session: Session, *chosen: ColumnElement[bool], by: Any) -> list[Moved]:
    model = GearModel.__table__.c
    rows = session.execute(
        select(Unit.id, Unit.tag, model.tag, Production.id, Production.tag, by, Unit.state, Hold.until_on)
        .select_from(Hold.__table__)
        .join(Unit.__table__, Unit.id == Hold.unit_id)
        .join(Production, Production.id == Hold.production_id)
        .outerjoin(GearModel.__table__, model.id == Unit.model_id)
        .where(*chosen)
        .order_by(Hold.changed_at.desc(), Unit.tag_key)
    )
    placed = placed_at(session)
    return [
        Moved(
            tag,
            model_tag or "",
            code,
            who,
            state.value,
            until_on and until_on - timedelta(days=1),
            placed.get((unit_id, show_id), ""),
        )
        for unit_id, tag, model_tag, show_id, code, who, state, until_on in rows
    ]


def overdue(session: Session, today: date) -> list[Overdue]:
    """Units that should be back, the longest first."""
    late: dict[int, Standing] = {}
    for unit_id, standing in holds_standing(session).items():
        worst = max(standing, key=lambda one: one.days_late(today))
        if worst.days_late(today):
            late[unit_id] = worst
    model = GearModel.__table__.c
    rows = session.execute(
        select(Unit.id, Unit.tag, model.tag)
        .outerjoin(GearModel.__table__, model.id == Unit.model_id)
        .where(Unit.id.in_(late), Unit.retired_on.is_(None))
    )
    found = [
        Overdue(tag, model_tag or "", late[unit_id].code, late[unit_id].days_late(today))
        for unit_id, tag, model_tag in rows
    ]
    return sorted(found, key=lambda one: (-one.days, one.tag))


def shows_that_take(session: Session) -> list[tuple[str, str]]:
    """Code and title of each show that gear may go out to: those at work first, those that closed last, each
    by the opening of its build."""
    closed, at_work = ProductionStatus.CLOSED, (ProductionStatus.RUNNING, ProductionStatus.IN_TECH)
    turn = case((Production.status.in_(at_work), 0), (Production.status == closed, 2), else_=1)
    rows = session.execute(
        select(Production.tag, Production.title)
        .where(Production.status.not_in(OVER), Production.retired_on.is_(None))
        .order_by(turn, Production.build_start, Production.id)
    )
    return [(code, title) for code, title in rows]
