"""When a thing may be taken out of use: not while a running show depends on it; and how it comes back."""

from collections.abc import Iterable
from datetime import date

from sqlalchemy import ColumnElement, and_, func, or_, select
from sqlalchemy.orm import Session

from service.errors import InUse
from service.planning.records import Allotment, Placing, Plan, PlanStatus
from service.season.records import Hold, Production, ProductionStatus
from service.shows.records import Element, Run, ScenicUnit
from service.stock.gear import GearModel, Unit, UnitState
from service.stock.records import Outlet, Place, Reel, Tape, Wire
from service.store.audit import AuditEntry

OVER = (ProductionStatus.RETURNED, ProductionStatus.CANCELLED)


def retire_unit(session: Session, unit: Unit, today: date) -> None:
    """A supply, decoder, battery or box goes when nothing kept hangs on it and nobody is promised it."""
    refuse_unit_in_use(session, unit, today)
    unit.state = UnitState.RETIRED


def restore_unit(session: Session, unit: Unit) -> None:
    """It stands where it stood before it was retired; suspect where that is not on record."""
    if unit.state is not UnitState.RETIRED:
        return
    entries = session.scalars(
        select(AuditEntry)
        .where(AuditEntry.kind == Unit.__tablename__, AuditEntry.thing_id == unit.id)
        .order_by(AuditEntry.id.desc())
    )
    retired = next((entry for entry in entries if (entry.after or {}).get("state") == unit.state), None)
    before = {} if retired is None else retired.before or {}
    if "state" in before:
        unit.state = UnitState(before["state"])
        unit.state_note = before.get("state_note", unit.state_note)
        return
    unit.state = UnitState.SUSPECT
    unit.state_note = unit.state_note or "brought back; how it was before is not on record"


def refuse_unit_in_use(session: Session, unit: Unit, today: date) -> None:
    """Raises InUse while something kept hangs on it or somebody is promised it."""
    feeds = (
        select(Production.tag, Element.tag)
        .select_from(Allotment)
        .join(Plan, Allotment.plan_id == Plan.id)
        .join(Production, Plan.production_id == Production.id)
        .join(Run, Allotment.run_id == Run.id)
        .join(Element, Run.element_id == Element.id)
        .where(or_(Allotment.supply_id == unit.id, Allotment.decoder_id == unit.id), *_kept(today))
        .order_by(Element.tag_key)
    )
    fed = session.execute(feeds).all()
    if fed:
        elements = list(dict.fromkeys(element for _, element in fed))
        raise InUse(
            f"{unit.tag} feeds {_some(elements)} in the kept plan of {_some({p: 0 for p, _ in fed})}",
            "Move those feeds first; if it is broken, set its state to faulty instead.",
        )
    _refuse_promised(session, Hold.unit_id == unit.id, unit.tag, today)


def retire_outlet(session: Session, outlet: Outlet, today: date) -> None:
    plugged = (
        select(Unit.tag).join(Placing, Placing.unit_id == Unit.id).join(Plan, Placing.plan_id == Plan.id)
    )
    here = plugged.join(Production, Plan.production_id == Production.id).where(
        Placing.outlet_id == outlet.id, *_kept(today)
    )
    _refuse_any(
        session.scalars(here.order_by(Unit.tag_key)).all(), outlet.tag, "plugged into it", "Move them"
    )


def retire_model(session: Session, model: GearModel, today: date) -> None:
    """A model goes when no unit of it is left and nobody is promised one."""
    units = (
        select(Unit.tag).where(Unit.model_id == model.id, Unit.retired_on.is_(None)).order_by(Unit.tag_key)
    )
    _refuse_any(session.scalars(units).all(), model.tag, "of that model", "Retire them")
    _refuse_promised(session, Hold.model_id == model.id, model.tag, today)


def retire_tape(session: Session, tape: Tape, today: date) -> None:
    reels = select(Reel.tag).where(Reel.tape_id == tape.id, Reel.retired_on.is_(None), Reel.left_pitches > 0)
    _refuse_any(session.scalars(reels.order_by(Reel.tag_key)).all(), tape.tag, "of that tape", "Retire them")
    lit = (
        select(Element.tag)
        .join(Production)
        .where(Element.tape_id == tape.id, Element.retired_on.is_(None), Production.status.not_in(OVER))
    )
    _refuse_any(session.scalars(lit.order_by(Element.tag_key)).all(), tape.tag, "of that tape", "Change them")
    _refuse_promised(session, Hold.tape_id == tape.id, tape.tag, today)


def retire_reel(session: Session, reel: Reel, today: date) -> None:
    """Tape left on a reel would be lost without a word: it is scrapped or written off first."""
    if reel.left_pitches:
        raise InUse(
            f"{reel.tag} has tape left on it", "Cut or scrap what is left, or set its state to written off."
        )
    _refuse_promised(session, Hold.reel_id == reel.id, reel.tag, today)


def retire_place(session: Session, place: Place, today: date) -> None:
    """A place goes when nothing is there; that of a scenic unit goes with its unit."""
    unit = session.scalar(select(ScenicUnit.name).where(ScenicUnit.place_id == place.id))
    if unit is not None:
        raise InUse(
            f"{place.tag} is the scenic unit {unit}", "Take that scenic unit out; its place goes too."
        )
    _refuse_there(session, place, today)


