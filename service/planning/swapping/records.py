"""What was swapped for what, so that it can be told and taken back."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from service.store.base import Base, Stored
from service.store.types import UtcDateTime


class Swap(Stored, Base):
    """`new_id` took the place of `old_id` in a kept plan. `before`: what undoing it puts back."""

    __tablename__ = "swaps"
    __table_args__ = (CheckConstraint("old_id != new_id", name="two_units"),)

    number: Mapped[str | None] = mapped_column(String(40), unique=True)
    production_id: Mapped[int] = mapped_column(ForeignKey("productions.id"), index=True)
    plan_id: Mapped[int] = mapped_column(ForeignKey("plans.id"), index=True)
    old_id: Mapped[int] = mapped_column(ForeignKey("units.id"), index=True)
    new_id: Mapped[int] = mapped_column(ForeignKey("units.id"), index=True)
    fault_id: Mapped[int | None] = mapped_column(ForeignKey("faults.id"), index=True)
    note_id: Mapped[int | None] = mapped_column(ForeignKey("notes.id"), index=True)
    swapped_on: Mapped[date]
    swapped_by: Mapped[str] = mapped_column(String(80), default="")
    why: Mapped[str] = mapped_column(String(400), default="")
    before: Mapped[dict[str, Any]] = mapped_column(JSON(none_as_null=True))
    undone_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    undone_by: Mapped[str] = mapped_column(String(80), default="")
