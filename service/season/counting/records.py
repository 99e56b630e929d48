"""Counts of a place, and what each thing was found to be beside what the book says."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from service.store.base import Base, Stored
from service.store.types import UtcDateTime, choice


class StocktakeStatus(StrEnum):
    OPEN = "open"
    CLOSED = "closed"
    ABANDONED = "abandoned"


class Stocktake(Stored, Base):
    """One count of a place and of the places inside it; a place is counted by one stocktake at a time."""

    __tablename__ = "stocktakes"
    __table_args__ = (
        Index(
            "uq_stocktakes_one_open",
            "place_id",
            unique=True,
            sqlite_where=text("status = 'open'"),
            postgresql_where=text("status = 'open'"),
        ),
    )

    number: Mapped[str | None] = mapped_column(String(40), unique=True)
    place_id: Mapped[int] = mapped_column(ForeignKey("places.id"), index=True)
    status: Mapped[StocktakeStatus] = mapped_column(choice(StocktakeStatus, "status"))
    counted_on: Mapped[date]
    begun_by: Mapped[str] = mapped_column(String(80), default="")
    begun_at: Mapped[datetime] = mapped_column(UtcDateTime)
    closed_by: Mapped[str] = mapped_column(String(80), default="")
    closed_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    note: Mapped[str] = mapped_column(String(400), default="")


class Outcome(StrEnum):
    """What is to be made of a line. `accepted`: the book was put right; `to look for`: it is missing."""

    TO_COUNT = "to count"
    AGREES = "agrees"
    DIFFERS = "differs"
    ACCEPTED = "accepted"
    TO_LOOK_FOR = "to look for"


class StocktakeLine(Stored, Base):
    """A unit or reel that the book has at the place, or that was found there. `book_version`: the thing as it
    was when the line was made, so that a change made meanwhile is seen. Lengths in whole cut pitches."""

    __tablename__ = "stocktake_lines"
    __table_args__ = (
        UniqueConstraint("stocktake_id", "thing_key"),
        CheckConstraint("book_pitches >= 0", name="book_not_negative"),
        CheckConstraint("found_pitches >= 0", name="found_not_negative"),
    )

    stocktake_id: Mapped[int] = mapped_column(ForeignKey("stocktakes.id"))
    thing_key: Mapped[str] = mapped_column(String(80), ForeignKey("tags.key"), index=True)
    is_expected: Mapped[bool]
    book_version: Mapped[int]
    book_state: Mapped[str] = mapped_column(String(24), default="")
    book_pitches: Mapped[int | None]
    is_found: Mapped[bool | None]
    found_state: Mapped[str] = mapped_column(String(24), default="")
    found_pitches: Mapped[int | None]
    counted_by: Mapped[str] = mapped_column(String(80), default="")
    counted_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    outcome: Mapped[Outcome] = mapped_column(choice(Outcome, "outcome"))
    note: Mapped[str] = mapped_column(String(400), default="")
