"""The lists of gear: models, and the units with a tag on them. Which list a tag is on."""

from collections.abc import Iterable
from typing import Any

from sqlalchemy import FromClause, select

from service.errors import NotFound
from service.stock.fittings import Connector
from service.stock.gear import (
    BatteryModel,
    DecoderBank,
    DecoderModel,
    Enclosure,
    GearKind,
    GearModel,
    SupplyModel,
    SupplyOutput,
    Unit,
    UnitState,
)
from service.stock.records import Place
from service.store.base import TagEntry, tag_key
from service.store.days import day_after, last_day
from service.store.listing import RETIRED, Asker, Child, Field, Filter, Listing, metres, outer

AT_ONCE = 500  # tags asked for in one statement

_model, _unit, _box = GearModel.__table__, Unit.__table__, Enclosure.__table__
_supply, _decoder, _battery = SupplyModel.__table__, DecoderModel.__table__, BatteryModel.__table__


_OUT, _CONTROL = Connector.__table__.alias("output_plug"), Connector.__table__.alias("control_plug")
_MODEL_HEAD = (Field("tag", _model.c.tag, "the house's name for this kind"),)
_MODEL_TAIL = (
    Field("cost_weight", _model.c.cost_weight, "how scarce a unit is to the allocator; 1 is ordinary"),
    Field("price", _model.c.price, "price, in the house's money"),
    Field("lead_days", _model.c.lead_days, "days from order to delivery"),
    Field("pack_quantity", _model.c.pack_quantity, "sold in packs of so many"),
    Field("least_quantity", _model.c.least_quantity, "fewest that can be ordered"),
    Field("hire_price_per_week", _model.c.hire_price_per_week, "hire of one a week, in the house's money"),
    Field("hire_lead_days", _model.c.hire_lead_days, "days from asking for a hire to its coming"),
    Field("note", _model.c.note, "note"),
    Field("retired_on", _model.c.retired_on, RETIRED),
    Field("changed_at", _model.c.changed_at, "last change, UTC"),
)


def _models(
    plural: str,
    one: str,
    doc: str,
    table: Any,
    fields: tuple[Field, ...],
    children: tuple[Child, ...] = (),
    filters: tuple[Filter, ...] = (),
    joins: tuple[tuple[Any, Any], ...] = (),
) -> Listing:
    return Listing(
        plural=plural,
        one=one,
        doc=doc,
        source=outer(_model.join(table), *joins),
        id=_model.c.id,
        version=_model.c.version,
        key=_model.c.tag_key,
        order=(_model.c.tag_key,),
        fields=_MODEL_HEAD + fields + _MODEL_TAIL,
        filters=filters,
        children=children,
        kind=table.name,
    )


def _caps_text(rows: list[dict[str, Any]]) -> str:
    return "; ".join("not known" if r["cap_a"] is None else f"{r['cap_a']:g}" for r in rows)


SUPPLY_MODELS = _models(
    "supply-models",
    "a supply model",
    "Kinds of dc supply, with their outputs.",
    _supply,
    (
        Field("output_v", _supply.c.output_v, "output voltage in V dc"),
        Field("class_v", _supply.c.class_v, "voltage class in V"),
        Field("rated_w", _supply.c.rated_w, "nameplate power in W; blank: not known"),
        Field("efficiency", _supply.c.efficiency, "share of the mains power that comes out, 0 to 1"),
        Field("power_factor", _supply.c.power_factor, "power factor, 0 to 1"),
        Field("inrush_a", _supply.c.inrush_a, "cold inrush in A"),
        Field("full_to_degc", _supply.c.full_to_degc, "full power up to this air, in °C"),
        Field("derate_per_k", _supply.c.derate_per_k, "share lost a kelvin above that"),
        Field("max_degc", _supply.c.max_degc, "hottest air it may stand in, in °C"),
        Field("load_factor", _supply.c.load_factor, "share that may be used, in place of the house's"),
        Field("is_class2", _supply.c.is_class2, "whether it is marked as class 2"),
        Field("output_connector", _OUT.c.tag, "kind of connector on its outputs", is_blank=True),
    ),
    children=(
        Child(
            name="outputs",
            doc="what each output can give, in A, from output 1 on",
            source=SupplyOutput,
            id=SupplyOutput.id,
            parent=SupplyOutput.model_id,
            number=SupplyOutput.position,
            fields=(
                Field("position", SupplyOutput.position, "number of the output, from 1"),
                Field("label", SupplyOutput.label, "what is printed beside it"),
                Field("cap_a", SupplyOutput.cap_a, "what it can give, in A; blank: not known"),
            ),
            text=_caps_text,
        ),
    ),
    filters=(Filter("class_v", _supply.c.class_v, "voltage class in V", float),),
    joins=((_OUT, _supply.c.output_connector_id == _OUT.c.id),),
)


def _banks_text(rows: list[dict[str, Any]]) -> str:
    return "; ".join(f"{r['first_channel']}-{r['first_channel'] + r['channels'] - 1}" for r in rows)


