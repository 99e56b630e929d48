"""The line of every model and tape that anybody wants, step by step."""

from sqlalchemy.orm import Session

from service.planning.season.asking import days_of, find_code, in_order, within
from service.planning.season.reading import read_season
from service.planning.season.schemas import LineStepOut
from service.planning.season.telling import step_out
from service.reports.report import Report, ReportAsk, counted


def rows(session: Session, ask: ReportAsk) -> list[LineStepOut]:
    """Of one production: of what it wants. Raises NotFound."""
    season = read_season(session, ask.as_of, ask.known_on, with_names=False)
    first, until_on = days_of(ask.from_on, ask.to_on, ask.as_of)
    code = None if ask.production is None else find_code(season, ask.production)
    found = []
    for item in in_order(season):
        if item.kind == "lot" or not any(code in (None, need.who) for need in item.needs):
            continue
        line = within(item.line(first), until_on)
        if ask.everything or any(step.wanted for step in line):
            found += [step_out(item, step) for step in line]
    return found


REPORT = Report(
    "season-line", "Wanted, there and due in, step by step", LineStepOut, rows, counted, spans=True
)
