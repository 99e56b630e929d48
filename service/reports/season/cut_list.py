"""The cut list: what kept plans still cut, reel by reel, as the bench marks and labels it."""

from collections.abc import Sequence

from pydantic import BaseModel, Field
from sqlalchemy.orm import Session

from service.limits.cautions import CUTTING, DATA
from service.planning.cutting.marking import kept_steps
from service.planning.cutting.reading import find_productions
from service.planning.cutting.schemas import CutStepOut
from service.reports.bench.pieces import live_shows, uncut
from service.reports.report import Report, ReportAsk


class Row(BaseModel):
    """One cut. Tape, lot and reel come in order; on a reel the longest first, as it is marked."""

    tape: str = Field(description="tag of the tape")
    lot: str | None = Field(default=None, description="lot of the reel; null: the reel is still to come")
    reel: str = Field(description="tag of the reel, or the name of one that is still to come")
    plan: str = Field(description="number of the cut plan")
    step: int = Field(description="number of the cut in that plan")
    cut_mm: float = Field(description="length to cut, in mm")
    drawn_mm: float | None = Field(default=None, description="nominal: the piece as drawn, in mm")
    production: str | None = Field(default=None, description="show code")
    element: str | None = Field(default=None, description="tag of the element; null: scrap")
    piece: str | None = Field(default=None, description="piece of the element; 1a, 1b where it has a joint")
    label: str = Field(description="what to write on the piece")
    mark_mm: float | None = Field(
        default=None, description="where to cut, from the outer end of the reel as it is now, in mm"
    )
    left_mm: float | None = Field(default=None, description="left on the reel after it, in mm")
    warning: str | None = Field(
        default=None,
        description="what to mind: a joint inside, a reel too short",
        examples=["a factory joint falls 320 mm into this piece"],
    )
    is_done: bool = Field(description="whether it is cut")
    cut: str | None = Field(default=None, description="number of the ledger row", examples=["K-106"])


def rows(session: Session, ask: ReportAsk) -> list[Row]:
    """What is still to be cut; with `everything` also what kept plans have cut."""
    code = find_productions(session, [ask.production])[0].tag if ask.production else None
    found = [step for step in kept_steps(session, code) if ask.everything or not step.is_done]
    found.sort(key=_order)
    return [Row(**step.model_dump(include=set(Row.model_fields))) for step in found]


def _order(step: CutStepOut) -> tuple[object, ...]:
    reel = step.reel if step.lot else ""  # those to come stand in the order of their plan
    return (step.tape, step.lot is None, step.lot or "", reel, step.plan, step.step)


def summary(session: Session, ask: ReportAsk, found: Sequence[BaseModel]) -> dict[str, object]:
    """How many cuts and reels; and which shows have pieces to cut that no kept plan cuts, with what to do."""
    cuts = [row for row in found if isinstance(row, Row)]
    figures: dict[str, object] = {
        "cuts": sum(1 for row in cuts if not row.is_done and row.element),
        "reels": len({row.reel for row in cuts}),
        "warnings": sum(1 for row in cuts if row.warning),
    }
    unplanned = _unplanned(session, ask)
    if unplanned:
        shows = ", ".join(f"{code} {count}" for code, count in unplanned.items())
        figures["pieces_in_no_kept_plan"] = (
            f"{shows}; make one: wattwright cut plan {' '.join(unplanned)} --keep"
        )
    return figures


def _unplanned(session: Session, ask: ReportAsk) -> dict[str, int]:
    """Pieces still to be cut that no kept plan cuts, by show."""
    shows = (
        find_productions(session, [ask.production]) if ask.production else live_shows(session, ask.known_on)
    )
    return {show.code: show.unplanned for show in uncut(session, shows) if show.unplanned}


REPORT = Report("cut-list", "Cut list of the kept plans", Row, rows, summary, (CUTTING + DATA,))
