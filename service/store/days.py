"""Spans of days: kept half-open, shown with their last day included."""

from datetime import date, timedelta


def last_day(until_on: date) -> date:
    """The last day of a span kept as half-open days.

    >>> last_day(date(2026, 12, 19))
    datetime.date(2026, 12, 18)
    """
    return until_on - timedelta(days=1)


def day_after(last_on: date) -> date:
    """The way back: the day up to which a span is kept."""
    return last_on + timedelta(days=1)
