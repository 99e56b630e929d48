"""The lists of plans, and of what the kept ones say: feeds, where gear stands, addresses."""

from typing import Any

from sqlalchemy import ColumnElement, String, case, cast, func
from sqlalchemy.orm import aliased

from service.planning.records import Allotment, Patch, Placing, Plan, PlanStatus
from service.season.records import Production
from service.shows.fittings import ControlLine
from service.shows.records import Element, Run, ScenicUnit
from service.stock.gear import GearModel, Unit
from service.stock.records import Outlet, Place
from service.store.days import day_after, last_day
from service.store.listing import Field, Filter, Listing, outer

_supply, _decoder, _box = aliased(Unit), aliased(Unit), aliased(Unit)
_supply_model, _decoder_model = (
    GearModel.__table__.alias("any_supply"),
    GearModel.__table__.alias("any_decoder"),
)

PLANS = Listing(
    plural="plans",
    one="a plan",
    doc="Plans of a production, in the order they were asked for. The kept one is what the crew works from.",
    source=Plan.__table__.join(Production.__table__),
    id=Plan.id,
    version=Plan.version,
    key=Plan.id,
    order=(Plan.number, Plan.id),
    is_tagged=False,
    fields=(
        Field("production", Production.tag, "show code"),
        Field("number", Plan.number, "number of the plan, from 1"),
        Field("status", Plan.status, "queued, working, draft, kept, superseded, cancelled or failed"),
        Field("origin", Plan.origin, "allocator, sheets or hand"),
        Field("by", Plan.by, "who asked for it; not proven until people sign in"),
        Field("from_on", Plan.from_on, "first day gear is wanted"),
        Field("to_on", Plan.until_on, "last day gear is wanted", shown=last_day, stored=day_after),
        Field("mend", Plan.mend, "whether kept feeds over a limit may be moved"),
        Field("cost", Plan.cost, "weight of the gear it newly takes; one supply is 1000"),
        Field("bound", Plan.bound, "no plan that feeds as much can weigh less (proven)"),
        Field("unfed_w", Plan.unfed_w, "left dark, in W"),
        Field("unfed_bound_w", Plan.unfed_bound_w, "no plan can leave less dark, in W (proven)"),
        Field("moved", Plan.moved, "kept runs that change output, decoder or channel"),
        Field("refed", Plan.refed, "runs whose gear is gone, fed again"),
        Field("is_proven", Plan.is_proven, "whether nothing better exists"),
        Field("stopped_early", Plan.stopped_early, "whether time ended it"),
        Field("seconds", Plan.seconds, "seconds it took"),
        Field("error", Plan.error, "why it failed"),
        Field("finished_at", Plan.finished_at, "when it was finished, UTC"),
        Field("kept_at", Plan.kept_at, "when it was kept, UTC"),
    ),
    filters=(Filter("status", Plan.status, "where it stands", PlanStatus),),
)


def of_production(production_id: int) -> ColumnElement[bool]:
    return Plan.production_id == production_id


def _unit_or_any(unit: Any, model: Any) -> ColumnElement[str]:
    return func.coalesce(unit.tag, "any " + model.c.tag)


_IS_KEPT = Plan.status == PlanStatus.KEPT
_LAST_CHANNEL = Allotment.first_channel + Allotment.channels - 1

