"""Rows changed, made and taken out in one act, remembered so that the act can be taken back exactly."""

from datetime import date, datetime
from enum import Enum
from typing import Any

from sqlalchemy import inspect
from sqlalchemy.orm import Session

from service.planning.records import Allotment, Patch, Placing
from service.season.records import Hold
from service.shows.faults import Fault
from service.shows.upkeep import Note
from service.stock.gear import Unit
from service.store.audit import SILENT, AuditEntry, plain
from service.store.lists.undoing import Key, otherwise_since

RECORDS: dict[str, Any] = {r.__tablename__: r for r in (Allotment, Patch, Placing, Hold, Fault, Note, Unit)}


class Memory:
    """Does what is asked through the session, and keeps what undoing it needs."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.was: dict[tuple[str, int], tuple[Any, dict[str, Any]]] = {}
        self.made: list[Any] = []
        self.gone: list[dict[str, Any]] = []

    def change(self, thing: Any, **values: Any) -> None:
        """Sets the values that differ, and remembers what they were before the first change."""
        _, was = self.was.setdefault((thing.__tablename__, thing.id), (thing, {}))
        for name, value in values.items():
            if getattr(thing, name) != value:
                was.setdefault(name, plain(getattr(thing, name)))
                setattr(thing, name, value)

    def make(self, thing: Any) -> Any:
        self.session.add(thing)
        self.made.append(thing)
        return thing

    def take_out(self, thing: Any) -> None:
        values = {
            a.key: plain(getattr(thing, a.key))
            for a in inspect(type(thing)).column_attrs
            if a.key not in SILENT
        }
        self.gone.append({"table": thing.__tablename__, "values": values})
        self.session.delete(thing)
        self.session.flush()  # what takes its place in a unique column comes after

    def kept(self) -> dict[str, Any]:
        """What undoing needs."""
        self.session.flush()
        return {
            "changed": [
                {"table": thing.__tablename__, "id": thing.id, "was": was}
                for thing, was in self.was.values()
                if was
            ],
            "made": [{"table": thing.__tablename__, "id": thing.id} for thing in self.made],
            "gone": self.gone,
        }


def changed_since(session: Session, kept: dict[str, Any], last: int) -> dict[Key, list[AuditEntry]]:
    """What of it is not as the act left it, with what was written of it since; empty: all of it can be taken
    back. `last`: number of the last row that the act has in the record of changes."""
    stand, gone = rows_of(kept)
    for table, number in sorted(stand):
        _held(session, table, number)
    return otherwise_since(session, stand | gone, last, gone)


def rows_of(kept: dict[str, Any]) -> tuple[set[Key], set[Key]]:
    """The rows that an act left standing, and those that it took out."""
    stand = {(row["table"], row["id"]) for row in (*kept["changed"], *kept["made"])}
    return stand, {(row["table"], row["values"]["id"]) for row in kept["gone"]} - stand


def take_back(session: Session, kept: dict[str, Any]) -> None:
    """Every row as it was. What was made is taken out first, what was taken out comes back last."""
    for row in kept["made"]:
        session.delete(_held(session, row["table"], row["id"]))
    session.flush()
    for row in kept["changed"]:
        thing = _held(session, row["table"], row["id"])
        for name, value in row["was"].items():
            setattr(thing, name, _stored(type(thing), name, value))
    session.flush()
    for row in kept["gone"]:
        record = RECORDS[row["table"]]
        session.add(record(**{name: _stored(record, name, value) for name, value in row["values"].items()}))
    session.flush()


def _held(session: Session, table: str, number: int) -> Any:
    return session.get(RECORDS[table], number, with_for_update=True, populate_existing=True)


def _stored(record: Any, name: str, value: Any) -> Any:
    """A value as JSON holds it, as the column takes it."""
    kind = inspect(record).column_attrs[name].columns[0].type.python_type
    if not isinstance(value, str) or kind is str:
        return value
    if issubclass(kind, datetime | date):
        return kind.fromisoformat(value)
    return kind(value) if issubclass(kind, Enum) else value
