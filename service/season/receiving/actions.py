"""Deliveries received into stock: sealed reels with a row each, or sound units. Nothing here commits."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import AlreadyExists, BadQuantity, BadRequest, NotFound, Refused
from service.season.receiving.schemas import DeliveryAsk
from service.season.records import Delivery, OrderLine
from service.stock.gear import GearKind, GearModel, Unit, UnitState
from service.stock.records import Cut, CutKind, Place, Reel, ReelState, Tape
from service.store.base import tag_key
from service.store.changing import find
from service.store.numbers import next_tags, prefix_of

# What stands on the first of its kind, where there is none yet to go by.
PREFIXES = {GearKind.SUPPLY: "PS", GearKind.DECODER: "DC", GearKind.BATTERY: "BT"}
REELS = "R"


@dataclass(frozen=True, slots=True)
class Received:
    """`is_repeat`: the note was received before, with the same, and nothing was done now."""

    delivery: Delivery
    is_repeat: bool


def receive(session: Session, ask: DeliveryAsk, by: str, today: date) -> Received:
    """What came is in stock: sealed reels of the line's tape, or sound units of its model, hired ones with
    their days. A note that is received again with the same changes nothing.

    Raises NotFound, BadRequest, Refused where more came than was ordered, AlreadyExists where the note was
    received with something else.
    """
    line = _held_line(session, ask)
    on = ask.received_on or today
    if on > today:
        raise BadRequest(f"{on} is still to come", "Give the day on which it came.")
    of_line = session.scalars(select(Delivery).where(Delivery.line_id == line.id).order_by(Delivery.id))
    known = next((one for one in of_line if tag_key(one.number) == tag_key(ask.number)), None)
    if known is not None:
        _refuse_another(session, ask, known)
        return Received(known, is_repeat=True)
    _refuse_too_many(line, ask.quantity)
    if ask.tags is not None:
        _refuse_tags(ask.tags, ask.quantity)
    delivery = Delivery(
        number=ask.number,
        line_id=line.id,
        quantity=ask.quantity,
        received_on=on,
        received_by=by,
        lot=(line.lot if ask.lot is None else ask.lot) if line.tape_id is not None else "",
        note=ask.note,
    )
    session.add(delivery)
    session.flush()
    place = None if ask.place is None else find(session, Place, ask.place, "place").id
    if line.tape_id is not None:
        _make_reels(session, line, delivery, place, ask.tags)
    else:
        _make_units(session, line, delivery, place, ask.tags)
    line.received_quantity += ask.quantity
    if line.received_quantity == line.quantity:
        line.received_on = on
    session.flush()
    return Received(delivery, is_repeat=False)


def _held_line(session: Session, ask: DeliveryAsk) -> OrderLine:
    """The order line, locked: two deliveries of it are received one after the other."""
    query = select(OrderLine).where(OrderLine.order_number == ask.order, OrderLine.line == ask.line)
    query = query.with_for_update().execution_options(populate_existing=True)
    line = session.scalars(query).one_or_none()
    if line is None:
        lines = select(OrderLine.line).where(OrderLine.order_number == ask.order).order_by(OrderLine.line)
        known = session.scalars(lines).all()
        if known:
            said = ", ".join(map(str, known[:10]))
            raise NotFound(f"{ask.order} has no line {ask.line}", f"Its lines are {said}.")
        raise NotFound(f"there is no order {ask.order}", "Enter the order first.")
    return line


def _refuse_another(session: Session, ask: DeliveryAsk, known: Delivery) -> None:
    """The same note may say again only what it said."""
    tags = _tags_of(session, known)
    said: dict[str, tuple[Any, Any]] = {"quantity": (known.quantity, ask.quantity)}
    if ask.received_on is not None:
        said["day"] = (known.received_on, ask.received_on)
    if ask.lot is not None:
        said["lot"] = (known.lot, ask.lot)
    if ask.tags is not None:
        said["tags"] = (" ".join(sorted(map(tag_key, tags))), " ".join(sorted(map(tag_key, ask.tags))))
    differs = [f"{name} {was} then, {now} now" for name, (was, now) in said.items() if was != now]
    if differs:
        raise AlreadyExists(
            f"{known.number} was received already for {ask.order} line {ask.line}: {'; '.join(differs)}",
            "If another delivery came, give its own note; if the first was wrong, undo it first.",
        )


def _tags_of(session: Session, delivery: Delivery) -> list[str]:
    reels = session.scalars(select(Reel.tag).where(Reel.delivery_id == delivery.id).order_by(Reel.id))
    units = session.scalars(select(Unit.tag).where(Unit.delivery_id == delivery.id).order_by(Unit.id))
    return [*reels, *units]


def _refuse_too_many(line: OrderLine, came: int) -> None:
    name, to_come = f"{line.order_number} line {line.line}", line.quantity - line.received_quantity
    if line.received_on is not None or to_come <= 0:
        when = f" on {line.received_on}" if line.received_on else ""
        raise Refused(f"all of {name} has come{when}", "Enter what came beyond it as an order of its own.")
    if came > to_come:
        raise Refused(
            f"{came} came of {name}, and {to_come} of {line.quantity} are still to come",
            f"Correct the quantity, or make the order {line.received_quantity + came} first.",
        )


def _refuse_tags(tags: Sequence[str], quantity: int) -> None:
    if len({tag_key(tag) for tag in tags}) != len(tags):
        raise BadQuantity("a tag comes twice", "Give each its own.")
    if len(tags) != quantity:
        raise BadQuantity(f"{len(tags)} tags for {quantity}", "Give a tag for each, or none.")


def _make_reels(
    session: Session, line: OrderLine, delivery: Delivery, place: int | None, tags: Sequence[str] | None
) -> None:
    tape = session.get_one(Tape, line.tape_id)
    pitches = line.reel_pitches or tape.reel_pitches
    if not pitches:
        raise BadRequest(
            f"how long a reel of {tape.tag} is is not known", "Give the order line its reel length first."
        )
    last = session.execute(
        select(Reel.tag, Reel.place_id)
        .where(Reel.tape_id == tape.id, Reel.parent_id.is_(None))
        .order_by(Reel.id.desc())
        .limit(1)
    ).first()
    if place is None:
        place = _where_sealed(session, tape) or (last.place_id if last is not None else None)
    prefix = prefix_of(last.tag) if last is not None else REELS
    reels = [
        Reel(
            tag=tag,
            tape_id=tape.id,
            lot=delivery.lot,
            place_id=place,
            state=ReelState.SEALED,
            received_pitches=pitches,
            left_pitches=pitches,
            received_on=delivery.received_on,
            delivery_id=delivery.id,
        )
        for tag in tags or next_tags(session, prefix, delivery.quantity)
    ]
    session.add_all(reels)
    session.flush()
    session.add_all(
        Cut(
            reel_id=reel.id,
            kind=CutKind.RECEIVED,
            change_pitches=pitches,
            cut_on=delivery.received_on,
            entered_by=delivery.received_by,
        )
        for reel in reels
    )
    session.flush()


def _where_sealed(session: Session, tape: Tape) -> int | None:
    """The place of the sealed reel of a tape that came last; one in use lies where it is worked with."""
    return session.scalars(
        select(Reel.place_id)
        .where(
            Reel.tape_id == tape.id,
            Reel.state == ReelState.SEALED,
            Reel.place_id.is_not(None),
            Reel.retired_on.is_(None),
        )
        .order_by(Reel.id.desc())
        .limit(1)
    ).first()


def _make_units(
    session: Session, line: OrderLine, delivery: Delivery, place: int | None, tags: Sequence[str] | None
) -> None:
    model = session.get_one(GearModel, line.model_id)
    last = session.execute(
        select(Unit.tag, Unit.home_id)
        .where(Unit.kind == model.kind)
        .order_by(Unit.model_id != model.id, Unit.id.desc())
        .limit(1)
    ).first()
    prefix = prefix_of(last.tag) if last is not None else PREFIXES[model.kind]
    session.add_all(
        Unit(
            tag=tag,
            kind=model.kind,
            model_id=model.id,
            state=UnitState.GOOD,
            home_id=place or (last.home_id if last is not None else None),
            hired_from=line.hire_from if line.is_hire else None,
            hired_until=line.hire_until if line.is_hire else None,
            delivery_id=delivery.id,
        )
        for tag in tags or next_tags(session, prefix, delivery.quantity)
    )
    session.flush()
