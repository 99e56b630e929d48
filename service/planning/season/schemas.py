"""What is asked and answered about the season. Figures of a row are in its `unit`: pieces or metres."""

from datetime import date
from typing import Annotated, Literal

from pydantic import BaseModel, Field, StringConstraints, model_validator

from service.planning.schemas import Day, Said

Word = Annotated[
    str, StringConstraints(strip_whitespace=True, min_length=1, max_length=80, pattern=r"^[^\x00]+$")
]
_KIND = "supply, decoder, battery, tape, lot or reel"
_ITEM = "tag of the model, tape or reel; of a lot, of its tape"
_UNIT = "piece or m: what the figures of the row count"
_WANTED_BY = "who wants it and how much, the most first, as in `TL 11`; figures in `unit`"


class MoveFields(BaseModel):
    """The cheapest move of one show's dates; blank where none makes it better."""

    move: str = Field(default="", description="the move in words; what remains with it, where anything does")
    move_production: str | None = Field(default=None, description="code of the show that moves")
    move_days: int | None = Field(default=None, description="by how many days its gear is wanted otherwise")
    move_needed_from: date | None = Field(default=None, description="first day it then wants its gear")
    move_needed_to: date | None = Field(default=None, description="last day it then wants its gear")
    removes: bool | None = Field(default=None, description="whether nothing remains with that move")


class LineStepOut(BaseModel):
    """Days on which nothing changes."""

    kind: str = Field(description=_KIND)
    item: str = Field(description=_ITEM)
    lot: str = Field(description="lot; blank: all of them, or not tape")
    unit: str = Field(description=_UNIT)
    from_on: date = Field(description="first day")
    to_on: date | None = Field(description="last day, which counts too; null: no end in sight")
    owned: float = Field(description="in the house and not hired, sound or not")
    sound: float = Field(description="good, hired ones included; tape: on reels and offcuts")
    overdue: float = Field(description="sound, and not back from a show that should have brought it")
    hired: float = Field(description="hired and sound, on the days of their hire")
    recovered: float = Field(description="tape that strikes until then are expected to bring back")
    usable: float = Field(description="there without waiting for an order")
    due_in: float = Field(description="on order and due by then")
    wanted: float = Field(description="all shows together, of each the larger of held and used")
    free: float = Field(description="left once everybody has theirs, what is due in counted")
    short: float = Field(description="wanted beyond what there is, what is due in counted")
    short_undelivered: float = Field(description="short, if nothing that is due in came")
    short_if_back: float = Field(description="short, if what is overdue were back")
    wanted_by: list[str] = Field(description=_WANTED_BY)


class ShortageFields(BaseModel):
    """What a shortage is, before what would mend it."""

    kind: str = Field(description=_KIND)
    item: str = Field(description=_ITEM)
    lot: str = Field(description="lot of the reel; blank: not a reel")
    unit: str = Field(description=_UNIT)
    short: float = Field(description="the most it is short of")
    worst_on: date = Field(description="first day on which it is short of that much")
    from_on: date = Field(description="first short day")
    clears_on: date | None = Field(description="first day on which it is over; null: it never is")
    wanted: float = Field(description="wanted on the worst day")
    usable: float = Field(description="there on the worst day without waiting for an order")
    due_in: float = Field(description="on order and due by the worst day")
    short_undelivered: float = Field(description="short on the worst day, if nothing that is due in came")
    short_if_back: float = Field(description="short on the worst day, if what is overdue were back")
    wanted_by: list[str] = Field(description=_WANTED_BY)
    wanted_shows: list[str] = Field(
        default=[], description="codes of those shows alone, the most first", examples=[["TL", "TW"]]
    )
    wanted_each: list[float] = Field(
        default=[], description="how much each of them wants, in the same order", examples=[[56.0, 11.7]]
    )


class ShortageOut(MoveFields, ShortageFields):
    """Days without a gap on which more is wanted of a thing than there is."""

    back: str = Field(
        default="",
        description="overdue units that end it once back, as few as will do, in words; blank: none do",
        examples=["take DC-03 back from CO"],
    )
    back_tags: list[str] = Field(default=[], description="those units", examples=[["DC-03"]])
    back_from: list[str] = Field(
        default=[], description="the show that should have brought each, in the same order", examples=[["CO"]]
    )


