"""Productions and what is promised to them."""

from datetime import date
from decimal import Decimal
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, Index, Numeric, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.store.base import Base, Stored, Tagged
from service.store.types import choice


class Season(Stored, Base):
    """A span of days that shows are told by. Kept as half-open days: `until_on` is the day after its last."""

    __tablename__ = "seasons"
    __table_args__ = (CheckConstraint("from_on < until_on", name="window_forwards"),)

    name: Mapped[str] = mapped_column(String(80), unique=True)
    from_on: Mapped[date]
    until_on: Mapped[date]
    note: Mapped[str] = mapped_column(String(400), default="")


class ProductionStatus(StrEnum):
    IDEA = "idea"
    CONFIRMED = "confirmed"
    BUILDING = "building"
    IN_TECH = "in tech"
    RUNNING = "running"
    CLOSED = "closed"
    RETURNED = "returned"
    CANCELLED = "cancelled"


class Production(Tagged, Base):
    """A title scheduled in a venue; its tag is the show code. All dates are days, inclusive as shown.

    `needed_from` / `needed_to` replace build start / return by for gear when given.
    """

    KIND = "production"
    __tablename__ = "productions"
    __table_args__ = (
        CheckConstraint("build_start <= load_in", name="build_before_load_in"),
        CheckConstraint("load_in <= closing", name="load_in_before_closing"),
        CheckConstraint("closing <= strike_end", name="closing_before_strike"),
        CheckConstraint("strike_end <= return_by", name="strike_before_return"),
        CheckConstraint("needed_from <= needed_to", name="window_forwards"),
        CheckConstraint("recovered_share >= 0 AND recovered_share <= 1", name="recovered_is_a_share"),
    )

    title: Mapped[str] = mapped_column(String(120))
    venue_id: Mapped[int] = mapped_column(ForeignKey("venues.id"), index=True)
    build_start: Mapped[date]
    load_in: Mapped[date]
    tech: Mapped[date | None]
    first_preview: Mapped[date | None]
    opening: Mapped[date | None]
    closing: Mapped[date]
    strike_end: Mapped[date]
    return_by: Mapped[date]
    needed_from: Mapped[date | None]
    needed_to: Mapped[date | None]
    status: Mapped[ProductionStatus] = mapped_column(choice(ProductionStatus, "status"))
    default_universe: Mapped[int | None]
    recovered_share: Mapped[float | None]  # of its tape, 0 to 1, that comes back at strike
    season_id: Mapped[int | None] = mapped_column(ForeignKey("seasons.id"), index=True)


class FilmDay(Stored, Base):
    __tablename__ = "film_days"
    __table_args__ = (UniqueConstraint("production_id", "filmed_on"),)

    production_id: Mapped[int] = mapped_column(ForeignKey("productions.id"))
    filmed_on: Mapped[date]


class OtherLoad(Stored, Base):
    """What else hangs on an outlet (a fog machine), in every show or in one."""

    __tablename__ = "other_loads"
    __table_args__ = (CheckConstraint("load_w >= 0", name="load_not_negative"),)

    outlet_id: Mapped[int] = mapped_column(ForeignKey("outlets.id"), index=True)
    production_id: Mapped[int | None] = mapped_column(ForeignKey("productions.id"), index=True)
    load_w: Mapped[float]
    what: Mapped[str] = mapped_column(String(120), default="")


