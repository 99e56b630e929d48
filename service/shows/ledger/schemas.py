"""What is asked of the ledger and what it answers, at every door. `_m`: metres."""

from datetime import date
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints

from service.limits.cautions import BENCH
from service.store.base import sound
from service.units import MICROMETRES_PER_METRE, Metres


def _some(value: float) -> float:
    if not 0 <= value <= 500:
        raise ValueError("a length from 0 to 500 m is expected")
    return value


Text = Annotated[str, StringConstraints(strip_whitespace=True), AfterValidator(sound)]
Name = Annotated[Text, Field(min_length=1, max_length=80)]
NewTag = Annotated[Text, Field(min_length=1, max_length=40, pattern=r"^[A-Za-z0-9][A-Za-z0-9._+-]*$")]
Length = Annotated[Metres, AfterValidator(_some)]
# Room is left on both sides for days counted on from a day.
Day = Annotated[date, Field(ge=date(1900, 1, 1), le=date(2999, 12, 31))]


class Act(BaseModel):
    """When something was done, and anything to know."""

    model_config = ConfigDict(extra="forbid")

    on: Day | None = Field(
        default=None, description="the day it was done; today if not given", examples=["2026-11-25"]
    )
    note: Text = Field(
        default="",
        max_length=200,
        description="anything to know; kept with the row",
        examples=["second entry of K-071"],
    )


class OpenAsk(Act):
    """A sealed reel opened."""


class CutAsk(Act):
    """A length off the outside of a reel: a piece, for an element or not, or scrap."""

    element: Name | None = Field(default=None, description="tag of the element it is for", examples=["TW-08"])
    piece: Text = Field(
        default="1",
        max_length=8,
        description="piece of that element; 1a, 1b where it has a join",
        examples=["2"],
    )
    length_m: Length | None = Field(
        default=None,
        description="how much, in m or as text with a unit; as the piece is drawn if left out",
        examples=["1300 mm"],
    )
    kind: Literal["piece", "scrap"] | None = Field(
        default=None, description="what it becomes; a piece if an element is named, else scrap"
    )


class OffcutAsk(Act):
    """A length that becomes a reel of its own."""

    length_m: Length = Field(description="how much, in m or as text with a unit", examples=["600 mm"])
    tag: NewTag | None = Field(
        default=None, description="its tag; the next free one if not given", examples=["R-182"]
    )
    place: Name | None = Field(
        default=None, description="tag of its bin; its parent's if not given", examples=["A3"]
    )


class JoinAsk(Act):
    """Another reel of the same tape and lot joined on, outside."""

    other: Name = Field(description="tag of the reel that is joined on and used up by it", examples=["R-122"])


class ScrapAsk(Act):
    """What is left of a reel, or a length of it, thrown away."""

    length_m: Length | None = Field(
        default=None,
        description="how much, in m or as text with a unit; all that is left if not given",
        examples=["200 mm"],
    )


class RecountAsk(Act):
    """A reel measured."""

    length_m: Length = Field(
        description="the length found, in m or as text with a unit; whole cut pitches of it count",
        examples=["3.2 m"],
    )


class BackAsk(Act):
    """A row of the ledger taken back by another."""


class SettleAsk(Act):
    """A disputed row settled."""

    counts: bool = Field(
        description="true: it is counted after all; false: it is void for good, with a note", examples=[False]
    )


class RecoverAsk(Act):
    """A piece of a struck element, back as an offcut."""

    piece: Text = Field(
        default="1",
        max_length=8,
        description="piece of the element; 1a, 1b where it had a join",
        examples=["1"],
    )
    length_m: Length | None = Field(
        default=None,
        description="what is left of it, in m or as text with a unit; all of it if not given",
        examples=["1.2 m"],
    )
    tag: NewTag | None = Field(
        default=None, description="tag of the offcut; the next free one if not given", examples=["R-183"]
    )
    place: Name | None = Field(
        default=None, description="tag of its bin; that of its reel if not given", examples=["A3"]
    )


class ReelOut(BaseModel):
    """A reel as it stands."""

    tag: str = Field(description="tag of the reel")
    tape: str = Field(description="tag of the kind of tape")
    lot: str = Field(description="maker's lot; blank: not known")
    place: str | None = Field(description="tag of its bin")
    state: str = Field(description="sealed, open, offcut, held, used up, scrap or written off")
    left_pitches: int = Field(description="whole cut pitches left")
    left_m: float = Field(description="length left, in m")
    version: int = Field(description="grows with every change; the ETag")


