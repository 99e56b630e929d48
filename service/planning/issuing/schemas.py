"""What is asked of gear that goes out and comes back, and what is answered."""

from datetime import date
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints

from service.planning.issuing.books import MOST_TAGS
from service.planning.schemas import Day
from service.store.base import sound

Tag = Annotated[str, StringConstraints(max_length=80, strip_whitespace=True), AfterValidator(sound)]
Words = Annotated[str, StringConstraints(max_length=400, strip_whitespace=True), AfterValidator(sound)]


class _Ask(BaseModel):
    model_config = ConfigDict(extra="forbid")

    tags: list[Tag] = Field(
        min_length=1,
        max_length=MOST_TAGS,
        description="tags of the units, typed or read from their labels, in any letter case",
        examples=[["PS-11", "dc-09"]],
    )
    each: bool = Field(
        default=False,
        description="do what can be done and name the rest; otherwise all of it or nothing",
        examples=[True],
    )


class IssueAsk(_Ask):
    """Units that go out to a production."""

    on: Day | None = Field(
        default=None, description="day they went out; today if not given", examples=["2026-11-24"]
    )


class ReturnAsk(_Ask):
    """Units that came back."""

    on: Day | None = Field(
        default=None, description="day they came back; today if not given", examples=["2026-11-24"]
    )
    place: Tag | None = Field(
        default=None,
        description="tag of the place they are put; else the bin of each, or the quarantine place when bad",
        examples=["B1"],
    )
    found: Words = Field(
        default="",
        description="what was found wrong: the units are set aside and a fault is opened for each",
        examples=["hums at half load"],
    )
    state: Literal["faulty", "suspect"] = Field(
        default="faulty", description="how bad; given only with `found`, which says what was found"
    )


class MissingAsk(_Ask):
    """Units that nobody can find."""

    what: Words = Field(default="", description="what is known of it; else where each was last, by the books")


class UndoAsk(_Ask):
    """Units whose last issue or return was a mistake, or that are not missing after all."""


class IssuedOut(BaseModel):
    """A unit that went out."""

    tag: str = Field(description="tag of the unit")
    model: str = Field(description="tag of its model; blank for a box")
    production: str = Field(description="code of the production")
    hold: str | None = Field(description="number of the hold it is out on")
    how: Literal["its hold", "drawn", "new"] = Field(
        description="on its own hold, on one drawn from a promise of its model, or on a new one"
    )
    drawn_from: str | None = Field(default=None, description="number of the promise it was drawn from")
    issued_on: date = Field(description="day it went out")
    due_on: date | None = Field(description="last day it may be out")
    goes_to: str | None = Field(default=None, description="tag of the place where the kept plan has it")


class ReturnedOut(BaseModel):
    """A unit that came back, or was found again."""

    tag: str = Field(description="tag of the unit")
    production: str | None = Field(description="code of the production it came from; null: it was not out")
    hold: str | None = Field(description="number of the hold that ended")
    returned_on: date = Field(description="day it came back")
    days_late: int = Field(description="whole days after the last day it might be out")
    state: str = Field(description="good, suspect, faulty, …")
    place: str | None = Field(description="tag of the place where it is now")
    fault: str | None = Field(default=None, description="number of the fault that was opened")


class MissingOut(BaseModel):
    """A unit that is on record as missing."""

    tag: str = Field(description="tag of the unit")
    production: str | None = Field(description="code of the production that had it last")
    state: str = Field(description="missing")
    what: str = Field(description="what is on record of it")


class UndoneOut(BaseModel):
    """A unit whose last issue or return, or whose loss, was taken back."""

    tag: str = Field(description="tag of the unit")
    undone: Literal["issue", "return", "missing"] = Field(description="what was taken back")
    production: str | None = Field(description="code of the production; null: a unit was missing from none")
    with_production: str | None = Field(description="code of the production that has it now; null: none")


class RefusedOut(BaseModel):
    """A unit that was left as it is."""

    tag: str = Field(description="tag as it was sent")
    message: str = Field(description="why", examples=["PS-02 is with CO, 22 days overdue (due 2026-11-03)"])
    mend: str = Field(description="what to do instead", examples=["Take PS-03 instead."])


class Issued(BaseModel):
    """What went out, and what could not."""

    done: list[IssuedOut] = Field(description="units that went out")
    refused: list[RefusedOut] = Field(description="units that stay, and why; only where `each` was asked")


class Returned(BaseModel):
    """What came back, and what could not."""

    done: list[ReturnedOut] = Field(description="units that came back")
    refused: list[RefusedOut] = Field(description="units left as they are; only where `each` was asked")


class Missing(BaseModel):
    """What is missing now."""

    done: list[MissingOut] = Field(description="units on record as missing")
    refused: list[RefusedOut] = Field(description="units left as they are; only where `each` was asked")


class Undone(BaseModel):
    """What was taken back."""

    done: list[UndoneOut] = Field(description="units of which something was taken back")
    refused: list[RefusedOut] = Field(description="units left as they are; only where `each` was asked")
