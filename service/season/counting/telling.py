"""Stocktakes and their lines as they are answered, each with how it differs from the book."""

from collections.abc import Collection, Iterable, Sequence
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import RowError
from service.season.counting.records import Outcome, Stocktake, StocktakeLine
from service.season.counting.schemas import CountedOut, LeftOut, StocktakeLineOut, StocktakeOut
from service.season.counting.taking import Ground, differences, outcomes
from service.season.counting.things import Places, Thing, read_places, things_named

SETTLED = (Outcome.ACCEPTED, Outcome.AGREES, Outcome.TO_COUNT)


def stocktakes_out(session: Session, stocktakes: Sequence[Stocktake]) -> list[StocktakeOut]:
    places = read_places(session)
    counts = outcomes(session, [one.id for one in stocktakes])
    return [_out(one, places, counts.get(one.id, {})) for one in stocktakes]


def _out(one: Stocktake, places: Places, counts: dict[Outcome, int]) -> StocktakeOut:
    return StocktakeOut(
        id=one.id,
        number=str(one.number),
        place=places.tags[one.place_id],
        status=one.status.value,
        counted_on=one.counted_on,
        begun_by=one.begun_by,
        closed_by=one.closed_by,
        note=one.note,
        to_count=counts.get(Outcome.TO_COUNT, 0),
        agrees=counts.get(Outcome.AGREES, 0),
        differs=counts.get(Outcome.DIFFERS, 0),
        accepted=counts.get(Outcome.ACCEPTED, 0),
        to_look_for=counts.get(Outcome.TO_LOOK_FOR, 0),
        version=one.version,
    )


def lines_out(
    session: Session, stocktakes: Sequence[Stocktake], day: date, wanted: Collection[Outcome] = ()
) -> list[StocktakeLineOut]:
    """The lines of stocktakes, by tag; only those that stand in one of the ways wanted, if any is."""
    query = select(StocktakeLine).where(StocktakeLine.stocktake_id.in_([one.id for one in stocktakes]))
    if wanted:
        query = query.where(StocktakeLine.outcome.in_(wanted))
    lines = session.scalars(query.order_by(StocktakeLine.stocktake_id, StocktakeLine.thing_key)).all()
    return list(told(session, stocktakes, lines, day))


def told(
    session: Session, stocktakes: Sequence[Stocktake], lines: Sequence[StocktakeLine], day: date
) -> Iterable[StocktakeLineOut]:
    places, by_id = read_places(session), {one.id: one for one in stocktakes}
    grounds = {one.id: Ground(one, places, places.inside(one.place_id)) for one in stocktakes}
    things = things_named(session, [line.thing_key for line in lines], day)
    for line in lines:
        yield _line(by_id[line.stocktake_id], line, things[line.thing_key], grounds[line.stocktake_id], day)


def _line(one: Stocktake, line: StocktakeLine, thing: Thing, ground: Ground, day: date) -> StocktakeLineOut:
    book, found = _m(line.book_pitches, thing), _m(line.found_pitches, thing)
    return StocktakeLineOut(
        stocktake=str(one.number),
        place=ground.place,
        tag=thing.tag,
        item=thing.item,
        expected=line.is_expected,
        book_place=ground.places.tags.get(thing.place_id or 0),
        book_state=line.book_state,
        book_m=book,
        found=line.is_found,
        found_state=line.found_state,
        found_m=found,
        difference_m=None if book is None or found is None else round(found - book, 6),
        differences=[] if line.outcome in SETTLED else differences(line, thing, ground, day),
        outcome=line.outcome.value,
        counted_by=line.counted_by,
        counted_at=line.counted_at,
        note=line.note,
    )


def _m(pitches: int | None, thing: Thing) -> float | None:
    return None if pitches is None or not thing.pitch_um else round(pitches * thing.pitch_um / 1e6, 6)


def counted_out(
    session: Session,
    stocktake: Stocktake,
    lines: Sequence[StocktakeLine],
    day: date,
    refused: Sequence[RowError] = (),
) -> CountedOut:
    """What an act is answered with."""
    return CountedOut(
        stocktake=stocktakes_out(session, [stocktake])[0],
        lines=list(told(session, [stocktake], lines, day)),
        refused=[LeftOut(message=error.message, mend=error.mend) for error in refused],
    )
