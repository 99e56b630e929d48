"""Many rows changed at once: what differs is found, written and put on record; the rest is left alone."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, cast

from sqlalchemy import Table, bindparam, delete, inspect, select, update
from sqlalchemy.orm import Session

from service.errors import InUse
from service.kinds.writing.references import references
from service.store import audit
from service.store.base import Stored
from service.store.types import utc_now

Differences = Mapping[int, Mapping[str, tuple[Any, Any]]]  # by id and column: before, after
SAME = 1e-12  # a figure that went through text and back is the same figure


def tables(record: type[Stored]) -> list[Table]:
    """The tables a record is kept in; the first gives its number."""
    return [cast(Table, t) for t in inspect(record).tables]


def audited(
    session: Session,
    what: str,
    record: type[Stored],
    rows: Iterable[tuple[int, str | None, dict[str, Any] | None, dict[str, Any] | None]],
) -> None:
    """Put on record: id, tag, before and after of each."""
    audit.record(
        session,
        what,
        str(tables(record)[-1].name),
        [
            {"thing_id": i, "tag": tag, "before": before, "after": _said(after)}
            for i, tag, before, after in rows
        ],
    )


def _said(values: dict[str, Any] | None) -> dict[str, Any] | None:
    return (
        None if values is None else {k: v for k, v in values.items() if k not in audit.SILENT and k != "id"}
    )


def change(session: Session, record: type[Stored], rows: Sequence[Mapping[str, Any]]) -> set[int]:
    """Write what differs from the store in rows that carry their `id`; the ids of those that differ."""
    standing = _standing(session, record, [row["id"] for row in rows])
    found: dict[int, dict[str, tuple[Any, Any]]] = {}
    for row in rows:
        before = standing[row["id"]]
        differs = {
            name: (before[name], value)
            for name, value in row.items()
            if name != "id" and name in before and not is_same(before[name], value)
        }
        if differs:
            found[row["id"]] = differs
    write(session, record, found)
    return set(found)


def is_same(before: Any, after: Any) -> bool:
    """
    >>> is_same(0.1 + 0.2, 0.3), is_same(None, 0.0), is_same(2, 2.0)
    (True, False, True)
    """
    if isinstance(before, float) and isinstance(after, float | int):
        return abs(before - after) <= SAME * max(abs(before), abs(after))
    return bool(before == after)


def write(session: Session, record: type[Stored], found: Differences) -> None:
    """Store the differences, raise the versions, put them on record."""
    if not found:
        return
    head, *more = tables(record)
    connection, stamp = session.connection(), utc_now()
    alike: dict[tuple[Table, tuple[str, ...]], list[dict[str, Any]]] = defaultdict(list)
    for i, differs in found.items():
        for table in (head, *more):
            names = tuple(n for n in differs if n in table.c and n != "id")
            if names or table is head:
                alike[table, names].append({"which": i} | {f"to_{n}": differs[n][1] for n in names})
    for (table, names), values in alike.items():
        sets: dict[str, Any] = {n: bindparam(f"to_{n}", type_=table.c[n].type) for n in names}
        if table is head:
            sets |= {"version": table.c.version + 1, "changed_at": stamp}
        connection.execute(update(table).where(table.c.id == bindparam("which")).values(sets), values)
    tags = _tags(session, head, list(found))
    rows = [
        (i, tags.get(i), {n: b for n, (b, _) in d.items()}, {n: a for n, (_, a) in d.items()})
        for i, d in found.items()
        if d
    ]
    audited(session, "changed", record, rows)
    touched = [(i, tags.get(i), None, None) for i, d in found.items() if not d]
    audited(session, audit.TOUCHED, record, touched)
    session.expire_all()


def _tags(session: Session, head: Table, ids: Sequence[int]) -> dict[int, str]:
    if "tag" not in head.c:
        return {}
    rows = session.execute(select(head.c.id, head.c.tag).where(head.c.id.in_(ids)))
    return {i: str(tag) for i, tag in rows}


def _standing(session: Session, record: type[Stored], ids: Sequence[int]) -> dict[int, dict[str, Any]]:
    """The columns of each thing as they are in the store, locked until the transaction ends."""
    head, *more = tables(record)
    source: Any = head
    for table in more:
        source = source.join(table, table.c.id == head.c.id)
    columns = {c.name: c for table in (*more, head) for c in table.c}
    query = select(*columns.values()).select_from(source).where(head.c.id.in_(ids)).order_by(head.c.id)
    rows = session.execute(query.with_for_update(of=head)).all()
    return {row._mapping[head.c.id]: dict(zip(columns, row, strict=True)) for row in rows}


def take_places(
    session: Session,
    record: type[Stored],
    places: tuple[str, str],
    owners: Sequence[int],
    rows: Iterable[dict[str, Any]],
) -> None:
    """Give each row the `id` of what stands in its place: same owner, same number."""
    owner, number = places
    (table,) = tables(record)
    found = session.execute(
        select(table.c.id, table.c[owner], table.c[number]).where(table.c[owner].in_(owners))
    )
    ids = {(o, n): i for i, o, n in found}
    for row in rows:
        row["id"] = ids.get((row[owner], row[number]))


def where_names_move(
    session: Session,
    record: type[Stored],
    columns: tuple[str, str, str],
    owners: Sequence[int],
    rows: Iterable[dict[str, Any]],
) -> list[int]:
    """The owners of which a name stands in another place than it is to. `columns`: owner, place, name."""
    owner, number, name = columns
    (table,) = tables(record)
    found = session.execute(
        select(table.c[owner], table.c[name], table.c[number]).where(table.c[owner].in_(owners))
    )
    stands = {(o, n): at for o, n, at in found}
    wanted = {(row[owner], row[name]): row[number] for row in rows}
    return sorted({key[0] for key in stands.keys() & wanted.keys() if stands[key] != wanted[key]})


def take_out_others(
    session: Session,
    record: type[Stored],
    owner: tuple[type[Stored], str],
    owners: Sequence[int],
    kept: set[int],
    below: Sequence[tuple[type[Stored], str]] = (),
) -> set[int]:
    """Take out what belongs to the owners and is not kept, and what lies `below` it; the owners that lost
    something. What something else refers to stays, with a refusal."""
    _, column = owner
    (table,) = tables(record)
    found = session.execute(select(table).where(table.c[column].in_(owners), table.c.id.not_in(kept)))
    others = [dict(row._mapping) for row in found]
    if not others:
        return set()
    ids = [row["id"] for row in others]
    for lower, key in below:
        take_out_others(session, lower, (record, key), ids, set())
    in_use = references(session, record, ids)
    if in_use:
        raise InUse(
            f"{table.name.replace('_', ' ')} that would be taken out are in use by {in_use}",
            "Free them there first.",
        )
    session.execute(delete(table).where(table.c.id.in_(ids)))
    audited(session, "removed", record, [(row["id"], None, _said(row), None) for row in others])
    return {row[column] for row in others}
