"""What is on order and still to come, and what came lately."""

from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.season.receiving.queries import DELIVERIES
from service.season.records import Delivery, OrderLine
from service.stock.gear import GearModel
from service.stock.records import Tape
from service.store import listing as lists
from service.store.listing import Row

LATELY = 12


@dataclass(frozen=True, slots=True)
class ToCome:
    """An order line of which something is still to come, in whole reels or pieces. `reel_m`: of each reel."""

    order: str
    line: int
    what: str
    is_tape: bool
    ordered: int
    to_come: int
    due_on: date | None
    lot: str
    reel_m: float | None
    is_hire: bool

    @property
    def key(self) -> str:
        """How a form names the line."""
        return f"{self.order} · {self.line}"


def to_come(session: Session) -> list[ToCome]:
    """By the day it is due; without a day last."""
    model = GearModel.__table__.c
    pitches = func.coalesce(OrderLine.reel_pitches, Tape.reel_pitches)
    rows = session.execute(
        select(OrderLine, func.coalesce(model.tag, Tape.tag), pitches * Tape.pitch_um)
        .outerjoin(GearModel.__table__, model.id == OrderLine.model_id)
        .outerjoin(Tape, Tape.id == OrderLine.tape_id)
        .where(OrderLine.received_on.is_(None), OrderLine.quantity > OrderLine.received_quantity)
        .order_by(
            func.coalesce(OrderLine.due_on, date.max), OrderLine.order_number, OrderLine.line, OrderLine.id
        )
    ).all()
    return [
        ToCome(
            order=line.order_number,
            line=line.line,
            what=what,
            is_tape=line.tape_id is not None,
            ordered=line.quantity,
            to_come=line.quantity - line.received_quantity,
            due_on=line.due_on,
            lot=line.lot,
            reel_m=None if reel_um is None else reel_um / 1e6,
            is_hire=line.is_hire,
        )
        for line, what, reel_um in rows
    ]


def came_lately(session: Session) -> list[Row]:
    """The latest deliveries, each with the reels or units that came with it, the newest first."""
    ids = session.scalars(select(Delivery.id).order_by(Delivery.id.desc()).limit(LATELY)).all()
    return [row for row, _ in reversed(lists.of_ids(session.connection(), DELIVERIES, ids))]


def delivery_of(session: Session, number: int) -> tuple[Row, int]:
    """One delivery and its version. Raises NotFound."""
    return lists.one(session.connection(), DELIVERIES, number)
