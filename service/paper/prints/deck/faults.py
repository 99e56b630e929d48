"""What is dark now, and since when: the faults of elements that nobody has mended."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session, aliased

from service.planning.snapshot.show import find_production
from service.season.records import Production
from service.shows.faults import Fault
from service.shows.records import Element, ElementStatus, ScenicUnit
from service.stock.records import Place

_own = aliased(Place)


@dataclass(frozen=True, slots=True)
class Dark:
    """`since` None: it is dark by its status alone, and nobody wrote a fault down."""

    element: str
    name: str
    where: str
    production: str
    number: str
    since: date | None
    symptom: str
    by: str
    is_dark: bool


def dark_now(session: Session, show: str | None) -> Sequence[Dark]:
    """Elements with an open fault or that are dark, of one show or of all, oldest first. Raises NotFound."""
    asked = (
        select(
            Element.tag, Element.name, func.coalesce(ScenicUnit.name, _own.name, ""),
            Production.tag, func.coalesce(Fault.number, ""), Fault.found_on,
            func.coalesce(Fault.symptom, Element.status_note), func.coalesce(Fault.found_by, ""),
            Element.status == ElementStatus.DARK,
        )
        .select_from(Element)
        .join(Production, Production.id == Element.production_id)
        .outerjoin(Fault, (Fault.element_id == Element.id) & Fault.mended_on.is_(None))
        .outerjoin(ScenicUnit, ScenicUnit.id == Element.scenic_unit_id)
        .outerjoin(_own, _own.id == func.coalesce(Element.place_id, ScenicUnit.place_id))
        .where(Element.retired_on.is_(None), Production.retired_on.is_(None))
        .where(or_(Fault.id.is_not(None), Element.status == ElementStatus.DARK))
        .order_by(Fault.found_on.is_(None), Fault.found_on, Fault.id, Element.tag_key)
    )  # fmt: skip
    if show:
        asked = asked.where(Production.id == find_production(session, show).id)
    return [Dark(*row) for row in session.execute(asked)]
