"""What was counted otherwise than the book has it, to accept or to look for."""

from collections.abc import Sequence

from pydantic import BaseModel
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.reports.report import Report, ReportAsk
from service.season.counting.records import Outcome, Stocktake, StocktakeStatus
from service.season.counting.schemas import StocktakeLineOut
from service.season.counting.telling import lines_out

TOLD = (Outcome.TO_COUNT, Outcome.DIFFERS, Outcome.TO_LOOK_FOR)


class Row(StocktakeLineOut):
    """One thing of a stocktake: what the book says, what was found, and how they differ."""


def rows(session: Session, ask: ReportAsk) -> list[Row]:
    """What is to count, differs or is to be looked for, in stocktakes that are open or closed; every line of
    every stocktake where all is asked. No stocktake is of one show."""
    query = select(Stocktake).order_by(Stocktake.id)
    if not ask.everything:
        query = query.where(Stocktake.status != StocktakeStatus.ABANDONED)
    found = lines_out(session, session.scalars(query).all(), ask.as_of, () if ask.everything else TOLD)
    return [Row(**line.model_dump()) for line in found]


def _counted(_session: Session, _ask: ReportAsk, found: Sequence[BaseModel]) -> dict[str, object]:
    lines = [row.outcome for row in found if isinstance(row, Row)]
    summary: dict[str, object] = {"rows": len(lines)}
    for outcome in TOLD:
        summary[outcome.value.replace(" ", "_")] = lines.count(outcome.value)
    return summary


REPORT = Report("stocktake", "Counted otherwise than the book", Row, rows, _counted)
