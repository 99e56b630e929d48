"""What each show has of each model and tape, and when."""

from sqlalchemy.orm import Session

from service.planning.season.asking import commitments, days_of
from service.planning.season.reading import read_season
from service.planning.season.schemas import CommitmentOut
from service.reports.report import Report, ReportAsk, counted


def rows(session: Session, ask: ReportAsk) -> list[CommitmentOut]:
    season = read_season(session, ask.as_of, ask.known_on)
    return commitments(season, days_of(ask.from_on, ask.to_on, ask.as_of), ask.production)


REPORT = Report("commitments", "What each show has of what", CommitmentOut, rows, counted, spans=True)
