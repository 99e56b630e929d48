"""What every report is."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from pydantic import BaseModel
from sqlalchemy.orm import Session


@dataclass(frozen=True, slots=True)
class ReportAsk:
    """The day the report is of, one production or all, and whether what is in order is shown too.

    `today` (the same day unless given): a report of a day to come is made from what is known today, so
    that gear which is due back before then counts as back.
    """

    as_of: date
    production: str | None = None
    everything: bool = False
    today: date | None = None

    @property
    def known_on(self) -> date:
        return min(self.today or self.as_of, self.as_of)


@dataclass(frozen=True, slots=True)
class Report:
    """`row` names the columns, with units; `summary` says the whole in a few figures."""

    name: str
    title: str
    row: type[BaseModel]
    rows: Callable[[Session, ReportAsk], Sequence[BaseModel]]
    summary: Callable[[Session, ReportAsk, Sequence[BaseModel]], dict[str, object]]
    cautions: tuple[str, ...] = ()


def counted(_session: Session, _ask: ReportAsk, rows: Sequence[BaseModel]) -> dict[str, object]:
    return {"rows": len(rows)}
