"""Prints: what was put on paper, and when; the crew works from it until the next."""

from datetime import date, datetime

from sqlalchemy import ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.store.base import Base, Stored
from service.store.types import UtcDateTime, utc_now


class Print(Stored, Base):
    """One paper of a production, as it was printed. `number` counts from 1 in the production."""

    __tablename__ = "prints"
    __table_args__ = (UniqueConstraint("production_id", "number"),)

    production_id: Mapped[int] = mapped_column(ForeignKey("productions.id"))
    number: Mapped[int]
    paper: Mapped[str] = mapped_column(String(80))
    as_of: Mapped[date]
    plan: Mapped[int | None]  # number of the plan that was kept then
    printed_by: Mapped[str] = mapped_column(String(80), default="")
    printed_at: Mapped[datetime] = mapped_column(UtcDateTime, default=utc_now)
