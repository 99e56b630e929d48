"""Numbers on paper for facts that come without one: H-001, H-002 and so on."""

from collections.abc import Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.kinds.row import Row
from service.kinds.writing.context import Context
from service.store.base import tag_key
from service.store.numbers import highest


def free_numbers(session: Session, column: Any, prefix: str, rows: Sequence[Row], key: str) -> list[str]:
    """The number of each row, in order; one without takes the next after the highest there is."""
    if all(row.has(key) for row in rows):
        return [row.text(key) for row in rows]
    stored = session.scalars(select(column).where(column.is_not(None)))
    last, _ = highest([*stored, *(row.text(key) for row in rows)], prefix)
    numbers = []
    for row in rows:
        last += not row.has(key)
        numbers.append(row.text(key) or f"{prefix}-{last:03}")
    return numbers


def number(rows: Sequence[Row], key: str, column: Any, prefix: str, ctx: Context) -> None:
    """The same, written into the rows, which are known by it. Writers who want numbers of one table queue for
    them on its first row."""
    bare = [row for row in rows if not row.has(key)]
    if bare:
        record = column.class_
        ctx.session.execute(select(record.id).order_by(record.id).limit(1).with_for_update())
    for row, name in zip(rows, free_numbers(ctx.session, column, prefix, rows, key), strict=True):
        row.values[key] = row.name = name
        row.heads.setdefault(key, key)
    ctx.numbered |= {(row.kind, tag_key(row.name)) for row in bare}
