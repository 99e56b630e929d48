"""The rows that a swap writes: the plan, the holds, the fault, where the units are, the note."""

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from sqlalchemy import Select, func, or_, select
from sqlalchemy.orm import Session

from service.errors import BadRequest
from service.planning.records import Allotment, Patch, Placing
from service.planning.swapping.acting.remembering import Memory
from service.planning.swapping.carrying import Exchange
from service.planning.swapping.reading import Question
from service.planning.swapping.schemas import SwapAsk
from service.planning.swapping.standing import Standing
from service.season.records import Hold
from service.shows.faults import Fault
from service.shows.upkeep import Note
from service.stock.gear import Unit, UnitState
from service.stock.records import Place, PlaceKind
from service.store.numbers import next_numbers
from service.store.types import utc_now

SOUND = (UnitState.GOOD, UnitState.SUSPECT)


@dataclass(frozen=True, slots=True)
class Act:
    """One swap on its way: the units are held until it ends."""

    question: Question
    ask: SwapAsk
    memory: Memory
    old: Unit
    new: Unit
    standing: Standing
    exchange: Exchange
    by: str

    @property
    def today(self) -> date:
        return self.question.claims.today

    @property
    def is_now(self) -> bool:
        """The show has its gear today; else the new unit is promised, and goes out with the rest."""
        return self.question.day == self.today


def store_plan(act: Act) -> None:
    """Feeds, places and addresses name the new unit; what stood idle of it in the plan goes."""
    session, memory, plan_id = act.question.session, act.memory, act.question.plan.id
    idle = (
        *session.scalars(select(Placing).where(Placing.plan_id == plan_id, Placing.unit_id == act.new.id)),
        *session.scalars(select(Patch).where(Patch.plan_id == plan_id, Patch.decoder_id == act.new.id)),
    )
    for row in idle:
        memory.take_out(row)
    after = act.exchange.rows
    feeds = select(Allotment).where(
        Allotment.plan_id == plan_id,
        or_(Allotment.supply_id == act.old.id, Allotment.decoder_id == act.old.id),
    )
    for feed in session.scalars(feeds.order_by(Allotment.id)):
        memory.change(feed, **_named_in(after.allotments.get(feed.run_id), feed, act))
    for placing in session.scalars(
        select(Placing).where(Placing.plan_id == plan_id, Placing.unit_id == act.old.id)
    ):
        memory.change(placing, unit_id=act.new.id)
    patches = {patch.id: patch for patch in after.patches if patch.decoder_id == act.new.id}
    listening = select(Patch).where(Patch.plan_id == plan_id, Patch.decoder_id == act.old.id)
    for patch in session.scalars(listening.order_by(Patch.id)):
        to = patches[patch.id]
        memory.change(patch, decoder_id=to.decoder_id, port=to.port, footprint=to.footprint)
    session.flush()


def _named_in(row: Any, feed: Allotment, act: Act) -> dict[str, Any]:
    if row is None or act.new.id not in (row.supply_id, row.decoder_id):
        # Of an element that has left the show: the record goes with the unit, number for number.
        is_supply = feed.supply_id == act.old.id
        return {"supply_id": act.new.id} if is_supply else {"decoder_id": act.new.id}
    values = asdict(row)
    if act.ask.despite_limits:
        values["override_reason"] = act.ask.despite_limits
    return values


def store_hold(act: Act) -> Hold:
    """The new unit's hold, issued where the show has its gear today; the old one's ended. It lasts as long as
    the show's need: where somebody else has the unit from some day on, that clash is there to be seen."""
    session, memory = act.question.session, act.memory
    show, plan, day = act.question.production, act.question.plan, act.question.day
    own = select(Hold).where(Hold.production_id == show.id, Hold.returned_on.is_(None)).order_by(Hold.id)
    hold = session.scalars(
        own.where(Hold.unit_id == act.new.id, Hold.until_on > day).with_for_update()
    ).first()
    if hold is None:
        hold = memory.make(
            Hold(
                number=next_numbers(session, Hold.number, "H")[0],
                production_id=show.id,
                unit_id=act.new.id,
                quantity=1,
                from_on=day,
                until_on=plan.until_on,
                drawn_from_id=_promise(act, own),
                note=f"in for {act.old.tag}",
            )
        )
    elif hold.from_on > day:
        memory.change(hold, from_on=day)
    if act.is_now and hold.issued_on is None:
        _set(act, hold, issued_on=act.today, issued_by=act.by)
    if not act.ask.keep_old:
        for given in session.scalars(own.where(Hold.unit_id == act.old.id).with_for_update()):
            if given.from_on > act.today and given.issued_on is None:
                memory.take_out(given)
            else:
                memory.change(given, returned_on=act.today, returned_by=act.by)
    return hold


