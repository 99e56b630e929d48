"""Units come back, by tag: to their bins, or set aside with what was found; or nobody can find them. Takes a
session and never commits."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import BadRequest, NotOut, RowError
from service.planning.issuing.books import Hand, named_units, placed_at, refused
from service.planning.issuing.issuing import left_out, refuse_day_to_come
from service.planning.issuing.schemas import Missing, MissingOut, Returned, ReturnedOut
from service.season.issuing.standing import Standing, holds_standing, out_with
from service.season.records import Hold
from service.shows.faults import Fault
from service.stock.gear import Unit, UnitState
from service.stock.records import Place, PlaceKind
from service.store.audit import person
from service.store.changing import find
from service.store.numbers import next_numbers

SET_ASIDE = (UnitState.FAULTY, UnitState.SUSPECT, UnitState.REPAIR)


@dataclass(frozen=True, slots=True)
class Back:
    """How units come back. `found`: what was found wrong; `state`: how bad it is, faulty if nobody says;
    `place`: its tag, else the bin of each, or the quarantine place of what is bad."""

    found: str = ""
    state: UnitState | None = None
    place: str | None = None


def bring_back(session: Session, tags: Sequence[str], how: Back, hand: Hand, today: date) -> Returned:
    """The holds that the units are out on end that day; what was missing is found again. All of them, or none
    unless `each` was asked.

    Raises BadRequest, NotOut: with where the book has each that was not out.
    """
    refuse_day_to_come(hand.day, today)
    if how.state is not None and not how.found:
        raise BadRequest(f"{how.state.value} without a word of what was found", "Say what was found.")
    put = None if how.place is None else find(session, Place, how.place, "place")
    named = named_units(session, tags)
    standing = holds_standing(session, [unit.id for _, unit in named.units], lock=True)
    places = _places(session)
    errors: list[RowError] = list(named.unknown)
    back: list[tuple[Unit, Standing | None]] = []
    for position, unit in named.units:
        out = out_with(standing.get(unit.id, []), hand.day)
        why = _not_out(unit, standing.get(unit.id, []), places, out, hand.day)
        if why is None:
            back.append((unit, out))
        else:
            errors.append(refused(position, *why))
    errors.sort(key=lambda error: error.row or 0)
    if errors and not hand.each:
        raise NotOut(errors, "nothing was returned")
    aside = put or (_quarantine(session) if back else None)
    done = _write(session, back, how, (put, aside), places, hand)
    return Returned(done=done, refused=left_out(errors, tags))


def _not_out(
    unit: Unit,
    standing: Sequence[Standing],
    places: Mapping[int, str],
    out: Standing | None,
    day: date,
) -> tuple[str, str] | None:
    if unit.retired_on is not None:
        return f"{unit.tag} is retired", "Bring it back into use first."
    if out is not None and out.issued_on is not None and day < out.issued_on:
        went = f"{unit.tag} went out to {out.code} on {out.issued_on}, after {day}"
        return went, "Correct the day it came back."
    if out is not None or unit.state is UnitState.MISSING:
        return None
    promised = f"; {standing[0].code} is to have it from {standing[0].from_on}" if standing else ""
    return (
        f"{unit.tag} was not out: {where_by_the_book(unit, places)}{promised}",
        "Read the tag again; if it was out all the same, issue it to its show first, with the day it went.",
    )


def where_by_the_book(unit: Unit, places: Mapping[int, str]) -> str:
    """In words, where the book has a unit that is not out."""
    seen = places.get(unit.seen_place_id or 0)
    if seen is not None:
        return f"the book has it at {seen}" + (f", seen {unit.seen_on}" if unit.seen_on else "")
    home = places.get(unit.home_id or 0)
    return f"the book has it in its bin {home}" if home else "the book has no bin for it"


def _places(session: Session) -> dict[int, str]:
    return {row.id: row.tag for row in session.execute(select(Place.id, Place.tag))}


def _quarantine(session: Session) -> Place | None:
    """Where the house sets aside what is bad: the first such place by its tag."""
    return session.scalars(
        select(Place)
        .where(Place.kind == PlaceKind.QUARANTINE, Place.retired_on.is_(None))
        .order_by(Place.tag_key)
        .limit(1)
    ).one_or_none()


def _write(
    session: Session,
    back: Sequence[tuple[Unit, Standing | None]],
    how: Back,
    put: tuple[Place | None, Place | None],
    places: Mapping[int, str],
    hand: Hand,
) -> list[ReturnedOut]:
    ids = [out.hold_id for _, out in back if out is not None]
    holds = {hold.id: hold for hold in session.scalars(select(Hold).where(Hold.id.in_(ids)))}
    numbers = iter(next_numbers(session, Fault.number, "FL", len(back)) if how.found and back else ())
    done = []
    for unit, out in back:
        if out is not None:
            hold = holds[out.hold_id]
            hold.returned_on, hold.returned_by = hand.day, hand.by
        fault = None
        if how.found:
            fault = next(numbers)
            unit.state, unit.state_note = how.state or UnitState.FAULTY, how.found
            session.add(
                Fault(number=fault, unit_id=unit.id, found_on=hand.day, found_by=hand.by, symptom=how.found)
            )
        elif unit.state is UnitState.MISSING:
            unit.state, unit.state_note = UnitState.GOOD, ""
        place = put[1] if unit.state in SET_ASIDE else put[0]
        unit.seen_place_id = place.id if place is not None else unit.home_id
        unit.seen_on, unit.where_note = hand.day, ""
        done.append(
            ReturnedOut(
                tag=unit.tag,
                production=None if out is None else out.code,
                hold=None if out is None else out.number,
                returned_on=hand.day,
                days_late=0 if out is None else out.days_late(hand.day),
                state=unit.state.value,
                place=places.get(unit.seen_place_id or 0),
                fault=fault,
            )
        )
    session.flush()
    return done


def set_missing(session: Session, tags: Sequence[str], what: str, hand: Hand) -> Missing:
    """The units are on record as missing, with what is known of them. Whoever has them out still has them: a
    return, on the day one turns up, ends that and finds it again. Raises BadRequest, NotOut."""
    named = named_units(session, tags)
    standing = holds_standing(session, [unit.id for _, unit in named.units], lock=True)
    places, placed = _places(session), placed_at(session)
    errors, done = list(named.unknown), []
    for position, unit in named.units:
        if unit.retired_on is not None or unit.state is UnitState.MISSING:
            said = "retired" if unit.retired_on is not None else "missing already"
            errors.append(refused(position, f"{unit.tag} is {said}", "Leave it out of the list."))
            continue
        out = out_with(standing.get(unit.id, []), hand.day)
        note = what or _last_known(unit, out, places, placed)
        done.append((unit, note, out))
    errors.sort(key=lambda error: error.row or 0)
    if errors and not hand.each:
        raise NotOut(errors, "nothing was changed")
    for unit, note, _ in done:
        unit.state, unit.state_note = UnitState.MISSING, note[:400]
    session.flush()
    return Missing(
        done=[
            MissingOut(
                tag=unit.tag, production=out.code if out else None, state=unit.state.value, what=note[:400]
            )
            for unit, note, out in done
        ],
        refused=left_out(errors, tags),
    )


def _last_known(
    unit: Unit, out: Standing | None, places: Mapping[int, str], placed: Mapping[tuple[int, int], str]
) -> str:
    if out is None:
        return f"not found; {where_by_the_book(unit, places)}"
    said = [f"not back from {out.code}" + (f", due {out.due_on}" if out.due_on else "")]
    if at := placed.get((unit.id, out.production_id)):
        said.append(f"placed at {at}")
    if who := person(out.issued_by):
        said.append(f"issued by {who}")
    return "; ".join(said)
