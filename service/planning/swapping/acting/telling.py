"""Swaps on record, as they are told."""

from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from service.errors import NotFound
from service.planning.records import Allotment, Plan
from service.planning.swapping.records import Swap
from service.planning.swapping.schemas import CAUTIONS, LabelChangeOut, SwapOut
from service.planning.swapping.setting import numbered
from service.season.records import Hold, Production
from service.shows.faults import Fault
from service.shows.records import Element, Run
from service.shows.upkeep import Note
from service.stock.gear import GearKind, Unit
from service.store.base import tag_key

_old, _new = aliased(Unit), aliased(Unit)


def find_swap(session: Session, number: str, is_held: bool = False) -> Swap:
    """By its number on paper, S-004, or 4. Raises NotFound."""
    wanted = f"S-{int(number):03}" if number.isdecimal() else tag_key(number)
    query = select(Swap).where(Swap.number == wanted)
    found = session.scalars(query.with_for_update() if is_held else query).one_or_none()
    if found is None:
        raise NotFound(f"there is no swap {number}", "List the swaps to see their numbers.")
    return found


def swap_that_stands(session: Session, old: str, new: str) -> Swap | None:
    """The newest by which the one unit stands in for the other, by their tags; None: there is none, or it was
    taken back."""
    was, now = aliased(Unit), aliased(Unit)
    return session.scalars(
        select(Swap)
        .join(was, was.id == Swap.old_id)
        .join(now, now.id == Swap.new_id)
        .where(was.tag_key == tag_key(old), now.tag_key == tag_key(new), Swap.undone_at.is_(None))
        .order_by(Swap.id.desc())
        .limit(1)
    ).one_or_none()


def labels_left(session: Session, swap: Swap) -> list[LabelChangeOut]:
    """The labels that the swap changed, by run, while it stands."""
    if swap.undone_at is not None:
        return []
    rows: list[dict[str, Any]] = swap.before["changed"]
    was = {row["id"]: row["was"] for row in rows if row["table"] == Allotment.__tablename__}
    old, new = session.get_one(Unit, swap.old_id), session.get_one(Unit, swap.new_id)
    feeds = session.execute(
        select(Allotment, Element.tag, Run.number)
        .join(Run, Run.id == Allotment.run_id)
        .join(Element, Element.id == Run.element_id)
        .where(Allotment.id.in_(was))
        .order_by(Element.tag_key, Run.number)
    ).all()
    which = "first_channel" if old.kind == GearKind.DECODER else "output"
    told = []
    for feed, element, number in feeds:
        now = getattr(feed, which) or 1
        before = was[feed.id].get(which, now) or 1
        told.append(
            LabelChangeOut(
                thing=f"{element}/{number}",
                before=f"{old.tag} {numbered(old.kind, before, feed.channels)}",
                after=f"{new.tag} {numbered(old.kind, now, feed.channels)}",
            )
        )
    return told


def caution_of(session: Session, swap: Swap) -> str:
    """What to mind while it is done by hand."""
    return CAUTIONS[session.get_one(Unit, swap.old_id).kind]


def said_to_the_next(session: Session, swap: Swap) -> str:
    """The note that the swap left for the next crew; blank once it was taken back."""
    note = session.get(Note, swap.note_id) if swap.note_id else None
    return note.text if note is not None else ""


def swap_out(session: Session, swap: Swap) -> SwapOut:
    row = session.execute(
        select(
            Production.tag.label("production"), Plan.number.label("plan"), _old.tag.label("old"),
            _new.tag.label("new"), Fault.number.label("fault"), Note.number.label("note"),
        )
        .select_from(Swap)
        .join(Production, Production.id == Swap.production_id)
        .join(Plan, Plan.id == Swap.plan_id)
        .join(_old, _old.id == Swap.old_id)
        .join(_new, _new.id == Swap.new_id)
        .outerjoin(Fault, Fault.id == Swap.fault_id)
        .outerjoin(Note, Note.id == Swap.note_id)
        .where(Swap.id == swap.id)
    ).one()  # fmt: skip
    return SwapOut(
        number=swap.number or "",
        **row._mapping,
        hold=_hold(session, swap),
        swapped_on=swap.swapped_on,
        swapped_by=swap.swapped_by,
        why=swap.why,
        undone_at=swap.undone_at,
        undone_by=swap.undone_by,
    )


def _hold(session: Session, swap: Swap) -> str | None:
    """The number of the new unit's hold, while the swap stands."""
    if swap.undone_at is not None:
        return None
    rows: list[dict[str, Any]] = [*swap.before["made"], *swap.before["changed"]]
    ids = [row["id"] for row in rows if row["table"] == Hold.__tablename__]
    query = select(Hold.number).where(Hold.id.in_(ids), Hold.unit_id == swap.new_id)
    return session.scalars(query.order_by(Hold.id)).first()
