"""Builders that put real things into a real database. Every one takes a session, gives what a plain thing
has unless told otherwise, makes what it hangs on when that is not given, and returns the stored record.

The demonstration figures are invented for the tests: 24 V four-colour tape of 4.8 W/m an emitter, a 320 W
supply with one output, a decoder of four channels at 5 A.
"""

import itertools
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

from sqlalchemy.orm import Session

from service.planning.records import Allotment, Patch, Placing, Plan, PlanStatus, UnfedRun
from service.season.counting.records import Stocktake, StocktakeLine
from service.season.records import Hold, OrderLine, Production, ProductionStatus
from service.shows.records import (
    Element,
    ElementStatus,
    Group,
    GroupKind,
    Motion,
    Piece,
    Run,
    ScenicUnit,
    Zone,
)
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
from service.stock.records import (
    Cut,
    CutKind,
    Emitter,
    Outlet,
    OutletKind,
    Place,
    PlaceKind,
    Reel,
    ReelState,
    Tape,
    Venue,
    Wire,
)
from service.store.types import utc_now

T = TypeVar("T")
_numbers = itertools.count(1)
RGBW = (("red", 4.8), ("green", 4.8), ("blue", 4.8), ("white", 4.8))


def _tag(prefix: str) -> str:
    return f"{prefix}-{next(_numbers):04d}"


def _stored(session: Session, thing: T) -> T:
    session.add(thing)
    session.flush()
    return thing


def a_venue(session: Session, **given: Any) -> Venue:
    return _stored(session, Venue(**{"name": _tag("Stage"), "mains_v": 230.0, "mains_hz": 50.0} | given))


def a_place(session: Session, **given: Any) -> Place:
    return _stored(session, Place(**{"tag": _tag("BIN"), "name": "bin", "kind": PlaceKind.BIN} | given))


def an_outlet(session: Session, **given: Any) -> Outlet:
    plain = {"tag": _tag("C"), "kind": OutletKind.CONSTANT, "breaker_a": 16.0, "volts_v": 230.0}
    return _stored(session, Outlet(**plain | given))


def a_wire(session: Session, **given: Any) -> Wire:
    plain = {"gauge": "18 AWG", "cores": 5, "ohm_per_m": 0.02095, "limit_a": 7.0, "length_um": 200_000_000}
    return _stored(session, Wire(**plain | given))


def a_tape(session: Session, emitters: tuple[tuple[str, float], ...] = RGBW, **given: Any) -> Tape:
    plain = {
        "tag": _tag("T"),
        "nominal_v": 24.0,
        "class_v": 24.0,
        "polarity": "common positive",
        "pitch_um": 50_000,
        "reel_pitches": 100,
        "max_run_um": 5_000_000,
        "common_ohm_per_m": 0.025,
        "ip": 20,
    }
    pads = [
        Emitter(position=n, name=name, w_per_m=w_per_m, return_ohm_per_m=0.05)
        for n, (name, w_per_m) in enumerate(emitters, start=1)
    ]
    return _stored(session, Tape(**plain | given, emitters=pads))


def a_reel(session: Session, tape: Tape | None = None, left_pitches: int = 100, **given: Any) -> Reel:
    """A reel with its opening ledger row, so that the balance is the sum of the rows."""
    tape = tape or a_tape(session)
    plain = {"tag": _tag("R"), "tape_id": tape.id, "lot": "L1", "state": ReelState.SEALED}
    reel = _stored(session, Reel(**plain | given, received_pitches=left_pitches, left_pitches=left_pitches))
    if left_pitches:
        opening = {"kind": CutKind.OPENING, "change_pitches": left_pitches, "cut_on": date(2026, 9, 1)}
        _stored(session, Cut(reel_id=reel.id, **opening))
    return reel


