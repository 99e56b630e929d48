"""Standings and shows kept until something on record changes: to read facts and ask every limit takes longer
than a page may."""

import threading
from collections import OrderedDict
from collections.abc import Sequence
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.planning.serving.asking import ShowOn, show_on
from service.planning.snapshot.show import find_production
from service.reports.standing.asking import standings
from service.reports.standing.parts import Standing
from service.season.records import Production
from service.store.audit import AuditEntry
from service.store.base import tag_key

MOST_SHOWS = 48
MOST_READ = 12  # with all their facts: some 10 MB each for 1,000 elements
# Numbers of changes are given before they are stored: of two that overlap, the later number may come first.
LOOKED_BACK = 4_096
Stamp = tuple[date, int, int]


class Remembered:
    """Safe to ask from several threads. Holds the last so many shows that were asked for."""

    def __init__(self, most: int = MOST_SHOWS) -> None:
        self._most = most
        self._lock, self._working = threading.Lock(), threading.Lock()
        self._known: OrderedDict[str, tuple[Stamp, Standing]] = OrderedDict()

    def of(self, session: Session, code: str, day: date) -> Standing:
        """How one show stands. `session`: one snapshot. Raises NotFound."""
        production = find_production(session, code)
        return self.of_all(session, [production], day)[production.tag]

    def of_all(self, session: Session, productions: Sequence[Production], day: date) -> dict[str, Standing]:
        """How each stands, by its code, in the order asked. What is not known yet is worked out in one go."""
        stamp = stamp_of(session, day)
        found = self._recalled(productions, stamp)
        if len(found) < len(productions):
            with self._working:  # one at a time: who waits finds it worked out
                found = self._recalled(productions, stamp)
                made = standings(session, [p for p in productions if p.tag not in found], day)
                with self._lock:
                    for tag, standing in made.items():
                        self._known[tag] = (stamp, standing)
                        self._known.move_to_end(tag)
                    while len(self._known) > self._most:
                        self._known.popitem(last=False)
                found |= made
        return {production.tag: found[production.tag] for production in productions}

    def _recalled(self, productions: Sequence[Production], stamp: Stamp) -> dict[str, Standing]:
        found = {}
        with self._lock:
            for production in productions:
                known = self._known.get(production.tag)
                if known is not None and known[0] == stamp:
                    self._known.move_to_end(production.tag)
                    found[production.tag] = known[1]
        return found


class RememberedShows:
    """Shows on a day, with what their limits say. Safe to ask from several threads."""

    def __init__(self, most: int = MOST_READ) -> None:
        self._most = most
        self._lock = threading.Lock()
        self._known: OrderedDict[tuple[str, date], tuple[Stamp, ShowOn]] = OrderedDict()

    def of(self, session: Session, code: str, on: date, known_on: date) -> ShowOn:
        """`known_on`: the day whose knowledge it rests on. `session`: one snapshot. Raises NotFound."""
        stamp, key = stamp_of(session, known_on), (tag_key(code), on)
        with self._lock:  # one at a time: who waits finds it worked out
            known = self._known.get(key)
            if known is None or known[0] != stamp:
                known = (stamp, show_on(session, code, on, known_on))
                self._known[key] = known
            self._known.move_to_end(key)
            while len(self._known) > self._most:
                self._known.popitem(last=False)
        return known[1]


def stamp_of(session: Session, day: date) -> Stamp:
    """Changes whenever anything on record does."""
    newest = session.scalar(select(func.max(AuditEntry.id))) or 0
    near = select(func.count()).select_from(AuditEntry).where(AuditEntry.id > newest - LOOKED_BACK)
    return day, newest, session.scalar(near) or 0
