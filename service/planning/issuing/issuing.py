"""Units go out to a production, by tag. Takes a session and never commits."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import BadRequest, NotFree, Refused, RowError
from service.planning.issuing.books import OVER, Books, Hand, named_units, placed_at, read_books, refused
from service.planning.issuing.obstacles import Obstacle, WayOut, way_out
from service.planning.issuing.schemas import Issued, IssuedOut, RefusedOut
from service.planning.snapshot.availability import FAR, Claim, Want
from service.planning.snapshot.show import find_production
from service.season.issuing.standing import Standing
from service.season.records import Hold
from service.stock.gear import Unit
from service.store.numbers import next_numbers


def issue(session: Session, code: str, tags: Sequence[str], hand: Hand, today: date) -> Issued:
    """The units are with the production from that day: each on its own hold, else on one drawn from what the
    production was promised of its model, else, where nobody else is to have it, on a new one for the days of
    the show. All of them, or none unless `each` was asked.

    Raises NotFound for the production, BadRequest, Refused, NotFree.
    """
    refuse_day_to_come(hand.day, today)
    production = find_production(session, code)
    if production.status in OVER or production.retired_on is not None:
        raise Refused(
            f"{production.tag} is {production.status.value}: nothing goes out to it",
            "Correct its status first.",
        )
    named = named_units(session, tags, with_models=True)
    books = read_books(session, production, hand.day)
    ways: list[WayOut] = []
    errors: list[RowError] = list(named.unknown)
    for position, unit in named.units:
        way = way_out(books, unit)
        if isinstance(way, Obstacle):
            errors.append(refused(position, way.message, way.mend))
        else:
            ways.append(way)
            _note(books, way)
    errors.sort(key=lambda error: error.row or 0)
    if errors and not hand.each:
        raise NotFree(errors, "nothing was issued")
    done = _write(session, books, ways, hand)
    return Issued(done=done, refused=left_out(errors, tags))


def refuse_day_to_come(day: date, today: date) -> None:
    """What is written down has happened."""
    if day > today:
        raise BadRequest(f"{day} is still to come", f"Give a day up to {today}, or leave it out.")


def left_out(errors: Sequence[RowError], tags: Sequence[str]) -> list[RefusedOut]:
    return [
        RefusedOut(tag=tags[error.row or 0].strip(), message=error.message, mend=error.mend)
        for error in errors
    ]


def _note(books: Books, way: WayOut) -> None:
    """Keep the books up, so that the next unit of the same list finds one less."""
    books.gone.add(way.unit.id)
    number = books.production.id
    claim = Claim(way.unit.id, number, books.day, way.until_on, due_on=way.until_on - timedelta(days=1))
    models = books.claims.models
    if way.drawn_from is not None:
        way.drawn_from.left -= 1
        if not way.drawn_from.left:
            books.promised.remove(way.drawn_from)
        models = _one_less(models, number, way.drawn_from.model_id, way.drawn_from.from_on)
    books.claims = replace(books.claims, units=(*books.claims.units, claim), models=models)


def _one_less(wants: Sequence[Want], production_id: int, model_id: int, from_on: date) -> tuple[Want, ...]:
    found = list(wants)
    for n, want in enumerate(found):
        if (want.production_id, want.model_id, want.from_on) == (production_id, model_id, from_on):
            found[n : n + 1] = [replace(want, quantity=want.quantity - 1)] if want.quantity > 1 else []
            break
    return tuple(found)


def _write(session: Session, books: Books, ways: Sequence[WayOut], hand: Hand) -> list[IssuedOut]:
    own = {way.own.hold_id for way in ways if way.own is not None}
    holds = {
        hold.id: hold for hold in session.scalars(select(Hold).where(Hold.id.in_(own)).with_for_update())
    }
    fresh = sum(way.own is None for way in ways)
    numbers = iter(next_numbers(session, Hold.number, "H", fresh) if fresh else ())
    placed = placed_at(session)
    done = []
    for way in ways:
        hold = holds[way.own.hold_id] if way.own is not None else _new_hold(books, way, next(numbers))
        hold.issued_on, hold.issued_by = hand.day, hand.by
        session.add(hold)
        leave(way.unit, books.production.tag, hand.day)
        done.append(_out(books, way, hold, placed))
    session.flush()
    return done


def _new_hold(books: Books, way: WayOut, number: str) -> Hold:
    return Hold(
        number=number,
        production_id=books.production.id,
        unit_id=way.unit.id,
        quantity=1,
        from_on=books.day,
        until_on=None if way.until_on == FAR else way.until_on,
        drawn_from_id=way.drawn_from.hold_id if way.drawn_from else None,
    )


def leave(unit: Unit, code: str, day: date) -> None:
    """It is at no place of the house any more; what counts its bin meanwhile sees that it changed."""
    unit.seen_place_id = None
    unit.seen_on = day
    unit.where_note = f"out with {code}"


def _out(books: Books, way: WayOut, hold: Hold, placed: dict[tuple[int, int], str]) -> IssuedOut:
    standing = Standing(
        0, hold.number, way.unit.id, books.production.id, books.production.tag, hold.from_on, hold.until_on
    )
    return IssuedOut(
        tag=way.unit.tag,
        model=books.house.model_tag(books.house.named(way.unit.id)),
        production=books.production.tag,
        hold=hold.number,
        how="its hold" if way.own else "drawn" if way.drawn_from else "new",
        drawn_from=way.drawn_from.number if way.drawn_from else None,
        issued_on=books.day,
        due_on=standing.due_on,
        goes_to=placed.get((way.unit.id, books.production.id)),
    )
