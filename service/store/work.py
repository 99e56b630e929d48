"""The only place that begins, commits or rolls back."""

import random
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from typing import TypeVar

from sqlalchemy import Connection, event
from sqlalchemy.exc import DBAPIError, IntegrityError
from sqlalchemy.orm import Session
from sqlalchemy.orm.exc import StaleDataError

from service.errors import AlreadyExists, Busy, ReelTooShort, Refused, ServiceError, Stale, StoreUnavailable
from service.store import audit, dialect
from service.store.types import one_moment

ATTEMPTS = 6
T = TypeVar("T")


class Store:
    """Hands out transactions on one database.

    `reading()`: a session on one snapshot, for reports. `lookup()`: a bare connection for single selects.
    `write(action, by)`: runs `action(session)` in a write transaction and commits; tries again when the
    database asks for it. `writing(by)`: the same for one visible block, without the second try.
    All that one transaction writes carries one instant; `at`: another than now.
    `may_be_new`: whether a SQLite file that is not there yet is made.
    """

    def __init__(self, url: str, may_be_new: bool = True) -> None:
        self.url = url
        self.engine = dialect.make_engine(url, may_be_new)
        self._report, self._lookup = dialect.views(self.engine)
        self._turn = dialect.writer_lock(self.engine)

    @property
    def is_sqlite(self) -> bool:
        return dialect.is_sqlite(self.engine)

    @contextmanager
    def reading(self) -> Iterator[Session]:
        with (
            _plain_refusals(),
            Session(self._report, autoflush=False, expire_on_commit=False) as session,
        ):
            yield session
            # Rolled back, the PostgreSQL driver would forget every statement it has prepared.
            session.commit()

    @contextmanager
    def lookup(self) -> Iterator[Connection]:
        with _plain_refusals(), self._lookup.connect() as connection:
            yield connection

    @contextmanager
    def writing(self, by: str, at: datetime | None = None) -> Iterator[Session]:
        with (
            _plain_refusals(),
            self._turn,
            one_moment(at),
            Session(self.engine, expire_on_commit=False) as session,
            session.begin(),
        ):
            session.info["by"] = by
            event.listen(session, "before_flush", audit.before_flush)
            event.listen(session, "after_flush", audit.after_flush)
            yield session

    @contextmanager
    def supposing(self, by: str) -> Iterator[Session]:
        """A session like that of `writing` whose writes are undone at the end, whatever happens inside."""
        with suppress(_UndoneError), self.writing(by) as session:
            yield session
            raise _UndoneError

    def write(self, action: Callable[[Session], T], by: str) -> T:
        """The action's result, once committed. It may run more than once: it must not reach outside."""
        for attempt in range(ATTEMPTS):
            try:
                with self.writing(by) as session:
                    return action(session)
            except Busy:
                if attempt == ATTEMPTS - 1:
                    raise
                time.sleep(random.uniform(0.5, 1.0) * 0.02 * 2**attempt)
        raise AssertionError("unreachable")

    def close(self) -> None:
        self.engine.dispose()


class _UndoneError(Exception):
    """Ends a transaction that must leave nothing behind."""


@contextmanager
def _plain_refusals() -> Iterator[None]:
    """Turn what the driver says into what a person can act on."""
    try:
        yield
    except ServiceError:
        raise
    except StaleDataError as error:
        raise Stale("somebody changed this meanwhile", "Read it again and repeat the change.") from error
    except IntegrityError as error:
        raise _named_refusal(error) from error
    except DBAPIError as error:
        if dialect.is_retryable(error):
            raise Busy("the database is busy with other changes", "Try again in a moment.") from error
        why = dialect.is_unavailable(error)
        if why is None:
            raise
        raise StoreUnavailable(f"{why}; nothing was stored", "Put that right and try again.") from error


# Numbers given to rows that come without one: two writers may find the same one free.
_NUMBERED = (
    *("holds", "cuts", "faults", "bench_tests", "notes", "work_orders", "fuses"),
    *("cut_plans", "stocktakes", "swaps"),
)
_GIVEN_NUMBERS = tuple(name for table in _NUMBERED for name in (f"uq_{table}_number", f"{table}.number"))


def _named_refusal(error: IntegrityError) -> ServiceError:
    """The last net: a constraint of the database refused what no rule before it had caught."""
    said = str(error.orig)
    if any(name in said for name in _GIVEN_NUMBERS):
        return Busy("somebody took the same number at this moment", "Try again in a moment.")
    if "tags.key" in said or "pk_tags" in said:
        return AlreadyExists("that tag is or was in use", "A tag is never used again: choose another.")
    if "left_not_negative" in said:
        return ReelTooShort(
            "the reel would go below zero", "Count the reel, or take the length from another."
        )
    return Refused(f"the database refused it: {said.splitlines()[0]}", "Correct the values and try again.")
