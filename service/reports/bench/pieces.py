"""Pieces that shows still want cut, and how many of them no kept plan cuts."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.planning.cutting.reading import pieces_to_cut
from service.planning.cutting.records import CutPlan, CutPlanStatus, CutStep
from service.planning.cutting.stock import IS_WAITING, OVER
from service.season.records import Production


@dataclass(frozen=True, slots=True)
class Uncut:
    """A show with pieces to be cut; `unplanned`: of these, in no kept plan."""

    code: str
    title: str
    pieces: int
    unplanned: int


def live_shows(session: Session, today: date) -> Sequence[Production]:
    """Shows that tape may still be cut for, by code."""
    return session.scalars(
        select(Production)
        .where(Production.status.not_in(OVER), Production.retired_on.is_(None), Production.return_by >= today)
        .order_by(Production.tag_key)
    ).all()


def uncut(session: Session, shows: Sequence[Production]) -> list[Uncut]:
    """Those of the shows that have pieces to be cut, in the order given."""
    pieces, _ = pieces_to_cut(session, [show.id for show in shows])
    planned = set(
        session.scalars(
            select(CutStep.piece_id)
            .join(CutPlan, CutPlan.id == CutStep.cut_plan_id)
            .where(CutPlan.status == CutPlanStatus.KEPT, IS_WAITING)
        )
    )
    every = [piece for own in pieces.values() for piece in own]
    found = []
    for show in shows:
        own = [piece for piece in every if piece.production == show.tag]
        if own:
            missing = sum(piece.id not in planned for piece in own)
            found.append(Uncut(show.tag, show.title, len(own), missing))
    return found
