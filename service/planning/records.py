"""Plans and the rows that hang on them. The kept plan of a production is what the crew works from."""

from datetime import date, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, String, Text, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from service.shows.fittings import ControlLine
from service.store.base import Base, Stored
from service.store.types import UtcDateTime, choice


class PlanStatus(StrEnum):
    QUEUED = "queued"
    WORKING = "working"
    DRAFT = "draft"
    KEPT = "kept"
    SUPERSEDED = "superseded"
    CANCELLED = "cancelled"
    FAILED = "failed"


class Plan(Stored, Base):
    """One worked-out answer for a production, or one on its way. Windows are half-open days."""

    __tablename__ = "plans"
    __table_args__ = (
        UniqueConstraint("production_id", "number"),
        Index(
            "uq_plans_one_kept",
            "production_id",
            unique=True,
            sqlite_where=text("status = 'kept'"),
            postgresql_where=text("status = 'kept'"),
        ),
    )

    production_id: Mapped[int] = mapped_column(ForeignKey("productions.id"), index=True)
    number: Mapped[int]
    status: Mapped[PlanStatus] = mapped_column(choice(PlanStatus, "status"), index=True)
    origin: Mapped[str] = mapped_column(String(24), default="allocator")  # allocator, sheets or hand
    by: Mapped[str] = mapped_column(String(80), default="")
    from_on: Mapped[date]
    until_on: Mapped[date]
    mend: Mapped[bool] = mapped_column(default=False)
    effort: Mapped[float] = mapped_column(default=1.0)
    seed: Mapped[int] = mapped_column(default=0)
    deadline_s: Mapped[float | None]
    cancel_asked: Mapped[bool] = mapped_column(default=False)
    progress: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    fingerprint: Mapped[str | None] = mapped_column(String(64))
    cost: Mapped[int | None]
    bound: Mapped[int | None]
    unfed_w: Mapped[float | None]
    unfed_bound_w: Mapped[float | None]
    moved: Mapped[int | None]
    refed: Mapped[int | None]
    is_proven: Mapped[bool | None]
    stopped_early: Mapped[bool | None]
    seconds: Mapped[float | None]
    notes: Mapped[list[str] | None] = mapped_column(JSON(none_as_null=True))
    error: Mapped[str | None] = mapped_column(Text)
    started_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    finished_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    kept_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    superseded_at: Mapped[datetime | None] = mapped_column(UtcDateTime)


class Allotment(Stored, Base):
    """This run is fed from this output, through these channels. `supply_id` may be a battery.

    A placeholder names the model and leaves the unit open. No decoder at all: straight on the output.
    """

    __tablename__ = "allotments"
    __table_args__ = (
        UniqueConstraint("plan_id", "run_id"),
        CheckConstraint("(supply_id IS NULL) != (supply_model_id IS NULL)", name="a_supply_or_a_model"),
        CheckConstraint("decoder_id IS NULL OR decoder_model_id IS NULL", name="a_decoder_or_a_model"),
        CheckConstraint("output >= 1", name="output_from_one"),
        CheckConstraint("first_channel >= 1", name="channel_from_one"),
        CheckConstraint("channels >= 0", name="channels_not_negative"),
        Index("ix_allotments_supply_id_output", "supply_id", "output"),
    )

    plan_id: Mapped[int] = mapped_column(ForeignKey("plans.id"))
    run_id: Mapped[int] = mapped_column(ForeignKey("runs.id"), index=True)
    supply_id: Mapped[int | None] = mapped_column(ForeignKey("units.id"))
    supply_model_id: Mapped[int | None] = mapped_column(ForeignKey("gear_models.id"))
    output: Mapped[int] = mapped_column(default=1)
    decoder_id: Mapped[int | None] = mapped_column(ForeignKey("units.id"), index=True)
    decoder_model_id: Mapped[int | None] = mapped_column(ForeignKey("gear_models.id"))
    first_channel: Mapped[int | None]
    channels: Mapped[int] = mapped_column(default=0)
    is_locked: Mapped[bool] = mapped_column(default=False)
    override_reason: Mapped[str | None] = mapped_column(String(200))  # why it may be over a limit


class Placing(Stored, Base):
    """Where a unit stands in a plan: place, the scenic unit it rides on, the box it is in, its outlet, and
    the line that control reaches it by."""

    __tablename__ = "placings"
    __table_args__ = (UniqueConstraint("plan_id", "unit_id"),)

    plan_id: Mapped[int] = mapped_column(ForeignKey("plans.id"))
    unit_id: Mapped[int] = mapped_column(ForeignKey("units.id"), index=True)
    place_id: Mapped[int | None] = mapped_column(ForeignKey("places.id"))
    scenic_unit_id: Mapped[int | None] = mapped_column(ForeignKey("scenic_units.id"))
    enclosure_id: Mapped[int | None] = mapped_column(ForeignKey("units.id"))
    outlet_id: Mapped[int | None] = mapped_column(ForeignKey("outlets.id"), index=True)
    line_id: Mapped[int | None] = mapped_column(ForeignKey(ControlLine.id), index=True)


class Patch(Stored, Base):
    """Slots a decoder, or one port of a pixel driver (`port` 0 = the whole decoder), listens to."""

    __tablename__ = "patches"
    __table_args__ = (
        UniqueConstraint("plan_id", "decoder_id", "port"),
        CheckConstraint("universe BETWEEN 1 AND 63999", name="universe_range"),
        CheckConstraint("start BETWEEN 1 AND 512", name="start_range"),
        CheckConstraint("footprint >= 1", name="footprint_positive"),
    )

    plan_id: Mapped[int] = mapped_column(ForeignKey("plans.id"))
    decoder_id: Mapped[int] = mapped_column(ForeignKey("units.id"), index=True)
    port: Mapped[int] = mapped_column(default=0)
    universe: Mapped[int | None]
    start: Mapped[int | None]
    footprint: Mapped[int | None]
    mode: Mapped[str] = mapped_column(String(12), default="8-bit")
    pixels: Mapped[int | None]
    mirror: Mapped[str] = mapped_column(String(40), default="")


class UnfedRun(Stored, Base):
    """A run the plan leaves dark, and the one limit that binds."""

    __tablename__ = "unfed_runs"
    __table_args__ = (UniqueConstraint("plan_id", "run_id"),)

    plan_id: Mapped[int] = mapped_column(ForeignKey("plans.id"))
    run_id: Mapped[int] = mapped_column(ForeignKey("runs.id"), index=True)
    limit: Mapped[str] = mapped_column(String(40))
    value: Mapped[float | None]
    bound: Mapped[float | None]
    unit: Mapped[str] = mapped_column(String(12), default="")
    because: Mapped[str] = mapped_column(Text)
    mend: Mapped[str] = mapped_column(Text)
