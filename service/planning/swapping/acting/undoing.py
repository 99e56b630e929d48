"""A swap taken back, where nothing that it changed was changed since."""

from collections.abc import Sequence
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.errors import Refused
from service.planning.records import Allotment, Patch, Placing, Plan, PlanStatus
from service.planning.swapping.acting.remembering import RECORDS, changed_since, rows_of, take_back
from service.planning.swapping.acting.telling import find_swap
from service.planning.swapping.records import Swap
from service.season.records import Hold
from service.shows.records import Element, Run
from service.stock.gear import Unit
from service.stock.wording import words
from service.store.audit import AuditEntry
from service.store.lists.undoing import Key, columns_otherwise
from service.store.types import utc_now


def undo(session: Session, number: str, by: str) -> Swap:
    """Everything as it was before the swap; the swap itself stays on record as taken back. Raises NotFound;
    Refused where it is back already, or says what was changed since."""
    swap = find_swap(session, number, is_held=True)
    if swap.undone_at is not None:
        raise Refused(f"{swap.number} was taken back already", "There is nothing more to undo.")
    plan = session.get_one(Plan, swap.plan_id, with_for_update=True)
    if plan.status != PlanStatus.KEPT:
        raise Refused(
            f"plan {plan.number}, in which {swap.number} was done, is {plan.status} now",
            f"Ask what can stand in for {_tag(session, swap.new_id)} in the plan that is kept now.",
        )
    changed = changed_since(session, swap.before, _last_of(session, swap))
    said = sorted(_named(session, key, entries) for key, entries in changed.items())
    promised = _promised_since(session, swap)
    if said or promised:
        raise Refused(
            f"{swap.number} cannot be taken back: {'; '.join([*said, *promised])} changed since",
            _mend(session, swap, set(changed)),
        )
    swap.fault_id = swap.note_id = None
    session.flush()
    take_back(session, swap.before)
    plan.changed_at = utc_now()
    swap.undone_at, swap.undone_by = utc_now(), by
    session.flush()
    return swap


def _promised_since(session: Session, swap: Swap) -> list[str]:
    """Holds of the old unit that other shows were given after it came out."""
    made = select(Hold.number).where(
        Hold.unit_id == swap.old_id,
        Hold.production_id != swap.production_id,
        Hold.returned_on.is_(None),
        Hold.created_at > swap.created_at,
    )
    return [f"hold {number}" for number in session.scalars(made.order_by(Hold.id))]


def _last_of(session: Session, swap: Swap) -> int:
    """Number of the last row that the swap has in the record of changes: the one that it was made with."""
    made = select(func.max(AuditEntry.id)).where(
        AuditEntry.kind == Swap.__tablename__, AuditEntry.thing_id == swap.id, AuditEntry.what == "made"
    )
    return session.scalar(made) or 0


def _mend(session: Session, swap: Swap, changed: set[Key]) -> str:
    later = [
        str(other.number)
        for other in session.scalars(
            select(Swap).where(Swap.id > swap.id, Swap.undone_at.is_(None)).order_by(Swap.id.desc())
        )
        if any(changed & rows for rows in rows_of(other.before))
    ]
    if later:
        return f"Take back {', then '.join(later)} first."
    new = _tag(session, swap.new_id)
    return f"Put that back as it was, then take {swap.number} back; or ask what can stand in for {new}."


def _named(session: Session, key: Key, entries: Sequence[AuditEntry]) -> str:
    table, number = key
    thing = session.get(RECORDS[table], number)
    values: dict[str, Any] = (entries[-1].before or {}) if thing is None else vars(thing)
    if table == Unit.__tablename__:
        what = words(columns_otherwise(entries))
        tag = entries[-1].tag or "a unit"
        name = f"{tag} ({what})" if what else tag
    elif table == Allotment.__tablename__:
        run = session.get_one(Run, values["run_id"])
        name = f"the feed of {session.get_one(Element, run.element_id).tag}/{run.number}"
    elif table == Placing.__tablename__:
        name = f"where {_tag(session, values['unit_id'])} stands"
    elif table == Patch.__tablename__:
        name = f"the address of {_tag(session, values['decoder_id'])}"
    else:
        word = table.removesuffix("s")
        name = f"{word} {values['number']}" if values.get("number") else f"a {word}"
    return name if thing is not None else f"{name}, which is gone,"


def _tag(session: Session, unit_id: int) -> str:
    return session.get_one(Unit, unit_id).tag
