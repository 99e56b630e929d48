"""What was changed, by whom and when: the audit rows as a list, whole or of one thing."""

from collections.abc import Iterator

from sqlalchemy import ColumnElement, and_, or_, select

from service.store.audit import TOUCHED, AuditEntry
from service.store.listing import Child, Field, Filter, Listing

HISTORY = Listing(
    plural="history",
    one="a change on record",
    doc="Every change of every stored thing, oldest first.",
    source=AuditEntry,
    id=AuditEntry.id,
    version=AuditEntry.id,
    key=AuditEntry.id,
    order=(AuditEntry.id,),
    where=AuditEntry.what != TOUCHED,
    dated=AuditEntry.at,
    is_tagged=False,
    fields=(
        Field("id", AuditEntry.id, "number of the change; its address"),
        Field("at", AuditEntry.at, "when, UTC"),
        Field("by", AuditEntry.by, "who said so; not proven until people sign in"),
        Field("what", AuditEntry.what, "made, changed or removed"),
        Field("kind", AuditEntry.kind, "kind of thing"),
        Field("thing_id", AuditEntry.thing_id, "number of the thing in the store"),
        Field("tag", AuditEntry.tag, "tag of the thing"),
        Field("before", AuditEntry.before, "what changed, as it was", kind=dict),
        Field("after", AuditEntry.after, "what changed, as it became", kind=dict),
    ),
    filters=(
        Filter("by", AuditEntry.by, "who"),
        Filter("what", AuditEntry.what, "made, changed or removed"),
        Filter("kind", AuditEntry.kind, "kind of thing"),
        Filter("tag", AuditEntry.tag, "tag of the thing, as printed"),
    ),
)


def of_thing(listing: Listing, thing_id: int) -> ColumnElement[bool]:
    """Changes of one thing and of the rows that belong to it."""
    own = and_(AuditEntry.kind == listing.audited_as, AuditEntry.thing_id == thing_id)
    below = (
        and_(AuditEntry.kind == kind, AuditEntry.thing_id.in_(ids))
        for child in listing.children
        for kind, ids in _belonging(child, child.parent == thing_id)
    )
    return or_(own, *below)


def _belonging(child: Child, theirs: ColumnElement[bool]) -> Iterator[tuple[str, ColumnElement[int]]]:
    ids = select(child.id).select_from(child.source).where(theirs).scalar_subquery()
    yield str(child.id.expression.table.name), ids
    for below in child.children:
        yield from _belonging(below, below.parent.in_(ids))
