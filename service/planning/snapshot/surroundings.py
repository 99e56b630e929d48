"""What stands around the feeds of productions: film days."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.season.records import FilmDay


def film_days(session: Session, ids: Sequence[int]) -> Mapping[int, list[date]]:
    """By production."""
    found: dict[int, list[date]] = defaultdict(list)
    days = select(FilmDay.production_id, FilmDay.filmed_on).where(FilmDay.production_id.in_(ids))
    for row in session.execute(days.order_by(FilmDay.filmed_on)):
        found[row.production_id].append(row.filmed_on)
    return found
