"""Who moves gear in these tests, and shows that want it."""

from datetime import date, timedelta
from typing import Any

from sqlalchemy.orm import Session

from service.planning.issuing.books import Hand
from service.planning.issuing.issuing import issue
from service.planning.issuing.returning import Back, bring_back
from service.planning.issuing.schemas import Issued, Returned
from service.season.records import Hold, Production
from service.stock.gear import Unit
from tests import builders as build
from tests.planning.stage import TODAY, Stage

FIRST, LAST = date(2026, 11, 20), date(2026, 12, 20)  # the days of WIN, both inclusive


def issued(session: Session, code: str, *tags: str, day: date = TODAY, **how: Any) -> Issued:
    return issue(session, code, tags, Hand("deck", day, **how), TODAY)


def returned(session: Session, *tags: str, day: date = TODAY, each: bool = False, **how: Any) -> Returned:
    return bring_back(session, tags, Back(**how), Hand("bench", day, each), TODAY)


def another(session: Session, stage: Stage, tag: str = "ICE", first: date = FIRST) -> Production:
    """A show that wants gear from `first` until 20 January."""
    return build.a_production(session, stage.venue, tag=tag, needed_from=first, needed_to=date(2027, 1, 20))


def promise(
    session: Session, show: Production, unit: Unit, first: date = FIRST, last: date = LAST, **more: Any
) -> Hold:
    days = {"from_on": first, "until_on": last + timedelta(days=1)}
    return build.a_hold(session, show, unit_id=unit.id, quantity=1, **days | more)


def promise_model(
    session: Session, stage: Stage, show: Production, count: int, first: date = FIRST, last: date = LAST
) -> Hold:
    return build.a_hold(
        session, show, model_id=stage.supply_model.id, quantity=count, from_on=first,
        until_on=last + timedelta(days=1),
    )  # fmt: skip
