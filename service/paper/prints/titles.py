"""The shows that papers are made of, and the one that is meant where nobody says."""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.season.records import Production, ProductionStatus
from service.store.base import tag_key


@dataclass(frozen=True, slots=True)
class Title:
    """A show, with the days on which it is on stage; both of them included."""

    code: str
    title: str
    load_in: date
    strike_end: date

    def is_on(self, day: date) -> bool:
        return self.load_in <= day <= self.strike_end


def titles(session: Session) -> list[Title]:
    """Every show that is not called off, by load-in."""
    asked = (
        select(Production.tag, Production.title, Production.load_in, Production.strike_end)
        .where(Production.retired_on.is_(None), Production.status != ProductionStatus.CANCELLED)
        .order_by(Production.load_in, Production.tag_key)
    )
    return [Title(*row) for row in session.execute(asked)]


def meant(found: list[Title], code: str, today: date) -> Title | None:
    """The one with that code; else what is on stage, what comes next, or what was last."""
    if code:
        return next((one for one in found if tag_key(one.code) == tag_key(code)), None)
    on = [one for one in found if one.is_on(today)]
    coming = [one for one in found if one.load_in > today]
    return next(iter(on + coming + found[::-1]), None)
