"""The demonstration season, for papers that are made of it."""

from datetime import date

from service.paper.prints.registry import PAPERS
from service.paper.prints.table import Paper, Unsolved, Wanted
from service.store.work import Store
from tests.acceptance.conftest import changing_season, season

__all__ = ["changing_season", "paper", "season"]

TODAY = date(2026, 11, 25)


def paper(store: Store, name: str, show: str | None = "SQ", since: str | None = None) -> Paper:
    """A paper as it is on the day; what waits for a solver is worked out here."""
    with store.reading() as session:
        made = PAPERS[name].make(session, Wanted(TODAY, TODAY, lambda _day: None, show, since))
    return made.solved_by(lambda job, *given: job(*given)) if isinstance(made, Unsolved) else made
