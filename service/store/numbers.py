"""The next free number or tag of a kind: K-042 after K-041, R-124 after R-123."""

import re
from collections.abc import Iterable
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.store.base import TagEntry

_LOOKED_AT = 50


def highest(names: Iterable[str], prefix: str) -> tuple[int, int]:
    """The highest number among names of the form PREFIX-digits, and with how many digits it is written;
    (0, 0) where there is none.

    >>> highest(["K-041", "k-7", "K-99x", "R-500"], "K")
    (41, 3)
    """
    form = re.compile(rf"{re.escape(prefix)}-(\d{{1,9}})", re.I)
    found = [match[1] for name in names if (match := form.fullmatch(name))]
    return max(((int(digits), len(digits)) for digits in found), default=(0, 0))


def next_numbers(session: Session, column: Any, prefix: str, count: int = 1) -> list[str]:
    """So many numbers after the highest there is. Writers who want numbers of one table queue for them on its
    first row."""
    record = column.class_
    session.execute(select(record.id).order_by(record.id).limit(1).with_for_update())
    last, digits = _highest_stored(session, column, prefix)
    return [f"{prefix}-{last + n:0{max(3, digits)}}" for n in range(1, count + 1)]


def next_tags(session: Session, prefix: str, count: int = 1) -> list[str]:
    """So many tags after the highest of that prefix, over the whole house; a tag is never used again."""
    session.execute(select(TagEntry.key).order_by(TagEntry.key).limit(1).with_for_update())
    last, digits = _highest_stored(session, TagEntry.key, prefix)
    return [f"{prefix}-{last + n:0{max(2, digits)}}" for n in range(1, count + 1)]


def prefix_of(tag: str) -> str:
    """What stands before the number of a tag; a tag without a number counts its own.

    >>> prefix_of("R-118"), prefix_of("R-118-2"), prefix_of("ROLL")
    ('R', 'R-118', 'ROLL')
    """
    stem, dash, end = tag.rpartition("-")
    return stem if dash and end.isdecimal() and stem else tag


def _highest_stored(session: Session, column: Any, prefix: str) -> tuple[int, int]:
    """The longest and last names come first; only where all of those are of another form are all read."""
    literal = prefix.upper().replace("\\", "\\\\").replace("%", "\\%").replace("_", "\\_")
    named = select(column).where(func.upper(column).like(f"{literal}-%", escape="\\"))
    last = session.scalars(named.order_by(func.length(column).desc(), column.desc()).limit(_LOOKED_AT)).all()
    found = highest(last, prefix)
    return found if found[0] or len(last) < _LOOKED_AT else highest(session.scalars(named), prefix)