class LedgerRowOut(BaseModel):
    """A row that an act wrote."""

    number: str = Field(description="number on paper")
    reel: str = Field(description="tag of the reel")
    kind: str = Field(description="piece, offcut, scrap, returned, recount or joined")
    change_pitches: int = Field(description="cut pitches added to the reel; cuts are negative")
    change_m: float = Field(description="the same in m")
    cut_on: date = Field(description="day")
    entered_by: str = Field(description="who cut it")
    is_disputed: bool = Field(description="whether it stands outside the balance")
    note: str = Field(description="note")


class JointOut(BaseModel):
    """A joint inside a reel."""

    from_hub_pitches: int = Field(description="cut pitches from the inner end")
    from_hub_m: float = Field(description="the same in m")
    kind: str = Field(description="factory or made")
    is_there: bool = Field(description="whether the reel still reaches beyond it")
    note: str = Field(description="note")


class DoneOut(BaseModel):
    """What an act did: the reels it touched as they stand now, and the rows it wrote."""

    said: str = Field(description="what was done, in a sentence")
    reel: ReelOut = Field(description="the reel")
    other: ReelOut | None = Field(default=None, description="the reel that was made, or joined on")
    rows: list[LedgerRowOut] = Field(description="rows written, in order; none where nothing differed")
    joints: list[JointOut] = Field(description="joints of the reel, from the hub out")
    caution: str = Field(default=BENCH, description="what to mind while it is done")


class HistoryRowOut(BaseModel):
    """One row of a reel's ledger, what was left after it, and where its length is now."""

    number: str | None = Field(description="number on paper; blank: it came with the reel")
    reel: str = Field(description="tag of the reel")
    cut_on: date = Field(description="day")
    kind: str = Field(description="opening, received, piece, offcut, scrap, returned, recount or joined")
    change_pitches: int = Field(description="cut pitches added to the reel; cuts are negative")
    change_m: float = Field(description="the same in m")
    left_m: float = Field(description="left after it, disputed rows apart, in m")
    is_disputed: bool = Field(description="whether it stands outside the balance")
    entered_by: str = Field(description="who wrote it down")
    undoes: str | None = Field(description="number of the row it takes back", examples=["K-068"])
    undone_by: str | None = Field(description="number of the row that takes it back", examples=["K-069"])
    other: str | None = Field(
        description="tag of the reel that the length came from or went to", examples=["R-101"]
    )
    production: str | None = Field(description="show code", examples=["SQ"])
    element: str | None = Field(
        description="tag of the element its piece is in, or was in", examples=["SQ-10"]
    )
    run: int | None = Field(description="run of that element", examples=[1])
    piece: str | None = Field(description="piece of that element; 1a, 1b where it has a join", examples=["1"])
    element_status: str | None = Field(description="where that element stands", examples=["working"])
    element_place: str | None = Field(description="tag of the place it is at", examples=["SL-ATTIC"])
    came_back_as: str | None = Field(
        description="tag of the offcut that the piece became when it was struck", examples=["R-183"]
    )
    note: str = Field(description="note", examples=["entered twice"])


class KinOut(BaseModel):
    """A reel that this one was cut off, or that was cut off it."""

    tag: str = Field(description="tag of the reel")
    parent: str | None = Field(description="tag of the reel it was cut off", examples=["R-101"])
    state: str = Field(description="its state", examples=["offcut"])
    left_m: float = Field(description="length left, in m", examples=[0.6])


class HistoryOut(BaseModel):
    """The whole life of a reel."""

    reel: ReelOut = Field(description="the reel")
    above: list[KinOut] = Field(description="reels it was cut off, the nearest first")
    below: list[KinOut] = Field(description="reels that were cut off it, and off those")
    joints: list[JointOut] = Field(description="joints on record, from the hub out")
    rows: list[HistoryRowOut] = Field(description="its ledger, oldest first")


def metres(pitches: int, pitch_um: int) -> float:
    """
    >>> metres(26, 50_000)
    1.3
    """
    return round(pitches * pitch_um / MICROMETRES_PER_METRE, 6)


def micrometres(length_m: float) -> int:
    """
    >>> micrometres(1.3)
    1300000
    """
    return round(length_m * MICROMETRES_PER_METRE)