DECODER_MODELS = _models(
    "decoder-models",
    "a decoder model",
    "Kinds of decoder, dimmer and pixel driver, with their power banks.",
    _decoder,
    (
        Field("channels", _decoder.c.channels, "outputs; ports on a pixel driver"),
        Field("channel_a", _decoder.c.channel_a, "what one channel may carry, in A"),
        Field("total_a", _decoder.c.total_a, "what all channels together may carry, in A"),
        Field("min_v", _decoder.c.min_v, "lowest supply voltage in V"),
        Field("max_v", _decoder.c.max_v, "highest supply voltage in V"),
        Field("polarity", _decoder.c.polarity, "common positive or common negative"),
        Field("signal", _decoder.c.signal, "level or pixel"),
        Field("link", _decoder.c.link, "how control reaches it: wired, wireless, network or local"),
        Field("pwm_hz", _decoder.c.pwm_hz, "dimming frequency in Hz"),
        Field("footprint_8bit", _decoder.c.footprint_8bit, "slots at 8 bit"),
        Field("footprint_16bit", _decoder.c.footprint_16bit, "slots at 16 bit"),
        Field("idle_w", _decoder.c.idle_w, "own power when dark, in W"),
        Field("curve", _decoder.c.curve, "dimming curve"),
        Field("unit_loads", _decoder.c.unit_loads, "unit loads it puts on a wired line (ANSI E1.11)"),
        Field("control_connector", _CONTROL.c.tag, "kind of connector for its control", is_blank=True),
        Field("output_connector", _OUT.c.tag, "kind of connector on its channels", is_blank=True),
        Field("load_factor", _decoder.c.load_factor, "share that may be used, in place of the house's"),
    ),
    children=(
        Child(
            name="banks",
            doc="groups of channels with one power feed; one supply output feeds a bank",
            source=DecoderBank,
            id=DecoderBank.id,
            parent=DecoderBank.model_id,
            number=DecoderBank.position,
            fields=(
                Field("position", DecoderBank.position, "number of the bank, from 1"),
                Field("first_channel", DecoderBank.first_channel, "its first channel"),
                Field("channels", DecoderBank.channels, "how many channels"),
                Field("total_a", DecoderBank.total_a, "what they may carry together, in A"),
            ),
            text=_banks_text,
        ),
    ),
    filters=(
        Filter("channels", _decoder.c.channels, "how many channels", int),
        Filter("signal", _decoder.c.signal, "level or pixel"),
        Filter("link", _decoder.c.link, "wired, wireless, network or local"),
    ),
    joins=(
        (_CONTROL, _decoder.c.control_connector_id == _CONTROL.c.id),
        (_OUT, _decoder.c.output_connector_id == _OUT.c.id),
    ),
)

BATTERY_MODELS = _models(
    "battery-models",
    "a battery model",
    "Kinds of battery pack.",
    _battery,
    (
        Field("nominal_v", _battery.c.nominal_v, "nominal voltage in V"),
        Field("class_v", _battery.c.class_v, "voltage class in V: 12.8 V counts as 12 V"),
        Field("capacity_ah", _battery.c.capacity_ah, "rated charge in Ah"),
        Field("rated_h", _battery.c.rated_h, "hours over which it is rated"),
        Field("usable_fraction", _battery.c.usable_fraction, "share that may be used, 0 to 1"),
        Field("max_a", _battery.c.max_a, "largest current in A"),
        Field("is_regulated", _battery.c.is_regulated, "whether its voltage is held"),
        Field("chemistry", _battery.c.chemistry, "chemistry"),
        Field("charge_h", _battery.c.charge_h, "hours to charge"),
        Field("peukert_exponent", _battery.c.peukert_exponent, "Peukert exponent; blank: the energy method"),
        Field("converter_efficiency", _battery.c.converter_efficiency, "of its converter, 0 to 1"),
    ),
    filters=(Filter("class_v", _battery.c.class_v, "voltage class in V", float),),
)

_seen = Place.__table__.alias("seen_at")
_UNIT_HEAD = (Field("tag", _unit.c.tag, "tag printed on it"),)
_UNIT_TAIL = (
    Field("state", _unit.c.state, "good, suspect, faulty, repair, retired or missing"),
    Field("state_note", _unit.c.state_note, "what was found"),
    Field("home", Place.tag, "tag of its bin", is_blank=True),
    Field("where_note", _unit.c.where_note, "where it was last seen"),
    Field("last_tested_on", _unit.c.last_tested_on, "day of the last test"),
    Field("seen_at", _seen.c.tag, "tag of the place it was last seen at", is_blank=True),
    Field("seen_on", _unit.c.seen_on, "day it was seen there"),
    Field("hired_from", _unit.c.hired_from, "first day of its hire; blank: it is the house's own"),
    Field("hired_to", _unit.c.hired_until, "last day of its hire", shown=last_day, stored=day_after),
    Field("delivery_id", _unit.c.delivery_id, "number in the store of the delivery it came with"),
    Field("retired_on", _unit.c.retired_on, RETIRED),
    Field("changed_at", _unit.c.changed_at, "last change, UTC"),
)
_UNIT_FILTERS = (
    Filter("state", _unit.c.state, "condition", UnitState),
    Filter("home", Place.tag_key, "tag of its bin", is_tag=True),
)


