"""The way of every run that is fed on a day, from the wall to its lead, in one look."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from sqlalchemy import and_, case, func, or_, select
from sqlalchemy.orm import Session, aliased

from service.planning.dark.causes import Path, Thing, Width
from service.planning.records import Allotment, Patch, Placing, Plan, PlanStatus
from service.season.records import Production, ProductionStatus
from service.shows.fittings import ControlLine
from service.shows.records import Element, ElementStatus, Run, ScenicUnit
from service.stock.gear import DecoderBank, SupplyOutput, Unit
from service.stock.records import Outlet, Place, Tape

GONE = (ElementStatus.STRUCK, ElementStatus.CUT_FROM_SHOW)
_supply, _decoder, _box = aliased(Unit), aliased(Unit), aliased(Unit)
_supply_at, _decoder_at = aliased(Placing), aliased(Placing)
_supply_place, _decoder_place, _own_place = aliased(Place), aliased(Place), aliased(Place)


def paths(session: Session, day: date, elements: frozenset[str]) -> list[Path]:
    """Every fed run of the shows that are on that day, and of the shows of `elements` (tag keys) whatever the
    day. One statement."""
    return [_path(row) for row in session.execute(_statement(day, elements)).mappings()]


def _statement(day: date, elements: frozenset[str]) -> Any:
    asked = select(Element.production_id).where(Element.tag_key.in_(elements))
    on = and_(Plan.from_on <= day, Plan.until_on > day, Production.status != ProductionStatus.CANCELLED)
    return (
        select(
            Element.tag.label("element"), Element.name, Production.tag.label("production"),
            Run.number.label("run"), _own_place.tag.label("place"), Allotment.output,
            Allotment.first_channel, Allotment.channels,
            _supply.tag.label("supply"), _supply_place.tag.label("supply_place"),
            func.count(SupplyOutput.id).over(partition_by=Allotment.id).label("outputs"),
            _decoder.tag.label("decoder"), _decoder_place.tag.label("decoder_place"),
            DecoderBank.position.label("bank"), _box.tag.label("box"), Outlet.tag.label("outlet"),
            ControlLine.name.label("line"), Patch.universe,
        )
        .select_from(Allotment)
        .join(Plan, and_(Plan.id == Allotment.plan_id, Plan.status == PlanStatus.KEPT))
        .join(Production, Production.id == Plan.production_id)
        .join(Run, Run.id == Allotment.run_id)
        .join(Element, Element.id == Run.element_id)
        .outerjoin(ScenicUnit, ScenicUnit.id == Element.scenic_unit_id)
        .outerjoin(_own_place, _own_place.id == func.coalesce(Element.place_id, ScenicUnit.place_id))
        .outerjoin(Tape, Tape.id == Element.tape_id)
        .outerjoin(_supply, _supply.id == Allotment.supply_id)
        .outerjoin(SupplyOutput, and_(SupplyOutput.model_id == _supply.model_id, SupplyOutput.position == 2))
        .outerjoin(_supply_at, and_(_supply_at.plan_id == Plan.id, _supply_at.unit_id == _supply.id))
        .outerjoin(_supply_place, _supply_place.id == _supply_at.place_id)
        .outerjoin(_box, _box.id == _supply_at.enclosure_id)
        .outerjoin(Outlet, Outlet.id == _supply_at.outlet_id)
        .outerjoin(_decoder, _decoder.id == Allotment.decoder_id)
        .outerjoin(_decoder_at, and_(_decoder_at.plan_id == Plan.id, _decoder_at.unit_id == _decoder.id))
        .outerjoin(_decoder_place, _decoder_place.id == _decoder_at.place_id)
        .outerjoin(ControlLine, ControlLine.id == _decoder_at.line_id)
        .outerjoin(
            DecoderBank,
            and_(
                DecoderBank.model_id == _decoder.model_id,
                DecoderBank.first_channel <= Allotment.first_channel,
                DecoderBank.first_channel + DecoderBank.channels > Allotment.first_channel,
            ),
        )
        .outerjoin(
            Patch,
            and_(
                Patch.plan_id == Plan.id,
                Patch.decoder_id == _decoder.id,
                Patch.port == case((Tape.signal == "pixel", Allotment.first_channel), else_=0),
            ),
        )
        .where(
            Element.status.not_in(GONE), Element.retired_on.is_(None),
            or_(on, Production.id.in_(asked)),
        )
        .order_by(Element.tag_key, Run.number)
    )  # fmt: skip


def _path(row: Mapping[Any, Any]) -> Path:
    run = f"{row['element']}/{row['run']}"
    supply, decoder = row["supply"], row["decoder"]
    supply_place, decoder_place = row["supply_place"] or "", row["decoder_place"] or ""
    things = [Thing(Width.LEAD, run, row["place"] or "")]
    if decoder is not None:
        channels = _channels(row["first_channel"], row["channels"])
        things += [
            Thing(Width.CHANNEL, f"{decoder} {channels}", decoder_place),
            Thing(Width.DECODER, decoder, decoder_place),
        ]
        if row["bank"] is not None and row["bank"] > 1:
            things.append(Thing(Width.BANK, f"{decoder} bank {row['bank']}", decoder_place))
    if supply is not None:
        things.append(Thing(Width.SUPPLY, supply, supply_place))
        if row["outputs"]:
            things.append(Thing(Width.OUTPUT, f"{supply} output {row['output']}", supply_place))
    if row["box"] is not None:
        things.append(Thing(Width.BOX, row["box"], supply_place))
    if row["outlet"] is not None:
        things.append(Thing(Width.OUTLET, row["outlet"], supply_place))
    if row["line"] is not None:
        things.append(Thing(Width.LINE, row["line"], decoder_place))
    if row["universe"] is not None:
        things.append(Thing(Width.UNIVERSE, f"universe {row['universe']} of {row['production']}"))
    return Path(run, row["element"], row["name"], row["production"], row["place"] or "", tuple(things))


def _channels(first: int, count: int) -> str:
    return f"channel {first}" if count == 1 else f"channels {first} to {first + count - 1}"
