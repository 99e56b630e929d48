"""What is short, from when to when, and the cheapest move of dates that mends it."""

from sqlalchemy.orm import Session

from service.planning.season.asking import days_of, season_shortages
from service.planning.season.reading import read_season
from service.planning.season.schemas import ShortageOut
from service.reports.report import Report, ReportAsk, counted


def rows(session: Session, ask: ReportAsk) -> list[ShortageOut]:
    season = read_season(session, ask.as_of, ask.known_on, with_names=False)
    return season_shortages(season, days_of(ask.from_on, ask.to_on, ask.as_of), ask.production)


REPORT = Report("shortages", "What is short, and when it clears", ShortageOut, rows, counted, spans=True)
