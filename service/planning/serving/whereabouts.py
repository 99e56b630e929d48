"""Where a unit lies when nobody has it, where it was last seen, and who has it."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from service.errors import NotFound
from service.season.issuing.standing import Standing, holds_standing, out_with
from service.season.records import Production
from service.stock.gear import Unit
from service.stock.records import Place
from service.store.base import tag_key


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """`home`, `seen`: places by tag and name, blank where nobody said; `note`: what was written of where it
    is. `held`: the hold that has it on the day asked; None: it is in. `show`: the title of who has it."""

    home: str
    note: str
    seen: str
    seen_on: date | None
    held: Standing | None
    show: str


def whereabouts(session: Session, tag: str, day: date) -> Whereabouts:
    """Of a unit on a day. Raises NotFound."""
    home, seen = aliased(Place), aliased(Place)
    found = session.execute(
        select(
            Unit.id, Unit.where_note, Unit.seen_on,
            home.name, home.tag, seen.name, seen.tag,
        )
        .outerjoin(home, home.id == Unit.home_id)
        .outerjoin(seen, seen.id == Unit.seen_place_id)
        .where(Unit.tag_key == tag_key(tag))
    ).one_or_none()  # fmt: skip
    if found is None:
        raise NotFound(f"no unit has the tag {tag!r}", "Look at the tag on the thing.")
    unit_id, note, seen_on, home_name, home_tag, seen_name, seen_tag = found
    held = out_with(holds_standing(session, [unit_id]).get(unit_id, ()), day)
    title = (
        "" if held is None else session.scalar(select(Production.title).where(Production.tag == held.code))
    )
    home_said, seen_said = _said(home_tag, home_name), _said(seen_tag, seen_name)
    return Whereabouts(home_said, note or "", seen_said, seen_on, held, title or "")


def _said(tag: str | None, name: str | None) -> str:
    """
    >>> _said("C2", "decoders, top"), _said("C2", ""), _said(None, None)
    ('C2, decoders, top', 'C2', '')
    """
    return ", ".join(filter(None, dict.fromkeys((tag, name))))


def names_of_places(session: Session, tags: Collection[str]) -> dict[str, str]:
    """What people call those places, by tag."""
    found = session.execute(select(Place.tag, Place.name).where(Place.tag.in_(set(tags))))
    return {tag: name or tag for tag, name in found}
