"""Where a unit lies and who has it, in the reader's words."""

from dataclasses import dataclass

from service.planning.serving.whereabouts import Whereabouts
from service.web.frame.pages import Reader


@dataclass(frozen=True, slots=True)
class Lying:
    """`held`: who has it and until when, blank where nobody has; `late`: it should be back."""

    held: str
    late: bool
    home: str
    seen: str
    note: str


def lying(at: Whereabouts, reader: Reader) -> Lying:
    """Where a unit lies and who has it, in words."""
    held, late = "", 0
    if at.held is not None:
        late = at.held.days_late(reader.today)
        key = "unit-with-late" if late else "unit-with" if at.held.due_on else "unit-with-open"
        held = reader.say(key, show=at.show or at.held.code, day=reader.day(at.held.due_on), days=late)
    seen = ", ".join(filter(None, (at.seen, reader.day(at.seen_on))))
    return Lying(held, late > 0, at.home, seen, at.note)
