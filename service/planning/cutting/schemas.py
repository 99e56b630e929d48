"""What cut planning says and is told at the doors. Units are in the names: _mm millimetres, _m metres."""

from datetime import date, datetime
from typing import Annotated

from pydantic import AfterValidator, BaseModel, Field, StringConstraints

from service.limits.cautions import BENCH
from service.planning.schemas import Day, Said
from service.store.base import sound
from service.units import Millimetres

Text = Annotated[
    str,
    StringConstraints(strip_whitespace=True, max_length=400, pattern=r"^[^\x00]*$"),
    AfterValidator(sound),
]
TagText = Annotated[
    str,
    StringConstraints(strip_whitespace=True, min_length=1, max_length=80, pattern=r"^[^\x00]*$"),
    AfterValidator(sound),
]


class CutPlanRequest(Said):
    """Which pieces are to be cut, and whether reels may be bought for them."""

    productions: list[TagText] = Field(
        min_length=1,
        max_length=100,
        description="codes of the shows whose pieces are cut",
        examples=[["TW", "TL"]],
    )
    tapes: list[TagText] | None = Field(
        default=None,
        min_length=1,
        max_length=200,
        description="only these tapes, by tag; default all",
        examples=[["RGBW24"]],
    )
    may_buy: bool = Field(
        default=True,
        description="whether reels may be bought; without, only what is there or on order",
        examples=[True],
    )
    deadline_s: float | None = Field(
        default=None,
        gt=0,
        le=3600,
        description="seconds after which the best plan so far is taken",
        examples=[60.0],
    )
    note: Text = Field(default="", description="anything to know", examples=["before the build"])


class StepDone(Said):
    """A cut that was made as planned."""

    reel: TagText | None = Field(
        default=None,
        description="tag of the reel that the new one became; only where it is still to come",
        examples=["R-190"],
    )
    offcut_tag: TagText | None = Field(
        default=None,
        description="what is left is taken off its reel and gets this tag; only with the last cut of a reel",
        examples=["R-191"],
    )
    cut_on: Day | None = Field(
        default=None, description="day of the cut; default today", examples=["2026-11-25"]
    )
    note: Text = Field(default="", description="anything to know", examples=["ends tinned"])


class ReelShort(Said):
    """A reel that holds less than its book says."""

    reel: TagText = Field(description="tag of the reel", examples=["R-101"])
    found_mm: Millimetres = Field(
        ge=0, le=500_000, description="length found on it after the cuts done, in mm or with its unit"
    )
    note: Text = Field(default="", description="anything to know", examples=["crushed at the hub"])


class UnmetPieceOut(BaseModel):
    """A piece that gets no tape."""

    element: str = Field(description="tag of the element", examples=["TL-25"])
    piece: int = Field(description="piece of that element, counted from 1", examples=[1])
    cut_mm: float = Field(description="length wanted, in mm", examples=[4800.0])
    why: str = Field(description="why it gets none", examples=["too little tape"])
    mend: str = Field(
        description="how to put it right", examples=["Plan it with reels to be bought, or order RGBW24."]
    )


class OffcutOut(BaseModel):
    """What is left on a reel and worth keeping."""

    reel: str = Field(description="tag of the reel it stays on, or the new one it will be left of")
    lot: str | None = Field(default=None, description="lot; null: not known yet")
    left_m: float = Field(description="length left, in m")
    label: str = Field(description="what to write on it")


class GroupLotOut(BaseModel):
    """Whether one lot yields every piece of a match group."""

    group: str = Field(description="show code and name of the match group")
    lot: str = Field(description="lot on the shelf")
    on_hand_m: float = Field(description="metres of that lot on the shelf")
    yields_all: bool = Field(description="whether every piece of the group can be cut from it")
    missing_pieces: int = Field(description="pieces of the group that it cannot yield; 0 if it yields all")
    says: str = Field(description="the same in words")


class TapeBoundsOut(BaseModel):
    """Proven: no plan is better than these."""

    unmet: int = Field(description="no plan leaves fewer pieces unmet")
    new_reels: int = Field(description="none that meets as many takes fewer new reels")
    opened: int = Field(description="none as good so far opens fewer sealed reels")
    scrap_m: float = Field(description="none as good so far leaves fewer metres of scrap")


class CutTapeOut(BaseModel):
    """The plan of one tape in figures."""

    tape: str = Field(description="tag of the tape")
    pieces: int = Field(description="pieces to be cut")
    needed_m: float = Field(description="metres in them")
    met: int = Field(description="pieces that the plan cuts")
    unmet: list[UnmetPieceOut] = Field(default=[], description="pieces that get no tape")
    opened: int = Field(description="sealed reels of the shelf that are opened")
    opened_reels: list[str] = Field(default=[], description="tags of those")
    new_reels: int = Field(description="reels that are not here yet: on order, or to be bought")
    on_order: int = Field(description="of those, the ones on order and due in time")
    to_buy: int = Field(description="of those, the ones to be bought")
    price: float | None = Field(default=None, description="price of those to be bought; null: not known")
    scrap_m: float = Field(description="metres left that are too short to keep")
    offcuts: list[OffcutOut] = Field(default=[], description="what is left and worth keeping")
    joints: int = Field(description="joints in pieces, where they are allowed and save a reel")
    bounds: TapeBoundsOut = Field(description="what is proven: no plan does better than this")
    is_proven: bool = Field(description="whether nothing better exists")
    gap_pct: float | None = Field(
        default=None,
        description="how much dearer than the least it may be, percent; null: not known",
        examples=[0.4],
    )
    stopped_early: bool = Field(default=False, description="whether time ended it")
    lots: list[GroupLotOut] = Field(default=[], description="which lots yield which match group")
    left_m: float = Field(description="metres left on the shelf after it, offcuts and whole reels")
    others_m: float = Field(description="metres that other shows still want of the tape")
    others: list[str] = Field(default=[], description="codes of those shows", examples=[["SQ"]])
    short_for_others_m: float = Field(description="metres that those shows want beyond what is left")
    notes: list[str] = Field(default=[], description="what else to know")


