"""What the department owns, read once: kinds of gear, units, wire, places, outlets, policy."""

from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.electrical.gauges import known_gauge
from service.errors import BadQuantity
from service.limits.blanks import battery_blanks, decoder_blanks, supply_blanks
from service.limits.facts import BoxFacts, ConnectorFacts, DecoderFacts, PackFacts, SupplyFacts
from service.limits.policy import DEFAULT, RANGES, Policy, fault_between, stored_figure
from service.season.records import OtherLoad
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
from service.stock.records import Outlet, Place, PolicyRow, Reach, Venue, Wire


@dataclass(frozen=True, slots=True)
class SourceKind:
    """A kind of supply or battery. `caps_a`: amps of each output, None where not known."""

    id: int
    tag: str
    kind: str  # supply or battery
    output_v: float
    class_v: float
    rated_w: float | None
    caps_a: tuple[float | None, ...]
    full_to_degc: float | None
    derate_per_k: float | None
    max_degc: float | None
    load_factor: float | None
    cost_weight: float | None
    efficiency: float | None = None
    power_factor: float | None = None
    inrush_a: float | None = None
    is_class2: bool | None = None
    connector_id: int | None = None
    pack: PackFacts | None = None

    @property
    def blank(self) -> tuple[str, ...]:
        """The figures nobody entered without which it is never chosen."""
        if self.kind == GearKind.BATTERY.value:
            return battery_blanks(self.caps_a)
        return supply_blanks(self.rated_w, self.caps_a, self.full_to_degc, self.derate_per_k, self.max_degc)


@dataclass(frozen=True, slots=True)
class BankKind:
    number: int
    first_channel: int
    channels: int
    total_a: float | None


@dataclass(frozen=True, slots=True)
class DecoderKind:
    id: int
    tag: str
    channels: int
    channel_a: float | None
    min_v: float
    max_v: float
    polarity: str
    signal: str
    link: str
    pwm_hz: float | None
    footprint_8bit: int | None
    footprint_16bit: int | None
    load_factor: float | None
    cost_weight: float | None
    banks: tuple[BankKind, ...]
    idle_w: float | None = None
    curve: str = ""
    unit_loads: float = 1.0

    @property
    def blank(self) -> tuple[str, ...]:
        """The figures nobody entered without which it, or a bank of it, is never chosen."""
        return decoder_blanks(self.channel_a, [bank.total_a for bank in self.banks])


@dataclass(frozen=True, slots=True)
class UnitRow:
    id: int
    tag: str
    kind: str
    model_id: int | None
    state: str
    state_note: str
    home_id: int | None
    where_note: str
    measured_ah: float | None = None
    hired_from: date | None = None
    hired_until: date | None = None

    @property
    def is_sound(self) -> bool:
        return self.state == UnitState.GOOD

    @property
    def to_have(self) -> str:
        """What would make one of use that is not sound."""
        return f"find {self.tag}" if self.state == UnitState.MISSING else f"mend {self.tag}"

    def is_here(self, from_on: date, until_on: date) -> bool:
        """Whether it is in the house through these half-open days: what is hired is, on those of its hire."""
        begins = self.hired_from is None or self.hired_from <= from_on
        return begins and (self.hired_until is None or self.hired_until >= until_on)


@dataclass(frozen=True, slots=True)
class PlaceRow:
    id: int
    tag: str
    name: str
    kind: str
    venue_id: int | None
    parent_id: int | None


@dataclass(frozen=True, slots=True)
class OtherRow:
    """What else hangs on an outlet, in one production or (None) in all."""

    production_id: int | None
    load_w: float
    what: str


@dataclass(frozen=True, slots=True)
class OutletRow:
    id: int
    tag: str
    kind: str
    breaker_a: float | None
    volts_v: float | None
    venue_id: int | None
    place_id: int | None
    others: tuple[OtherRow, ...] = ()


