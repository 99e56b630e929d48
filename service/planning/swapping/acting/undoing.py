"""A swap taken back, where nothing that it changed was changed since."""

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import Refused
from service.planning.records import Allotment, Plan, PlanStatus
from service.planning.swapping.acting.remembering import RECORDS, changed_since, take_back
from service.planning.swapping.acting.telling import find_swap
from service.planning.swapping.records import Swap
from service.season.records import Hold
from service.shows.records import Element, Run
from service.stock.gear import Unit
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
            "Swap the units back in the plan that is kept now.",
        )
    changed = changed_since(session, swap.before, lambda table, number: _named(session, table, number))
    changed += _promised_since(session, swap)
    if changed:
        raise Refused(
            f"{swap.number} cannot be taken back: {'; '.join(changed)} changed since",
            "Look at what was changed, and swap the units back instead.",
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


def _named(session: Session, table: str, number: int) -> str:
    thing = session.get(RECORDS[table], number)
    word = table.replace("_", " ").removesuffix("s").removesuffix("e" if table.endswith("ches") else "")
    if thing is None:
        return f"{word} {number}, which is gone,"
    if isinstance(thing, Unit):
        return thing.tag
    if isinstance(thing, Allotment):
        run = session.get_one(Run, thing.run_id)
        return f"the feed of {session.get_one(Element, run.element_id).tag}/{run.number}"
    return f"{word} {getattr(thing, 'number', None) or number}"