class SeasonLineOut(BaseModel):
    """One model, tape, lot or reel through a span of days."""

    kind: str = Field(description=_KIND)
    item: str = Field(description=_ITEM)
    lot: str = Field(description="lot; blank: all of them, or not tape")
    unit: str = Field(description=_UNIT)
    from_on: date = Field(description="first day asked for")
    to_on: date | None = Field(description="last day asked for; null: as far as anything is known")
    first_short_on: date | None = Field(description="first short day; null: enough on every day")
    short: float = Field(description="the most it is short of in the span")
    worst_on: date = Field(description="the day with the least to spare, or the most short")
    free: float = Field(description="left on that day")
    late_orders: list[str] = Field(
        description="order lines that should have come, and hires without their days: they count for nothing"
    )
    shortages: list[ShortageOut] = Field(description="when it is short, and when each of those times clears")
    steps: list[LineStepOut] = Field(description="the line, step by step")


class ClashFields(BaseModel):
    """What a clash is, before what would mend it."""

    kind: Literal["twice", "overdue"] = Field(description="twice: named by two shows; overdue: not back yet")
    production: str = Field(description="the later show, which must do without; blank: none has asked for it")
    other: str = Field(description="the show that has it first")
    tags: list[str] = Field(description="the units")
    from_on: date | None = Field(description="first day both want it; null: no other show does")
    to_on: date | None = Field(description="last day both want it; null: until it is back, or nobody asks")
    days: int | None = Field(description="days both want it; null: not known")
    clears_on: date | None = Field(description="first day that is over; null: when it is back")
    overdue_days: int | None = Field(description="days since it was due back; null: it is not overdue")
    in_days: int | None = Field(description="days from now until it hurts; null: it hurts nobody by name")


class ClashOut(MoveFields, ClashFields):
    """Units that two shows have by tag on the same days, or that are overdue from one of them."""


class CommitmentOut(BaseModel):
    """What one show has of one thing."""

    production: str = Field(description="show code")
    venue: str = Field(description="its stage")
    kind: str = Field(description=_KIND)
    item: str = Field(description=_ITEM)
    lot: str = Field(description="lot of the reel; blank: not a reel")
    unit: str = Field(description=_UNIT)
    held: float = Field(description="held, by model, tape, reel or tag: the most on one day")
    used: float = Field(description="in use by its kept plan; tape: drawn and not cut")
    wanted: float = Field(description="the larger of the two on each day, at its most")
    from_on: date = Field(description="first day")
    to_on: date | None = Field(description="last day, which counts too; null: used up")
    short: float = Field(description="the most that all shows together are short of it on those days")
    tags: list[str] = Field(description="units it has by tag")


class MovedDates(Said):
    """A show that wants its gear on other days."""

    production: Word = Field(description="show code", examples=["TL"])
    needed_from: Day | None = Field(default=None, description="first day it wants its gear")
    needed_to: Day | None = Field(default=None, description="last day it wants its gear")
    later_by_days: int | None = Field(
        default=None, ge=-1000, le=1000, description="the whole show so many days later; fewer than 0: sooner"
    )

    @model_validator(mode="after")
    def _says_something(self) -> "MovedDates":
        shift = self.later_by_days is not None
        if shift == (self.needed_from is not None or self.needed_to is not None):
            raise ValueError("give new days, or by how many days the whole show moves")
        return self


class OtherQuantity(Said):
    """A show that wants another quantity of something."""

    production: Word = Field(description="show code", examples=["TW"])
    item: Word = Field(description="tag of the model, tape or reel", examples=["DW4"])
    quantity: float = Field(ge=0, le=1e6, description="pieces, or metres of tape", examples=[3])


