"""A step taken by its rules, whichever door it comes through, and the path walked so far."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import BadValues, RowError, StepRefused
from service.shows.paths import Path
from service.store.audit import AuditEntry
from service.store.base import sound

LONGEST_WORDS, LONGEST_REASON = 200, 150  # together they fit the note that is kept


@dataclass(frozen=True, slots=True)
class Words:
    """`what`: what is said with a step; `despite`: why it is taken though it is off the path or lacks what it
    needs; kept with what was said."""

    what: str = ""
    despite: str = ""

    @property
    def note(self) -> str:
        """
        >>> Words("tested on the truck", "no bench on tour").note
        'tested on the truck; off the path: no bench on tour'
        """
        return "; ".join(filter(None, (self.what, f"off the path: {self.despite}" if self.despite else "")))


@dataclass(frozen=True, slots=True)
class Stepping:
    """How things of a kind take steps. `lacks(session, thing, to, words, today)`: what a step lacks, and how
    to put that right, or None; `follow(session, thing, to, words, today)`: writes what follows from it
    elsewhere; `also(thing, to, today)`: what else the thing itself says then."""

    path: Path
    lacks: Callable[[Session, Any, StrEnum, Words, date], tuple[str, str] | None]
    follow: Callable[[Session, Any, StrEnum, Words, date], None] = lambda *_: None
    also: Callable[[Any, StrEnum, date], dict[str, object]] = lambda *_: {}


def allow(
    session: Session,
    stepping: Stepping,
    thing: Any,
    to: StrEnum,
    words: Words,
    today: date,
    where: str = "what",
) -> str:
    """The note that goes with a step which may be taken; what follows from it is written. `where`: the name
    of the value that its words come in. Raises StepRefused, BadValues, InUse."""
    path = stepping.path
    at: StrEnum = getattr(thing, path.column)
    for name, text in ((where, words.what), ("despite", words.despite)):
        _refuse_unsound(name, text)
    if to == at:
        raise StepRefused(f"{thing.tag} is {to} already", _may(path, at))
    if to not in path.next(at) and not words.despite:
        raise StepRefused(f"{thing.tag} is {at}: {to} does not follow on that", _may(path, at))
    if to in path.says and not words.what:
        mend = f"Say {path.says[to]}: in `what` of a step, or in {path.note} of a change."
        raise BadValues([RowError("", None, where, f"{thing.tag} is {to} without a word why", mend)])
    lack = None if words.despite else stepping.lacks(session, thing, to, words, today)
    if lack is not None:
        raise StepRefused(f"{thing.tag} cannot be {to}: {lack[0]}", lack[1])
    stepping.follow(session, thing, to, words, today)
    return words.note


def _refuse_unsound(where: str, text: str) -> None:
    try:
        sound(text)
    except ValueError as error:
        raise BadValues([RowError("", None, where, str(error), "Say it without them.")]) from error


def _may(path: Path, at: StrEnum) -> str:
    steps = ", ".join(path.next(at))
    go_on = f"From {at} it may become: {steps}" if steps else f"Nothing follows on {at}"
    return f"{go_on}; to do it all the same, say why in `despite`."


def allow_change(
    session: Session, stepping: Stepping, thing: Any, values: dict[str, object], today: date
) -> dict[str, object]:
    """The values of a change, with the note that goes with the step which they take, if they take one."""
    path = stepping.path
    at: StrEnum = getattr(thing, path.column)
    said = values.get(path.column)
    if said is None or said == at:
        return values
    words = Words(str(values.get(path.note) or ""))
    note = allow(session, stepping, thing, type(at)(str(said)), words, today, path.note)
    return values | {path.note: note or None}


@dataclass(frozen=True, slots=True)
class Walked:
    """One step on record. `before` None: where it stood when it was entered."""

    at: datetime
    by: str
    before: str | None
    to: str
    what: str


def walked(session: Session, path: Path, table: str, thing_id: int) -> Iterator[Walked]:
    """Every step of a thing, oldest first, read from the record of changes."""
    entries = session.scalars(
        select(AuditEntry)
        .where(AuditEntry.kind == table, AuditEntry.thing_id == thing_id)
        .order_by(AuditEntry.id)
    )
    stands, note = None, ""
    for entry in entries:
        after: Mapping[str, Any] = entry.after or {}
        note = str(after.get(path.note, note) or "")
        if path.column in after:
            yield Walked(entry.at, entry.by, stands, str(after[path.column]), note)
            stands = str(after[path.column])
