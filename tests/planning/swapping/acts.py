"""What the tests of swaps do over and over: ask, swap, take back, look at every row."""

from datetime import date
from typing import Any

from sqlalchemy import inspect, select, text

from service.planning.swapping.acting.doing import swap
from service.planning.swapping.acting.undoing import undo
from service.planning.swapping.asking import swaps_of
from service.planning.swapping.schemas import SwapAsk, SwappedOut, SwapsOut
from service.season.records import Hold
from service.stock.gear import Unit
from service.store.work import Store

TODAY = date(2026, 11, 25)
# The record of changes and of swaps themselves; times and versions only grow.
ON_RECORD = frozenset({"audit", "swaps", "tags", "alembic_version"})
GROWING = frozenset({"version", "created_at", "changed_at"})


def asked(store: Store, tag: str, code: str | None = None, today: date = TODAY) -> SwapsOut:
    with store.reading() as session:
        return swaps_of(session, tag, code, today)


def swapped(store: Store, tag: str, swap_for: str, today: date = TODAY, **how: Any) -> SwappedOut:
    ask = SwapAsk(swap_for=swap_for, **how)
    return store.write(lambda session: swap(session, tag, ask, today, "deck"), "deck")


def taken_back(store: Store, number: str) -> str | None:
    return store.write(lambda session: undo(session, number, "deck").number, "deck")


def returned(store: Store, tag: str, on: date = TODAY) -> None:
    """The unit's holds ended on that day, as its show gives it back."""
    with store.writing("store") as session:
        unit = session.scalars(select(Unit).where(Unit.tag == tag)).one()
        for hold in session.scalars(select(Hold).where(Hold.unit_id == unit.id, Hold.from_on <= on)):
            hold.returned_on = on


def every_row(store: Store) -> dict[str, list[dict[str, Any]]]:
    """All that is stored, but for the record of changes."""
    found = {}
    with store.lookup() as connection:
        for table in inspect(store.engine).get_table_names():
            if table not in ON_RECORD:
                rows = connection.execute(text(f'SELECT * FROM "{table}" ORDER BY 1')).mappings()
                found[table] = [{k: v for k, v in row.items() if k not in GROWING} for row in rows]
    return found