def _units(
    kind: GearKind,
    plural: str,
    one: str,
    doc: str,
    source: FromClause,
    fields: tuple[Field, ...],
    filters: tuple[Filter, ...] = (),
) -> Listing:
    return Listing(
        plural=plural,
        one=one,
        doc=doc,
        source=outer(
            source, (Place, _unit.c.home_id == Place.id), (_seen, _unit.c.seen_place_id == _seen.c.id)
        ),
        id=_unit.c.id,
        version=_unit.c.version,
        key=_unit.c.tag_key,
        order=(_unit.c.tag_key,),
        fields=_UNIT_HEAD + fields + _UNIT_TAIL,
        filters=filters + _UNIT_FILTERS,
        where=_unit.c.kind == kind,
    )


_of_a_model = _unit.join(_model, _unit.c.model_id == _model.c.id)
_MODEL = Field("model", _model.c.tag, "tag of its model")
_OF_MODEL = (Filter("model", _model.c.tag_key, "tag of the model", is_tag=True),)

SUPPLIES = _units(
    GearKind.SUPPLY, "supplies", "a supply", "Supplies with a tag on them.", _of_a_model, (_MODEL,), _OF_MODEL
)
DECODERS = _units(
    GearKind.DECODER, "decoders", "a decoder", "Decoders, dimmers and pixel drivers with a tag on them.",
    _of_a_model, (_MODEL,), _OF_MODEL,
)  # fmt: skip
BATTERIES = _units(
    GearKind.BATTERY, "batteries", "a battery", "Battery packs with a tag on them.", _of_a_model,
    (
        _MODEL,
        Field("cycles", _unit.c.cycles, "charges so far"),
        Field("measured_ah", _unit.c.measured_ah, "charge measured, in Ah"),
    ),
    _OF_MODEL,
)  # fmt: skip
ENCLOSURES = _units(
    GearKind.ENCLOSURE, "enclosures", "an enclosure", "Boxes that gear stands in.",
    _unit.join(_box),
    (
        Field("material", _box.c.material, "what it is made of"),
        Field("vent", _box.c.vent, "sealed, vented or fan"),
        Field("length_m", metres(_box.c.length_um), "inside length in m"),
        Field("width_m", metres(_box.c.width_um), "inside width in m"),
        Field("height_m", metres(_box.c.height_um), "inside height in m"),
        Field("faces_exposed", _box.c.faces_exposed, "faces in free air"),
        Field("area_m2", _box.c.area_m2, "area in free air, in m²"),
        Field("k_w_per_m2_k", _box.c.k_w_per_m2_k, "heat lost, in W/(m² K)"),
        Field("ambient_degc", _box.c.ambient_degc, "air outside it, in °C"),
        Field("fan_m3_per_h", _box.c.fan_m3_per_h, "air its fan moves, in m³/h"),
    ),
)  # fmt: skip

LISTINGS = (SUPPLY_MODELS, DECODER_MODELS, BATTERY_MODELS, SUPPLIES, DECODERS, BATTERIES, ENCLOSURES)

_PLURALS = {
    GearKind.SUPPLY: "supplies",
    GearKind.DECODER: "decoders",
    GearKind.BATTERY: "batteries",
    GearKind.ENCLOSURE: "enclosures",
}


def whereabouts(asker: Asker, tag: str) -> tuple[str, str]:
    """(plural, tag as printed): the list a tag is on, whatever kind of thing it belongs to."""
    found = whereabouts_of(asker, [tag]).get(tag_key(tag))
    if found is None:
        raise NotFound(f"nothing has the tag {tag}", "Read the label again, or look for it in the lists.")
    return found


def whereabouts_of(asker: Asker, tags: Iterable[str]) -> dict[str, tuple[str, str]]:
    """The same of many at once, by the key of each tag; what is on no list is left out."""
    keys = list({tag_key(tag) for tag in tags})
    found: dict[str, tuple[str, str]] = {}
    for start in range(0, len(keys), AT_ONCE):
        rows = asker.execute(
            select(TagEntry.key, TagEntry.kind, TagEntry.tag, _unit.c.kind, _model.c.kind)
            .select_from(TagEntry)
            .outerjoin(_unit, _unit.c.tag_key == TagEntry.key)
            .outerjoin(_model, _model.c.tag_key == TagEntry.key)
            .where(TagEntry.key.in_(keys[start : start + AT_ONCE]))
        )
        for key, kind, printed, unit_kind, model_kind in rows:
            plural = f"{kind}s" if model_kind is None else f"{model_kind.value}-models"
            found[key] = (plural if unit_kind is None else _PLURALS[unit_kind], printed)
    return found
