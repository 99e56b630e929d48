"""What may be changed about elements and runs, as it is sent."""

from datetime import date
from typing import Annotated

from pydantic import BeforeValidator, Field, WithJsonSchema

from service.errors import BadQuantity
from service.shows.records import ElementStatus, FeedStyle, FitRule, Zone
from service.stock.schemas import Change, Line, Note, TagText
from service.units import Gauge, Number, to_um

LONGEST_LEAD_UM = 1_000_000_000  # 1 km; nothing in a theatre is longer


def _lead_um(value: Number | None) -> int | None:
    if value is None:
        return None
    try:
        return to_um(value, None if isinstance(value, str) else "m")
    except BadQuantity as refusal:
        raise ValueError(f"{refusal.message}. {refusal.mend}") from refusal


LeadLength = Annotated[
    int | None,
    Field(ge=0, le=LONGEST_LEAD_UM),
    BeforeValidator(_lead_um),
    WithJsonSchema(
        {"anyOf": [{"type": "number"}, {"type": "string"}, {"type": "null"}], "examples": [3.5, "12 ft"]},
        mode="validation",
    ),
]


class ElementChange(Change):
    """An element renamed, moved, given other tape, built, found dark."""

    name: Annotated[Line, Field(min_length=1)] = Field(default="", description="what people call it")
    scenic_unit: Line | None = Field(default=None, description="name of the scenic unit that carries it")
    place: TagText | None = Field(default=None, description="tag of its place")
    status: ElementStatus = Field(
        default=ElementStatus.ASKED, description="asked, drawn, cut, built, tested, …"
    )
    priority: int = Field(default=3, ge=1, le=9, description="1 is fed first, 9 last")
    tape: TagText | None = Field(default=None, description="tag of its tape; null: undecided")
    wired: Line = Field(default="", description="emitters that reach a channel, blank-separated")
    is_dimmed: bool = Field(default=True, description="whether it needs a decoder")
    control_group: Annotated[Line, Field(max_length=80)] | None = Field(
        default=None, description="moves together with, on the same channels; a new name makes a group"
    )
    match_group: Annotated[Line, Field(max_length=80)] | None = Field(
        default=None, description="seen together with; a new name makes a group"
    )
    mount: Annotated[Line, Field(max_length=40)] | None = Field(
        default=None, description="what it is stuck to"
    )
    zone: Zone | None = Field(default=None, description="dry, splash or wet, if not as the scenic unit")
    needs_battery: bool = Field(default=False, description="whether it must run from a battery")
    needs_wireless: bool = Field(default=False, description="whether control must reach it without wire")
    fit: FitRule = Field(default=FitRule.INSIDE, description="how a drawn length becomes whole cut pitches")
    join_allowed: bool = Field(default=False, description="whether a piece may be joined")
    cap_pct: float | None = Field(
        default=None, gt=0, le=100, allow_inf_nan=False, description="level cap in %"
    )
    cap_enforced_where: Line = Field(default="", description="where the cap is held")
    cap_signed_by: Annotated[Line, Field(max_length=80)] = Field(default="", description="who signed the cap")
    cap_signed_on: date | None = Field(default=None, description="day the cap was signed")
    note: Note = Field(default="", description="the designer's note")


class RunChange(Change):
    """A run on another lead."""

    feed_style: FeedStyle = Field(default=FeedStyle.ONE, description="one, both or middle")
    lead_m: LeadLength = Field(
        default=None, description="lead one way: a number in m, or text with its own unit"
    )
    lead_gauge: Gauge | None = Field(default=None, description="AWG or mm²; null: not chosen")