def a_cut(session: Session, reel: Reel, pitches: int, **given: Any) -> Cut:
    """`pitches` taken off the reel, row and balance together."""
    plain = {"kind": CutKind.PIECE, "cut_on": date(2026, 10, 1), "number": _tag("CUT")}
    cut = Cut(**plain | given, reel_id=reel.id, change_pitches=-pitches)
    if not cut.is_disputed:
        reel.left_pitches -= pitches
        reel.state = ReelState.OPEN
    return _stored(session, cut)


def a_supply_model(session: Session, caps_a: tuple[float | None, ...] = (13.3,), **given: Any) -> SupplyModel:
    plain = {
        "tag": _tag("S320"),
        "output_v": 24.0,
        "class_v": 24.0,
        "rated_w": 320.0,
        "efficiency": 0.9,
        "power_factor": 0.95,
        "inrush_a": 40.0,
        "full_to_degc": 50.0,
        "derate_per_k": 0.025,
        "max_degc": 70.0,
        "cost_weight": 1.0,
    }
    outputs = [SupplyOutput(position=n, cap_a=cap_a) for n, cap_a in enumerate(caps_a, start=1)]
    return _stored(session, SupplyModel(**plain | given, outputs=outputs))


def a_decoder_model(
    session: Session, banks: tuple[int, ...] = (4,), bank_a: float | None = 20.0, **given: Any
) -> DecoderModel:
    """`banks`: channels of each power bank, in order."""
    channels = sum(banks)
    plain = {
        "tag": _tag("D4"),
        "channels": channels,
        "channel_a": 5.0,
        "total_a": 20.0,
        "min_v": 12.0,
        "max_v": 36.0,
        "polarity": "common positive",
        "pwm_hz": 2000.0,
        "footprint_8bit": channels,
        "footprint_16bit": channels * 2,
        "cost_weight": 1.0,
    }
    rows = [
        DecoderBank(position=n, first_channel=1 + sum(banks[: n - 1]), channels=count, total_a=bank_a)
        for n, count in enumerate(banks, start=1)
    ]
    return _stored(session, DecoderModel(**plain | given, banks=rows))


def a_battery_model(session: Session, **given: Any) -> BatteryModel:
    plain = {
        "tag": _tag("B12"),
        "nominal_v": 12.8,
        "class_v": 12.0,
        "capacity_ah": 10.0,
        "rated_h": 20.0,
        "usable_fraction": 0.8,
        "max_a": 10.0,
        "is_regulated": False,
        "cost_weight": 1.0,
    }
    return _stored(session, BatteryModel(**plain | given))


def _a_unit(
    session: Session, kind: GearKind, prefix: str, model_id: int | None, given: dict[str, Any]
) -> Unit:
    plain = {"tag": _tag(prefix), "kind": kind, "model_id": model_id, "state": UnitState.GOOD}
    return _stored(session, Unit(**plain | given))


def a_supply(session: Session, model: GearModel | None = None, **given: Any) -> Unit:
    model = model or a_supply_model(session)
    return _a_unit(session, GearKind.SUPPLY, "PS", model.id, given)


def a_decoder(session: Session, model: GearModel | None = None, **given: Any) -> Unit:
    model = model or a_decoder_model(session)
    return _a_unit(session, GearKind.DECODER, "DC", model.id, given)


def a_battery(session: Session, model: GearModel | None = None, **given: Any) -> Unit:
    model = model or a_battery_model(session)
    return _a_unit(session, GearKind.BATTERY, "BT", model.id, given)


def an_enclosure(session: Session, box: dict[str, Any] | None = None, **given: Any) -> Unit:
    unit = _a_unit(session, GearKind.ENCLOSURE, "BX", None, given)
    _stored(session, Enclosure(unit_id=unit.id, **(box or {"material": "sheet steel", "area_m2": 0.4})))
    return unit


def a_production(session: Session, venue: Venue | None = None, **given: Any) -> Production:
    """A show in its run on 2026-11-25."""
    venue_id = given.pop("venue_id", None) or (venue or a_venue(session)).id
    plain = {
        "tag": _tag("SH"),
        "title": "The House with Many Windows",
        "venue_id": venue_id,
        "build_start": date(2026, 9, 1),
        "load_in": date(2026, 10, 12),
        "first_preview": date(2026, 10, 24),
        "opening": date(2026, 10, 30),
        "closing": date(2026, 12, 12),
        "strike_end": date(2026, 12, 14),
        "return_by": date(2026, 12, 18),
        "status": ProductionStatus.RUNNING,
    }
    return _stored(session, Production(**plain | given))


