"""Supplies, decoders, batteries and boxes: kinds of gear (models) and the things themselves (units)."""

from datetime import date
from decimal import Decimal
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, Numeric, String, UniqueConstraint
from sqlalchemy.orm import Mapped, declared_attr, mapped_column, relationship

from service.stock.fittings import Connector
from service.store.base import Base, Stored, Tagged
from service.store.types import choice


class GearKind(StrEnum):
    SUPPLY = "supply"
    DECODER = "decoder"
    BATTERY = "battery"
    ENCLOSURE = "enclosure"


class UnitState(StrEnum):
    GOOD = "good"
    SUSPECT = "suspect"
    FAULTY = "faulty"
    REPAIR = "repair"
    RETIRED = "retired"
    MISSING = "missing"


class GearModel(Tagged, Base):
    """What all kinds of gear share. `cost_weight`: how scarce a unit is to the allocator (1 = ordinary).
    Sold in packs of `pack_quantity`, `least_quantity` at least; one is hired for `hire_price_per_week`."""

    KIND = "model"
    __tablename__ = "gear_models"
    __table_args__: tuple[CheckConstraint, ...] = (
        CheckConstraint("cost_weight > 0", name="weight_positive"),
        CheckConstraint("pack_quantity >= 1", name="pack_positive"),
        CheckConstraint("least_quantity >= 1", name="least_positive"),
        CheckConstraint("hire_price_per_week >= 0", name="hire_price_not_negative"),
    )

    kind: Mapped[GearKind] = mapped_column(choice(GearKind, "kind"))
    lead_days: Mapped[int | None]
    price: Mapped[Decimal | None] = mapped_column(Numeric(10, 2))
    cost_weight: Mapped[float | None]
    pack_quantity: Mapped[int | None]
    least_quantity: Mapped[int | None]
    hire_price_per_week: Mapped[Decimal | None] = mapped_column(Numeric(10, 2))
    hire_lead_days: Mapped[int | None]
    note: Mapped[str] = mapped_column(String(400), default="")

    @declared_attr.directive
    def __mapper_args__(cls) -> dict[str, object]:
        return {"polymorphic_on": "kind", "version_id_col": cls.__table__.c.version}


class SupplyModel(GearModel):
    """A dc power supply. Ambient derating: 1 up to `full_to_degc`, then `derate_per_k` a kelvin, 0 above
    `max_degc`. `load_factor` replaces the house's 0.80 when given."""

    __tablename__ = "supply_models"
    __mapper_args__ = {"polymorphic_identity": GearKind.SUPPLY}
    __table_args__: tuple[CheckConstraint, ...] = (
        CheckConstraint("output_v > 0", name="output_positive"),
        CheckConstraint("rated_w > 0", name="rated_positive"),
        CheckConstraint("efficiency > 0 AND efficiency <= 1", name="efficiency_is_a_share"),
        CheckConstraint("power_factor > 0 AND power_factor <= 1", name="power_factor_is_a_share"),
        CheckConstraint("load_factor > 0 AND load_factor <= 1", name="load_factor_is_a_share"),
    )

    id: Mapped[int] = mapped_column(ForeignKey("gear_models.id"), primary_key=True)
    output_v: Mapped[float]
    class_v: Mapped[float]
    rated_w: Mapped[float | None]
    efficiency: Mapped[float | None]
    power_factor: Mapped[float | None]
    inrush_a: Mapped[float | None]
    full_to_degc: Mapped[float | None]
    derate_per_k: Mapped[float | None]
    max_degc: Mapped[float | None]
    load_factor: Mapped[float | None]
    is_class2: Mapped[bool | None]
    output_connector_id: Mapped[int | None] = mapped_column(ForeignKey(Connector.id))
    outputs: Mapped[list["SupplyOutput"]] = relationship(
        order_by="SupplyOutput.position", cascade="all, delete-orphan"
    )


class SupplyOutput(Stored, Base):
    """One output of a supply model; outputs count from 1."""

    __tablename__ = "supply_outputs"
    __table_args__ = (
        UniqueConstraint("model_id", "position"),
        CheckConstraint("position >= 1", name="position_from_one"),
        CheckConstraint("cap_a > 0", name="cap_positive"),
    )

    model_id: Mapped[int] = mapped_column(ForeignKey("supply_models.id"))
    position: Mapped[int]
    label: Mapped[str] = mapped_column(String(24), default="")
    cap_a: Mapped[float | None]