FEEDS = Listing(
    plural="feeds",
    one="a feed",
    doc="What feeds each run in the kept plans.",
    source=outer(
        Allotment.__table__.join(Plan.__table__)
        .join(Production.__table__)
        .join(Run.__table__, Allotment.run_id == Run.id)
        .join(Element.__table__, Run.element_id == Element.id),
        (_supply, Allotment.supply_id == _supply.id),
        (_supply_model, Allotment.supply_model_id == _supply_model.c.id),
        (_decoder, Allotment.decoder_id == _decoder.id),
        (_decoder_model, Allotment.decoder_model_id == _decoder_model.c.id),
    ),
    id=Allotment.id,
    version=Allotment.version,
    key=Allotment.id,
    order=(Element.tag_key, Run.number, Allotment.id),
    is_tagged=False,
    where=_IS_KEPT,
    fields=(
        Field("id", Allotment.id, "number in the store; its address"),
        Field("production", Production.tag, "show code"),
        Field("element", Element.tag, "tag of the element"),
        Field("run", Run.number, "run of the element, from 1"),
        Field(
            "supply",
            _unit_or_any(_supply, _supply_model),
            "tag of the supply or battery, or any and a model",
            is_blank=False,
        ),
        Field("output", Allotment.output, "output of the supply, from 1"),
        Field(
            "decoder",
            _unit_or_any(_decoder, _decoder_model),
            "tag of the decoder, or any and a model; blank: straight on the output",
            is_blank=True,
        ),
        Field(
            "channels",
            case(
                (Allotment.channels == 1, cast(Allotment.first_channel, String)),
                (
                    Allotment.channels > 1,
                    cast(Allotment.first_channel, String).concat("-").concat(cast(_LAST_CHANNEL, String)),
                ),
            ),
            "channels of the decoder, as 1-4, or the port of a pixel driver",
            is_blank=True,
        ),
        Field("is_locked", Allotment.is_locked, "whether the allocator must leave it"),
        Field("changed_at", Allotment.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("production", Production.tag_key, "show code", is_tag=True),
        Filter("element", Element.tag_key, "tag of the element", is_tag=True),
        Filter("supply", _supply.tag_key, "tag of the supply or battery", is_tag=True),
        Filter("decoder", _decoder.tag_key, "tag of the decoder", is_tag=True),
    ),
)

GEAR_ON_STAGE = Listing(
    plural="gear-on-stage",
    one="a piece of gear on stage",
    doc="Where units stand in the kept plans.",
    source=outer(
        Placing.__table__.join(Plan.__table__)
        .join(Production.__table__)
        .join(Unit.__table__, Placing.unit_id == Unit.id),
        (Place, Placing.place_id == Place.id),
        (ScenicUnit, Placing.scenic_unit_id == ScenicUnit.id),
        (_box, Placing.enclosure_id == _box.id),
        (Outlet, Placing.outlet_id == Outlet.id),
        (ControlLine, Placing.line_id == ControlLine.id),
    ),
    id=Placing.id,
    version=Placing.version,
    key=Placing.id,
    order=(Production.tag_key, Unit.tag_key, Placing.id),
    is_tagged=False,
    where=_IS_KEPT,
    fields=(
        Field("id", Placing.id, "number in the store; its address"),
        Field("production", Production.tag, "show code"),
        Field("unit", Unit.tag, "tag of the unit or box"),
        Field("place", Place.tag, "tag of the place where it stands", is_blank=True),
        Field("rides_on", ScenicUnit.name, "the scenic unit it moves with", is_blank=True),
        Field("box", _box.tag, "tag of the box it is in", is_blank=True),
        Field("outlet", Outlet.tag, "tag of the outlet a supply is plugged into", is_blank=True),
        Field("line", ControlLine.name, "the line that control reaches it by", is_blank=True),
        Field("changed_at", Placing.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("production", Production.tag_key, "show code", is_tag=True),
        Filter("unit", Unit.tag_key, "tag of the unit or box", is_tag=True),
        Filter("place", Place.tag_key, "tag of the place where it stands", is_tag=True),
        Filter("outlet", Outlet.tag_key, "tag of the outlet", is_tag=True),
    ),
)

ADDRESSES = Listing(
    plural="addresses",
    one="an address",
    doc="Control slots of decoders in the kept plans.",
    source=Patch.__table__.join(Plan.__table__)
    .join(Production.__table__)
    .join(Unit.__table__, Patch.decoder_id == Unit.id),
    id=Patch.id,
    version=Patch.version,
    key=Patch.id,
    order=(Production.tag_key, Unit.tag_key, Patch.port, Patch.id),
    is_tagged=False,
    where=_IS_KEPT,
    fields=(
        Field("id", Patch.id, "number in the store; its address"),
        Field("production", Production.tag, "show code"),
        Field("decoder", Unit.tag, "tag of the decoder"),
        Field(
            "port",
            func.nullif(Patch.port, 0),
            "port of a pixel driver; blank: the whole decoder",
            kind=int,
            is_blank=True,
        ),
        Field("universe", Patch.universe, "its universe"),
        Field("start", Patch.start, "its first slot"),
        Field("mode", Patch.mode, "8-bit, 16-bit or pixel"),
        Field("footprint", Patch.footprint, "how many slots it takes"),
        Field("pixels", Patch.pixels, "pixels on the port"),
        Field("mirror", Patch.mirror, "name shared by decoders that repeat each other on purpose"),
        Field("changed_at", Patch.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("production", Production.tag_key, "show code", is_tag=True),
        Filter("decoder", Unit.tag_key, "tag of the decoder", is_tag=True),
        Filter("universe", Patch.universe, "its universe", int),
    ),
)

LISTINGS = (FEEDS, GEAR_ON_STAGE, ADDRESSES)
