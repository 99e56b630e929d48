"""What stands around the feeds of productions: film days, running orders, fuses, control lines."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.limits.facts import CueFacts, FuseFacts, LineFacts
from service.season.records import FilmDay
from service.shows.fittings import ControlLine, Fuse
from service.shows.records import Cue, Element, Run


def film_days(session: Session, ids: Sequence[int]) -> Mapping[int, list[date]]:
    """By production."""
    found: dict[int, list[date]] = defaultdict(list)
    days = select(FilmDay.production_id, FilmDay.filmed_on).where(FilmDay.production_id.in_(ids))
    for row in session.execute(days.order_by(FilmDay.filmed_on)):
        found[row.production_id].append(row.filmed_on)
    return found


def control_lines(session: Session, ids: Sequence[int]) -> Mapping[int, dict[int, LineFacts]]:
    """By production, then by number."""
    found: dict[int, dict[int, LineFacts]] = defaultdict(dict)
    lines = select(
        ControlLine.production_id,
        ControlLine.id,
        ControlLine.name,
        ControlLine.kind,
        ControlLine.universe,
        ControlLine.unit_load_limit,
    ).where(ControlLine.production_id.in_(ids))
    for row in session.execute(lines.order_by(ControlLine.name)):
        found[row.production_id][row.id] = LineFacts(*row[2:])
    return found


def running_orders(session: Session, ids: Sequence[int]) -> Mapping[int, list[CueFacts]]:
    """By element, in the order in which they run."""
    found: dict[int, list[CueFacts]] = defaultdict(list)
    cues = (
        select(Cue.element_id, Cue.name, Cue.minutes, Cue.level_pct)
        .join(Element, Element.id == Cue.element_id)
        .where(Element.production_id.in_(ids))
        .order_by(Cue.element_id, Cue.number)
    )
    for row in session.execute(cues):
        found[row.element_id].append(CueFacts(*row[1:]))
    return found


def lead_fuses(session: Session, ids: Sequence[int]) -> Mapping[int, list[float]]:
    """Ratings by run."""
    found: dict[int, list[float]] = defaultdict(list)
    fuses = (
        select(Fuse.run_id, Fuse.rating_a)
        .join(Run, Run.id == Fuse.run_id)
        .join(Element, Element.id == Run.element_id)
        .where(Element.production_id.in_(ids))
    )
    for row in session.execute(fuses.order_by(Fuse.id)):
        found[row.run_id].append(row.rating_a)
    return found


def unit_fuses(session: Session) -> Mapping[int, tuple[FuseFacts, ...]]:
    """By unit."""
    found: dict[int, tuple[FuseFacts, ...]] = {}
    fuses = select(Fuse.unit_id, Fuse.rating_a, Fuse.output).where(Fuse.unit_id.is_not(None))
    for row in session.execute(fuses.order_by(Fuse.id)):
        found[row.unit_id] = (*found.get(row.unit_id, ()), FuseFacts(row.rating_a, row.output))
    return found
