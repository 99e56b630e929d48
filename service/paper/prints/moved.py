"""What moved since the last print, or since a day or a plan; and which leads to label anew."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import BadRequest
from service.paper.prints.table import Block, Column, Kind, Paper, Row, Says, Wanted
from service.planning.since.asking import Span, prints, relabel, since
from service.planning.since.records import Print
from service.planning.since.schemas import PrintOut
from service.store.audit import AuditEntry

NAME, LABELS = "changes", "label-changes"
COLUMNS = (
    Column("about", is_tag=True), Column("name", is_wide=True), Column("place"),
    Column("before", is_wide=True), Column("after", is_wide=True),
)  # fmt: skip
LABEL_COLUMNS = (
    Column("done", is_box=True), Column("about", is_tag=True), Column("name", is_wide=True),
    Column("label-now", is_wide=True), Column("label-new", is_wide=True),
)  # fmt: skip


def changes(session: Session, wanted: Wanted) -> Paper:
    """Raises NotFound, and BadRequest for a point in time that cannot be."""
    point = _point(session, wanted)
    found = since(session, wanted.show or "", Span(point.text), wanted.end_of) if point.text else []
    kinds: dict[str, list[Row]] = defaultdict(list)
    for one in found:
        cells = {
            "about": one.about,
            "name": one.name,
            "place": one.place,
            "before": one.before,
            "after": one.after,
        }
        kinds[one.what].append(Row({**cells, "what": one.what}))
    blocks = [Block("", Says(f"moved-{what}"), rows, {"what": what}) for what, rows in kinds.items()]
    key = "some" if found else "fine" if point.text else "unprinted"
    first = Says(f"{NAME}-{key}", {"count": len(found), **point.values})
    return Paper(NAME, first, COLUMNS, blocks, (Column("what"),), is_wide=True)


def labels(session: Session, wanted: Wanted) -> Paper:
    """Raises NotFound, and BadRequest for a point in time that cannot be."""
    point = _point(session, wanted)
    found = relabel(session, wanted.show or "", Span(point.text), wanted.end_of) if point.text else []
    places: dict[str, list[Row]] = defaultdict(list)
    for one in found:
        cells = {"about": one.run, "name": one.name, "label-now": one.before, "label-new": one.after}
        places[one.place].append(Row(cells))
    blocks = [
        Block("", place or Says("where-unknown"), rows, {"place": place}) for place, rows in places.items()
    ]
    key = "some" if found else "fine" if point.text else "unprinted"
    first = Says(f"{LABELS}-{key}", {"count": len(found), **point.values})
    return Paper(LABELS, first, LABEL_COLUMNS, blocks, (Column("place"),))


@dataclass(frozen=True, slots=True)
class Printed:
    """The prints of a show, the latest first. `moved`: how much moved since the latest; `is_untouched`:
    nothing at all was put on record since."""

    all: tuple[PrintOut, ...] = ()
    moved: int = 0
    is_untouched: bool = False

    @property
    def latest(self) -> PrintOut | None:
        return next(iter(self.all), None)

    def of(self, *names: str) -> PrintOut | None:
        """The latest print of a paper, by any of its names."""
        wanted = {name.casefold() for name in names}
        return next((one for one in self.all if one.paper.casefold() in wanted), None)


def printed(session: Session, show: str) -> Printed:
    """Raises NotFound for a show that is not there."""
    found = tuple(prints(session, show))
    if not found:
        return Printed()
    moved = since(session, show, Span(f"print:{found[0].number}"), lambda _day: None)
    later = select(AuditEntry.id).where(
        AuditEntry.at > found[0].printed_at, AuditEntry.kind != Print.__tablename__
    )
    return Printed(found, len(moved), session.scalar(later.limit(1)) is None)


class _Point:
    """Since when, as it is asked and as it is told."""

    def __init__(self, text: str, values: dict[str, object]) -> None:
        self.text, self.values = text, values


def _point(session: Session, wanted: Wanted) -> _Point:
    if not wanted.show:
        raise BadRequest("this paper is of one show", "Choose a show first.")
    if wanted.since:
        return _Point(wanted.since, {"since": _told(wanted.since)})
    latest = next(iter(prints(session, wanted.show)), None)
    if latest is None:
        return _Point("", {"since": ""})
    return _Point(f"print:{latest.number}", {"since": f"print {latest.number}"})


def _told(point: str) -> object:
    """
    >>> _told("2026-11-20"), _told("plan:2")
    (datetime.date(2026, 11, 20), 'plan 2')
    """
    try:
        return date.fromisoformat(point.strip())
    except ValueError:
        return point.replace(":", " ")


KIND = Kind(NAME, changes, is_followed=True)
LABEL_KIND = Kind(LABELS, labels, is_followed=True)
