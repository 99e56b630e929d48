"""What is asked about things that are dark, and what is answered."""

from datetime import date, datetime
from typing import Annotated

from pydantic import BaseModel, Field, StringConstraints

from service.planning.schemas import Said

# An element, or one run of it after a stroke.
RunText = Annotated[
    str, StringConstraints(strip_whitespace=True, min_length=1, max_length=90, pattern=r"^[^\x00]+$")
]


class DarkAsk(Said):
    """Which elements or runs are out, and which are known to be lit."""

    dark: list[RunText] = Field(
        min_length=1, max_length=500, description="tags of elements that are out, or runs: SQ-09/1",
        examples=[["SQ-07", "SQ-09"]],
    )  # fmt: skip
    lit: list[RunText] = Field(
        default=[], max_length=500, description="tags of elements, or runs, that are seen to be lit",
        examples=[["SQ-10"]],
    )  # fmt: skip
    also_recorded: bool = Field(
        default=True, description="also count what is recorded as dark in the same shows", examples=[True]
    )


class DarkRunOut(BaseModel):
    """One run."""

    run: str = Field(description="element and run: SQ-09/1")
    element: str = Field(description="tag of the element")
    name: str = Field(description="what people call it")
    production: str = Field(description="show code")
    place: str = Field(description="tag of its place")
    is_lit: bool | None = Field(description="whether it is said to be lit; null: not known")


class CauseOut(BaseModel):
    """One thing that the dark runs have in common."""

    rank: int = Field(description="1 is the likeliest")
    what: str = Field(description="lead, channel, bank, decoder, output, supply, box, outlet, line, universe")
    name: str = Field(description="which one")
    place: str = Field(description="tag of the place it stands at")
    explained: int = Field(description="how many of the dark runs hang on it")
    of: int = Field(description="how many are dark")
    explains: list[str] = Field(description="the dark runs that hang on it")
    others: list[DarkRunOut] = Field(description="what else it would darken, and is not among the dark")
    is_ruled_out: bool = Field(description="whether something that hangs on it is said to be lit")
    check: str = Field(description="where to look, and what would prove it is not this")
    caution: str = Field(description="what to mind")


class UnfedDarkOut(BaseModel):
    """Something dark that no kept plan feeds."""

    run: str = Field(description="the element, or its run")
    because: str = Field(description="why it is dark")


class CausesOut(BaseModel):
    """Common causes, ranked, and the fewest that explain everything."""

    dark: list[DarkRunOut] = Field(description="the runs that count as dark, those on record among them")
    recorded: list[str] = Field(description="elements that count because they are on record as dark")
    unfed: list[UnfedDarkOut] = Field(description="dark because nothing feeds them")
    causes: list[CauseOut] = Field(description="common causes, the likeliest first")
    together: list[str] = Field(description="the fewest causes that explain all the dark, by name")


class DarkElementOut(BaseModel):
    """One line of the dark list."""

    element: str = Field(description="tag of the element")
    name: str = Field(description="what people call it")
    production: str = Field(description="show code")
    place: str = Field(description="tag of its place; blank: not known")
    since: date | None = Field(description="day it was found dark; null: not on record")
    since_at: datetime | None = Field(description="the moment, UTC; null: not on record")
    symptom: str = Field(description="what was seen")
    found_by: str = Field(description="who found it")
