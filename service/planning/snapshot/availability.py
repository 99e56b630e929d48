"""Which units are free through a window, and when the others clear.

What a production needs on a day is, per model, the larger of what it holds and what its kept plan allots;
the two are never added. A unit that is overdue stays out until it is brought back.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.planning.records import Allotment, Placing, Plan, PlanStatus
from service.planning.snapshot.circuits import Plug, read_plugs
from service.planning.snapshot.house import House, UnitRow
from service.season.records import Hold, Production

FAR = date(9999, 12, 31)


@dataclass(frozen=True, slots=True)
class Claim:
    """One production has this unit on these half-open days: by a hold, or by its kept plan alone.

    `due_on`: the last day it may be out; `is_overdue`: it should be back by now.
    """

    unit_id: int
    production_id: int
    from_on: date
    until_on: date
    is_overdue: bool = False
    due_on: date | None = None
    is_held: bool = True


def in_order(claim: Claim) -> tuple[int, int, date, date, bool, date, bool]:
    """Unit by unit, then by show and day. What came back has no last day any more."""
    last = claim.due_on or date.min
    return (
        claim.unit_id, claim.production_id, claim.from_on, claim.until_on, claim.is_overdue, last,
        claim.is_held,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Want:
    """`quantity` of a model, no unit named, on half-open days."""

    model_id: int
    production_id: int
    from_on: date
    until_on: date
    quantity: int


@dataclass(frozen=True)
class Claims:
    """All claims on the store, and on wall circuits, as they are known on `today`."""

    units: tuple[Claim, ...]
    models: tuple[Want, ...]
    codes: dict[int, str]
    today: date
    plugs: tuple[Plug, ...] = ()

    @cached_property
    def _by_unit(self) -> dict[int, list[Claim]]:
        found: dict[int, list[Claim]] = defaultdict(list)
        for claim in self.units:
            found[claim.unit_id].append(claim)
        return found

    def of_unit(self, unit_id: int) -> list[Claim]:
        return self._by_unit.get(unit_id, [])


@dataclass(frozen=True, slots=True)
class Taken:
    """Why a unit is not free, and the first day on which it is free for the rest of the window."""

    unit: UnitRow
    because: str
    clears_on: date | None


@dataclass(frozen=True, slots=True)
class Promise:
    """Units of a model that others need: how many at most, from when, and the first day without any."""

    count: int
    most_on: date
    clears_on: date


def read_claims(session: Session, today: date) -> Claims:
    """Holds of units, kept allotments and placings, and holds of models."""
    codes = {row.id: row.tag for row in session.execute(select(Production.id, Production.tag))}
    units, wants = gear_claims(session, today)
    in_turn = tuple(sorted(units, key=in_order))
    return Claims(in_turn, tuple(wants), codes, today, read_plugs(session, today))


def gear_claims(session: Session, today: date) -> tuple[list[Claim], list[Want]]:
    """What every production has of gear, by tag and by model alone, in no order."""
    held, wants = _holds(session, today)
    spoken = {(c.unit_id, c.production_id) for c in held}
    allotted = [
        Claim(unit_id, production_id, from_on, until_on, due_on=until_on - timedelta(days=1), is_held=False)
        for unit_id, production_id, from_on, until_on in _kept_units(session)
        if (unit_id, production_id) not in spoken
    ]
    return [claim for claim in held + allotted if claim.from_on < claim.until_on], wants


def _holds(session: Session, today: date) -> tuple[list[Claim], list[Want]]:
    """What holds say: units by tag, and models without what was drawn from them. A unit that went out before
    its days began is out from then; one that came back is free from the day it did."""
    held: list[Claim] = []
    wants: list[Want] = []
    promises: dict[int, Want] = {}
    drawn: dict[int, list[date]] = defaultdict(list)
    for h in session.execute(
        select(
            Hold.id, Hold.production_id, Hold.unit_id, Hold.model_id, Hold.quantity, Hold.from_on,
            Hold.until_on, Hold.issued_on, Hold.returned_on, Hold.drawn_from_id,
        ).order_by(Hold.id)
    ):  # fmt: skip
        if h.unit_id is not None:
            from_on = min(h.from_on, h.issued_on or h.from_on)
            held.append(_claim(h.unit_id, h.production_id, from_on, h.until_on, h.returned_on, today))
            if h.drawn_from_id is not None:
                drawn[h.drawn_from_id].append(from_on)
        elif h.model_id is not None:
            promises[h.id] = Want(h.model_id, h.production_id, h.from_on, h.until_on or FAR, h.quantity or 0)
    for promise_id, promise in promises.items():
        wants += still_wanted(promise, drawn[promise_id])
    return held, wants


def still_wanted(promise: Want, drawn_on: Sequence[date]) -> list[Want]:
    """What a promise of a model stands for once units were drawn from it: one less for each, from the day on
    which it was drawn; before that day the promise stood.

    >>> a = Want(1, 1, date(2027, 1, 4), date(2027, 1, 20), 3)
    >>> [(w.quantity, w.from_on.day, w.until_on.day) for w in still_wanted(a, [date(2027, 1, 6)])]
    [(2, 4, 20), (1, 4, 6)]
    """
    left = promise.quantity - len(drawn_on)
    found = [replace(promise, quantity=left)] if left > 0 else []
    for day in drawn_on:
        if day > promise.from_on:
            found.append(replace(promise, until_on=min(day, promise.until_on), quantity=1))
    return found


def _claim(
    unit_id: int,
    production_id: int,
    from_on: date,
    until_on: date | None,
    returned_on: date | None,
    today: date,
) -> Claim:
    last = until_on or FAR
    if returned_on is not None:
        return Claim(unit_id, production_id, from_on, min(last, returned_on))
    if last <= today:
        return Claim(unit_id, production_id, from_on, FAR, True, last - timedelta(days=1))
    return Claim(unit_id, production_id, from_on, last, False, last - timedelta(days=1))


def _kept_units(session: Session) -> Iterable[tuple[int, int, date, date]]:
    found: set[tuple[int, int, date, date]] = set()
    for column, record in (
        (Allotment.supply_id, Allotment),
        (Allotment.decoder_id, Allotment),
        (Placing.unit_id, Placing),
    ):
        rows = session.execute(
            select(column, Plan.production_id, Plan.from_on, Plan.until_on)
            .join(Plan, Plan.id == record.plan_id)
            .where(Plan.status == PlanStatus.KEPT, column.is_not(None))
            .distinct()
        )
        found.update((row[0], row[1], row[2], row[3]) for row in rows if row[0] is not None)
    return sorted(found)


def free_units(
    house: House, claims: Claims, production_id: int, window: tuple[date, date]
) -> tuple[list[UnitRow], list[Taken]]:
    """(sound units nobody else has on any day of the window, the others with the reason).

    A unit that is promised twice stays with the production that has it first; it is the later one that
    must do without. Units promised to others by model only are taken off the end of the list of that model.
    """
    start, end = window
    had_from = _had_from(claims, production_id)
    others: dict[int, list[Claim]] = {}
    for claim in claims.units:
        if claim.production_id == production_id or had_from.get(claim.unit_id, FAR) < claim.from_on:
            continue
        if claim.from_on < end and claim.until_on > start:
            others.setdefault(claim.unit_id, []).append(claim)
    free: list[UnitRow] = []
    taken: list[Taken] = []
    for unit in house.gear:
        if not unit.is_sound:
            why = f"{unit.tag} is {unit.state}" + (f" ({unit.state_note})" if unit.state_note else "")
            taken.append(Taken(unit, why, None))
        elif not unit.is_here(start, end):
            taken.append(_hired_for_other_days(unit, end))
        elif unit.id in others:
            taken.append(_taken(unit, others[unit.id], claims, end))
        else:
            free.append(unit)
    model_of = {unit.id: unit.model_id for unit in house.units.values()}
    promised = promised_by_model(claims, model_of, production_id, window)
    return _less_promised(free, taken, promised, had_from, end)


def _had_from(claims: Claims, production_id: int) -> dict[int, date]:
    """The first day on which the production has each unit that it holds or that its kept plan uses."""
    found: dict[int, date] = {}
    for claim in claims.units:
        if claim.production_id == production_id:
            found[claim.unit_id] = min(claim.from_on, found.get(claim.unit_id, FAR))
    return found


def _hired_for_other_days(unit: UnitRow, end: date) -> Taken:
    days = [f"from {unit.hired_from}"] if unit.hired_from else []
    days += [f"until {unit.hired_until - timedelta(days=1)}"] if unit.hired_until else []
    stays = unit.hired_until is None or unit.hired_until >= end
    return Taken(unit, f"{unit.tag} is hired {' '.join(days)} only", unit.hired_from if stays else None)


def _taken(unit: UnitRow, claims_on_it: list[Claim], claims: Claims, end: date) -> Taken:
    last = max(claims_on_it, key=lambda c: c.until_on)
    who = claims.codes[last.production_id]
    if last.is_overdue:
        return Taken(unit, f"{unit.tag} is overdue from {who}", None)
    clears = last.until_on if last.until_on < end else None
    until = (last.until_on - timedelta(days=1)).isoformat()
    return Taken(unit, f"{unit.tag} is with {who} until {until}", clears)


def _less_promised(
    free: list[UnitRow],
    taken: list[Taken],
    promised: dict[int, Promise],
    had_from: dict[int, date],
    end: date,
) -> tuple[list[UnitRow], list[Taken]]:
    """What is left when others get what they were promised; what the production has itself goes last."""
    kept: list[UnitRow] = []
    open_to_others: dict[int, list[UnitRow]] = {}
    for unit in free:
        promise = promised.get(unit.model_id or 0)
        if promise is None or had_from.get(unit.id, FAR) < promise.most_on:
            kept.append(unit)
        else:
            open_to_others.setdefault(unit.model_id or 0, []).append(unit)
    for model_id, units in open_to_others.items():
        promise = promised[model_id]
        units.sort(key=lambda u: (u.id not in had_from, u.tag))
        left = max(0, len(units) - promise.count)
        why = f"{promise.count} of this model are promised to another show"
        clears = promise.clears_on if promise.clears_on < end else None
        kept += units[:left]
        taken += [Taken(unit, why, clears) for unit in units[left:]]
    return sorted(kept, key=lambda u: u.tag), taken


def promised_by_model(
    claims: Claims, model_of: dict[int, int | None], production_id: int, window: tuple[date, date]
) -> dict[int, Promise]:
    """Per model: the most units other productions need on one day of the window beyond those they name by
    tag.

    A production's need is the larger of held and allotted, so units its kept plan uses without a hold of
    their own are drawn from what it holds by model.
    """
    start, end = window
    wants = [
        w
        for w in claims.models
        if w.production_id != production_id and w.from_on < end and w.until_on > start
    ]
    most: dict[int, Promise] = {}
    for day in sorted({max(start, w.from_on) for w in wants}):
        held: Counter[tuple[int, int]] = Counter()
        for want in wants:
            if want.from_on <= day < want.until_on:
                held[want.production_id, want.model_id] += want.quantity
        for claim in claims.units:
            key = (claim.production_id, model_of.get(claim.unit_id) or 0)
            if key in held and not claim.is_held and claim.from_on <= day < claim.until_on:
                held[key] -= 1
        extra: Counter[int] = Counter()
        for (_, model_id), count in held.items():
            extra[model_id] += max(count, 0)
        for model_id, count in extra.items():
            if count > (most[model_id].count if model_id in most else 0):
                last = max(w.until_on for w in wants if w.model_id == model_id)
                most[model_id] = Promise(count, day, last)
    return most
