"""Whether a unit may go out to a production, and what stands in the way: with who has it, until when, and
which other unit of its model is free."""

from dataclasses import dataclass, replace
from datetime import date, timedelta

from service.planning.issuing.books import Books, Promised
from service.planning.snapshot.availability import FAR, Claims, Want, free_units, promised_by_model
from service.planning.snapshot.house import UnitRow
from service.season.issuing.standing import Standing, out_with
from service.stock.gear import Unit, UnitState
from service.store.audit import person

SHOWN = 3


@dataclass(frozen=True, slots=True)
class WayOut:
    """How a unit goes out: on its own hold, on one drawn from a promise of its model, or (neither) on a new
    one. Half-open days."""

    unit: Unit
    from_on: date
    until_on: date
    own: Standing | None = None
    drawn_from: Promised | None = None


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Why a unit may not go out, and what to do instead."""

    message: str
    mend: str


def way_out(books: Books, unit: Unit) -> WayOut | Obstacle:
    """What a unit goes out on, unless something stands in the way."""
    why = _condition(books, unit)
    if not why and (said := _out_already(books, unit)):
        return Obstacle(said, "Leave it out of the list; if it came back meanwhile, return it first.")
    why = why or _whereabouts(books, unit)
    if why:
        return Obstacle(why, _instead(books, unit, books.until_on))
    standing = books.standing.get(unit.id, [])
    own = next((one for one in standing if one.production_id == books.production.id), None)
    promise = None if own else next((p for p in books.promised if p.model_id == unit.model_id), None)
    if own is None and promise is None and books.until_on <= books.day:
        last = books.until_on - timedelta(days=1)
        return Obstacle(
            f"{unit.tag} is not promised to {books.production.tag}, whose days ended on {last}",
            "Move the dates of the show, or enter a hold with days of its own.",
        )
    if own is not None:
        from_on, until_on = own.from_on, own.until_on or date.max
    else:
        from_on, until_on = books.day, promise.until_on if promise else books.until_on
    why = _promised_by_tag(books, unit, own, (min(from_on, books.day), until_on))
    if not why and own is None and unit.model_id is not None:
        why = _promised_by_model(books, unit, promise, (from_on, until_on))
    if why:
        return Obstacle(why, _instead(books, unit, until_on))
    return WayOut(unit, from_on, until_on, own, promise)


def _condition(books: Books, unit: Unit) -> str:
    """What is not sound, and what is hired for other days, stays in."""
    if unit.retired_on is not None or unit.state is UnitState.RETIRED:
        return f"{unit.tag} is retired"
    if unit.state is not UnitState.GOOD:
        note = f" ({unit.state_note})" if unit.state_note else ""
        away = "away for repair" if unit.state is UnitState.REPAIR else unit.state.value
        return f"{unit.tag} is {away}{note}"
    if unit.hired_from is not None and books.day < unit.hired_from:
        return f"{unit.tag} is hired from {unit.hired_from}"
    if unit.hired_until is not None and books.day >= unit.hired_until:
        return f"{unit.tag} was hired until {unit.hired_until - timedelta(days=1)} and has gone back"
    return ""


def _out_already(books: Books, unit: Unit) -> str:
    out = out_with(books.standing.get(unit.id, []), books.day)
    if out is None or out.issued_on is None or out.production_id != books.production.id:
        return ""
    by = f" by {who}" if (who := person(out.issued_by)) else ""
    return f"{unit.tag} is already out to {out.code}, issued on {out.issued_on}{by}"


def _whereabouts(books: Books, unit: Unit) -> str:
    out = out_with(books.standing.get(unit.id, []), books.day)
    if out is None:
        return ""
    if out.production_id != books.production.id:
        return f"{unit.tag} {out.said(books.day)}"
    if out.days_late(books.day):
        return f"{unit.tag} {out.said(books.day)}"
    return ""


def _promised_by_tag(books: Books, unit: Unit, own: Standing | None, days: tuple[date, date]) -> str:
    """Who else is to have this very unit on those days. Promised to two, it stays with the one whose days
    begin first, as in plans."""
    start, end = days
    mine = None if own is None else (own.from_on, own.production_id)
    for claim in books.claims.of_unit(unit.id):
        others = claim.production_id != books.production.id and claim.from_on < end and claim.until_on > start
        if not others or (mine is not None and mine <= (claim.from_on, claim.production_id)):
            continue
        code = books.claims.codes[claim.production_id]
        how = "is promised to" if claim.is_held else "is used in the kept plan of"
        until = "" if claim.until_on == FAR else f" until {claim.until_on - timedelta(days=1)}"
        return f"{unit.tag} {how} {code} from {claim.from_on}{until}"
    return ""


def _promised_by_model(books: Books, unit: Unit, promise: Promised | None, days: tuple[date, date]) -> str:
    """Whether all that are left of its model are promised to others, no unit named; a promise that was made
    for an earlier day goes first."""
    wants = [want for want in books.claims.models if _goes_first(want, books, promise)]
    model_of = {one.id: one.model_id for one in books.house.units.values()}
    others = replace(books.claims, models=tuple(wants))
    found = promised_by_model(others, model_of, books.production.id, days).get(unit.model_id or 0)
    ours = {claim.unit_id for claim in books.claims.units if claim.production_id == books.production.id}
    if found is None or unit.id in ours:
        return ""
    free = _free(books, replace(books.claims, models=()), days)
    left = [one for one in free if _is_alike(one, unit) and one.id not in ours]
    if len(left) > found.count:
        return ""
    codes = sorted({books.claims.codes[want.production_id] for want in wants if _overlaps(want, unit, days)})
    model = _model(books, unit)
    which = f"the last {model}" if len(left) == 1 else f"one of the last {len(left)} {model}"
    return f"{unit.tag} is {which}, and {found.count} are promised to {' and '.join(codes)}"


def _goes_first(want: Want, books: Books, promise: Promised | None) -> bool:
    ours = None if promise is None else (promise.from_on, books.production.id)
    return ours is None or (want.from_on, want.production_id) < ours


def _overlaps(want: Want, unit: Unit, days: tuple[date, date]) -> bool:
    return want.model_id == unit.model_id and want.from_on < days[1] and want.until_on > days[0]


def _free(books: Books, claims: Claims, days: tuple[date, date]) -> list[UnitRow]:
    """Units that the production may still take: free for it, and not with it already."""
    free, _ = free_units(books.house, claims, books.production.id, days)
    here = {unit_id for unit_id, standing in books.standing.items() if out_with(standing, books.day)}
    return [one for one in free if one.id not in here | books.gone]


def _is_alike(one: UnitRow, unit: Unit) -> bool:
    return one.model_id == unit.model_id


def _model(books: Books, unit: Unit) -> str:
    return books.house.model_tag(books.house.named(unit.id))


def _instead(books: Books, unit: Unit, until_on: date) -> str:
    """Which other unit of its model is free for the same days."""
    if unit.model_id is None:
        return "Take another box, or wait until it is back."
    days = (books.day, max(until_on, books.day + timedelta(days=1)))
    free = [one.tag for one in _free(books, books.claims, days) if _is_alike(one, unit)]
    free = [tag for tag in free if tag != unit.tag]
    if free:
        more = f" ({len(free)} are free)" if len(free) > SHOWN else ""
        return f"Take {', '.join(free[:SHOWN])} instead{more}."
    last = days[1] - timedelta(days=1)
    return (
        f"No other {_model(books, unit)} is free on every day from {days[0]} to {last}: "
        "hire or buy one, or move the dates."
    )