def a_scenic_unit(session: Session, production: Production, **given: Any) -> ScenicUnit:
    name = given.get("name", _tag("Wall"))
    place_id = (
        given.pop("place_id", None)
        or a_place(session, tag=_tag("SU"), name=name, kind=PlaceKind.SCENIC_UNIT).id
    )
    plain = {"name": name, "motion": Motion.STATIC, "zone": Zone.DRY}
    return _stored(session, ScenicUnit(**plain | given, production_id=production.id, place_id=place_id))


def a_group(session: Session, production: Production, **given: Any) -> Group:
    plain = {"kind": GroupKind.CONTROL, "name": _tag("group")}
    return _stored(session, Group(**plain | given, production_id=production.id))


def an_element(
    session: Session,
    production: Production | None = None,
    runs: tuple[tuple[int, ...], ...] = ((40,),),
    **given: Any,
) -> Element:
    """`runs`: for each run the cut pitches of its pieces; each piece is drawn exactly as long as it is cut.

    The tape is four-colour unless `tape=` or `tape_id=` says otherwise; all its emitters are wired.
    """
    production = production or a_production(session)
    tape: Tape | None = given.pop("tape", None)
    if tape is None and "tape_id" not in given:
        tape = a_tape(session)
    pitch_um = tape.pitch_um if tape else 50_000
    plain: dict[str, Any] = {
        "tag": _tag("SQ"),
        "name": "window",
        "production_id": production.id,
        "tape_id": tape.id if tape else None,
        "wired": " ".join(e.name for e in tape.emitters) if tape else "",
        "mount": "aluminium",
        "status": ElementStatus.DRAWN,
    }
    rows = [
        Run(
            number=number,
            lead_um=3_000_000,
            lead_gauge="18 AWG",
            pieces=[
                Piece(number=n, drawn_um=pitches * pitch_um, cut_pitches=pitches if tape else None)
                for n, pitches in enumerate(pieces, start=1)
            ],
        )
        for number, pieces in enumerate(runs, start=1)
    ]
    return _stored(session, Element(**plain | given, runs=rows))


def a_hold(session: Session, production: Production, **given: Any) -> Hold:
    """Two of a model unless model_id, unit_id, tape_id or reel_id says otherwise."""
    plain: dict[str, Any] = {"from_on": production.build_start, "number": _tag("H")}
    if not {"model_id", "unit_id", "tape_id", "reel_id"} & given.keys():
        plain |= {"model_id": a_supply_model(session).id, "quantity": 2}
    if not {"tape_id", "reel_id"} & given.keys():
        plain["until_on"] = date.fromordinal(production.return_by.toordinal() + 1)
    return _stored(session, Hold(**plain | given, production_id=production.id))


def a_stocktake(session: Session, *things: Unit | Reel, **given: Any) -> Stocktake:
    """An open stocktake of a place of its own that expects the things; nothing is counted yet."""
    plain: dict[str, Any] = {"number": _tag("ST"), "status": "open", "counted_on": date(2026, 11, 25)}
    if "place_id" not in given:
        plain["place_id"] = a_place(session).id
    made = _stored(session, Stocktake(**plain | {"begun_at": utc_now()} | given))
    for thing in things:
        line = {"thing_key": thing.tag_key, "is_expected": True, "book_version": thing.version}
        line |= {"book_state": thing.state.value, "outcome": "to count"}
        pitches = thing.left_pitches if isinstance(thing, Reel) else None
        _stored(session, StocktakeLine(stocktake_id=made.id, book_pitches=pitches, **line))
    return made


