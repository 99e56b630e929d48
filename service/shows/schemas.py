"""What may be changed about a run, as it is sent."""

from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema

from service.errors import BadQuantity
from service.shows.records import FeedStyle
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


class Change(BaseModel):
    """Only what is named is changed; null empties what may be empty."""

    model_config = ConfigDict(extra="forbid")

    def named(self) -> dict[str, object]:
        return {name: getattr(self, name) for name in self.model_fields_set}


class RunChange(Change):
    """A run on another lead."""

    feed_style: FeedStyle = Field(default=FeedStyle.ONE, description="one, both or middle")
    lead_m: LeadLength = Field(
        default=None, description="lead one way: a number in m, or text with its own unit"
    )
    lead_gauge: Gauge | None = Field(default=None, description="AWG or mm²; null: not chosen")
