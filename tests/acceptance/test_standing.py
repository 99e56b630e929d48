"""What a show's page counts is what the report of the same name lists."""

from sqlalchemy import select

from seed_demo import AS_OF
from service.limits.findings import Verdict
from service.reports import over_limit
from service.reports.report import ReportAsk
from service.reports.standing.asking import standings
from service.reports.standing.faults import FEED
from service.season.records import Production
from service.store.work import Store


def test_every_fault_of_a_show_is_counted_once_on_its_page_and_once_in_the_report(season: Store) -> None:
    with season.reading() as session:
        shows = session.scalars(select(Production)).all()
        told = standings(session, shows, AS_OF)
        rows = list(over_limit.rows(session, ReportAsk(as_of=AS_OF)))
    for code, standing in told.items():
        of_show = [
            row
            for row in rows
            if row.verdict == Verdict.OVER
            and row.code != FEED
            # What is overdue is listed once, with whom it is, and told to whoever waits for it too.
            and (
                row.production == code or (row.code == over_limit.OVERDUE and row.subject in waited_for(code))
            )
        ]
        assert standing.heading.faults == len(of_show), code
    assert sum(standing.heading.faults for standing in told.values()) > 20


def waited_for(code: str) -> set[str]:
    """Units that a show of the season wants and another has not brought back (demonstration sheets)."""
    return {"PS-02"} if code == "TL" else set()