def an_order_line(session: Session, **given: Any) -> OrderLine:
    plain: dict[str, Any] = {
        "order_number": _tag("PO"),
        "line": 1,
        "quantity": 4,
        "due_on": date(2026, 12, 1),
    }
    if not {"model_id", "tape_id"} & given.keys():
        plain["model_id"] = a_decoder_model(session).id
    return _stored(session, OrderLine(**plain | given))


def a_plan(session: Session, production: Production, **given: Any) -> Plan:
    plain = {
        "number": 1,
        "status": PlanStatus.KEPT,
        "from_on": production.build_start,
        "until_on": date.fromordinal(production.return_by.toordinal() + 1),
    }
    return _stored(session, Plan(**plain | given, production_id=production.id))


def an_allotment(session: Session, plan: Plan, run: Run, supply: Unit, **given: Any) -> Allotment:
    """The run on output 1 of the supply; through `decoder=` from channel 1 on when one is given."""
    decoder: Unit | None = given.pop("decoder", None)
    plain: dict[str, Any] = {"output": 1}
    if decoder is not None:
        plain |= {"decoder_id": decoder.id, "first_channel": 1, "channels": 4}
    return _stored(session, Allotment(**plain | given, plan_id=plan.id, run_id=run.id, supply_id=supply.id))


def a_placing(session: Session, plan: Plan, unit: Unit, **given: Any) -> Placing:
    return _stored(session, Placing(**given, plan_id=plan.id, unit_id=unit.id))


def a_patch(session: Session, plan: Plan, decoder: Unit, **given: Any) -> Patch:
    plain = {"universe": 1, "start": 1, "footprint": 4}
    return _stored(session, Patch(**plain | given, plan_id=plan.id, decoder_id=decoder.id))


def an_unfed_run(session: Session, plan: Plan, run: Run, **given: Any) -> UnfedRun:
    plain = {"limit": "supply-stock", "because": "no supply is free", "mend": "Hire one supply."}
    return _stored(session, UnfedRun(**plain | given, plan_id=plan.id, run_id=run.id))


@dataclass(frozen=True, slots=True)
class House:
    """What `a_house` put in; tags are fixed, so that a test may ask for them by name."""

    venue: Venue
    place: Place
    outlet: Outlet
    tape: Tape
    reel: Reel
    supply: Unit
    decoder: Unit
    production: Production
    scenic_unit: ScenicUnit
    element: Element
    plan: Plan


def a_house(session: Session) -> House:
    """One show with one window, SQ-1, kept on supply PS-1 output 1 through DC-1 channels 1 to 4, at
    universe 1 address 1, plugged into C1. 2 m of T-RGBW at 19.2 W/m: 38.4 W, 1.6 A."""
    venue = a_venue(session, name="Main Stage")
    store = a_place(session, tag="STORE", name="electrics store", kind=PlaceKind.STORE)
    place = a_place(session, tag="A1", name="shelf A, bin 1", parent_id=store.id)
    outlet = an_outlet(session, tag="C1", venue_id=venue.id, position="stage left")
    tape = a_tape(session, tag="T-RGBW")
    reel = a_reel(session, tape, tag="R-1", place_id=place.id)
    supply = a_supply(session, a_supply_model(session, tag="S320"), tag="PS-1", home_id=place.id)
    decoder = a_decoder(session, a_decoder_model(session, tag="D4"), tag="DC-1", home_id=place.id)
    production = a_production(session, venue, tag="WIN")
    scenic_unit = a_scenic_unit(session, production, name="House front")
    element = an_element(
        session, production, tag="SQ-1", name="upper window", tape=tape, scenic_unit_id=scenic_unit.id
    )
    plan = a_plan(session, production)
    an_allotment(session, plan, element.runs[0], supply, decoder=decoder)
    a_placing(session, plan, supply, place_id=scenic_unit.place_id, outlet_id=outlet.id)
    a_placing(session, plan, decoder, place_id=scenic_unit.place_id)
    a_patch(session, plan, decoder)
    return House(venue, place, outlet, tape, reel, supply, decoder, production, scenic_unit, element, plan)
