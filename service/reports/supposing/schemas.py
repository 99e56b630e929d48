"""What is supposed, and what would follow."""

from datetime import date
from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field, StringConstraints

from service.planning.schemas import FeedMove, Said
from service.reports.over_limit import Row

Word = Annotated[
    str, StringConstraints(strip_whitespace=True, min_length=1, max_length=120, pattern=r"^[^\x00]+$")
]
_KIND = "kind of thing, as in its address: elements, supplies, productions"


class SupposeAdd(Said):
    """A thing more: an element, a supply, a reel, a hold."""

    suppose: Literal["add"] = Field(description="that there is one more")
    kind: Word = Field(description=_KIND, examples=["elements"])
    values: dict[str, Any] = Field(
        description="what it is, as in a POST to its list; text may carry its unit",
        examples=[{"tag": "SQ-30", "production": "SQ", "tape": "TW24", "pieces": "3.33 m", "lead": "5 m"}],
    )


class SupposeChange(Said):
    """A thing otherwise: moved, capped, faulty, at other dates."""

    suppose: Literal["change"] = Field(description="that a thing is otherwise")
    kind: Word = Field(description=_KIND, examples=["productions"])
    key: Word = Field(description="its tag, or its number where it has no tag", examples=["TL"])
    values: dict[str, Any] = Field(
        description="what is otherwise, as in a PATCH of it", examples=[{"needed_from": "2027-01-20"}]
    )


class SupposeRetire(Said):
    """A thing less."""

    suppose: Literal["retire"] = Field(description="that a thing is gone")
    kind: Word = Field(description=_KIND, examples=["supplies"])
    key: Word = Field(description="its tag, or its number where it has no tag", examples=["PS-13"])


class SupposeMove(Said):
    """A kept feed moved by hand; limits do not hold it back here."""

    suppose: Literal["move_feed"] = Field(description="that a kept feed is moved")
    element: Word = Field(description="tag of the element", examples=["SQ-17"])
    to: FeedMove = Field(description="where it goes", examples=[{"supply": "PS-03", "output": 1}])


Supposition = Annotated[
    SupposeAdd | SupposeChange | SupposeRetire | SupposeMove, Field(discriminator="suppose")
]


class WhatIf(Said):
    """Suppositions, applied in order."""

    suppositions: list[Supposition] = Field(
        min_length=1, max_length=50, description="what is supposed, one after another"
    )


class SupposedRow(Row):
    """A finding of the supposed house."""

    supposed: Literal[True] = Field(default=True, description="it is not so: it would be")
    change: Literal["new", "changed", "same"] = Field(description="against today's findings")


class FitOut(BaseModel):
    """One source, with the supposed element on its best output."""

    source: str = Field(description="tag of the supply or battery")
    output: int = Field(description="output of it, from 1")
    is_free: bool = Field(description="not used in this show yet")
    w_before: float = Field(description="watts on the source now")
    w_after: float = Field(description="watts on it then")
    limit_w: float | None = Field(description="watts it may give for hours; null: cannot be told")
    a_after: float = Field(description="amps on that output then")
    limit_a: float | None = Field(description="amps it may carry for hours; null: cannot be told")
    pct: float | None = Field(description="watts then as a percentage of the limit")
    verdict: str = Field(description="ok, over, or unknown where a limit cannot be told")
    breaks: str = Field(description="what would be over, or cannot be checked; blank: nothing")


class PieceOut(BaseModel):
    """One piece as it would be cut."""

    run: int = Field(description="number of the run, from 1")
    drawn_mm: float = Field(description="length as drawn, in mm")
    cut_mm: float | None = Field(description="length to cut, in mm; null: the tape is undecided")
    shorter_by_mm: float | None = Field(description="what the carpenter must be told: drawn less cut, in mm")


class AddedOut(BaseModel):
    """An element that is supposed: its cut, its load, and every source it would fit on."""

    element: str = Field(description="tag it was given for the question")
    pieces: list[PieceOut] = Field(description="its pieces as they would be cut")
    load_w: float = Field(description="watts at full, all emitters")
    common_a: float = Field(description="amps in the common, all its runs together")
    emitters_a: dict[str, float] = Field(description="amps of each emitter, all its runs together")
    channels: int = Field(description="channels that each of its runs wants on a decoder")
    fits: list[FitOut] = Field(description="every source of its voltage: what holds first, the fullest first")
    decoders: dict[str, int] = Field(description="decoders of the show with channels free, and how many")


class StockOut(BaseModel):
    """A model or a tape of which there would be more or less to spare."""

    item: str = Field(description="tag of the model or tape")
    unit: str = Field(description="piece or m")
    free_before: float = Field(description="free on the day asked about, as it is")
    free_after: float = Field(description="free then")
    short_before: float = Field(description="wanted beyond what there is, as it is")
    short_after: float = Field(description="wanted beyond what there is then")


class SupposedOut(BaseModel):
    """What would follow. Nothing of it was stored."""

    supposed: Literal[True] = Field(default=True, description="nothing of this is so, and nothing was stored")
    as_of: date = Field(description="the day it is asked for")
    suppositions: list[str] = Field(description="what was supposed, in words")
    verdict: str = Field(description="the whole in one line")
    added: list[AddedOut] = Field(description="the elements supposed")
    findings: list[SupposedRow] = Field(description="what would be over, nearly so or not to be checked")
    gone: list[Row] = Field(description="findings of today that would be gone")
    stock: list[StockOut] = Field(description="models and tapes with more or less to spare on that day")
