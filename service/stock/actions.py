"""Changes to gear: condition, whereabouts, tests. They take a session and never commit."""

from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from service.errors import BadRequest
from service.stock.gear import GearKind, Unit, UnitState
from service.stock.records import Place
from service.stock.schemas import UnitChange
from service.store.changing import find, held

BAD = frozenset({UnitState.SUSPECT, UnitState.FAULTY, UnitState.MISSING})


def change_unit(
    session: Session,
    kind: GearKind,
    tag: str,
    change: UnitChange,
    expected: frozenset[int] | None,
    today: date,
) -> Unit:
    """The unit as changed. One that is not sound says why; a retired one is out of every count from today."""
    unit = held(session, Unit, tag, expected, Unit.kind == kind)
    named: dict[str, Any] = change.named()
    if "home" in named:
        home = named.pop("home")
        unit.home_id = None if home is None else find(session, Place, home, "place").id
    for name, value in named.items():
        setattr(unit, name, value)
    if "state" in named:
        if unit.state in BAD and not unit.state_note:
            raise BadRequest(
                f"{unit.tag} is {unit.state} without a word why", "Say what was found in state_note."
            )
        unit.retired_on = (unit.retired_on or today) if unit.state == UnitState.RETIRED else None
    session.flush()
    return unit