class Hold(Stored, Base):
    """Stock promised to a production: n units of a model, one unit by tag, or tape by whole pitches
    (of a tape or of one reel). Days are half-open: out from `from_on` up to but not on `until_on`;
    tape has no end, for it does not come back. `issued_on`: the day a unit went out; `returned_on`: the day
    it came back. `drawn_from_id`: the promise of its model that a unit makes good, which then counts one
    less.
    """

    __tablename__ = "holds"
    __table_args__ = (
        CheckConstraint("from_on < until_on", name="window_forwards"),
        CheckConstraint("quantity > 0", name="quantity_positive"),
        CheckConstraint("pitches > 0", name="pitches_positive"),
        CheckConstraint("drawn_from_id IS NULL OR unit_id IS NOT NULL", name="a_unit_is_drawn"),
        CheckConstraint(
            "(CASE WHEN model_id IS NULL THEN 0 ELSE 1 END"
            " + CASE WHEN unit_id IS NULL THEN 0 ELSE 1 END"
            " + CASE WHEN tape_id IS NULL THEN 0 ELSE 1 END"
            " + CASE WHEN reel_id IS NULL THEN 0 ELSE 1 END) = 1",
            name="one_thing",
        ),
        Index("ix_holds_unit_id_from_on", "unit_id", "from_on"),
    )

    number: Mapped[str | None] = mapped_column(String(40), unique=True)
    production_id: Mapped[int] = mapped_column(ForeignKey("productions.id"), index=True)
    model_id: Mapped[int | None] = mapped_column(ForeignKey("gear_models.id"), index=True)
    unit_id: Mapped[int | None] = mapped_column(ForeignKey("units.id"))
    tape_id: Mapped[int | None] = mapped_column(ForeignKey("tapes.id"), index=True)
    reel_id: Mapped[int | None] = mapped_column(ForeignKey("reels.id"), index=True)
    quantity: Mapped[int | None]
    pitches: Mapped[int | None]
    from_on: Mapped[date]
    until_on: Mapped[date | None]
    issued_on: Mapped[date | None]
    issued_by: Mapped[str] = mapped_column(String(80), default="")
    returned_on: Mapped[date | None]
    returned_by: Mapped[str] = mapped_column(String(80), default="")
    drawn_from_id: Mapped[int | None] = mapped_column(ForeignKey("holds.id"), index=True)
    note: Mapped[str] = mapped_column(String(400), default="")


class OrderLine(Stored, Base):
    """To be bought, or hired for the half-open days `hire_from` to `hire_until`: a model (pieces) or a tape
    (whole reels of `reel_pitches`). `received_on`: the day on which all of it had come."""

    __tablename__ = "order_lines"
    __table_args__ = (
        UniqueConstraint("order_number", "line"),
        CheckConstraint("quantity > 0", name="quantity_positive"),
        CheckConstraint("received_quantity >= 0 AND received_quantity <= quantity", name="received_of_it"),
        CheckConstraint("hire_from < hire_until", name="hire_forwards"),
    )

    order_number: Mapped[str] = mapped_column(String(40))
    line: Mapped[int]
    model_id: Mapped[int | None] = mapped_column(ForeignKey("gear_models.id"), index=True)
    tape_id: Mapped[int | None] = mapped_column(ForeignKey("tapes.id"), index=True)
    quantity: Mapped[int]
    reel_pitches: Mapped[int | None]
    ordered_on: Mapped[date | None]
    due_on: Mapped[date | None]
    received_quantity: Mapped[int] = mapped_column(default=0)
    received_on: Mapped[date | None]
    is_hire: Mapped[bool] = mapped_column(default=False)
    hire_from: Mapped[date | None]
    hire_until: Mapped[date | None]
    lot: Mapped[str] = mapped_column(String(40), default="")
    price: Mapped[Decimal | None] = mapped_column(Numeric(10, 2))


class Delivery(Stored, Base):
    """What came of one order line with one delivery note: the same note is received once."""

    __tablename__ = "deliveries"
    __table_args__ = (
        UniqueConstraint("number", "line_id"),
        CheckConstraint("quantity > 0", name="quantity_positive"),
    )

    number: Mapped[str] = mapped_column(String(40))
    line_id: Mapped[int] = mapped_column(ForeignKey("order_lines.id"), index=True)
    quantity: Mapped[int]
    received_on: Mapped[date]
    received_by: Mapped[str] = mapped_column(String(80), default="")
    lot: Mapped[str] = mapped_column(String(40), default="")
    note: Mapped[str] = mapped_column(String(400), default="")
