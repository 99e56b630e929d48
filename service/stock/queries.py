"""The lists of places, wire, tape, reels and cuts, as they are answered."""

from typing import Any

from sqlalchemy import case, select
from sqlalchemy.orm import aliased

from service.stock.records import (
    Cut,
    CutKind,
    Emitter,
    JoinKind,
    Outlet,
    OutletKind,
    Place,
    PlaceKind,
    PolicyRow,
    Reach,
    Reel,
    ReelJoin,
    ReelState,
    Tape,
    Venue,
    Wire,
)
from service.store.listing import RETIRED, Child, Field, Filter, Listing, metres, millimetres, outer

_above = aliased(Place)
_parent = aliased(Reel)
_gear_place = aliased(Place)

VENUES = Listing(
    plural="venues",
    one="a venue",
    doc="Stages, with their mains.",
    source=Venue,
    id=Venue.id,
    version=Venue.version,
    key=Venue.id,
    order=(Venue.name, Venue.id),
    is_tagged=False,
    fields=(
        Field("id", Venue.id, "number in the store; its address"),
        Field("name", Venue.name, "what people call it"),
        Field("house", Venue.house, "the building it is in"),
        Field("seats", Venue.seats, "seats"),
        Field("mains_v", Venue.mains_v, "mains voltage in V"),
        Field("mains_hz", Venue.mains_hz, "mains frequency in Hz"),
        Field("timezone", Venue.timezone, "IANA time zone"),
        Field("changed_at", Venue.changed_at, "last change, UTC"),
    ),
    filters=(Filter("name", Venue.name, "the venue's name, exactly"),),
)

