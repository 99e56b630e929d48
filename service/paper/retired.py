"""Things that a sheet says are out of use, or back in use: settled once every sheet of the import is loaded,
so that gear may move away and be retired, or a model go with its last units, in one import."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import InUse
from service.kinds.kind import RETIRED_ON, Kind
from service.kinds.row import Row
from service.kinds.standing import Standing
from service.kinds.writing.context import Context
from service.store.base import tag_key

_KEY = RETIRED_ON.key


@dataclass(frozen=True, slots=True)
class Turn:
    """A thing whose day of retirement differs: what it is in the store, and what its row says."""

    kind: Kind
    row: Row
    before: date | None
    after: date | None


def announce(kind: Kind, rows: Sequence[Row], ctx: Context) -> None:
    """Tell the import which of its new things come already retired; refuse a day that is still to come."""
    if not kind.is_retirable:
        return
    for row in rows:
        on = row.day(_KEY)
        if on is None or _KEY in row.kept:
            continue
        if on > ctx.today:
            ctx.refuse(
                row, _KEY, f"{on} is still to come", "Leave it blank, and retire the thing on that day."
            )
        elif row.thing_id is None:
            ctx.retired[tag_key(row.name)] = on


def turns(kind: Kind, rows: Sequence[Row], held: Mapping[str, Standing]) -> list[Turn]:
    """Of loaded rows, those that take a thing out of use, or bring it back."""
    if not kind.is_retirable:
        return []
    found = []
    for row in rows:
        thing = held.get(tag_key(row.name))
        before: Any = None if thing is None else thing.values.get(_KEY)
        if before != row.day(_KEY):
            found.append(Turn(kind, row, before, row.day(_KEY)))
    return found


def settle(session: Session, found: Sequence[Turn], ctx: Context) -> None:
    """Retire them, in an order in which each may go, and bring the others back; what something in use still
    depends on is refused as it would be through any other door. What comes in retired already is taken as it
    was written down, with a remark where something depends on it."""
    for turn in found:
        refusal = None if turn.row.thing_id is not None else _settle(session, turn, ctx)
        if refusal is not None:
            ctx.remark(f"{turn.row.name} comes in retired, and {refusal.message}")
    waiting = [turn for turn in found if turn.row.thing_id is not None]
    refused: list[tuple[Turn, InUse]] = []
    while waiting:
        refused = [
            (turn, refusal) for turn in waiting if (refusal := _settle(session, turn, ctx)) is not None
        ]
        if len(refused) == len(waiting):
            break
        waiting = [turn for turn, _ in refused]
    for turn, refusal in refused:
        key = _KEY if _KEY in turn.row.heads else "state"
        ctx.refuse(turn.row, key, refusal.message, refusal.mend)


def _settle(session: Session, turn: Turn, ctx: Context) -> InUse | None:
    record: Any = turn.kind.record
    thing = session.scalars(select(record).where(record.tag_key == tag_key(turn.row.name))).one()
    try:
        if turn.before is None and turn.kind.retire is not None:
            turn.kind.retire(session, thing, ctx.today)
    except InUse as refusal:
        return refusal
    thing.retired_on = turn.after
    session.flush()
    return None
