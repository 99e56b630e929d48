"""A place counted: begun from the book, counted thing by thing, closed or given up. Nothing here changes the
book itself. Takes a session and never commits."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.errors import InUse, NotFound, OffCutPitch, RefusedTags, RowError, StepRefused
from service.season.counting.records import Outcome, Stocktake, StocktakeLine, StocktakeStatus
from service.season.counting.things import GONE, Places, Thing, read_places, things_at, things_named
from service.stock.gear import UnitState
from service.stock.ledger.balance import pitches_of
from service.stock.records import Place, ReelState
from service.store.base import tag_key
from service.store.changing import find, refuse_stale
from service.store.numbers import next_numbers
from service.store.types import utc_now
from service.units import show_um

BAD = (UnitState.FAULTY, UnitState.SUSPECT)


@dataclass(frozen=True, slots=True)
class Hand:
    """Who does it, and on which day."""

    by: str
    day: date


@dataclass(frozen=True, slots=True)
class Counted:
    """One thing as it was found, or not. Blank: as the book has it. `pitches`: whole cut pitches left."""

    tag: str
    is_found: bool = True
    state: str = ""
    length_mm: float | None = None
    pitches: int | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Ground:
    """A stocktake under way, the places that it counts and the day it counts for."""

    stocktake: Stocktake
    places: Places
    inside: frozenset[int]

    @property
    def place(self) -> str:
        return self.places.tags[self.stocktake.place_id]


def begin(session: Session, place: str, hand: Hand, note: str = "") -> Stocktake:
    """A stocktake of the place and the places inside it, with a line for each thing that the book has there.

    Raises BadRequest for the place, InUse while one that counts any of them is open.
    """
    at, places = find(session, Place, place, "place"), read_places(session)
    # Those who begin anywhere in one tree of places queue at its top.
    session.execute(select(Place.id).where(Place.id == places.around(at.id)[-1]).with_for_update())
    others = session.execute(
        select(Stocktake.number, Stocktake.place_id, Stocktake.begun_by).where(
            Stocktake.status == StocktakeStatus.OPEN
        )
    )
    for other in others:
        if other.place_id in places.around(at.id) or at.id in places.around(other.place_id):
            where = places.tags[other.place_id]
            raise InUse(
                f"{other.number} counts {where} already, begun by {other.begun_by or 'somebody'}",
                "Count in that one, or close or abandon it first.",
            )
    stocktake = Stocktake(
        number=next_numbers(session, Stocktake.number, "ST")[0],
        place_id=at.id,
        status=StocktakeStatus.OPEN,
        counted_on=hand.day,
        begun_by=hand.by,
        begun_at=utc_now(),
        note=note,
    )
    session.add(stocktake)
    session.flush()
    for thing in things_at(session, places.inside(at.id), hand.day):
        session.add(_line(stocktake, thing, is_expected=True))
    session.flush()
    return stocktake


def _line(stocktake: Stocktake, thing: Thing, is_expected: bool) -> StocktakeLine:
    return StocktakeLine(
        stocktake_id=stocktake.id,
        thing_key=thing.key,
        is_expected=is_expected,
        book_version=thing.version,
        book_state=thing.state,
        book_pitches=thing.pitches,
        outcome=Outcome.TO_COUNT,
    )


def find_stocktake(session: Session, name: str, lock: bool = False) -> Stocktake:
    """By its number, as ST-004 or 4, or the open one of a place by the tag of that place. Raises NotFound."""
    number = f"ST-{int(name):03}" if name.strip().isdecimal() and len(name) < 9 else name.strip()
    query = (
        select(Stocktake)
        .join(Place, Place.id == Stocktake.place_id)
        .where(
            (func.upper(Stocktake.number) == number.upper())
            | ((Stocktake.status == StocktakeStatus.OPEN) & (Place.tag_key == tag_key(name)))
        )
    )
    if lock:
        query = query.with_for_update(of=Stocktake).execution_options(populate_existing=True)
    found = session.scalars(query).first()
    if found is None:
        raise NotFound(
            f"there is no stocktake {name}, and none is open at such a place",
            "See the list at /api/v1/stocktakes.",
        )
    return found


def opened(session: Session, name: str) -> Ground:
    """The stocktake, held, if it is still open. Raises NotFound, StepRefused."""
    stocktake, places = find_stocktake(session, name, lock=True), read_places(session)
    if stocktake.status is not StocktakeStatus.OPEN:
        raise StepRefused(
            f"{stocktake.number} is {stocktake.status.value}", "Begin another stocktake of that place."
        )
    return Ground(stocktake, places, places.inside(stocktake.place_id))


def count(session: Session, name: str, counts: Sequence[Counted], hand: Hand) -> list[StocktakeLine]:
    """Lines as they were counted, each against the book of this moment; what the book has elsewhere becomes a
    line too. All of them or none.

    Raises NotFound, StepRefused, RefusedTags.
    """
    ground = opened(session, name)
    keys = [tag_key(one.tag) for one in counts]
    lines = {
        line.thing_key: line
        for line in session.scalars(
            select(StocktakeLine).where(
                StocktakeLine.stocktake_id == ground.stocktake.id, StocktakeLine.thing_key.in_(keys)
            )
        )
    }
    things = things_named(session, keys, hand.day)
    errors: list[RowError] = []
    done: dict[str, StocktakeLine] = {}
    both = {key for key, one in zip(keys, counts, strict=True) if one.is_found} & {
        key for key, one in zip(keys, counts, strict=True) if not one.is_found
    }
    for n, (key, one) in enumerate(zip(keys, counts, strict=True)):
        why = _unfit(things.get(key), one)
        if why is None and key in both:
            why = f"{things[key].tag} is counted as found and as not found", "Send one of the two."
        if why is not None:
            errors.append(RowError("", n, "counts", *why))
            continue
        thing = things[key]
        line = lines.get(key) or _line(ground.stocktake, thing, is_expected=False)
        _write(line, thing, one, ground, hand)
        lines[key] = done[key] = line
    if errors:
        raise RefusedTags(errors, "nothing was counted")
    session.add_all(done.values())
    moved(ground.stocktake)
    session.flush()
    return list(done.values())


def moved(stocktake: Stocktake) -> None:
    """Its version grows with its lines, so that it is not closed by somebody who has not seen them."""
    stocktake.changed_at = utc_now()


def _unfit(thing: Thing | None, one: Counted) -> tuple[str, str] | None:
    """Why a count cannot be taken, and what to do instead."""
    tag = one.tag.strip()
    if thing is None:
        return f"no unit or reel has the tag {tag}", "Read the label again; what has none is entered first."
    if thing.is_retired:
        return f"{thing.tag} is retired", "Bring it back into use first."
    known = [state.value for state in (ReelState if thing.is_reel else UnitState)]
    if one.state and one.state not in known:
        return f"{one.state} is no state of {thing.tag}", f"It may be {', '.join(known)}."
    if one.state in (UnitState.RETIRED, UnitState.MISSING):
        return f"{thing.tag} was found and cannot be {one.state}", "Say how it is, or that it was not found."
    if one.state in BAD and not one.note and one.state != thing.state:
        return f"{thing.tag} is {one.state} without a word why", "Say what was found."
    if one.length_mm is None and one.pitches is None:
        is_back = thing.is_reel and one.is_found and thing.state in GONE
        mend = "Measure it, and give the length left."
        return (f"{thing.tag} is {thing.state} by the book and was found", mend) if is_back else None
    return _unfit_length(thing, one)


def _unfit_length(thing: Thing, one: Counted) -> tuple[str, str] | None:
    if not thing.is_reel:
        return f"{thing.tag} is no reel and has no length", "Leave the length out."
    if one.length_mm is not None and one.pitches is not None:
        return f"{thing.tag} is given two lengths", "Give millimetres or cut pitches."
    try:
        _pitches(thing, one)
    except OffCutPitch as error:
        return f"{thing.tag}: {error.message}", error.mend
    return None


def _pitches(thing: Thing, one: Counted) -> int | None:
    if one.length_mm is None:
        return one.pitches
    return pitches_of(round(one.length_mm * 1000), thing.pitch_um, thing.item)


def _write(line: StocktakeLine, thing: Thing, one: Counted, ground: Ground, hand: Hand) -> None:
    line.book_version, line.book_state, line.book_pitches = thing.version, thing.state, thing.pitches
    line.is_found = one.is_found
    line.found_state = (one.state or _usual(thing)) if one.is_found else ""
    line.found_pitches = _pitches(thing, one) if one.is_found else None
    line.counted_by, line.counted_at, line.note = hand.by, utc_now(), one.note
    differs = differences(line, thing, ground, hand.day)
    line.outcome = Outcome.DIFFERS if differs else Outcome.AGREES


def _usual(thing: Thing) -> str:
    """The state of what was found when nobody says otherwise."""
    if thing.is_reel:
        return ReelState.OPEN.value if thing.state in GONE else thing.state
    return UnitState.GOOD.value if thing.state == UnitState.MISSING else thing.state


def differences(line: StocktakeLine, thing: Thing, ground: Ground, day: date) -> list[str]:
    """In words, how what was counted is not as the book has it."""
    if line.is_found is None:
        return []
    if not line.is_found:
        return ["not found"] if line.is_expected and not thing.is_away(day) else []
    found = []
    if thing.is_away(day) and thing.out is not None:
        found.append(f"here; by the book it {thing.out.said(day)}")
    elif thing.place_id not in ground.inside:
        at = ground.places.tags.get(thing.place_id or 0)
        found.append(f"here; the book has it {f'at {at}' if at else 'nowhere'}")
    if line.found_state != thing.state:
        found.append(f"{line.found_state}; the book says {thing.state}")
    if line.found_pitches is not None and line.found_pitches != thing.pitches:
        left, book = (show_um((n or 0) * thing.pitch_um) for n in (line.found_pitches, thing.pitches))
        found.append(f"{left} left; the book says {book}")
    return found


def close(
    session: Session, name: str, hand: Hand, expected: frozenset[int] | None = None, abandon: bool = False
) -> Stocktake:
    """Closed: every line was counted, and every difference accepted or left to look for. Abandoned: nothing
    more is counted in it. What was counted stays on record. Raises NotFound, Stale, StepRefused."""
    ground = opened(session, name)
    stocktake = ground.stocktake
    refuse_stale(str(stocktake.number), stocktake.version, expected)
    if not abandon:
        _refuse_unsettled(stocktake, outcomes(session, [stocktake.id]).get(stocktake.id, {}))
    stocktake.status = StocktakeStatus.ABANDONED if abandon else StocktakeStatus.CLOSED
    stocktake.closed_by, stocktake.closed_at = hand.by, utc_now()
    session.flush()
    return stocktake


def _refuse_unsettled(stocktake: Stocktake, counts: Mapping[Outcome, int]) -> None:
    if left := counts.get(Outcome.TO_COUNT, 0):
        raise StepRefused(
            f"{left} {'thing is' if left == 1 else 'things are'} still to count in {stocktake.number}",
            "Count them, found or not; or abandon the stocktake.",
        )
    if left := counts.get(Outcome.DIFFERS, 0):
        raise StepRefused(
            f"{left} {'difference is' if left == 1 else 'differences are'} not settled in {stocktake.number}",
            "Accept each, or leave it to look for.",
        )


def outcomes(session: Session, ids: Sequence[int]) -> dict[int, dict[Outcome, int]]:
    """By stocktake: how many of its lines stand how."""
    rows = session.execute(
        select(StocktakeLine.stocktake_id, StocktakeLine.outcome, func.count())
        .where(StocktakeLine.stocktake_id.in_(ids))
        .group_by(StocktakeLine.stocktake_id, StocktakeLine.outcome)
    )
    found: dict[int, dict[Outcome, int]] = {}
    for stocktake_id, outcome, number in rows:
        found.setdefault(stocktake_id, {})[outcome] = number
    return found