PLACES = Listing(
    plural="places",
    one="a place",
    doc="Where things are: bins, perches, rooms, scenic units; a tree by `parent`.",
    source=outer(
        Place.__table__, (Venue, Place.venue_id == Venue.id), (_above, Place.parent_id == _above.id)
    ),
    id=Place.id,
    version=Place.version,
    key=Place.tag_key,
    order=(Place.tag_key,),
    fields=(
        Field("tag", Place.tag, "tag printed on it"),
        Field("name", Place.name, "what people call it"),
        Field("kind", Place.kind, "store, bin, quarantine, stage, room or scenic unit"),
        Field("venue", Venue.name, "the venue it is in", is_blank=True),
        Field("parent", _above.tag, "tag of the place it is in", is_blank=True),
        Field("retired_on", Place.retired_on, RETIRED),
        Field("changed_at", Place.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("kind", Place.kind, "kind of place", PlaceKind),
        Filter("venue", Venue.name, "the venue's name, exactly"),
        Filter("parent", _above.tag_key, "tag of the place it is in", is_tag=True),
    ),
)

REACHES = Listing(
    plural="reaches",
    one="a reach",
    doc="Places that gear standing at another may feed.",
    source=Reach.__table__.join(Place.__table__, Reach.place_id == Place.id).join(
        _gear_place, Reach.gear_place_id == _gear_place.id
    ),
    id=Reach.id,
    version=Reach.version,
    key=Reach.id,
    order=(Place.tag_key, _gear_place.tag_key, Reach.id),
    is_tagged=False,
    fields=(
        Field("id", Reach.id, "number in the store; its address"),
        Field("place", Place.tag, "tag of the place where the elements are"),
        Field("gear_at", _gear_place.tag, "tag of the place where the supply or decoder stands"),
        Field("lead_m", metres(Reach.lead_um), "longest lead allowed between them, in m; blank: any"),
        Field("changed_at", Reach.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("place", Place.tag_key, "tag of the place where the elements are", is_tag=True),
        Filter("gear_at", _gear_place.tag_key, "tag of the place where the gear stands", is_tag=True),
    ),
)

HOUSE_RULES = Listing(
    plural="house-rules",
    one="a house rule",
    doc="House defaults that replace the built-in ones.",
    source=PolicyRow,
    id=PolicyRow.id,
    version=PolicyRow.version,
    key=PolicyRow.id,
    order=(PolicyRow.name, PolicyRow.id),
    is_tagged=False,
    fields=(
        Field("id", PolicyRow.id, "number in the store; its address"),
        Field("rule", PolicyRow.name, "its name"),
        Field("value", PolicyRow.value, "the figure, in the unit of its rule"),
        Field("unit", PolicyRow.unit, "what the figure counts, for readers"),
        Field("reason", PolicyRow.reason, "why the house differs"),
        Field("changed_at", PolicyRow.changed_at, "last change, UTC"),
    ),
    filters=(Filter("rule", PolicyRow.name, "its name, exactly"),),
)

OUTLETS = Listing(
    plural="outlets",
    one="an outlet",
    doc="Wall and deck circuits that supplies plug into.",
    source=outer(
        Outlet.__table__, (Venue, Outlet.venue_id == Venue.id), (Place, Outlet.place_id == Place.id)
    ),
    id=Outlet.id,
    version=Outlet.version,
    key=Outlet.tag_key,
    order=(Outlet.tag_key,),
    fields=(
        Field("tag", Outlet.tag, "circuit name printed on it"),
        Field("venue", Venue.name, "the venue it is in", is_blank=True),
        Field("place", Place.tag, "tag of the place it is at", is_blank=True),
        Field("position", Outlet.position, "where it is, in words"),
        Field("kind", Outlet.kind, "constant, relay or dimmed; a dimmed one feeds no supply"),
        Field("breaker_a", Outlet.breaker_a, "breaker in A; blank: not known"),
        Field("volts_v", Outlet.volts_v, "voltage in V; blank: not known"),
        Field("retired_on", Outlet.retired_on, RETIRED),
        Field("changed_at", Outlet.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("kind", Outlet.kind, "kind of circuit", OutletKind),
        Filter("venue", Venue.name, "the venue's name, exactly"),
        Filter("place", Place.tag_key, "tag of the place it is at", is_tag=True),
    ),
)

WIRES = Listing(
    plural="wires",
    one="a wire",
    doc="Lead stock by gauge and cores.",
    source=Wire,
    id=Wire.id,
    version=Wire.version,
    key=Wire.id,
    order=(Wire.gauge, Wire.cores, Wire.id),
    is_tagged=False,
    fields=(
        Field("id", Wire.id, "number in the store; its address"),
        Field("gauge", Wire.gauge, "AWG or mm²"),
        Field("cores", Wire.cores, "cores"),
        Field("ohm_per_m", Wire.ohm_per_m, "resistance of one core in Ω/m at 20 °C"),
        Field("limit_a", Wire.limit_a, "what the shop lets one core carry, in A"),
        Field("length_m", metres(Wire.length_um), "held, in m"),
        Field("changed_at", Wire.changed_at, "last change, UTC"),
    ),
    filters=(Filter("gauge", Wire.gauge, "the gauge, as it is listed"),),
)


def _emitters_text(rows: list[dict[str, Any]]) -> str:
    return "; ".join(f"{r['name']}={r['w_per_m']:g}" for r in rows)


TAPES = Listing(
    plural="tapes",
    one="a tape",
    doc="Kinds of tape, with their emitters in pad order.",
    source=Tape,
    id=Tape.id,
    version=Tape.version,
    key=Tape.tag_key,
    order=(Tape.tag_key,),
    fields=(
        Field("tag", Tape.tag, "the house's name for this kind of tape"),
        Field("nominal_v", Tape.nominal_v, "nominal voltage in V dc"),
        Field("class_v", Tape.class_v, "voltage class in V: 12.8 V counts as 12 V"),
        Field("polarity", Tape.polarity, "common positive or common negative"),
        Field("signal", Tape.signal, "level: one channel an emitter; pixel: one data port a run"),
        Field("pitch_mm", millimetres(Tape.pitch_um), "distance between permitted cuts, in mm"),
        Field("reel_pitches", Tape.reel_pitches, "cut pitches on a whole reel"),
        Field("reel_length_m", metres(Tape.reel_pitches * 1.0 * Tape.pitch_um), "the same in m"),
        Field("max_run_m", metres(Tape.max_run_um), "maker's longest run fed from one end, in m"),
        Field("common_ohm_per_m", Tape.common_ohm_per_m, "resistance of the common rail in Ω/m at 20 °C"),
        Field("ip", Tape.ip, "ingress rating, the two digits"),
        Field("leds_per_m", Tape.leds_per_m, "LEDs a metre"),
        Field("colour", Tape.colour, "colour in words"),
        Field("pixels_per_m", Tape.pixels_per_m, "pixels a metre"),
        Field("slots_per_pixel", Tape.slots_per_pixel, "control slots a pixel"),
        Field("pixel_idle_w", Tape.pixel_idle_w, "power of one dark pixel in W"),
        Field("pwm_hz", Tape.pwm_hz, "dimming frequency of addressable tape, in Hz"),
        Field("led_drop_v", Tape.led_drop_v, "mean drop of the LEDs of one section, in V"),
        Field("measured_w_per_m", Tape.measured_w_per_m, "all emitters together at full, measured, in W/m"),
        Field("price", Tape.price, "price of a reel, in the house's money"),
        Field("lead_days", Tape.lead_days, "days from order to delivery"),
        Field("pack_quantity", Tape.pack_quantity, "reels, sold in packs of so many"),
        Field("least_quantity", Tape.least_quantity, "fewest reels that can be ordered"),
        Field("retired_on", Tape.retired_on, RETIRED),
        Field("changed_at", Tape.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("class_v", Tape.class_v, "voltage class in V", float),
        Filter("signal", Tape.signal, "level or pixel"),
        Filter("polarity", Tape.polarity, "common positive or common negative"),
    ),
    children=(
        Child(
            name="emitters",
            doc="colours in pad order, with the W/m of each",
            source=Emitter,
            id=Emitter.id,
            parent=Emitter.tape_id,
            number=Emitter.position,
            fields=(
                Field("position", Emitter.position, "pad, from 1"),
                Field("name", Emitter.name, "colour"),
                Field("w_per_m", Emitter.w_per_m, "nominal power in W/m"),
                Field("return_ohm_per_m", Emitter.return_ohm_per_m, "return resistance in Ω/m at 20 °C"),
                Field("cct_k", Emitter.cct_k, "colour temperature in K"),
                Field("wavelength_nm", Emitter.wavelength_nm, "wavelength in nm"),
            ),
            text=_emitters_text,
        ),
    ),
)


def _opened(what: Any, *kinds: CutKind) -> Any:
    """A column of the ledger row that opened a reel; it came with the reel and has no number."""
    of = kinds or (CutKind.OPENING, CutKind.RECEIVED)
    first = select(what).where(Cut.reel_id == Reel.id, Cut.kind.in_(of), Cut.number.is_(None))
    return first.order_by(Cut.id).limit(1).correlate(Reel).scalar_subquery()


# A reel that was empty when it was counted has no row that opens it: nothing was added.
_counted = case((_opened(Cut.id).is_(None), 0), else_=_opened(Cut.change_pitches, CutKind.OPENING))

REELS = Listing(
    plural="reels",
    one="a reel",
    doc="Continuous lengths of tape, each from one lot.",
    source=outer(
        Reel.__table__.join(Tape.__table__),
        (Place, Reel.place_id == Place.id),
        (_parent, Reel.parent_id == _parent.id),
    ),
    id=Reel.id,
    version=Reel.version,
    key=Reel.tag_key,
    order=(Reel.tag_key,),
    fields=(
        Field("tag", Reel.tag, "tag printed on it"),
        Field("tape", Tape.tag, "tag of the kind of tape"),
        Field("lot", Reel.lot, "maker's lot; pieces seen together come from one lot"),
        Field("place", Place.tag, "tag of its bin", is_blank=True),
        Field("state", Reel.state, "sealed, open, offcut, held, used up, scrap or written off"),
        Field("received_pitches", Reel.received_pitches, "cut pitches when it came in"),
        Field("received_m", metres(Reel.received_pitches * 1.0 * Tape.pitch_um), "the same in m"),
        Field(
            "opening_m",
            metres(_counted * 1.0 * Tape.pitch_um),
            "length counted before its cuts, in m",
            is_blank=True,
        ),
        Field("counted_on", _opened(Cut.cut_on), "day of that count, or of its coming in", is_blank=True),
        Field("opened_by", _opened(Cut.entered_by), "who wrote that down", is_blank=True),
        Field("left_pitches", Reel.left_pitches, "whole cut pitches left"),
        Field("left_m", metres(Reel.left_pitches * 1.0 * Tape.pitch_um), "length left, in m", is_blank=False),
        Field("parent", _parent.tag, "tag of the reel it was cut off", is_blank=True),
        Field("received_on", Reel.received_on, "day it came in"),
        Field("delivery_id", Reel.delivery_id, "number in the store of the delivery it came with"),
        Field("note", Reel.note, "note"),
        Field("retired_on", Reel.retired_on, RETIRED),
        Field("changed_at", Reel.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("tape", Tape.tag_key, "tag of the kind of tape", is_tag=True),
        Filter("lot", Reel.lot, "lot, exactly"),
        Filter("state", Reel.state, "state of the reel", ReelState),
        Filter("place", Place.tag_key, "tag of its bin", is_tag=True),
    ),
)

REEL_JOINS = Listing(
    plural="reel-joins",
    one="a reel join",
    doc="Joints inside reels, by their distance from the hub.",
    source=ReelJoin.__table__.join(Reel.__table__).join(Tape.__table__, Reel.tape_id == Tape.id),
    id=ReelJoin.id,
    version=ReelJoin.version,
    key=ReelJoin.id,
    order=(Reel.tag_key, ReelJoin.from_hub_pitches, ReelJoin.id),
    is_tagged=False,
    fields=(
        Field("id", ReelJoin.id, "number in the store; its address"),
        Field("reel", Reel.tag, "tag of the reel"),
        Field("from_hub_pitches", ReelJoin.from_hub_pitches, "cut pitches from the inner end of the tape"),
        Field(
            "from_hub_m",
            metres(ReelJoin.from_hub_pitches * 1.0 * Tape.pitch_um),
            "the same in m",
            is_blank=False,
        ),
        Field("kind", ReelJoin.kind, "factory, or made on the bench"),
        Field(
            "is_there",
            ReelJoin.from_hub_pitches < Reel.left_pitches,
            "whether the reel still reaches beyond it",
            is_blank=False,
        ),
        Field("note", ReelJoin.note, "note"),
        Field("changed_at", ReelJoin.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("reel", Reel.tag_key, "tag of the reel", is_tag=True),
        Filter("kind", ReelJoin.kind, "factory or made", JoinKind),
    ),
)

LISTINGS = (VENUES, PLACES, REACHES, HOUSE_RULES, OUTLETS, WIRES, TAPES, REELS)
