"""What is asked and answered about changes since."""

from datetime import date, datetime
from typing import Annotated

from pydantic import BaseModel, Field, StringConstraints

from service.planning.schemas import Said

PaperText = Annotated[
    str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80, pattern=r"^[^\x00]+$")
]


class NewPrint(Said):
    """A paper that was printed."""

    paper: PaperText = Field(description="which paper", examples=["feed sheet"])


class PrintOut(BaseModel):
    """A print on record."""

    production: str = Field(description="show code")
    number: int = Field(description="number of the print in its show, from 1; the revision on the paper")
    paper: str = Field(description="which paper")
    as_of: date = Field(description="the day it was printed as of")
    plan: int | None = Field(description="number of the plan that was kept then")
    printed_by: str = Field(description="who printed it")
    printed_at: datetime = Field(description="when, UTC")


class SinceOut(BaseModel):
    """One thing that differs."""

    what: str = Field(
        description="added, gone, tape, length, place, lead, fed, dark, moved, address, stands or load"
    )
    about: str = Field(description="the run, or the supply or decoder")
    name: str = Field(description="what people call it")
    place: str = Field(description="tag of its place")
    before: str = Field(description="as it was, in words and figures")
    after: str = Field(description="as it is, in words and figures")


class RelabelOut(BaseModel):
    """One lead to be labelled anew."""

    run: str = Field(description="element and run")
    name: str = Field(description="what people call it")
    place: str = Field(description="tag of its place")
    before: str = Field(description="what the label says")
    after: str = Field(description="what it should say; blank: take it off")
