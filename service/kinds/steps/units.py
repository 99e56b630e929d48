"""What the steps of a supply, decoder, battery or box need: retired only when nothing depends on it."""

from datetime import date
from enum import StrEnum

from sqlalchemy.orm import Session

from service.kinds.retiring import refuse_unit_in_use
from service.kinds.steps.walking import Stepping, Words
from service.shows.paths import UNITS
from service.stock.gear import Unit, UnitState


def _lacks(session: Session, unit: Unit, to: StrEnum, _words: Words, today: date) -> tuple[str, str] | None:
    if to == UnitState.RETIRED:
        refuse_unit_in_use(session, unit, today)
    return None


def _also(unit: Unit, to: StrEnum, today: date) -> dict[str, object]:
    return {"retired_on": (unit.retired_on or today) if to == UnitState.RETIRED else None}


STEPPING = Stepping(UNITS, _lacks, also=_also)
