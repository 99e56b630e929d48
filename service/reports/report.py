"""What every report is."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from pydantic import BaseModel
from sqlalchemy.orm import Session

from service.errors import BadRequest
from service.limits.facts import ShowFacts
from service.planning.snapshot.season import season_facts


@dataclass(frozen=True, slots=True)
class ReportAsk:
    """The day the report is of, one production or all, and whether what is in order is shown too.

    `today` (the same day unless given): a report of a day to come is made from what is known today, so
    that gear which is due back before then counts as back. `from_on`, `to_on`: a span instead of the one
    day, both counting, of a report that `spans`.
    """

    as_of: date
    production: str | None = None
    everything: bool = False
    today: date | None = None
    from_on: date | None = None
    to_on: date | None = None

    @property
    def known_on(self) -> date:
        return min(self.today or self.as_of, self.as_of)

    @property
    def span(self) -> tuple[date, date]:
        """The first day and the last. Raises BadRequest where the last comes before the first."""
        first = self.from_on or self.as_of
        last = self.to_on or first
        if last < first:
            raise BadRequest(f"{last} comes before {first}", "Swap the two days.")
        return first, last


@dataclass(frozen=True, slots=True)
class Report:
    """`row` names the columns, with units; `summary` says the whole in a few figures. `spans`: it may be
    asked of a span of days."""

    name: str
    title: str
    row: type[BaseModel]
    rows: Callable[[Session, ReportAsk], Sequence[BaseModel]]
    summary: Callable[[Session, ReportAsk, Sequence[BaseModel]], dict[str, object]]
    cautions: tuple[str, ...] = ()
    spans: bool = False


def shows_of(session: Session, ask: ReportAsk) -> list[ShowFacts]:
    """The shows that a report is about: those that are over only where they are asked for."""
    shows = season_facts(session, ask.as_of, ask.production, ask.known_on)
    return [show for show in shows if ask.everything or ask.production or not show.is_over]


def counted(_session: Session, _ask: ReportAsk, rows: Sequence[BaseModel]) -> dict[str, object]:
    return {"rows": len(rows)}
