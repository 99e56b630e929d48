"""What refers to a thing, found by the foreign keys of the whole store."""

from collections.abc import Sequence

from sqlalchemy import Table, func, inspect, select
from sqlalchemy.orm import Session

from service.store.base import Base, Stored


def references(
    session: Session, record: type[Stored], ids: Sequence[int], but: frozenset[str] = frozenset()
) -> str:
    """In words, what else points to these things: "3 elements, 1 hold"; nothing when nothing does.

    `but`: tables that belong to the thing itself.
    """
    said = []
    for table, column in pointing_at(record):
        if table.name in but:
            continue
        count = session.scalar(select(func.count()).select_from(table).where(table.c[column].in_(ids))) or 0
        if count:
            said.append(f"{count} {_words(table.name, count)}")
    return ", ".join(said)


def pointing_at(record: type[Stored]) -> list[tuple[Table, str]]:
    """Every table and column that points to a record."""
    own = {table.name for table in inspect(record).tables}
    return [
        (table, key.parent.name)
        for table in sorted(Base.metadata.tables.values(), key=lambda t: t.name)
        for key in sorted(table.foreign_keys, key=lambda k: k.parent.name)
        if key.column.table.name in own and table.name not in own
    ]


def _words(name: str, count: int) -> str:
    """
    >>> _words("film_days", 1), _words("batteries", 1), _words("holds", 2)
    ('film day', 'battery', 'holds')
    """
    plain = name.replace("_", " ")
    if count != 1:
        return plain
    return plain[:-3] + "y" if plain.endswith("ies") else plain.removesuffix("s")
