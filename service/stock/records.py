"""Places, outlets, wire, tape, reels and the cut ledger: columns and constraints, no rules."""

from datetime import date
from decimal import Decimal
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, Index, Numeric, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from service.store.base import Base, Stored, Tagged
from service.store.types import choice


class PlaceKind(StrEnum):
    STORE = "store"
    BIN = "bin"
    QUARANTINE = "quarantine"
    STAGE = "stage"
    ROOM = "room"
    SCENIC_UNIT = "scenic unit"


class Venue(Stored, Base):
    """A stage, its mains and its time zone."""

    __tablename__ = "venues"
    __table_args__ = (CheckConstraint("mains_v > 0", name="mains_positive"),)

    name: Mapped[str] = mapped_column(String(80), unique=True)
    house: Mapped[str] = mapped_column(String(80), default="")
    seats: Mapped[int | None]
    mains_v: Mapped[float]
    mains_hz: Mapped[float | None]
    timezone: Mapped[str | None] = mapped_column(String(40))


class Place(Tagged, Base):
    """Where things are: a bin, a perch, a trap room, a scenic unit. A tree by `parent_id`."""

    KIND = "place"
    __tablename__ = "places"

    name: Mapped[str] = mapped_column(String(120), default="")
    kind: Mapped[PlaceKind] = mapped_column(choice(PlaceKind, "kind"))
    venue_id: Mapped[int | None] = mapped_column(ForeignKey("venues.id"), index=True)
    parent_id: Mapped[int | None] = mapped_column(ForeignKey("places.id"), index=True)


class Reach(Stored, Base):
    """Gear at `gear_place_id` may feed what is at `place_id`, on a lead up to `lead_um` (blank: any)."""

    __tablename__ = "reaches"
    __table_args__ = (UniqueConstraint("place_id", "gear_place_id"),)

    place_id: Mapped[int] = mapped_column(ForeignKey("places.id"))
    gear_place_id: Mapped[int] = mapped_column(ForeignKey("places.id"))
    lead_um: Mapped[int | None]


class OutletKind(StrEnum):
    CONSTANT = "constant"
    RELAY = "relay"
    DIMMED = "dimmed"


class Outlet(Tagged, Base):
    """A wall or deck circuit that a supply plugs into."""

    KIND = "outlet"
    __tablename__ = "outlets"
    __table_args__ = (CheckConstraint("breaker_a > 0", name="breaker_positive"),)

    venue_id: Mapped[int | None] = mapped_column(ForeignKey("venues.id"), index=True)
    place_id: Mapped[int | None] = mapped_column(ForeignKey("places.id"), index=True)
    position: Mapped[str] = mapped_column(String(80), default="")
    kind: Mapped[OutletKind] = mapped_column(choice(OutletKind, "kind"))
    breaker_a: Mapped[float | None]
    volts_v: Mapped[float | None]


class PolicyRow(Stored, Base):
    """A house default that replaces the built-in one of the same name."""

    __tablename__ = "policies"

    name: Mapped[str] = mapped_column(String(80), unique=True)
    value: Mapped[str] = mapped_column(String(120))
    unit: Mapped[str] = mapped_column(String(60), default="")
    reason: Mapped[str] = mapped_column(String(200), default="")


class Wire(Stored, Base):
    """Lead stock of one gauge and core count. `ohm_per_m` of one core at 20 degC."""

    __tablename__ = "wires"
    __table_args__ = (
        UniqueConstraint("gauge", "cores"),
        CheckConstraint("ohm_per_m > 0", name="resistance_positive"),
        CheckConstraint("limit_a > 0", name="limit_positive"),
        CheckConstraint("length_um >= 0", name="length_not_negative"),
    )

    gauge: Mapped[str] = mapped_column(String(24))
    cores: Mapped[int]
    ohm_per_m: Mapped[float | None]
    limit_a: Mapped[float | None]
    length_um: Mapped[int | None]


class Tape(Tagged, Base):
    """A kind of tape. Lengths of it are whole cut pitches (`pitch_um`)."""

    KIND = "tape"
    __tablename__ = "tapes"
    __table_args__ = (
        CheckConstraint("nominal_v > 0", name="nominal_positive"),
        CheckConstraint("class_v > 0", name="class_positive"),
        CheckConstraint("pitch_um > 0", name="pitch_positive"),
        CheckConstraint("common_ohm_per_m > 0", name="common_positive"),
        CheckConstraint("measured_w_per_m > 0", name="measured_positive"),
        CheckConstraint("pack_quantity >= 1", name="pack_positive"),
        CheckConstraint("least_quantity >= 1", name="least_positive"),
    )

    nominal_v: Mapped[float]
    class_v: Mapped[float]
    polarity: Mapped[str] = mapped_column(String(24))
    signal: Mapped[str] = mapped_column(String(12), default="level")
    pitch_um: Mapped[int]
    reel_pitches: Mapped[int | None]
    max_run_um: Mapped[int | None]
    common_ohm_per_m: Mapped[float | None]
    ip: Mapped[int | None]
    leds_per_m: Mapped[float | None]
    colour: Mapped[str] = mapped_column(String(80), default="")
    pixels_per_m: Mapped[float | None]
    slots_per_pixel: Mapped[int | None]
    pixel_idle_w: Mapped[float | None]
    pwm_hz: Mapped[float | None]
    led_drop_v: Mapped[float | None]
    measured_w_per_m: Mapped[float | None]  # all emitters together at full, as the house measured it
    price: Mapped[Decimal | None] = mapped_column(Numeric(10, 2))  # of one reel
    lead_days: Mapped[int | None]
    pack_quantity: Mapped[int | None]  # reels, sold in packs of so many
    least_quantity: Mapped[int | None]  # reels, the smallest order
    emitters: Mapped[list["Emitter"]] = relationship(
        order_by="Emitter.position", cascade="all, delete-orphan"
    )