class CutPlanOut(BaseModel):
    """A cut plan and how good it is."""

    number: str = Field(description="its number on paper")
    status: str = Field(description="working, draft, kept, done, superseded or abandoned")
    productions: list[str] = Field(description="codes of the shows whose pieces it cuts")
    may_buy: bool = Field(description="whether reels may be bought for it")
    only_tapes: list[str] = Field(
        default=[], description="tapes it was asked for; none: all", examples=[["RGBW24"]]
    )
    by: str = Field(description="who asked for it; not proven until people sign in")
    as_of: date = Field(description="day it was worked out for")
    keep_mm: float = Field(description="the shortest offcut worth keeping, in mm")
    supersedes: str | None = Field(
        default=None, description="number of the plan it was worked out again from", examples=["CP-001"]
    )
    superseded_by: str | None = Field(
        default=None, description="number of the plan that took its place", examples=["CP-003"]
    )
    caution: str = Field(default=BENCH, description="what to mind while it is done")
    steps: int = Field(description="cuts in it, scrap included")
    done: int = Field(description="those that are done")
    tapes: list[CutTapeOut] = Field(default=[], description="each tape in figures")
    is_proven: bool = Field(description="whether no better plan exists, of any tape")
    stopped_early: bool = Field(description="whether time ended it")
    seconds: float | None = Field(default=None, description="seconds it took; null: still at work")
    error: str | None = Field(
        default=None,
        description="why there is no plan",
        examples=["pieces, reels or promises changed while it was worked out"],
    )
    notes: list[str] = Field(
        default=[],
        description="what else to know",
        examples=[["The tape is not decided for TL-26: not planned."]],
    )
    note: str = Field(
        default="",
        description="what was said when it was asked for",
        examples=["R-101 was short: 3200 mm found"],
    )
    kept_at: datetime | None = Field(default=None, description="when the bench began to work from it, UTC")
    version: int = Field(description="grows with every change; the ETag")


class CutStepOut(BaseModel):
    """One cut of a plan, as it is marked and labelled."""

    plan: str = Field(description="number of the plan")
    step: int = Field(description="number of the step, in marking order")
    tape: str = Field(description="tag of the tape")
    lot: str | None = Field(default=None, description="lot of the reel; null: not known yet")
    reel: str = Field(description="tag of the reel, or the name of one that is still to come")
    kind: str = Field(description="piece, or scrap: what is left and too short to keep")
    cut_mm: float = Field(description="length to cut, in mm")
    drawn_mm: float | None = Field(default=None, description="length of the whole piece as drawn, in mm")
    element: str | None = Field(default=None, description="tag of the element")
    name: str | None = Field(default=None, description="what people call it")
    production: str | None = Field(default=None, description="show code")
    run: int | None = Field(default=None, description="run of the element, from 1")
    piece: str | None = Field(
        default=None, description="piece of the element; 1a, 1b where it has a joint", examples=["1a"]
    )
    label: str = Field(description="what to write on the piece")
    mark_mm: float | None = Field(
        default=None,
        description="where to cut, from the outer end of the reel as it is now, in mm; null: done",
    )
    left_mm: float | None = Field(
        default=None, description="left on the reel after it, in mm; null: the reel is not here yet"
    )
    joint_mm: float | None = Field(
        default=None,
        description="a joint of the reel lies this far into it from its outer end, in mm",
        examples=[320.0],
    )
    warning: str | None = Field(
        default=None, description="what to mind", examples=["a factory joint falls 320 mm into this piece"]
    )
    is_done: bool = Field(description="whether it is cut")
    cut: str | None = Field(default=None, description="number of the ledger row")
    done_on: date | None = Field(default=None, description="day of the cut")
    done_by: str | None = Field(default=None, description="who cut it")
    note: str | None = Field(default=None, description="what was said with it", examples=["ends tinned"])


class StepAnswer(BaseModel):
    """A step that was marked, and where its plan and element stand."""

    step: CutStepOut = Field(description="the step as it stands now")
    plan_status: str = Field(description="kept, or done once every piece is cut")
    pieces_left: int = Field(description="pieces still to be cut by this plan")
    element_status: str | None = Field(default=None, description="where the element stands now")
    offcut: str | None = Field(
        default=None, description="tag of what was left, where it was taken off", examples=["R-191"]
    )
    caution: str = Field(default=BENCH, description="what to mind while it is done")
