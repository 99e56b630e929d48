"""Which shows there are, and in which order people look for them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.reports.standing.parts import Heading
from service.season.records import Production, ProductionStatus


@dataclass(frozen=True, slots=True)
class Shows:
    """`now`: in the house today; `coming`: not yet in build, the next first; `past`: the latest first."""

    now: tuple[Heading, ...]
    coming: tuple[Heading, ...]
    past: tuple[Heading, ...]

    @property
    def count(self) -> int:
        return len(self.now) + len(self.coming) + len(self.past)


def shows_on_record(session: Session) -> Sequence[Production]:
    """Every show that is not retired or cancelled, by the opening of its build."""
    return session.scalars(
        select(Production)
        .where(Production.retired_on.is_(None), Production.status != ProductionStatus.CANCELLED)
        .order_by(Production.build_start, Production.id)
    ).all()


def in_order(headings: Sequence[Heading], day: date) -> Shows:
    return Shows(
        now=tuple(h for h in headings if h.build_start <= day <= h.return_by),
        coming=tuple(h for h in headings if h.build_start > day),
        past=tuple(reversed([h for h in headings if h.return_by < day])),
    )
