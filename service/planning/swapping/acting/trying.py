"""What a swap would do, found out by doing it where nothing is kept."""

from dataclasses import dataclass
from datetime import date

from sqlalchemy.orm import Session

from service.errors import OverLimit
from service.limits.findings import Finding
from service.planning.swapping.acting.doing import swap, swap_etag
from service.planning.swapping.acting.storing import SOUND, fault_of
from service.planning.swapping.offering import Differs, differences, lies_at
from service.planning.swapping.reading import find_unit, read_question
from service.planning.swapping.schemas import SwapAsk, SwappedOut

_UNSAID = "not said yet"


@dataclass(frozen=True, slots=True)
class Tried:
    """`over`: what would be over a limit, for which somebody has to answer; `known`: what is on record of
    the old unit already, blank where somebody has to say what was found; `lies`: where the new one is;
    `etag`: what all this was true of."""

    told: SwappedOut
    over: tuple[str, ...]
    known: str
    lies: str
    differs: tuple[Differs, ...]
    etag: str


def tried(session: Session, tag: str, swap_for: str, code: str | None, today: date, by: str) -> Tried:
    """The session's writes must be undone by whoever opened it. Raises as `swap` does; OverLimit only where
    nobody may decide it."""
    old, new = find_unit(session, tag), find_unit(session, swap_for)
    fault = fault_of(session, old)
    known = fault.symptom if fault is not None else ""
    if not known and old.state not in SOUND:
        known = old.state_note or old.state.value
    question = read_question(session, old.tag, code, today)
    row = question.house.named(new.id)
    etag, lies = swap_etag(question), lies_at(question, row)
    ask = SwapAsk(swap_for=new.tag, found=_UNSAID, production=code)
    over: tuple[str, ...] = ()
    try:
        told = swap(session, tag, ask, today, by)
    except OverLimit as error:
        over = tuple(f.message for f in error.findings if isinstance(f, Finding))
        ask = ask.model_copy(update={"despite_limits": _UNSAID})
        told = swap(session, tag, ask, today, by)
    # Only what can carry it at all can be set beside it, and by now that is sure.
    return Tried(told, over, known, lies, tuple(differences(question, row)), etag)
