"""Places that may be counted, and what is being counted now."""

from collections import Counter
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.season.counting.records import Stocktake, StocktakeStatus
from service.season.counting.schemas import StocktakeOut
from service.season.counting.telling import stocktakes_out
from service.season.counting.things import read_places, things_at
from service.stock.records import Place

PAST = 8


@dataclass(frozen=True, slots=True)
class ToCount:
    """`things`: units and reels that the book has there, or at a place inside it. `stocktake`: the number of
    the one that counts it now."""

    tag: str
    name: str
    kind: str
    things: int
    stocktake: str = ""


@dataclass(frozen=True, slots=True)
class Counting:
    """`under_way`: stocktakes that are open; `past`: the latest others; `places`: where anything lies;
    `bare`: where nothing does."""

    under_way: tuple[StocktakeOut, ...]
    past: tuple[StocktakeOut, ...]
    places: tuple[ToCount, ...]
    bare: tuple[ToCount, ...]


def counting(session: Session, today: date) -> Counting:
    """A number of statements that does not grow with the house."""
    is_open = Stocktake.status == StocktakeStatus.OPEN
    under_way = session.scalars(select(Stocktake).where(is_open).order_by(Stocktake.id)).all()
    past = session.scalars(select(Stocktake).where(~is_open).order_by(Stocktake.id.desc()).limit(PAST)).all()
    tree = read_places(session)
    counts: Counter[int] = Counter()
    for thing in things_at(session, list(tree.tags), today):
        for place_id in tree.around(thing.place_id or 0):
            counts[place_id] += 1
    counted = {inside: one.number or "" for one in under_way for inside in tree.inside(one.place_id)}
    rows = session.execute(
        select(Place.id, Place.tag, Place.name, Place.kind)
        .where(Place.retired_on.is_(None))
        .order_by(Place.tag_key)
    )
    places = [
        ToCount(tag, name, kind.value, counts[place_id], counted.get(place_id, ""))
        for place_id, tag, name, kind in rows
    ]
    return Counting(
        tuple(stocktakes_out(session, under_way)),
        tuple(stocktakes_out(session, past)),
        tuple(place for place in places if place.things),
        tuple(place for place in places if not place.things),
    )
