"""What is asked and answered of swaps. Units are in the names; days are days, the last one included."""

from datetime import date, datetime
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, Field

from service.limits.cautions import BAD_PACK, CONTROL, HEAT, MAINS, SCOPE
from service.planning.schemas import Said
from service.store.base import sound

# What swapping each kind of gear can do to whoever does it.
CAUTIONS = {
    "supply": MAINS.removesuffix(SCOPE) + HEAT,
    "decoder": f"{CONTROL} {SCOPE}",
    "battery": BAD_PACK,
    "enclosure": MAINS.removesuffix(SCOPE) + HEAT,
}


class CarriedOut(BaseModel):
    """One run on the unit."""

    run: str = Field(description="element and run")
    number: int = Field(description="output of a supply; first channel of a decoder, or port")
    channels: int = Field(description="channels in a row; 0: not dimmed")
    load_w: float = Field(description="watts at full, all emitters")
    load_a: float = Field(description="amps at full, all emitters")


class ListensOut(BaseModel):
    """What a decoder, or one port of a pixel driver, listens to."""

    port: int | None = Field(description="port of a pixel driver; none: the whole decoder")
    universe: int | None = Field(description="universe that it listens to")
    start: int | None = Field(description="first slot")
    footprint: int | None = Field(description="slots")
    mode: str = Field(description="8-bit, 16-bit or pixel")


class RunMoveOut(BaseModel):
    """Where one run goes."""

    run: str = Field(description="element and run")
    before: str = Field(description="unit and output, or unit and channels")
    after: str = Field(description="the same once the other unit is in")


class CandidateOut(BaseModel):
    """One unit that could stand in."""

    unit: str = Field(description="its tag")
    model: str = Field(description="tag of its model")
    share: str = Field(description="free; for a while; lent: a show that is dark tonight has it")
    last_on: date | None = Field(description="last day it may stay, where that is not the end")
    because: str = Field(description="why it is not free to the end")
    promised: list[str] = Field(
        default=[],
        description="what other shows were promised of its model in these days, no unit named; while it is "
        "free, enough others are left for that",
        examples=[["1 B12-10 promised to TW from 2026-12-28"]],
    )
    where: str = Field(description="where it is now")
    is_same_model: bool = Field(description="it is of the model that it stands in for")
    is_near: bool = Field(description="it is in the venue, or in the bin of the unit it stands in for")
    verdict: str = Field(
        description="ok, watch, unknown or over: the gravest of what gets worse and of what stays over"
    )
    moves: list[RunMoveOut] = Field(description="runs that change output or channel")
    sets: list[str] = Field(description="what has to be set on it, or is different on it")
    worse: list[str] = Field(description="what gets worse with it")
    stays: list[str] = Field(
        description="what is over a limit on it as it was before",
        examples=[["PS-04 carries 311.04 W; its limit is 256.00 W (320 W × 0.80), 121.5 %"]],
    )
    mends: list[str] = Field(description="what is mended with it")


class UnfitOut(BaseModel):
    """A unit, or several of one model, that will not do, and why."""

    units: list[str] = Field(description="their tags")
    model: str = Field(description="tag of their model")
    because: str = Field(description="why they will not do")


class ElsewhereOut(BaseModel):
    """Another kept plan that names the same unit."""

    production: str = Field(description="show code")
    from_on: date = Field(description="first day for which that plan wants it")
    to_on: date = Field(description="last of them")