def _refuse_there(session: Session, place: Place, today: date) -> None:
    inside = select(Place.tag).where(Place.parent_id == place.id, Place.retired_on.is_(None))
    _refuse_any(session.scalars(inside.order_by(Place.tag_key)).all(), place.tag, "inside it", "Move them")
    for record, column in ((Unit, Unit.home_id), (Reel, Reel.place_id), (Outlet, Outlet.place_id)):
        here = select(record.tag).where(column == place.id, record.retired_on.is_(None))
        _refuse_any(session.scalars(here.order_by(record.tag_key)).all(), place.tag, "there", "Move them")
    lit = (
        select(Element.tag)
        .join(Production)
        .where(Element.place_id == place.id, Element.retired_on.is_(None), Production.status.not_in(OVER))
    )
    _refuse_any(session.scalars(lit.order_by(Element.tag_key)).all(), place.tag, "there", "Move them")
    stands = (
        select(Unit.tag)
        .join(Placing, Placing.unit_id == Unit.id)
        .join(Plan, Placing.plan_id == Plan.id)
        .join(Production, Plan.production_id == Production.id)
        .where(Placing.place_id == place.id, *_kept(today))
    )
    _refuse_any(session.scalars(stands.order_by(Unit.tag_key)).all(), place.tag, "there", "Move them")


def retire_wire(session: Session, wire: Wire, _today: date) -> None:
    """The last wire of a gauge stays while leads of a show that is not over are made of it."""
    others = select(func.count()).where(Wire.gauge == wire.gauge, Wire.id != wire.id)
    if session.scalar(others):
        return
    led = (
        select(Element.tag)
        .join(Production)
        .join(Run, Run.element_id == Element.id)
        .where(Run.lead_gauge == wire.gauge, Element.retired_on.is_(None), Production.status.not_in(OVER))
        .distinct()
        .order_by(Element.tag)
    )
    _refuse_any(session.scalars(led).all(), wire.gauge, "on a lead of it", "Change those leads")


def retire_element(session: Session, element: Element, today: date) -> None:
    """An element goes when nothing is promised to feed it: it is cut from the show first."""
    fed = (
        select(func.count())
        .select_from(Allotment)
        .join(Plan, Allotment.plan_id == Plan.id)
        .join(Production, Plan.production_id == Production.id)
        .join(Run, Allotment.run_id == Run.id)
        .where(Run.element_id == element.id, *_kept(today))
    )
    if session.scalar(fed):
        raise InUse(
            f"{element.tag} is fed in the kept plan",
            "Set its status to cut from show and plan again; then its gear is free.",
        )


def free_scenic_unit(session: Session, unit: ScenicUnit, today: date) -> None:
    """A scenic unit goes with the place that it is, once nothing is on it."""
    on_it = select(Element.tag).where(Element.scenic_unit_id == unit.id)
    _refuse_any(session.scalars(on_it.order_by(Element.tag_key)).all(), unit.name, "on it", "Move them")
    place = session.get_one(Place, unit.place_id)
    _refuse_there(session, place, today)
    place.retired_on = today


def retire_production(session: Session, production: Production, today: date) -> None:
    """A production goes once it is over: returned or cancelled, with nothing of its still out."""
    if production.status not in OVER:
        raise InUse(
            f"{production.tag} is {production.status.value}", "Set its status to returned or cancelled first."
        )
    if production.status is ProductionStatus.CANCELLED:
        return
    out = (
        select(Unit.tag)
        .join(Hold, Hold.unit_id == Unit.id)
        .where(Hold.production_id == production.id, Hold.returned_on.is_(None), Hold.from_on <= today)
    )
    _refuse_any(session.scalars(out.order_by(Unit.tag_key)).all(), production.tag, "still out", "Return them")


def _kept(today: date) -> tuple[ColumnElement[bool], ...]:
    """That a plan is the one the crew works from, of a show that is not over."""
    return (Plan.status == PlanStatus.KEPT, Production.status.not_in(OVER), Plan.until_on > today)


def _refuse_promised(session: Session, thing: ColumnElement[bool], tag: str, today: date) -> None:
    live = and_(
        thing,
        Hold.returned_on.is_(None),
        or_(Hold.until_on.is_(None), Hold.until_on > today),
        Production.status.not_in(OVER),
    )
    shows = session.scalars(
        select(Production.tag).join(Hold, Hold.production_id == Production.id).where(live).distinct()
        .order_by(Production.tag)
    ).all()  # fmt: skip
    if shows:
        raise InUse(f"{tag} is promised to {_some(shows)}", "End those holds first.")


def _refuse_any(tags: Iterable[str], about: str, how: str, what: str) -> None:
    found = list(tags)
    if found:
        raise InUse(f"{_some(found)} {'is' if len(found) == 1 else 'are'} {how} ({about})", f"{what} first.")


def _some(tags: Iterable[str]) -> str:
    """
    >>> _some(["A", "B"]), _some(["A", "B", "C", "D", "E", "F"])
    ('A, B', 'A, B, C, D and 2 more')
    """
    found = list(tags)
    return ", ".join(found) if len(found) <= 5 else f"{', '.join(found[:4])} and {len(found) - 4} more"
