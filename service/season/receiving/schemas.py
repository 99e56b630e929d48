"""What came, as it is entered at every door."""

from datetime import date
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints

from service.store.base import sound

Text = Annotated[str, StringConstraints(strip_whitespace=True), AfterValidator(sound)]
Name = Annotated[Text, Field(min_length=1, max_length=40)]
NewTag = Annotated[Text, Field(min_length=1, max_length=40, pattern=r"^[A-Za-z0-9][A-Za-z0-9._+-]*$")]
# Room is left on both sides for days counted on from a day.
Day = Annotated[date, Field(ge=date(1900, 1, 1), le=date(2999, 12, 31))]
MOST = 500


class DeliveryAsk(BaseModel):
    """What came of one order line with one delivery note: whole reels of a tape, or pieces of a model."""

    model_config = ConfigDict(extra="forbid")

    number: Name = Field(
        description="number of the delivery note, in any letter case; each is received once a line",
        examples=["DN-118"],
    )
    order: Name = Field(description="number of the order", examples=["PO-2611-1"])
    line: int = Field(ge=1, le=1_000, description="line of the order", examples=[1])
    quantity: int = Field(ge=1, le=MOST, description="reels or pieces that came", examples=[2])
    received_on: Day | None = Field(
        default=None, description="the day it came; today if not given", examples=["2026-12-18"]
    )
    lot: Annotated[Text, Field(max_length=40)] | None = Field(
        default=None, description="lot on the reels; the one asked for if not given", examples=["C-26F"]
    )
    place: Annotated[Text, Field(min_length=1, max_length=80)] | None = Field(
        default=None,
        description="tag of the bin; if not given, where the last sealed reel of that tape lies, or the "
        "last unit of its kind",
        examples=["A3"],
    )
    tags: Annotated[list[NewTag], Field(max_length=MOST)] | None = Field(
        default=None,
        description="a tag for each; the next free ones if not given",
        examples=[["R-182", "R-183"]],
    )
    note: Annotated[Text, Field(max_length=400)] = Field(
        default="", description="anything to know", examples=["one reel to come"]
    )
