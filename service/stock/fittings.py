"""Kinds of connector: columns and constraints, no rules."""

from sqlalchemy import CheckConstraint, String
from sqlalchemy.orm import Mapped, mapped_column

from service.store.base import Base, Tagged


class Connector(Tagged, Base):
    """A kind of connector; its tag is the house's name for the kind, as a tape's is. `a_per_pin`: what one
    pin may carry for hours, by the maker's sheet. `mates_with`: what it plugs into, in words."""

    KIND = "connector"
    __tablename__ = "connectors"
    __table_args__ = (
        CheckConstraint("pins >= 1", name="has_pins"),
        CheckConstraint("a_per_pin > 0", name="pin_positive"),
    )

    family: Mapped[str] = mapped_column(String(80), default="")
    pins: Mapped[int | None]
    a_per_pin: Mapped[float | None]
    gender: Mapped[str] = mapped_column(String(24), default="")
    mates_with: Mapped[str] = mapped_column(String(120), default="")
    note: Mapped[str] = mapped_column(String(400), default="")
