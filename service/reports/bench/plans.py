"""Cut plans as the bench looks for them: those it works from first."""

from collections import Counter
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.planning.cutting.marking import kept_steps
from service.planning.cutting.records import CutPlan, CutPlanStatus
from service.planning.cutting.schemas import CutPlanOut
from service.planning.cutting.telling import plans_out
from service.reports.bench.pieces import Uncut, live_shows, uncut

PAST = 10


@dataclass(frozen=True, slots=True)
class Kept:
    """A plan the bench works from: `left` cuts to make, of which each takes a piece off."""

    plan: CutPlanOut
    left: int


@dataclass(frozen=True, slots=True)
class Bench:
    """`drafts`: plans at work and those that wait to be kept, the newest first. `past`: the latest others.
    `cuts`: what is left to cut in all kept plans; `reels`: off how many."""

    kept: tuple[Kept, ...]
    drafts: tuple[CutPlanOut, ...]
    past: tuple[CutPlanOut, ...]
    is_more: bool
    shows: tuple[Uncut, ...]
    cuts: int
    reels: int

    @property
    def unplanned(self) -> int:
        """Pieces to be cut that no kept plan cuts."""
        return sum(show.unplanned for show in self.shows)


def bench(session: Session, today: date, is_all: bool = False) -> Bench:
    """`is_all`: every plan that is over, not only the latest. A number of statements that does not grow."""
    kept = _plans(session, CutPlanStatus.KEPT)
    drafts = _plans(session, CutPlanStatus.DRAFT)[::-1]
    over = select(CutPlan).where(CutPlan.status.not_in((CutPlanStatus.KEPT, CutPlanStatus.DRAFT)))
    over = over.order_by(CutPlan.id.desc())
    past = session.scalars(over if is_all else over.limit(PAST + 1)).all()
    shown = past if is_all else past[:PAST]
    waiting = [step for step in kept_steps(session) if step.mark_mm is not None and step.kind == "piece"]
    left = Counter(step.plan for step in waiting)
    return Bench(
        kept=tuple(Kept(plan, left[plan.number]) for plan in plans_out(session, kept)),
        drafts=tuple(plans_out(session, drafts)),
        past=tuple(plans_out(session, shown)),
        is_more=len(past) > len(shown),
        shows=tuple(uncut(session, live_shows(session, today))),
        cuts=len(waiting),
        reels=len({(step.tape, step.reel) for step in waiting}),
    )


def _plans(session: Session, status: CutPlanStatus) -> list[CutPlan]:
    return list(session.scalars(select(CutPlan).where(CutPlan.status == status).order_by(CutPlan.id)))
