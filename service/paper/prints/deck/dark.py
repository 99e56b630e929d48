"""The dark list: what is out now, since when, and who says so; the oldest first."""

from sqlalchemy.orm import Session

from service.paper.prints.deck.faults import dark_now
from service.paper.prints.table import OVER, TIGHT, Block, Column, Kind, Paper, Row, Says, Wanted
from service.store.audit import person

NAME = "dark-list"
COLUMNS = (
    Column("mended", is_box=True), Column("since"), Column("element", is_tag=True),
    Column("name", is_wide=True), Column("where", is_wide=True), Column("show"),
    Column("symptom", is_wide=True), Column("who"), Column("fault"),
)  # fmt: skip


def make(session: Session, wanted: Wanted) -> Paper:
    """Raises NotFound for a show that is not there."""
    found = dark_now(session, wanted.show)
    rows = [
        Row(
            {
                "since": one.since, "element": one.element, "name": one.name, "where": one.where,
                "show": one.production, "symptom": one.symptom, "who": person(one.by), "fault": one.number,
            },
            OVER if one.is_dark else TIGHT,
        )
        for one in found
    ]  # fmt: skip
    dark = sum(one.is_dark for one in found)
    values = {"dark": dark, "faults": len(found)}
    key = "dark" if dark else "faults" if found else "fine"
    return Paper(NAME, Says(f"{NAME}-{key}", values), COLUMNS, [Block("", "", rows)] if rows else [])


KIND = Kind(NAME, make, of_house=True)
