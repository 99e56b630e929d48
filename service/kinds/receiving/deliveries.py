"""The sheet of deliveries, and one undone while nothing of it was used."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import Session, aliased

from service.errors import InUse
from service.kinds.columns import Column, Form, day, tag, text, whole
from service.kinds.kind import Kind, Part, Values
from service.kinds.row import Row
from service.kinds.writing.context import Context, Index
from service.kinds.writing.known import Known
from service.kinds.writing.references import references
from service.season.receiving.queries import DELIVERIES as LISTING
from service.season.records import Delivery, OrderLine
from service.stock.gear import Unit, UnitState
from service.stock.ledger.reels import Entry, held_by_id, write
from service.stock.records import Cut, CutKind, Reel, ReelState


def deliveries(known: Known) -> Index[int]:
    return known.others("delivery", _read)


def _read(session: Session) -> dict[str, int]:
    rows = session.execute(
        select(Delivery.id, Delivery.number, OrderLine.order_number, OrderLine.line).join(OrderLine)
    )
    return {f"{number}\t{order}\t{line}".upper(): i for i, number, order, line in rows}


def load_deliveries(rows: list[Row], ctx: Context, known: Known) -> None:
    """Deliveries, and the reels and units that came with them: those are in sheets of their own."""
    kept: list[tuple[dict[str, Any], list[int], list[int]]] = []
    for row in rows:
        if not ctx.claim_name(deliveries(known), row, "delivery"):
            continue
        line = ctx.named(
            known.orders, row, "order", f"{row.text('order')}\t{row.whole('line')}",
            f"{row.text('order')} line {row.whole('line')}",
        )  # fmt: skip
        reels = [ctx.named(known.reels, row, "reels", name) for name in row.names("reels")]
        units = [ctx.named(known.units, row, "units", name) for name in row.names("units")]
        values = {
            "id": row.thing_id,
            "number": row.text("delivery"),
            "line_id": line,
            "quantity": row.whole("count"),
            "received_on": row.day("received_on"),
            "received_by": row.text("received_by"),
            "lot": row.text("lot"),
            "note": row.text("note"),
        }
        kept.append((values, [r.id for r in reels if r is not None], [u.id for u in units if u is not None]))
    ids = ctx.put(Delivery, [values for values, _, _ in kept])
    for record, which in ((Reel, 1), (Unit, 2)):
        came = [
            {"id": thing, "delivery_id": i}
            for i, each in zip(ids, kept, strict=True)
            for thing in each[which]
        ]
        ctx.put(record, came)


def undo_delivery(session: Session, delivery: Delivery, today: date) -> None:
    """What came goes again: its reels are emptied by a row that says so, and with its units retired. Raises
    InUse once anything of it was cut and not taken back, promised, placed or changed."""
    line = session.scalars(select(OrderLine).where(OrderLine.id == delivery.line_id).with_for_update()).one()
    reels = session.scalars(select(Reel.id).where(Reel.delivery_id == delivery.id)).all()
    held = held_by_id(session, reels)
    units = session.scalars(
        select(Unit).where(Unit.delivery_id == delivery.id).order_by(Unit.id).with_for_update()
    ).all()
    _refuse_used_reels(session, [one.reel for one in held])
    _refuse_used_units(session, units)
    entry = Entry(str(session.info.get("by", "")), today, f"delivery {delivery.number} undone")
    for one in held:
        write(session, one, CutKind.RECOUNT, -one.left, entry)
        one.reel.retired_on, one.reel.delivery_id = today, None
    for unit in units:
        unit.state, unit.state_note = UnitState.RETIRED, entry.note
        unit.retired_on, unit.delivery_id = today, None
    line.received_quantity = max(0, line.received_quantity - delivery.quantity)
    line.received_on = None
    session.flush()


def _refuse_used_reels(session: Session, reels: Sequence[Reel]) -> None:
    """A reel is whole again where every row but the one it came with is taken back; it stands open then."""
    ids = [reel.id for reel in reels]
    back = aliased(Cut)
    is_back = or_(Cut.undoes_id.is_not(None), select(back.id).where(back.undoes_id == Cut.id).exists())
    rows: dict[int, list[bool]] = {}
    for reel_id, was_taken_back in session.execute(select(Cut.reel_id, is_back).where(Cut.reel_id.in_(ids))):
        rows.setdefault(reel_id, []).append(bool(was_taken_back))
    for reel in reels:
        were_taken_back = rows.get(reel.id, [])
        whole = (ReelState.SEALED, ReelState.OPEN) if any(were_taken_back) else (ReelState.SEALED,)
        if reel.retired_on is not None or reel.state not in whole or were_taken_back.count(False) > 1:
            raise InUse(
                f"{reel.tag} came with it and is {'retired' if reel.retired_on else reel.state.value}",
                "Take back what was done with it first, or scrap, recount or retire what is wrong.",
            )
    _refuse_named(session, Reel, ids)


def _refuse_used_units(session: Session, units: Sequence[Unit]) -> None:
    for unit in units:
        if unit.state is UnitState.RETIRED:
            raise InUse(f"{unit.tag} came with it and is retired", "Retire the others one by one.")
    _refuse_named(session, Unit, [unit.id for unit in units])


def _refuse_named(session: Session, record: type[Reel | Unit], ids: Sequence[int]) -> None:
    in_use = references(session, record, ids, frozenset({Cut.__tablename__})) if ids else ""
    if in_use:
        raise InUse(f"what came with it is referred to by {in_use}", "End those first, then undo it.")


def _named(field: str) -> Any:
    def spread(parts: Sequence[Values]) -> Values:
        return {field: tuple(str(part["tag"]) for part in parts)}

    return spread


def _tags_of(field: str) -> Any:
    def read(row: Mapping[str, Any]) -> object:
        return tuple(each["tag"] for each in row[field])

    return read


def _came(name: str, one: str) -> tuple[Column, Part]:
    """The tags of what came, in one cell of a sheet and as rows of the API."""
    field = name.lower()
    column = Column(
        name, Form.LIST, f"Tags of the {field} that came", part=field, read=_tags_of(field), is_fixed=True
    )
    return column, Part(
        field, f"{field} that came", (tag("Tag", f"Tag of the {one}", required=True),), _named(field)
    )


_REELS, _UNITS = _came("Reels", "reel"), _came("Units", "unit")

DELIVERIES = Kind(
    "deliveries",
    "what came of an order line with one delivery note",
    (
        text("Delivery", "Number of the delivery note", 40, required=True, example="DN-118",
             also=("delivery note", "note number"), field="number", is_fixed=True),
        text("Order", "Number of the order", 40, required=True, example="PO-2611-1", also=("po",),
             field="order_number", is_fixed=True),
        whole("Line", "Line of the order", 1, 1_000, required=True, example="1", is_fixed=True),
        whole("Count", "Reels or pieces that came", 1, 10_000, required=True, example="2", field="quantity",
              is_fixed=True),
        day("Received on", "Day it came", required=True, example="2026-12-18"),
        text("Received by", "Who took it in", 80),
        text("Lot", "Lot on the reels", 40, example="C-26F"),
        _REELS[0],
        _UNITS[0],
        text("Note", "Anything to know"),
    ),
    load_deliveries,
    "delivery",
    ("delivery", "order", "line"),
    ("delivery", "delivery notes"),
    listing=LISTING,
    record=Delivery,
    parts=(_REELS[1], _UNITS[1]),
    retire=undo_delivery,
    is_written=False,
)  # fmt: skip
