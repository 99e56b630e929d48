"""What may be changed about stock, as it is sent."""

from datetime import date
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from service.stock.gear import UnitState
from service.units import AmpereHours

# No NUL: PostgreSQL cannot hold it.
Line = Annotated[str, StringConstraints(strip_whitespace=True, max_length=120, pattern=r"^[^\x00]*$")]
Note = Annotated[str, StringConstraints(strip_whitespace=True, max_length=400, pattern=r"^[^\x00]*$")]
TagText = Annotated[str, StringConstraints(strip_whitespace=True, max_length=80, pattern=r"^[^\x00]+$")]


class Change(BaseModel):
    """Only what is named is changed; null empties what may be empty."""

    model_config = ConfigDict(extra="forbid")

    def named(self) -> dict[str, object]:
        return {name: getattr(self, name) for name in self.model_fields_set}


class UnitChange(Change):
    """A supply, decoder or battery found faulty, mended, moved or tested."""

    state: UnitState = Field(
        default=UnitState.GOOD, description="good, suspect, faulty, repair, retired or missing"
    )
    state_note: Note = Field(default="", description="what was found")
    home: TagText | None = Field(default=None, description="tag of its bin")
    where_note: Line = Field(default="", description="where it was last seen")
    last_tested_on: date | None = Field(default=None, description="day of the last test")


class BatteryChange(UnitChange):
    """A pack has been charged and measured, too."""

    cycles: int | None = Field(default=None, ge=0, le=100_000, description="charges so far")
    measured_ah: Annotated[AmpereHours, Field(gt=0, le=10_000)] | None = Field(
        default=None, description="charge measured, in Ah"
    )
