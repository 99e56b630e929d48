"""What every door works with."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from service.reports.standing.remembering import Remembered, RememberedShows
from service.store.work import Store


@dataclass(frozen=True, slots=True)
class Desk:
    """What the service works with: one store, the day it is, and who works plans and cuts out. `end_of`: the
    instant a day ends at, or None where that is still to come. `solved`: a job and what it is given, done by
    a solver while the caller waits. `standings`: how shows stand, `shows`: shows on a day with what
    their limits say; both worked out once."""

    store: Store
    today: Callable[[], date]
    submit: Callable[[int], None]
    head: str
    largest_body: int
    deadline_s: float
    end_of: Callable[[date], datetime | None]
    submit_cuts: Callable[[int], None]
    solved: Callable[..., Any]
    standings: Remembered
    shows: RememberedShows
