"""What must hold of the books after every act, said without the code that keeps them."""

from collections import Counter
from typing import Any

from sqlalchemy import func, select, text
from sqlalchemy.orm import Session

from service.planning.records import Allotment, Placing, Plan, PlanStatus
from service.season.records import Hold
from service.stock.gear import Unit
from service.stock.records import Cut, Reel
from service.store.audit import AuditEntry
from service.tables import METADATA

# Models of gear go on record under the kind that they are of.
RECORDS = {
    table.name: table
    for table in METADATA.sorted_tables
    if "version" in table.c and table.name != "gear_models"
}


def photo(session: Session) -> dict[str, Any]:
    """Everything that is stored, table by table."""
    return {
        table.name: sorted(map(repr, session.execute(select(table))))
        for table in METADATA.sorted_tables
        if table.name != "audit"
    } | {"audit": session.execute(text("SELECT count(*), max(id) FROM audit")).one()}


def balances(session: Session) -> dict[str, int]:
    """What is left of every reel, after looking that its rows say the same and never less than nothing."""
    sums = dict(
        session.execute(
            select(Cut.reel_id, func.sum(Cut.change_pitches))
            .where(Cut.is_disputed.is_(False))
            .group_by(Cut.reel_id)
        ).all()
    )
    found = {}
    for number, tag, left in session.execute(select(Reel.id, Reel.tag, Reel.left_pitches)):
        assert left == int(sums.get(number, 0)), f"{tag} says {left}, its rows {sums.get(number, 0)}"
        assert left >= 0, f"{tag} has {left}"
        found[tag] = left
    return found


def faults(session: Session) -> list[str]:
    """Whatever cannot be so."""
    return [*_twice_out(session), *_overdrawn(session), *_swapped_out(session), *_unrecorded(session)]


def _twice_out(session: Session) -> list[str]:
    out = session.execute(
        select(Unit.tag, Unit.state)
        .join(Hold, Hold.unit_id == Unit.id)
        .where(Hold.issued_on.is_not(None), Hold.returned_on.is_(None))
    ).all()
    times = Counter(tag for tag, _ in out)
    return [f"{tag} is out {count} times" for tag, count in times.items() if count > 1]


def _overdrawn(session: Session) -> list[str]:
    """Units drawn from a promise beyond what was promised."""
    drawn = Counter(i for i in session.scalars(select(Hold.drawn_from_id)) if i is not None)
    promised = dict(session.execute(select(Hold.id, Hold.quantity).where(Hold.id.in_(drawn))).all())
    return [f"{n} drawn from a promise of {promised[i]}" for i, n in drawn.items() if n > (promised[i] or 0)]


def _swapped_out(session: Session) -> list[str]:
    """Gear that a kept plan feeds from though it stands nowhere in that plan."""
    rows = session.execute(
        select(Plan.id, Allotment.supply_id, Placing.id)
        .join(Plan, Plan.id == Allotment.plan_id)
        .outerjoin(Placing, (Placing.plan_id == Plan.id) & (Placing.unit_id == Allotment.supply_id))
        .where(Plan.status == PlanStatus.KEPT, Allotment.supply_id.is_not(None))
        .distinct()
    )
    return [
        f"plan {plan} feeds from unit {unit}, which stands nowhere" for plan, unit, at in rows if at is None
    ]


def _unrecorded(session: Session) -> list[str]:
    """Things whose version does not say how often they were changed on record.

    SQLite may give the number of a thing that was taken out to another; what came before is the first one's.
    """
    told: Counter[tuple[str, int | None]] = Counter()
    entries = select(AuditEntry.kind, AuditEntry.thing_id, AuditEntry.what).order_by(AuditEntry.id)
    for kind, number, what in session.execute(entries):
        told[kind, number] = 0 if what == "removed" else told[kind, number] + 1
    wrong = []
    for name, table in RECORDS.items():
        for number, version in session.execute(select(table.c.id, table.c.version)):
            if told[name, number] != version:
                wrong.append(f"{name} {number} is at version {version}, {told[name, number]} on record")
    return wrong