class DecoderModel(GearModel):
    """A dimmer or decoder, or a pixel driver (its channels are ports). `unit_loads`: what its receiver puts
    on a wired line, 1 for an ordinary one (ANSI E1.11, by EIA-485)."""

    __tablename__ = "decoder_models"
    __mapper_args__ = {"polymorphic_identity": GearKind.DECODER}
    __table_args__: tuple[CheckConstraint, ...] = (
        CheckConstraint("channels >= 1", name="has_channels"),
        CheckConstraint("channel_a > 0", name="channel_positive"),
        CheckConstraint("total_a > 0", name="total_positive"),
        CheckConstraint("min_v > 0 AND max_v >= min_v", name="voltage_range"),
        CheckConstraint("load_factor > 0 AND load_factor <= 1", name="load_factor_is_a_share"),
        CheckConstraint("unit_loads > 0", name="unit_loads_positive"),
    )

    id: Mapped[int] = mapped_column(ForeignKey("gear_models.id"), primary_key=True)
    channels: Mapped[int]
    channel_a: Mapped[float | None]
    total_a: Mapped[float | None]
    min_v: Mapped[float]
    max_v: Mapped[float]
    polarity: Mapped[str] = mapped_column(String(24))
    signal: Mapped[str] = mapped_column(String(12), default="level")
    link: Mapped[str] = mapped_column(String(12), default="wired")
    pwm_hz: Mapped[float | None]
    footprint_8bit: Mapped[int | None]
    footprint_16bit: Mapped[int | None]
    idle_w: Mapped[float | None]
    curve: Mapped[str] = mapped_column(String(24), default="")
    unit_loads: Mapped[float] = mapped_column(default=1.0)
    control_connector_id: Mapped[int | None] = mapped_column(ForeignKey(Connector.id))
    output_connector_id: Mapped[int | None] = mapped_column(ForeignKey(Connector.id))
    load_factor: Mapped[float | None]
    banks: Mapped[list["DecoderBank"]] = relationship(
        order_by="DecoderBank.position", cascade="all, delete-orphan"
    )


class DecoderBank(Stored, Base):
    """Consecutive channels of a decoder model with one power feed."""

    __tablename__ = "decoder_banks"
    __table_args__ = (
        UniqueConstraint("model_id", "position"),
        CheckConstraint("first_channel >= 1", name="first_from_one"),
        CheckConstraint("channels >= 1", name="has_channels"),
    )

    model_id: Mapped[int] = mapped_column(ForeignKey("decoder_models.id"))
    position: Mapped[int]
    first_channel: Mapped[int]
    channels: Mapped[int]
    total_a: Mapped[float | None]


class BatteryModel(GearModel):
    """A pack. `class_v`: 12.8 V counts as 12 V. Peukert exponent blank: the energy method."""

    __tablename__ = "battery_models"
    __mapper_args__ = {"polymorphic_identity": GearKind.BATTERY}
    __table_args__: tuple[CheckConstraint, ...] = (
        CheckConstraint("nominal_v > 0", name="nominal_positive"),
        CheckConstraint("capacity_ah > 0", name="capacity_positive"),
        CheckConstraint("usable_fraction > 0 AND usable_fraction <= 1", name="usable_is_a_share"),
        CheckConstraint("max_a > 0", name="max_positive"),
    )

    id: Mapped[int] = mapped_column(ForeignKey("gear_models.id"), primary_key=True)
    nominal_v: Mapped[float]
    class_v: Mapped[float]
    capacity_ah: Mapped[float | None]
    rated_h: Mapped[float | None]
    usable_fraction: Mapped[float | None]
    max_a: Mapped[float | None]
    is_regulated: Mapped[bool | None]
    chemistry: Mapped[str] = mapped_column(String(60), default="")
    charge_h: Mapped[float | None]
    peukert_exponent: Mapped[float | None]
    converter_efficiency: Mapped[float | None]


class Unit(Tagged, Base):
    """One supply, decoder, battery or box with a tag on it. `home_id`: its bin; it was last seen at
    `seen_place_id` on `seen_on`, or where `where_note` says. What is hired is here on the half-open days
    `hired_from` to `hired_until` only."""

    KIND = "unit"
    __tablename__ = "units"
    __table_args__ = (
        CheckConstraint("(model_id IS NULL) = (kind = 'enclosure')", name="model_unless_enclosure"),
        CheckConstraint("hired_from < hired_until", name="hire_forwards"),
    )

    kind: Mapped[GearKind] = mapped_column(choice(GearKind, "kind"), index=True)
    model_id: Mapped[int | None] = mapped_column(ForeignKey("gear_models.id"), index=True)
    state: Mapped[UnitState] = mapped_column(choice(UnitState, "state"))
    state_note: Mapped[str] = mapped_column(String(400), default="")
    home_id: Mapped[int | None] = mapped_column(ForeignKey("places.id"), index=True)
    where_note: Mapped[str] = mapped_column(String(120), default="")
    seen_place_id: Mapped[int | None] = mapped_column(ForeignKey("places.id"), index=True)
    seen_on: Mapped[date | None]
    hired_from: Mapped[date | None]
    hired_until: Mapped[date | None]
    delivery_id: Mapped[int | None] = mapped_column(ForeignKey("deliveries.id"), index=True)
    last_tested_on: Mapped[date | None]
    cycles: Mapped[int | None]
    measured_ah: Mapped[float | None]


class Enclosure(Stored, Base):
    """The box that a unit of kind enclosure is: what it is made of and how it loses heat."""

    __tablename__ = "enclosures"
    __table_args__ = (CheckConstraint("area_m2 > 0", name="area_positive"),)

    unit_id: Mapped[int] = mapped_column(ForeignKey("units.id"), unique=True)
    material: Mapped[str] = mapped_column(String(80), default="")
    vent: Mapped[str] = mapped_column(String(12), default="sealed")
    length_um: Mapped[int | None]
    width_um: Mapped[int | None]
    height_um: Mapped[int | None]
    faces_exposed: Mapped[int | None]
    area_m2: Mapped[float | None]
    k_w_per_m2_k: Mapped[float | None]
    ambient_degc: Mapped[float | None]
    fan_m3_per_h: Mapped[float | None]
