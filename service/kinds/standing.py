"""What the store has of a kind already, as the values that would make it."""

from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.kinds.columns import Column, Form
from service.kinds.kind import RETIRED_ON, Kind, Values
from service.store.base import tag_key
from service.store.listing import everything

VERSION = Column(
    "Version", Form.WHOLE, "Version the row was written out at; leave it as it is", low=1, high=2**31 - 1
)


@dataclass(frozen=True, slots=True)
class Standing:
    """One thing: its number in the store, its version, and its values by column key."""

    id: int
    version: int
    values: Values


def standing(session: Session, kind: Kind, is_held: bool = False) -> dict[str, Standing]:
    """Every thing of the kind by the name a row would have, in the order of its list.

    `is_held`: nobody else changes them until the transaction ends.
    """
    if kind.listing is None or not kind.identity:
        return {}
    if session.scalar(select(kind.listing.id).limit(1)) is None:
        return {}
    if is_held and kind.record is not None:
        record: Any = kind.record
        session.execute(select(record.id).order_by(record.id).with_for_update())
    found: dict[str, Standing] = {}
    for number, version, row in everything(session, kind.listing):
        if kind.is_exported(row):
            values = kind.values_of(row)
            if kind.is_retirable and row[RETIRED_ON.key] is not None:
                values[RETIRED_ON.key] = row[RETIRED_ON.key]
            found[tag_key(kind.name_of(values))] = Standing(number, version, values)
    return found