@dataclass(frozen=True)
class House:
    sources: dict[int, SourceKind]
    decoders: dict[int, DecoderKind]
    units: dict[int, UnitRow]
    places: dict[int, PlaceRow]
    outlets: dict[int, OutletRow]
    venues: dict[int, str]
    wires: dict[str, tuple[float | None, float | None]]  # gauge: ohm a metre, amps
    reaches: dict[int, tuple[tuple[int, int | None], ...]]  # place: (gear place, longest lead)
    policy: Policy
    boxes: dict[int, BoxFacts]  # by unit
    connectors: dict[int, ConnectorFacts]
    retired: dict[int, UnitRow]  # units out of use that a plan still names

    @cached_property
    def gear(self) -> tuple[UnitRow, ...]:
        """Units of a model, by tag."""
        units = (unit for unit in self.units.values() if unit.model_id is not None)
        return tuple(sorted(units, key=lambda unit: unit.tag))

    @cached_property
    def idle_supplies(self) -> dict[int, SupplyFacts]:
        """Supplies with nothing on them, by unit, once they were made: every show may take the same ones."""
        return {}

    @cached_property
    def idle_decoders(self) -> dict[int, DecoderFacts]:
        return {}

    def named(self, unit_id: int) -> UnitRow:
        """The unit that a plan names, in use or not."""
        return self.units.get(unit_id) or self.retired[unit_id]

    def unit_by_tag(self, tag: str) -> UnitRow | None:
        wanted = tag.strip().upper()
        return next((u for u in self.units.values() if u.tag.upper() == wanted), None)

    def model_tag(self, unit: UnitRow) -> str:
        if unit.model_id in self.sources:
            return self.sources[unit.model_id].tag
        if unit.model_id in self.decoders:
            return self.decoders[unit.model_id].tag
        return ""

    def area(self, place_id: int | None) -> str:
        """The place tree that a place belongs to: the venue, else the top of its tree."""
        place = self.places.get(place_id or 0)
        while place is not None:
            if place.venue_id is not None:
                return self.venues[place.venue_id]
            if place.parent_id is None:
                return place.tag
            place = self.places.get(place.parent_id)
        return ""

    def lead(self, gauge: str | None) -> tuple[float | None, float | None]:
        """(ohm a metre of one core, amps the shop allows); the drum's own figures first."""
        if gauge in self.wires:
            return self.wires[gauge]
        known = known_gauge(gauge)
        return (known.ohm_per_m, known.shop_limit_a) if known else (None, None)


def _units(session: Session) -> tuple[dict[int, UnitRow], dict[int, UnitRow]]:
    """Those in use, and those that are not: a plan of a show that is over may still name one."""
    units: dict[int, UnitRow] = {}
    retired: dict[int, UnitRow] = {}
    rows = select(
        Unit.id, Unit.tag, Unit.kind, Unit.model_id, Unit.state, Unit.state_note, Unit.home_id,
        Unit.where_note, Unit.measured_ah, Unit.hired_from, Unit.hired_until, Unit.retired_on,
    )  # fmt: skip
    for *row, retired_on in session.execute(rows.order_by(Unit.id)):
        unit = UnitRow(*row)
        (units if retired_on is None else retired)[unit.id] = unit
    return units, retired


def read_house(session: Session) -> House:
    """Everything owned, in a number of selects that does not grow with the stock."""
    units, retired = _units(session)
    places = {
        row.id: PlaceRow(*row)
        for row in session.execute(
            select(Place.id, Place.tag, Place.name, Place.kind, Place.venue_id, Place.parent_id)
        )
    }
    return House(
        sources=_sources(session),
        decoders=_decoders(session),
        units=units,
        retired=retired,
        places=places,
        outlets=_outlets(session),
        venues={row.id: row.name for row in session.execute(select(Venue.id, Venue.name))},
        wires=_wires(session),
        reaches=_reaches(session),
        policy=read_policy(session),
        boxes=_boxes(session),
        connectors={
            row.id: ConnectorFacts(row.tag, row.a_per_pin)
            for row in session.execute(select(Connector.id, Connector.tag, Connector.a_per_pin))
        },
    )


def _outlets(session: Session) -> dict[int, OutletRow]:
    others: dict[int, list[OtherRow]] = {}
    loads = select(OtherLoad.outlet_id, OtherLoad.production_id, OtherLoad.load_w, OtherLoad.what)
    for row in session.execute(loads.order_by(OtherLoad.id)):
        others.setdefault(row.outlet_id, []).append(OtherRow(row.production_id, row.load_w, row.what))
    return {
        row.id: OutletRow(*row, others=tuple(others.get(row.id, ())))
        for row in session.execute(
            select(
                Outlet.id, Outlet.tag, Outlet.kind, Outlet.breaker_a, Outlet.volts_v, Outlet.venue_id,
                Outlet.place_id,
            )
        )
    }  # fmt: skip


def _boxes(session: Session) -> dict[int, BoxFacts]:
    box = Enclosure.__table__.c
    return {
        row.unit_id: BoxFacts(*row[1:])
        for row in session.execute(
            select(
                box.unit_id, Unit.tag, box.material, box.vent, box.area_m2, box.k_w_per_m2_k,
                box.ambient_degc, box.fan_m3_per_h,
            ).where(Unit.id == box.unit_id)
        )
    }  # fmt: skip


