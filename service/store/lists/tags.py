"""Which columns are tags, and the columns they are compared by."""

from typing import Any

from service.store.base import TagEntry


def key_of(column: Any) -> Any:
    """The column a tag is compared and found by, in any letter case; None where the column is no tag."""
    stored = getattr(column, "expression", column)
    table = getattr(stored, "table", None)
    if table is None or getattr(stored, "name", "") != "tag":
        return None
    if "tag_key" in table.c:
        return table.c.tag_key
    return table.c.key if getattr(table, "name", "") == TagEntry.__tablename__ else None
