"""The last issue or return of a unit taken back, or that it is missing, by the record of what that one act
changed. Takes a session and never commits."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any, Literal

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import NotOut, RowError
from service.planning.issuing.books import Hand, named_units, refused
from service.planning.issuing.issuing import left_out
from service.planning.issuing.schemas import Undone, UndoneOut
from service.season.issuing.standing import Standing, holds_standing, out_with
from service.season.records import Hold, Production
from service.shows.faults import Fault
from service.stock.gear import Unit, UnitState
from service.stock.wording import words
from service.store.audit import AuditEntry, person, plain
from service.store.base import tag_key

Deed = Literal["issue", "return"]
MARK: dict[Deed, str] = {"issue": "issued_on", "return": "returned_on"}
# What an issue or a return writes of the unit itself.
CONDITION = ("state", "state_note")
OF_UNIT = (*CONDITION, "seen_place_id", "seen_on", "where_note")


@dataclass(frozen=True, slots=True)
class _Act:
    """One act on record: of the hold, and of the unit where it changed. No hold: the unit went missing."""

    hold: Hold | None
    code: str | None
    of_hold: AuditEntry | None
    of_unit: AuditEntry | None

    @property
    def fields(self) -> tuple[str, ...]:
        """What of the unit is taken back with it."""
        return CONDITION if self.hold is None else OF_UNIT


def undo(session: Session, deed: Deed, tags: Sequence[str], hand: Hand, code: str | None = None) -> Undone:
    """The unit, its hold and the fault that was opened are as they were before its last issue (to that
    production) or its last return. What is missing now has not come back: that it is on record as missing is
    taken back in place of its return. All of them, or none unless `each` was asked.

    Raises BadRequest, NotOut: nothing to take back, or changed by somebody since.
    """
    named = named_units(session, tags)
    ids = [unit.id for _, unit in named.units]
    acts, out = _last(session, deed, ids, code), holds_standing(session, ids)
    if deed == "return":
        acts |= _lost(session, [unit.id for _, unit in named.units if unit.state is UnitState.MISSING])
    errors: list[RowError] = list(named.unknown)
    sound: list[tuple[Unit, _Act]] = []
    for position, unit in named.units:
        act = acts.get(unit.id)
        why = _why_not(session, deed, unit, act, out.get(unit.id, []), code)
        if why is None and act is not None:
            sound.append((unit, act))
        elif why is not None:
            errors.append(refused(position, *why))
    errors.sort(key=lambda error: error.row or 0)
    if errors and not hand.each:
        raise NotOut(errors, "nothing was taken back")
    _put_back(session, deed, sound)
    session.flush()
    standing = holds_standing(session, [unit.id for unit, _ in sound])
    done = []
    for unit, act in sound:
        now = out_with(standing.get(unit.id, []), hand.day)
        done.append(
            UndoneOut(
                tag=unit.tag,
                undone="missing" if act.hold is None else deed,
                production=act.code or (now.code if now else None),
                with_production=now.code if now else None,
            )
        )
    return Undone(done=done, refused=left_out(errors, tags))


def _last(session: Session, deed: Deed, unit_ids: Sequence[int], code: str | None) -> dict[int, _Act]:
    """By unit: the last act of that kind that still stands."""
    mark = MARK[deed]
    column: Any = getattr(Hold, mark)
    query = (
        select(Hold, Production.tag)
        .join(Production, Production.id == Hold.production_id)
        .where(Hold.unit_id.in_(unit_ids), column.is_not(None))
        .order_by(column.desc(), Hold.changed_at.desc(), Hold.id.desc())
    )
    if code is not None:
        query = query.where(Production.tag_key == tag_key(code))
    last: dict[int, tuple[Hold, str]] = {}
    for hold, tag in session.execute(query.with_for_update(of=Hold)):
        last.setdefault(hold.unit_id or 0, (hold, tag))
    of_holds: dict[int, AuditEntry] = {}
    for entry in _entries(session, Hold.__tablename__, [hold.id for hold, _ in last.values()]):
        if (entry.after or {}).get(mark):
            of_holds[entry.thing_id or 0] = entry
    of_units = {
        (entry.thing_id, entry.at): entry
        for entry in _entries(session, Unit.__tablename__, list(last))
        if entry.what == "changed"
    }
    return {
        unit_id: _Act(hold, tag, of_holds[hold.id], of_units.get((unit_id, of_holds[hold.id].at)))
        for unit_id, (hold, tag) in last.items()
        if hold.id in of_holds
    }


def _lost(session: Session, unit_ids: Sequence[int]) -> dict[int, _Act]:
    """By unit that is missing: what put it on record. A change of state that was put back counts no more, so
    that what was taken back is not taken for a new loss."""
    changes: dict[int, list[AuditEntry]] = {unit_id: [] for unit_id in unit_ids}
    for entry in _entries(session, Unit.__tablename__, unit_ids) if unit_ids else ():
        if entry.what != "changed" or "state" not in (entry.after or {}):
            continue
        stand = changes[entry.thing_id or 0]
        last = (_condition(stand[-1].after), _condition(stand[-1].before)) if stand else None
        if last == (_condition(entry.before), _condition(entry.after)):
            stand.pop()
        else:
            stand.append(entry)
    return {
        unit_id: _Act(None, None, None, stand[-1])
        for unit_id, stand in changes.items()
        if stand and _condition(stand[-1].after)[0] == UnitState.MISSING.value
    }


def _condition(values: dict[str, Any] | None) -> tuple[Any, ...]:
    return tuple((values or {}).get(name) for name in CONDITION)


def _entries(session: Session, kind: str, ids: Sequence[int]) -> Iterable[AuditEntry]:
    """What is on record of those things, oldest first."""
    query = select(AuditEntry).where(AuditEntry.kind == kind, AuditEntry.thing_id.in_(ids))
    return session.scalars(query.order_by(AuditEntry.id))


def _why_not(
    session: Session,
    deed: Deed,
    unit: Unit,
    act: _Act | None,
    standing: Sequence[Standing],
    code: str | None,
) -> tuple[str, str] | None:
    """Why it cannot be taken back, and what to do instead."""
    if act is None:
        what = "has not come back" if deed == "return" else "has not gone out"
        to = f" to {code}" if code and deed == "issue" else ""
        return f"{unit.tag} {what}{to}: there is nothing to take back", "Read the tag again."
    if deed == "issue" and act.hold is not None and act.hold.returned_on is not None:
        return (
            f"{unit.tag} came back from {act.code} on {act.hold.returned_on}",
            "Take its return back first.",
        )
    out = out_with(standing, date.max)
    if deed == "return" and act.hold is not None and out is not None and out.issued_on is not None:
        return f"{unit.tag} went out to {out.code} since, on {out.issued_on}", "Take that issue back first."
    after: dict[str, Any] = {} if act.of_unit is None else act.of_unit.after or {}
    moved = [
        name
        for name in act.fields
        if name in after and _same(plain(getattr(unit, name)), after[name]) is False
    ]
    if moved:
        since = next(reversed(list(_entries(session, Unit.__tablename__, [unit.id]))), None)
        by = f" by {who}" if since and (who := person(since.by)) else ""
        return (
            f"{unit.tag} was changed{by} since: {words(moved)}",
            "Correct it by hand: change the unit and its hold.",
        )
    return None


def _same(now: Any, then: Any) -> bool:
    return str(now.value if isinstance(now, StrEnum) else now) == str(then)


def _put_back(session: Session, deed: Deed, sound: Sequence[tuple[Unit, _Act]]) -> None:
    done: dict[int, datetime] = {}
    for unit, act in sound:
        before: dict[str, Any] = {} if act.of_unit is None else act.of_unit.before or {}
        for name in act.fields:
            if name in before:
                setattr(unit, name, _stored(name, before[name]))
        if act.hold is None or act.of_hold is None:
            continue
        done[unit.id] = act.of_hold.at
        if deed == "return":
            act.hold.returned_on, act.hold.returned_by = None, ""
        elif act.of_hold.what == "made" and act.of_unit is not None:  # the issue itself made the hold
            session.delete(act.hold)
        else:
            act.hold.issued_on, act.hold.issued_by = None, ""
    for fault in session.scalars(select(Fault).where(Fault.unit_id.in_(done))):
        if fault.created_at == done[fault.unit_id or 0]:
            session.delete(fault)


def _stored(name: str, value: Any) -> Any:
    """A value as it was before it went on record."""
    if value is None:
        return None
    if name == "state":
        return UnitState(value)
    return date.fromisoformat(value) if name == "seen_on" else value
