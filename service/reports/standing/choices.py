"""What may be chosen where an element or a show is entered: tapes, places, pieces of scenery there are."""

from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.season.records import Production
from service.shows.records import ScenicUnit
from service.stock.records import Place, PlaceKind, Tape, Venue, Wire
from service.store.base import tag_key

STANDS = (PlaceKind.STAGE, PlaceKind.ROOM)


@dataclass(frozen=True, slots=True)
class Choices:
    """By the names people know; places as (tag, name)."""

    tapes: tuple[str, ...]
    units: tuple[str, ...]
    places: tuple[tuple[str, str], ...]
    venues: tuple[str, ...]
    gauges: tuple[str, ...]


def choices_for(session: Session, code: str) -> Choices:
    """What there is to choose from in that show; no show: what the house has."""
    units = (
        select(ScenicUnit.name)
        .join(Production, Production.id == ScenicUnit.production_id)
        .where(Production.tag_key == tag_key(code))
        .order_by(ScenicUnit.name)
    )
    places = (
        select(Place.tag, Place.name)
        .where(Place.retired_on.is_(None), Place.kind.in_(STANDS))
        .order_by(Place.tag_key)
    )
    tapes = select(Tape.tag).where(Tape.retired_on.is_(None)).order_by(Tape.tag_key)
    return Choices(
        tapes=tuple(session.scalars(tapes)),
        units=tuple(session.scalars(units)),
        places=tuple((tag, name) for tag, name in session.execute(places)),
        venues=tuple(session.scalars(select(Venue.name).order_by(Venue.name))),
        gauges=tuple(dict.fromkeys(session.scalars(select(Wire.gauge).order_by(Wire.ohm_per_m)))),
    )


def names_unit(session: Session, code: str, name: str) -> bool:
    """Whether the show has a piece of scenery of that name."""
    wanted = (
        select(func.count())
        .select_from(ScenicUnit)
        .join(Production, Production.id == ScenicUnit.production_id)
        .where(Production.tag_key == tag_key(code), func.lower(ScenicUnit.name) == name.lower())
    )
    return bool(session.scalar(wanted))


def is_venue(session: Session, name: str) -> bool:
    wanted = select(func.count()).select_from(Venue).where(func.lower(Venue.name) == name.lower())
    return bool(session.scalar(wanted))