class SeasonQuestion(Said):
    """What is supposed: all of it together."""

    moves: list[MovedDates] = Field(default=[], max_length=50, description="shows on other days")
    quantities: list[OtherQuantity] = Field(
        default=[], max_length=50, description="shows that want otherwise"
    )
    back: list[Word] = Field(default=[], max_length=50, description="tags of overdue units that are back")

    @model_validator(mode="after")
    def _says_something(self) -> "SeasonQuestion":
        if not (self.moves or self.quantities or self.back):
            raise ValueError("suppose at least one thing")
        return self


class ItemChange(BaseModel):
    """A thing of which there would be more or less."""

    kind: str = Field(description=_KIND)
    item: str = Field(description=_ITEM)
    unit: str = Field(description=_UNIT)
    short_before: float = Field(description="the most it is short of, as it is")
    short_after: float = Field(description="the most it would be short of")
    worst_before: date = Field(description="the day with the least to spare, as it is")
    worst_after: date = Field(description="the day with the least to spare then")
    free_before: float = Field(description="left on that day, as it is")
    free_after: float = Field(description="left on that day then")


class SeasonSupposed(BaseModel):
    """The season as it would be. Nothing was stored."""

    supposed: Literal[True] = Field(default=True, description="nothing of this is so, and nothing was stored")
    as_of: date = Field(description="the day it is asked for")
    said: list[str] = Field(description="what was supposed, in words")
    verdict: str = Field(description="the whole in one line")
    items: list[ItemChange] = Field(description="models, tapes and reels with more or less to spare")
    shortages: list[ShortageOut] = Field(description="what would be short")
    gone: list[ShortageOut] = Field(description="shortages of today that would be gone")
    clashes: list[ClashOut] = Field(description="units that two shows would have on the same days")
    clashes_gone: list[ClashOut] = Field(description="clashes of today that would be gone")


class OrderOut(BaseModel):
    """One thing to buy or to hire, so that no show is short of it."""

    act: Literal["buy", "hire", "too late"] = Field(
        description="too late: it would come when the shortage is over; move dates or borrow"
    )
    item: str = Field(description="tag of the model or tape")
    kind: str = Field(description="supply, decoder, battery or tape")
    quantity: int = Field(description="how many to order, in `sold_as`; 0 where it is too late")
    sold_as: str = Field(description="piece, or reel of a tape")
    packs: int | None = Field(description="in so many packs; null: sold singly, as far as is known")
    spare: int = Field(description="of these, what no piece needs: the spare longest piece of a tape")
    order_by: date | None = Field(description="last day to order; null: the lead time is not known")
    order_by_alone: date | None = Field(
        description="last day to order if no show is to borrow from a later one; null: not known, or the same"
    )
    late_days: int | None = Field(description="days by which it is too late to order in time; 0: in time")
    comes_on: date | None = Field(
        description="when it would be on the shelf if ordered today; null: not known"
    )
    needed_from: date = Field(description="first day it is wanted")
    needed_to: date | None = Field(description="last day it is wanted; null: for good, or used up")
    wanted_by: list[str] = Field(description="shows that want the thing then")
    unit: str = Field(description="piece or m: what the four figures that follow count")
    wanted: float = Field(description="wanted on the worst day")
    usable: float = Field(description="there on that day")
    due_in: float = Field(description="on order and due by that day")
    short: float = Field(description="short on that day; of tape, as metres alone say")
    least_reels: int | None = Field(description="tape: no plan of cuts takes fewer new reels; null: not tape")
    one_lot: str = Field(description="tape: what must come as one lot, and what would do instead")
    lead_days: int | None = Field(description="days from order to delivery; null: nobody entered it")
    price_each: float | None = Field(
        description="price of one, or of one for a week; null: nobody entered it"
    )
    cost: float | None = Field(description="of the row; null: not known, which is not nothing")
    hire_weeks: int | None = Field(description="weeks begun; null: not hired")
    instead: str = Field(
        description="what would do instead: overdue units taken back, a move of dates, hiring, buying"
    )
    unknown: str = Field(
        description="what nobody entered and would be needed, or what could not be proven; blank: nothing"
    )
    late_orders: list[str] = Field(
        default=[],
        description="on order of it and not counted, for it should have come: chase it before ordering",
        examples=[["2 on PO-2611-1 are late since 2026-12-18 and not counted"]],
    )
