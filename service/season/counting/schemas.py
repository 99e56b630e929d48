"""What a stocktake is told and answers. Units are in the names: _m metres, _mm millimetres."""

from datetime import date, datetime
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints

from service.store.base import sound

MOST = 500


Tag = Annotated[str, StringConstraints(max_length=80, strip_whitespace=True), AfterValidator(sound)]
Words = Annotated[str, StringConstraints(max_length=400, strip_whitespace=True), AfterValidator(sound)]
Tags = Annotated[list[Tag], Field(max_length=MOST, examples=[["PS-31", "R-118"]])]


class _Ask(BaseModel):
    model_config = ConfigDict(extra="forbid")


class BeginAsk(_Ask):
    """A stocktake to begin."""

    place: Tag = Field(description="tag of the place; those inside it are counted with it", examples=["B1"])
    note: Words = Field(default="", description="anything to know", examples=["before the spring build"])


class CountOne(_Ask):
    """One thing as it was found, or not; what is left out is as the book has it."""

    tag: Tag = Field(description="tag of the unit or reel", examples=["PS-31"])
    found: bool = Field(default=True, description="whether it is there", examples=[True])
    state: Tag = Field(
        default="", description="the state it is in, if not that of the book", examples=["suspect"]
    )
    length_mm: float | None = Field(
        default=None,
        ge=0,
        le=1e7,
        description="tape left on a reel, in mm: a whole number of cut pitches",
        examples=[900.0],
    )
    pitches: int | None = Field(
        default=None, ge=0, le=10_000_000, description="the same in cut pitches", examples=[9]
    )
    note: Words = Field(
        default="", description="what was seen; wanted of what is faulty or suspect", examples=["hums"]
    )


class CountAsk(_Ask):
    """What was counted."""

    counts: list[CountOne] = Field(min_length=1, max_length=MOST, description="all of them are taken or none")


class AcceptAsk(_Ask):
    """Differences that are accepted: the book is put right by them."""

    tags: Tags = Field(default=[], description="tags of the lines; none: every difference not settled yet")
    each: bool = Field(
        default=False, description="accept what can be and name the rest; else all or none", examples=[True]
    )


class LookForAsk(_Ask):
    """Differences that are left to look for: the book stays as it is."""

    tags: Tags = Field(default=[], description="tags of the lines; none: every difference not settled yet")
    each: bool = Field(
        default=False, description="take what can be and name the rest; else all or none", examples=[True]
    )


class CountUndoAsk(_Ask):
    """Differences that were accepted, to be taken back: the book is as it was before."""

    tags: Tags = Field(min_length=1, description="tags of the lines")
    each: bool = Field(
        default=False,
        description="take back what can be and name the rest; else all or none",
        examples=[True],
    )


class StocktakeLineOut(BaseModel):
    """One thing of a stocktake: what the book says, what was found, and how they differ."""

    stocktake: str = Field(description="number of the stocktake")
    place: str = Field(description="tag of the place counted")
    tag: str = Field(description="tag of the unit or reel")
    item: str = Field(description="tag of its model or tape; blank for a box")
    expected: bool = Field(description="whether the book had it there when the stocktake was begun")
    book_place: str | None = Field(description="tag of the place where the book has it now")
    book_state: str = Field(description="its state by the book when it was counted")
    book_m: float | None = Field(description="tape left by the book then, in m; null: not a reel")
    found: bool | None = Field(description="whether it was found; null: not counted yet")
    found_state: str = Field(description="the state it was found in")
    found_m: float | None = Field(description="tape that was measured, in m; null: not measured")
    difference_m: float | None = Field(description="found less book, in m; null: not measured")
    differences: list[str] = Field(description="in words, how it is not as the book has it")
    outcome: str = Field(description="to count, agrees, differs, accepted or to look for")
    counted_by: str = Field(description="who counted it")
    counted_at: datetime | None = Field(description="when, UTC; null: not counted yet")
    note: str = Field(description="what was seen")


class StocktakeOut(BaseModel):
    """A stocktake and how far it is."""

    id: int = Field(description="number in the store")
    number: str = Field(description="number on paper")
    place: str = Field(description="tag of the place counted, with the places inside it")
    status: str = Field(description="open, closed or abandoned")
    counted_on: date = Field(description="day it was begun")
    begun_by: str = Field(description="who began it")
    closed_by: str = Field(description="who closed or abandoned it")
    note: str = Field(description="note")
    to_count: int = Field(description="lines still to count")
    agrees: int = Field(description="lines that agree with the book")
    differs: int = Field(description="differences not settled yet")
    accepted: int = Field(description="differences by which the book was put right")
    to_look_for: int = Field(description="differences left to look for")
    version: int = Field(description="version, for If-Match")


class LeftOut(BaseModel):
    """A line that was left as it is."""

    message: str = Field(
        description="why", examples=["PS-31 agrees with the book: there is nothing to settle"]
    )
    mend: str = Field(description="what to do instead", examples=["Leave it out."])


class CountedOut(BaseModel):
    """The stocktake after an act, and the lines that it changed."""

    stocktake: StocktakeOut = Field(description="the stocktake as it is now")
    lines: list[StocktakeLineOut] = Field(description="the lines that were changed")
    refused: list[LeftOut] = Field(
        default=[], description="lines left as they are; only where `each` was asked"
    )
