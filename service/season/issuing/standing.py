"""With whom a unit is, by what its holds say. A house that writes down what goes out is taken at its word; a
hold whose days have begun counts as out all the same, as it does in every count of the stock."""

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.season.records import Hold, Production, ProductionStatus

# The gear of such a show hangs in its rig; before, what it was promised may still lie in its bin.
IN_USE = (ProductionStatus.IN_TECH, ProductionStatus.RUNNING, ProductionStatus.CLOSED)


@dataclass(frozen=True, slots=True)
class Standing:
    """A hold of one unit that has not ended. Half-open days; `until_on` None: no end was written."""

    hold_id: int
    number: str | None
    unit_id: int
    production_id: int
    code: str
    from_on: date
    until_on: date | None
    issued_on: date | None = None
    issued_by: str = ""
    status: ProductionStatus | None = None

    @property
    def is_in_use(self) -> bool:
        """Whether the show that has it is at work with its gear, or has not given it back."""
        return self.status in IN_USE

    @property
    def due_on(self) -> date | None:
        """The last day it may be out."""
        return None if self.until_on is None else self.until_on - timedelta(days=1)

    @property
    def out_from(self) -> date:
        return min(self.from_on, self.issued_on or self.from_on)

    def is_out(self, day: date) -> bool:
        return self.issued_on is not None or self.from_on <= day

    def days_late(self, day: date) -> int:
        """Whole days after its last day; 0 on that day and before."""
        return 0 if self.due_on is None else max(0, (day - self.due_on).days)

    def said(self, day: date) -> str:
        """Who has it and until when, in words.

        >>> a = Standing(1, "H-2", 7, 3, "CO", date(2026, 9, 8), date(2026, 11, 4))
        >>> a.said(date(2026, 11, 25)), a.said(date(2026, 10, 1))
        ('is with CO, 22 days overdue (due 2026-11-03)', 'is with CO until 2026-11-03')
        """
        if late := self.days_late(day):
            return f"is with {self.code}, {late} days overdue (due {self.due_on})"
        return f"is with {self.code}" + (f" until {self.due_on}" if self.due_on else "")


def holds_standing(
    session: Session, unit_ids: Collection[int] | None = None, lock: bool = False
) -> dict[int, list[Standing]]:
    """Holds of units that have not ended, by unit, the earliest first; of all units where none are named.
    `lock`: held until the transaction ends."""
    query = (
        select(
            Hold.id, Hold.number, Hold.unit_id, Hold.production_id, Production.tag, Hold.from_on,
            Hold.until_on, Hold.issued_on, Hold.issued_by, Production.status,
        )
        .join(Production, Production.id == Hold.production_id)
        .where(Hold.unit_id.is_not(None), Hold.returned_on.is_(None))
        .order_by(Hold.from_on, Hold.id)
    )  # fmt: skip
    if unit_ids is not None:
        query = query.where(Hold.unit_id.in_(unit_ids))
    if lock:
        query = query.with_for_update(of=Hold)
    found: dict[int, list[Standing]] = defaultdict(list)
    for row in session.execute(query):
        held = Standing(*tuple(row))
        found[held.unit_id].append(held)
    return found


def out_with(standing: Sequence[Standing], day: date) -> Standing | None:
    """The hold that has the unit on a day: the one it was issued on, else the one that began first.

    >>> co = Standing(1, None, 7, 3, "CO", date(2026, 9, 8), date(2026, 11, 4))
    >>> tl = Standing(2, None, 7, 5, "TL", date(2027, 1, 4), date(2027, 4, 7))
    >>> out_with([co, tl], date(2027, 1, 5)).code, out_with([tl], date(2026, 12, 1))
    ('CO', None)
    """
    out = [one for one in standing if one.is_out(day)]
    issued = [one for one in out if one.issued_on is not None]
    return min(issued or out, key=lambda one: (one.out_from, one.hold_id), default=None)