def _sources(session: Session) -> dict[int, SourceKind]:
    caps: dict[int, list[float | None]] = {}
    for model_id, cap_a in session.execute(
        select(SupplyOutput.model_id, SupplyOutput.cap_a).order_by(
            SupplyOutput.model_id, SupplyOutput.position
        )
    ):
        caps.setdefault(model_id, []).append(cap_a)
    found: dict[int, SourceKind] = {}
    table, base = SupplyModel.__table__.c, GearModel.__table__.c
    for m in session.execute(
        select(
            base.id, base.tag, base.cost_weight, table.output_v, table.class_v, table.rated_w,
            table.full_to_degc, table.derate_per_k, table.max_degc, table.load_factor,
            table.efficiency, table.power_factor, table.inrush_a, table.is_class2,
            table.output_connector_id,
        ).where(base.id == table.id)
    ):  # fmt: skip
        found[m.id] = SourceKind(
            m.id, m.tag, GearKind.SUPPLY.value, m.output_v, m.class_v, m.rated_w,
            tuple(caps.get(m.id, [])), m.full_to_degc, m.derate_per_k, m.max_degc, m.load_factor,
            m.cost_weight, m.efficiency, m.power_factor, m.inrush_a, m.is_class2, m.output_connector_id,
        )  # fmt: skip
    pack = BatteryModel.__table__.c
    for b in session.execute(
        select(
            base.id, base.tag, base.cost_weight, pack.nominal_v, pack.class_v, pack.max_a, pack.capacity_ah,
            pack.usable_fraction, pack.rated_h, pack.peukert_exponent, pack.converter_efficiency,
            pack.charge_h,
        ).where(base.id == pack.id)
    ):  # fmt: skip
        found[b.id] = SourceKind(
            b.id, b.tag, GearKind.BATTERY.value, b.nominal_v, b.class_v, None, (b.max_a,),
            None, None, None, None, b.cost_weight,
            pack=PackFacts(
                b.nominal_v, b.capacity_ah, b.usable_fraction, b.rated_h, b.peukert_exponent,
                b.converter_efficiency, b.charge_h,
            ),
        )  # fmt: skip
    return found


def _decoders(session: Session) -> dict[int, DecoderKind]:
    banks: dict[int, list[BankKind]] = {}
    for b in session.execute(
        select(
            DecoderBank.model_id, DecoderBank.position, DecoderBank.first_channel, DecoderBank.channels,
            DecoderBank.total_a,
        ).order_by(DecoderBank.model_id, DecoderBank.position)
    ):  # fmt: skip
        banks.setdefault(b.model_id, []).append(BankKind(b.position, b.first_channel, b.channels, b.total_a))
    table, base = DecoderModel.__table__.c, GearModel.__table__.c
    rows = session.execute(select(base.tag, base.cost_weight, *table).where(base.id == table.id))
    return {
        m.id: DecoderKind(
            m.id, m.tag, m.channels, m.channel_a, m.min_v, m.max_v, m.polarity, m.signal, m.link, m.pwm_hz,
            m.footprint_8bit, m.footprint_16bit, m.load_factor, m.cost_weight,
            tuple(banks.get(m.id) or (BankKind(1, 1, m.channels, m.total_a),)),
            m.idle_w, m.curve, m.unit_loads,
        )
        for m in rows
    }  # fmt: skip


def _wires(session: Session) -> dict[str, tuple[float | None, float | None]]:
    rows = session.execute(
        select(Wire.gauge, Wire.ohm_per_m, Wire.limit_a).order_by(Wire.gauge, Wire.cores.desc())
    )
    return {row.gauge: (row.ohm_per_m, row.limit_a) for row in rows}


def _reaches(session: Session) -> dict[int, tuple[tuple[int, int | None], ...]]:
    found: dict[int, list[tuple[int, int | None]]] = {}
    for row in session.execute(
        select(Reach.place_id, Reach.gear_place_id, Reach.lead_um).order_by(
            Reach.place_id, Reach.gear_place_id
        )
    ):
        found.setdefault(row.place_id, []).append((row.gear_place_id, row.lead_um))
    return {place: tuple(pairs) for place, pairs in found.items()}


def read_policy(session: Session) -> Policy:
    """The house's policy: built-in defaults, replaced by the stored rows of the same name.

    A stored figure out of its range is refused by name: used, it could make every load read as in order.
    """
    changed = {
        name: stored_figure(name, value)
        for name, value in session.execute(select(PolicyRow.name, PolicyRow.value))
        if name in RANGES
    }
    policy = replace(DEFAULT, **changed)
    if fault := fault_between(policy):
        raise BadQuantity(f"of the house rules, {fault}", "Put the lower figure first.")
    return policy
