"""What people write down and ask of one another: notes and work orders."""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from service.store.base import Base, Stored
from service.store.types import UtcDateTime, utc_now


class Note(Stored, Base):
    """Something said about the thing with a tag; a production's tag is its code. Open until `done_on`."""

    __tablename__ = "notes"

    number: Mapped[str | None] = mapped_column(String(40), unique=True)
    about_key: Mapped[str] = mapped_column(String(80), ForeignKey("tags.key"), index=True)
    text: Mapped[str] = mapped_column(String(2000))
    written_by: Mapped[str] = mapped_column(String(80), default="")
    written_at: Mapped[datetime] = mapped_column(UtcDateTime, default=utc_now)
    done_on: Mapped[date | None]


class WorkOrder(Stored, Base):
    """Work asked of somebody, for a show or on a thing or neither. Days are shown as they are kept."""

    __tablename__ = "work_orders"
    __table_args__ = (
        CheckConstraint("asked_on <= due_on", name="asked_before_due"),
        CheckConstraint("asked_on <= done_on", name="asked_before_done"),
    )

    number: Mapped[str | None] = mapped_column(String(40), unique=True)
    production_id: Mapped[int | None] = mapped_column(ForeignKey("productions.id"), index=True)
    about_key: Mapped[str | None] = mapped_column(String(80), ForeignKey("tags.key"), index=True)
    what: Mapped[str] = mapped_column(String(400))
    person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"), index=True)
    asked_on: Mapped[date]
    due_on: Mapped[date | None]
    done_on: Mapped[date | None]
    done_by: Mapped[str] = mapped_column(String(80), default="")