class SwapsOut(BaseModel):
    """What could stand in for a unit, the best first."""

    unit: str = Field(description="its tag")
    kind: str = Field(description="supply, decoder, battery or enclosure")
    model: str = Field(description="tag of its model; blank for a box")
    state: str = Field(description="good, suspect, faulty, repair or missing")
    state_note: str = Field(description="what is said of its state")
    production: str = Field(description="show code of the kept plan that it is in")
    plan: int = Field(description="number of that plan")
    from_on: date = Field(description="first of the days asked for")
    to_on: date = Field(description="last of them")
    place: str = Field(description="tag of the place where it stands")
    box: str = Field(description="tag of the box it stands in")
    outlet: str = Field(description="outlet it is plugged into")
    carries: list[CarriedOut] = Field(description="every run on it")
    addresses: list[ListensOut] = Field(description="of a decoder: what it listens to")
    inside: list[str] = Field(description="of a box: what is in it, to be swapped one by one")
    elsewhere: list[ElsewhereOut] = Field(description="other kept plans with the unit in them")
    candidates: list[CandidateOut] = Field(description="units that could stand in, the best first")
    refused: list[UnfitOut] = Field(description="why others will not do, the nearest first")
    helps: str = Field(description="where nothing is free to the end: the smallest thing that would help")
    caution: str = Field(description="what to mind when it is swapped")


class SwapRow(BaseModel):
    """A candidate, or what will not do, as one line of a sheet."""

    unit: str = Field(description="its tag")
    model: str = Field(description="tag of its model")
    does: str = Field(description="free, for a while, lent, or no")
    last_on: date | None = Field(default=None, description="last day it may stay, where that is not the end")
    where: str = Field(default="", description="where it is now")
    verdict: str = Field(default="", description="ok, watch, unknown or over; blank where it will not do")
    moves: str = Field(default="", description="runs that change output or channel")
    sets: str = Field(default="", description="what has to be set on it")
    worse: str = Field(default="", description="what gets worse with it")
    stays: str = Field(default="", description="what is over a limit on it as it was before")
    mends: str = Field(default="", description="what is mended with it")
    because: str = Field(description="why it is not free to the end, or will not do")


class SwapAsk(Said):
    """One unit put in the place of another."""

    swap_for: str = Field(
        min_length=1, max_length=80, description="tag of the unit that goes in", examples=["BT-03"]
    )
    found: Annotated[str, AfterValidator(sound)] = Field(
        default="",
        max_length=400,
        description="what is wrong with the one that comes out",
        examples=["dies in act two"],
    )
    state: Literal["faulty", "suspect"] = Field(
        default="faulty", description="what becomes of it", examples=["suspect"]
    )
    keep_old: bool = Field(
        default=False,
        description="only exchanged: no fault is written, its state and its hold stay",
        examples=[True],
    )
    production: str | None = Field(
        default=None,
        max_length=80,
        description="show code, where several kept plans have the unit now",
        examples=["SQ"],
    )
    despite_limits: Annotated[str, AfterValidator(sound)] | None = Field(
        default=None, min_length=5, max_length=200,
        description="why it is done although something is over a limit then; kept on record",
    )  # fmt: skip


class LabelChangeOut(BaseModel):
    """One label to be changed."""

    thing: str = Field(description="element and run whose lead it is on")
    before: str = Field(description="what it says now")
    after: str = Field(description="what it has to say")


class SwapOut(BaseModel):
    """One swap on record."""

    number: str = Field(description="its number on paper; its address")
    production: str = Field(description="show code")
    plan: int = Field(description="number of the plan it was done in")
    old: str = Field(description="tag of the unit that came out")
    new: str = Field(description="tag of the unit that went in")
    fault: str | None = Field(description="number of its fault record")
    note: str | None = Field(description="number of the note for the next crew")
    hold: str | None = Field(description="number of the new unit's hold")
    swapped_on: date = Field(description="day it was done")
    swapped_by: str = Field(description="who did it; not proven until people sign in")
    why: str = Field(description="what was found, and why a limit was passed if one was")
    undone_at: datetime | None = Field(description="when it was taken back, UTC")
    undone_by: str = Field(description="who took it back")


class SwappedOut(SwapOut):
    """A swap just done, and what is left to do by hand."""

    labels: list[LabelChangeOut] = Field(description="labels to be changed")
    sets: list[str] = Field(description="what has to be set on the new unit")
    worse: list[str] = Field(description="what is worse now")
    mends: list[str] = Field(description="what is mended")
    caution: str = Field(description="what to mind while it is done")
