"""What lights up on stage: scenic units, groups, elements, runs, pieces."""

from datetime import date
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from service.stock.fittings import Connector
from service.store.base import Base, Stored, Tagged
from service.store.types import choice


class Motion(StrEnum):
    STATIC = "static"
    ROLLING = "rolling"
    FLOWN = "flown"
    TURNTABLE = "turntable"
    PROP = "prop"
    COSTUME = "costume"


class Zone(StrEnum):
    DRY = "dry"
    SPLASH = "splash"
    WET = "wet"


class ScenicUnit(Stored, Base):
    """A piece of scenery, prop or costume that carries elements. It is itself a place (`place_id`),
    whose parent is where it stands."""

    __tablename__ = "scenic_units"
    __table_args__ = (UniqueConstraint("production_id", "name"),)

    production_id: Mapped[int] = mapped_column(ForeignKey("productions.id"))
    place_id: Mapped[int] = mapped_column(ForeignKey("places.id"), unique=True)
    name: Mapped[str] = mapped_column(String(120))
    motion: Mapped[Motion] = mapped_column(choice(Motion, "motion"))
    zone: Mapped[Zone] = mapped_column(choice(Zone, "zone"))
    has_travelling_cable: Mapped[bool] = mapped_column(default=False)


class GroupKind(StrEnum):
    CONTROL = "control"  # moves together: shares channels
    MATCH = "match"  # seen together: one tape, one lot, one feed style


class Group(Stored, Base):
    __tablename__ = "groups"
    __table_args__ = (UniqueConstraint("production_id", "kind", "name"),)

    production_id: Mapped[int] = mapped_column(ForeignKey("productions.id"))
    kind: Mapped[GroupKind] = mapped_column(choice(GroupKind, "kind"))
    name: Mapped[str] = mapped_column(String(80))
    note: Mapped[str] = mapped_column(String(400), default="")


class ElementStatus(StrEnum):
    ASKED = "asked"
    DRAWN = "drawn"
    CUT = "cut"
    BUILT = "built"
    TESTED = "tested"
    INSTALLED = "installed"
    WORKING = "working"
    DARK = "dark"
    STRUCK = "struck"
    CUT_FROM_SHOW = "cut from show"


class FitRule(StrEnum):
    INSIDE = "inside"  # longest whole pitches not longer than drawn
    COVER = "cover"  # shortest whole pitches not shorter than drawn
    NEAREST = "nearest"


class Element(Tagged, Base):
    """Something that must light up. `wired`: names of the emitters that reach a channel, in pad order,
    blank-separated. A level cap never hides a load; it is kept with where it is enforced and who signed."""

    KIND = "element"
    __tablename__ = "elements"
    __table_args__ = (
        CheckConstraint("priority BETWEEN 1 AND 9", name="priority_1_to_9"),
        CheckConstraint("cap_pct > 0 AND cap_pct <= 100", name="cap_is_a_percentage"),
    )

    production_id: Mapped[int] = mapped_column(ForeignKey("productions.id"), index=True)
    name: Mapped[str] = mapped_column(String(120))
    scenic_unit_id: Mapped[int | None] = mapped_column(ForeignKey("scenic_units.id"), index=True)
    place_id: Mapped[int | None] = mapped_column(ForeignKey("places.id"), index=True)
    tape_id: Mapped[int | None] = mapped_column(ForeignKey("tapes.id"), index=True)
    wired: Mapped[str] = mapped_column(String(120), default="")
    is_dimmed: Mapped[bool] = mapped_column(default=True)
    control_group_id: Mapped[int | None] = mapped_column(ForeignKey("groups.id"), index=True)
    match_group_id: Mapped[int | None] = mapped_column(ForeignKey("groups.id"), index=True)
    mount: Mapped[str | None] = mapped_column(String(40))
    zone: Mapped[Zone | None] = mapped_column(choice(Zone, "zone"))
    needs_battery: Mapped[bool] = mapped_column(default=False)
    needs_wireless: Mapped[bool] = mapped_column(default=False)
    priority: Mapped[int] = mapped_column(default=3)
    status: Mapped[ElementStatus] = mapped_column(choice(ElementStatus, "status"))
    status_note: Mapped[str] = mapped_column(String(400), default="")  # what was said at that step
    fit: Mapped[FitRule] = mapped_column(choice(FitRule, "fit"), default=FitRule.INSIDE)
    join_allowed: Mapped[bool] = mapped_column(default=False)
    cap_pct: Mapped[float | None]
    cap_enforced_where: Mapped[str] = mapped_column(String(120), default="")
    cap_signed_by: Mapped[str] = mapped_column(String(80), default="")
    cap_signed_on: Mapped[date | None]
    note: Mapped[str] = mapped_column(String(400), default="")
    runs: Mapped[list["Run"]] = relationship(order_by="Run.number", cascade="all, delete-orphan")


class FeedStyle(StrEnum):
    ONE = "one"
    BOTH = "both"
    MIDDLE = "middle"


class Run(Stored, Base):
    """What one lead feeds; one or more pieces in a chain. Its tag is the element's and its number."""

    __tablename__ = "runs"
    __table_args__ = (
        UniqueConstraint("element_id", "number"),
        CheckConstraint("number >= 1", name="number_from_one"),
        CheckConstraint("lead_um >= 0", name="lead_not_negative"),
        CheckConstraint("lead_cores >= 1", name="lead_has_cores"),
    )

    element_id: Mapped[int] = mapped_column(ForeignKey("elements.id"))
    number: Mapped[int]
    feed_style: Mapped[FeedStyle] = mapped_column(choice(FeedStyle, "feed_style"), default=FeedStyle.ONE)
    lead_um: Mapped[int | None]
    lead_gauge: Mapped[str | None] = mapped_column(String(24))
    lead_cores: Mapped[int | None]
    lead_connector_id: Mapped[int | None] = mapped_column(ForeignKey(Connector.id), index=True)
    pieces: Mapped[list["Piece"]] = relationship(order_by="Piece.number", cascade="all, delete-orphan")


class Piece(Stored, Base):
    """One piece on its mount. `drawn_um` as drawn; `cut_pitches` by the element's fit rule."""

    __tablename__ = "pieces"
    __table_args__ = (
        UniqueConstraint("run_id", "number"),
        CheckConstraint("drawn_um > 0", name="drawn_positive"),
        CheckConstraint("cut_pitches >= 0", name="cut_not_negative"),
    )

    run_id: Mapped[int] = mapped_column(ForeignKey("runs.id"))
    number: Mapped[int]
    drawn_um: Mapped[int]
    cut_pitches: Mapped[int | None]  # None while the tape is undecided


class PieceCut(Stored, Base):
    """Which ledger row a piece came from; two rows where it has a join."""

    __tablename__ = "piece_cuts"

    piece_id: Mapped[int] = mapped_column(ForeignKey("pieces.id"), index=True)
    cut_id: Mapped[int] = mapped_column(ForeignKey("cuts.id"), unique=True)
    part: Mapped[str] = mapped_column(String(8), default="")


class Cue(Stored, Base):
    """One stretch of an element's running order, for battery time."""

    __tablename__ = "cues"
    __table_args__ = (
        UniqueConstraint("element_id", "number"),
        CheckConstraint("minutes > 0", name="minutes_positive"),
        CheckConstraint("level_pct >= 0 AND level_pct <= 100", name="level_is_a_percentage"),
    )

    element_id: Mapped[int] = mapped_column(ForeignKey("elements.id"))
    number: Mapped[int]
    name: Mapped[str] = mapped_column(String(80), default="")
    minutes: Mapped[float]
    level_pct: Mapped[float]
