"""Cut plans and their steps. The ledger, not the plan, says what was cut."""

from datetime import date, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.store.base import Base, Stored
from service.store.types import UtcDateTime, choice


class CutPlanStatus(StrEnum):
    DRAFT = "draft"
    KEPT = "kept"
    DONE = "done"
    SUPERSEDED = "superseded"
    ABANDONED = "abandoned"


class CutPlan(Stored, Base):
    """Which piece comes off which reel, for one show or several. `found` and `proven`: the figures of the
    plan and the bounds that no plan beats, by tape. `supersedes_id`: the plan it was worked out again from.
    """

    __tablename__ = "cut_plans"

    number: Mapped[str | None] = mapped_column(String(40), unique=True)
    status: Mapped[CutPlanStatus] = mapped_column(choice(CutPlanStatus, "status"), index=True)
    as_of: Mapped[date]
    made_by: Mapped[str] = mapped_column(String(80), default="")
    keep_um: Mapped[int]
    fingerprint: Mapped[str] = mapped_column(String(64))
    found: Mapped[dict[str, Any]] = mapped_column(JSON(none_as_null=True))
    seconds: Mapped[float | None]
    is_proven: Mapped[bool]
    stopped_early: Mapped[bool] = mapped_column(default=False)
    supersedes_id: Mapped[int | None] = mapped_column(ForeignKey("cut_plans.id"), index=True)
    kept_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    note: Mapped[str] = mapped_column(String(400), default="")


class CutPlanShow(Stored, Base):
    """A show whose pieces the plan cuts."""

    __tablename__ = "cut_plan_shows"
    __table_args__ = (UniqueConstraint("cut_plan_id", "production_id"),)

    cut_plan_id: Mapped[int] = mapped_column(ForeignKey("cut_plans.id"))
    production_id: Mapped[int] = mapped_column(ForeignKey("productions.id"), index=True)


class CutStep(Stored, Base):
    """One cut, in marking order. `reel_id` blank: off `new_reel`, which is still to be bought. `part`: a, b …
    of a piece with a joint. `cut_id`: the ledger row, once it is done."""

    __tablename__ = "cut_steps"
    __table_args__ = (
        UniqueConstraint("cut_plan_id", "position"),
        CheckConstraint("pitches > 0", name="pitches_positive"),
        CheckConstraint("(reel_id IS NULL) != (new_reel IS NULL)", name="a_reel_or_a_new_one"),
    )

    cut_plan_id: Mapped[int] = mapped_column(ForeignKey("cut_plans.id"))
    position: Mapped[int]
    tape_id: Mapped[int] = mapped_column(ForeignKey("tapes.id"), index=True)
    reel_id: Mapped[int | None] = mapped_column(ForeignKey("reels.id"), index=True)
    new_reel: Mapped[str | None] = mapped_column(String(40))
    piece_id: Mapped[int | None] = mapped_column(ForeignKey("pieces.id"), index=True)
    part: Mapped[str] = mapped_column(String(1), default="")
    pitches: Mapped[int]
    cut_id: Mapped[int | None] = mapped_column(ForeignKey("cuts.id"), index=True)
