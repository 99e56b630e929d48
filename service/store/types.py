"""Column types that behave the same on both databases."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, datetime
from enum import StrEnum

from sqlalchemy import DateTime, Dialect, Enum
from sqlalchemy.types import TypeDecorator

_moment: ContextVar[datetime | None] = ContextVar("moment", default=None)


def utc_now() -> datetime:
    """This instant; inside `one_moment`, the instant of that block."""
    return _moment.get() or datetime.now(UTC)


@contextmanager
def one_moment(at: datetime | None = None) -> Iterator[None]:
    """Whatever is written inside happens at one instant, so that its rows and its record agree."""
    mark = _moment.set(at or datetime.now(UTC))
    try:
        yield
    finally:
        _moment.reset(mark)


class UtcDateTime(TypeDecorator[datetime]):
    """An instant. Refuses naive times; always gives back aware UTC (SQLite itself forgets the zone)."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, _dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("an instant needs a time zone")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, _dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def choice(values: type[StrEnum], name: str) -> Enum:
    """A text column that the database itself holds to the values of `values`.

    Not a native enum: those cannot be altered alike on both databases.
    """
    return Enum(
        values,
        name=name,
        native_enum=False,
        create_constraint=True,
        length=24,
        values_callable=lambda members: [m.value for m in members],
    )
