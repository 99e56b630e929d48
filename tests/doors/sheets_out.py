"""The content of a house as its sheets have it, for comparing one house with another."""

from service.paper.out.tables import everything_out
from service.store.work import Store

Content = dict[str, list[dict[str, str]]]


def content(store: Store, with_versions: bool = False) -> Content:
    """Every sheet row by row, each row by its heads."""
    with store.reading() as session:
        sheets = tuple(everything_out(session))
    found = {
        sheet.kind.name: [dict(zip(sheet.heads, row, strict=True)) for row in sheet.rows] for sheet in sheets
    }
    if not with_versions:
        for rows in found.values():
            for row in rows:
                del row["Version"]
    return found
