"""The list of deliveries, each with the reels or units that came with it."""

from typing import Any

from sqlalchemy import func

from service.season.records import Delivery, OrderLine
from service.stock.gear import GearModel, Unit
from service.stock.records import Reel, Tape
from service.store.listing import Child, Field, Filter, Listing, outer

_model, _unit = GearModel.__table__, Unit.__table__


def _tags(rows: list[dict[str, Any]]) -> str:
    return " ".join(row["tag"] for row in rows)


DELIVERIES = Listing(
    plural="deliveries",
    one="a delivery",
    doc="What came of order lines, each with its delivery note.",
    source=outer(
        Delivery.__table__.join(OrderLine.__table__),
        (_model, OrderLine.model_id == _model.c.id),
        (Tape, OrderLine.tape_id == Tape.id),
    ),
    id=Delivery.id,
    version=Delivery.version,
    key=Delivery.id,
    order=(Delivery.id,),
    is_tagged=False,
    fields=(
        Field("id", Delivery.id, "number in the store; its address"),
        Field("number", Delivery.number, "number of the delivery note"),
        Field("order_number", OrderLine.order_number, "order"),
        Field("line", OrderLine.line, "line of the order"),
        Field("what", func.coalesce(_model.c.tag, Tape.tag), "code of the model or tape", is_blank=False),
        Field("quantity", Delivery.quantity, "pieces, or reels, that came"),
        Field("received_on", Delivery.received_on, "day it came"),
        Field("received_by", Delivery.received_by, "who took it in"),
        Field("lot", Delivery.lot, "lot on the reels"),
        Field("note", Delivery.note, "note"),
        Field("changed_at", Delivery.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("number", Delivery.number, "number of the delivery note, exactly"),
        Filter("order_number", OrderLine.order_number, "order, exactly"),
        Filter(
            "what", func.coalesce(_model.c.tag_key, Tape.tag_key), "code of the model or tape", is_tag=True
        ),
    ),
    children=(
        Child(
            name="reels",
            doc="reels that came",
            source=Reel,
            id=Reel.id,
            parent=Reel.delivery_id,
            number=Reel.id,
            fields=(Field("tag", Reel.tag, "tag of the reel"),),
            text=_tags,
        ),
        Child(
            name="units",
            doc="units that came",
            source=_unit,
            id=_unit.c.id,
            parent=_unit.c.delivery_id,
            number=_unit.c.id,
            fields=(Field("tag", _unit.c.tag, "tag of the unit"),),
            text=_tags,
        ),
    ),
)