class Emitter(Stored, Base):
    """One colour of a tape, in pad order."""

    __tablename__ = "emitters"
    __table_args__ = (
        UniqueConstraint("tape_id", "position"),
        UniqueConstraint("tape_id", "name"),
        CheckConstraint("w_per_m > 0", name="power_positive"),
    )

    tape_id: Mapped[int] = mapped_column(ForeignKey("tapes.id"))
    position: Mapped[int]
    name: Mapped[str] = mapped_column(String(24))
    w_per_m: Mapped[float]
    return_ohm_per_m: Mapped[float | None]
    cct_k: Mapped[float | None]
    wavelength_nm: Mapped[float | None]


class ReelState(StrEnum):
    SEALED = "sealed"
    OPEN = "open"
    OFFCUT = "offcut"
    HELD = "held"
    USED_UP = "used up"
    SCRAP = "scrap"
    WRITTEN_OFF = "written off"


class Reel(Tagged, Base):
    """One continuous length of a tape, from one lot. `left_pitches` is the sum of its undisputed cuts."""

    KIND = "reel"
    __tablename__ = "reels"
    __table_args__ = (CheckConstraint("left_pitches >= 0", name="left_not_negative"),)

    tape_id: Mapped[int] = mapped_column(ForeignKey("tapes.id"), index=True)
    lot: Mapped[str] = mapped_column(String(40), default="")
    place_id: Mapped[int | None] = mapped_column(ForeignKey("places.id"), index=True)
    state: Mapped[ReelState] = mapped_column(choice(ReelState, "state"))
    received_pitches: Mapped[int | None]
    left_pitches: Mapped[int]
    parent_id: Mapped[int | None] = mapped_column(ForeignKey("reels.id"))
    received_on: Mapped[date | None]
    delivery_id: Mapped[int | None] = mapped_column(ForeignKey("deliveries.id"), index=True)
    note: Mapped[str] = mapped_column(String(400), default="")


class JoinKind(StrEnum):
    FACTORY = "factory"
    MADE = "made"


class ReelJoin(Stored, Base):
    """A soldered joint inside a reel, `from_hub_pitches` from its inner end, so that it stays where it is
    when tape is cut off the outside; it is there for as long as the reel reaches beyond it."""

    __tablename__ = "reel_joins"
    __table_args__ = (
        UniqueConstraint("reel_id", "from_hub_pitches"),
        CheckConstraint("from_hub_pitches >= 1", name="inside_the_reel"),
    )

    reel_id: Mapped[int] = mapped_column(ForeignKey("reels.id"))
    from_hub_pitches: Mapped[int]
    kind: Mapped[JoinKind] = mapped_column(choice(JoinKind, "kind"))
    note: Mapped[str] = mapped_column(String(400), default="")


class CutKind(StrEnum):
    OPENING = "opening"
    RECEIVED = "received"
    PIECE = "piece"
    OFFCUT = "offcut"
    SCRAP = "scrap"
    RETURNED = "returned"
    RECOUNT = "recount"
    JOINED = "joined"


class Cut(Stored, Base):
    """A ledger row: `change_pitches` is added to the reel (cuts are negative). Rows are never changed;
    a disputed row stands outside the balance."""

    __tablename__ = "cuts"
    __table_args__ = (
        CheckConstraint("change_pitches != 0", name="change_not_zero"),
        Index("ix_cuts_reel_id_id", "reel_id", "id"),
    )

    reel_id: Mapped[int] = mapped_column(ForeignKey("reels.id"))
    number: Mapped[str | None] = mapped_column(String(40), unique=True)
    kind: Mapped[CutKind] = mapped_column(choice(CutKind, "kind"))
    change_pitches: Mapped[int]
    cut_on: Mapped[date]
    entered_by: Mapped[str] = mapped_column(String(80), default="")
    is_disputed: Mapped[bool] = mapped_column(default=False)
    undoes_id: Mapped[int | None] = mapped_column(ForeignKey("cuts.id"))
    note: Mapped[str] = mapped_column(String(400), default="")
