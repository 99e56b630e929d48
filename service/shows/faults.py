"""What was found wrong, and what was measured on the bench: facts about an element or a unit."""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from service.store.base import Base, Stored
from service.store.types import UtcDateTime


class Fault(Stored, Base):
    """Something found wrong; open until `mended_on`. `made_dark`: it put the element out, so that it is
    closed when the element works again. `found_at`: the moment, where it is known, for the minutes dark."""

    __tablename__ = "faults"
    __table_args__ = (
        CheckConstraint("(element_id IS NULL) != (unit_id IS NULL)", name="about_one_thing"),
        CheckConstraint("minutes_dark >= 0", name="minutes_not_negative"),
        CheckConstraint("found_on <= mended_on", name="found_before_mended"),
    )

    number: Mapped[str | None] = mapped_column(String(40), unique=True)
    element_id: Mapped[int | None] = mapped_column(ForeignKey("elements.id"), index=True)
    unit_id: Mapped[int | None] = mapped_column(ForeignKey("units.id"), index=True)
    found_on: Mapped[date]
    found_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    found_by: Mapped[str] = mapped_column(String(80), default="")
    symptom: Mapped[str] = mapped_column(String(400))
    made_dark: Mapped[bool] = mapped_column(default=False)
    cause: Mapped[str] = mapped_column(String(400), default="")
    fix: Mapped[str] = mapped_column(String(400), default="")
    swapped_for_id: Mapped[int | None] = mapped_column(ForeignKey("units.id"), index=True)
    minutes_dark: Mapped[int | None]
    mended_on: Mapped[date | None] = mapped_column(index=True)


class BenchTest(Stored, Base):
    """One test on the bench. `hours_at_full`: how long everything stood at full before it was read.
    `measured_w_per_m`: of an element, all its emitters together at full; where it passed, every load of the
    element is reckoned by it, as long as the element has the tape `tape_id` that was measured."""

    __tablename__ = "bench_tests"
    __table_args__ = (
        CheckConstraint("(element_id IS NULL) != (unit_id IS NULL)", name="about_one_thing"),
        CheckConstraint(
            "measured_w_per_m IS NULL OR (element_id IS NOT NULL AND tape_id IS NOT NULL)",
            name="watts_a_metre_of_tape",
        ),
        CheckConstraint("hours_at_full >= 0", name="hours_not_negative"),
        CheckConstraint("measured_w_per_m > 0", name="watts_a_metre_positive"),
        CheckConstraint("measured_w >= 0", name="watts_not_negative"),
        CheckConstraint("measured_v >= 0", name="volts_not_negative"),
        Index("ix_bench_tests_element_id_tested_on", "element_id", "tested_on"),
    )

    number: Mapped[str | None] = mapped_column(String(40), unique=True)
    element_id: Mapped[int | None] = mapped_column(ForeignKey("elements.id"))
    unit_id: Mapped[int | None] = mapped_column(ForeignKey("units.id"), index=True)
    tape_id: Mapped[int | None] = mapped_column(ForeignKey("tapes.id"), index=True)
    tested_on: Mapped[date]
    tested_by: Mapped[str] = mapped_column(String(80), default="")
    hours_at_full: Mapped[float | None]
    measured_w_per_m: Mapped[float | None]
    measured_w: Mapped[float | None]
    measured_v: Mapped[float | None]
    passed: Mapped[bool]
    note: Mapped[str] = mapped_column(String(400), default="")