def _set(act: Act, thing: Any, **values: Any) -> None:
    """Of a row that was made just now nothing need be remembered."""
    if thing in act.memory.made:
        for name, value in values.items():
            setattr(thing, name, value)
    else:
        act.memory.change(thing, **values)


def _promise(act: Act, own: Select[Hold]) -> int | None:
    """The show's promise of that model that is not drawn yet."""
    session, day = act.question.session, act.question.day
    for promise in session.scalars(
        own.where(
            Hold.model_id == act.new.model_id, Hold.from_on <= day, Hold.until_on > day
        ).with_for_update()
    ):
        drawn = session.scalar(select(func.count()).select_from(Hold).where(Hold.drawn_from_id == promise.id))
        if (promise.quantity or 0) > (drawn or 0):
            return int(promise.id)
    return None


def fault_of(session: Session, unit: Unit) -> Fault | None:
    """The newest fault of a unit that nobody has mended."""
    is_open = select(Fault).where(Fault.unit_id == unit.id, Fault.mended_on.is_(None))
    return session.scalars(is_open.order_by(Fault.id.desc())).first()


def store_fault(act: Act) -> Fault | None:
    """What was found wrong, on record; a fault that is open already is told what it was swapped for."""
    session, old, ask = act.question.session, act.old, act.ask
    if ask.keep_old:
        return None
    if not ask.found:
        fault = fault_of(session, old)
        if fault is not None:
            act.memory.change(fault, swapped_for_id=act.new.id)
            return fault
        if old.state in SOUND:
            raise BadRequest(
                f"{old.tag} is {old.state.value}, and nobody said what is wrong with it",
                "Say what was found, or that it is only exchanged.",
            )
    made: Fault = act.memory.make(
        Fault(
            number=next_numbers(session, Fault.number, "FL")[0],
            unit_id=old.id,
            found_on=act.today,
            found_by=act.by,
            symptom=ask.found or old.state_note or old.state.value,
            fix=f"{act.new.tag} put in its place",
            swapped_for_id=act.new.id,
        )
    )
    session.flush()
    return made


def store_whereabouts(act: Act) -> None:
    """The new unit stands where the old one stood; the old one lies in quarantine."""
    session, memory, house = act.question.session, act.memory, act.question.house
    placed = act.question.rows.placings.get(act.old.id)
    place = house.places.get(placed.place_id) if placed is not None else None
    if act.is_now:
        memory.change(
            act.new,
            where_note=f"out with {act.question.production.tag}",
            seen_place_id=place.id if place else None,
            seen_on=act.today,
        )
    act.new.changed_at = utc_now()  # who waits for it must see that it went
    if act.ask.keep_old:
        return
    lies = session.scalars(
        select(Place)
        .where(Place.kind == PlaceKind.QUARANTINE, Place.retired_on.is_(None))
        .order_by(Place.tag_key)
    ).first()
    memory.change(
        act.old,
        where_note="" if lies else PlaceKind.QUARANTINE.value,
        seen_place_id=lies.id if lies else None,
        seen_on=act.today,
    )
    if act.ask.found:
        memory.change(act.old, state=UnitState(act.ask.state), state_note=act.ask.found)


def store_note(act: Act, sets: Iterable[str]) -> Note:
    """For whoever works the show next."""
    session, old, new = act.question.session, act.old, act.new
    said = [f"{new.tag} is in for {old.tag}" + (f": {act.ask.found}" if act.ask.found else "")]
    said += sets
    if act.standing.until_on is not None:
        said.append(f"{new.tag} may stay up to, not on, {act.standing.until_on.isoformat()}")
    if not act.ask.keep_old:
        lies = session.get(Place, old.seen_place_id or 0)
        said.append(f"{old.tag} lies at {lies.tag if lies else old.where_note}")
    said += [f"{code} has {old.tag} in its kept plan too" for code, _ in act.question.others]
    note: Note = act.memory.make(
        Note(
            number=next_numbers(session, Note.number, "N")[0],
            about_key=act.question.production.tag_key,
            text=(". ".join(said) + ".")[:2000],
            written_by=act.by,
        )
    )
    session.flush()
    return note
