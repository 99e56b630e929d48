"""What is fitted between gear and light: fuses, and the lines that control goes along."""

from datetime import date
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.store.base import Base, Stored
from service.store.types import choice

UNIT_LOADS_OF_A_LINE = 32.0  # ANSI E1.11, by EIA-485: a driver need not carry more


class Fuse(Stored, Base):
    """A fuse as it is fitted: on a supply (and one of its outputs), or in the lead of a run. `kind`: blade,
    glass, slow, as it is printed on it."""

    __tablename__ = "fuses"
    __table_args__ = (
        CheckConstraint("rating_a > 0", name="rating_positive"),
        CheckConstraint("(unit_id IS NULL) != (run_id IS NULL)", name="in_one_place"),
        CheckConstraint("output IS NULL OR unit_id IS NOT NULL", name="output_of_a_unit"),
        CheckConstraint("output >= 1", name="output_from_one"),
    )

    number: Mapped[str | None] = mapped_column(String(40), unique=True)
    rating_a: Mapped[float]
    kind: Mapped[str] = mapped_column(String(40), default="")
    unit_id: Mapped[int | None] = mapped_column(ForeignKey("units.id"), index=True)
    output: Mapped[int | None]
    run_id: Mapped[int | None] = mapped_column(ForeignKey("runs.id"), index=True)
    fitted_on: Mapped[date | None]
    note: Mapped[str] = mapped_column(String(400), default="")


class LineKind(StrEnum):
    WIRED = "wired"
    STREAM = "stream"
    WIRELESS = "wireless"
    LOCAL = "local"


class ControlLine(Stored, Base):
    """One way that control takes in a show: a wired line with its receivers one after another, a stream, a
    wireless link, or a box that runs by itself. `unit_load_limit`: unit loads that its driver carries."""

    __tablename__ = "control_lines"
    __table_args__ = (
        UniqueConstraint("production_id", "name"),
        CheckConstraint("universe BETWEEN 1 AND 63999", name="universe_range"),  # ANSI E1.31
        CheckConstraint("unit_load_limit > 0", name="limit_positive"),
    )

    production_id: Mapped[int] = mapped_column(ForeignKey("productions.id"))
    name: Mapped[str] = mapped_column(String(80))
    kind: Mapped[LineKind] = mapped_column(choice(LineKind, "kind"), default=LineKind.WIRED)
    universe: Mapped[int | None]
    unit_load_limit: Mapped[float] = mapped_column(default=UNIT_LOADS_OF_A_LINE)
    starts_at_id: Mapped[int | None] = mapped_column(ForeignKey("places.id"), index=True)
    note: Mapped[str] = mapped_column(String(400), default="")
