"""The stocktake sheet: what is still to count or to look for, and what was found otherwise than the book has
it."""

from itertools import groupby

from sqlalchemy.orm import Session

from service.paper.prints.places import names_of_places
from service.paper.prints.table import FINE, OVER, TIGHT, Block, Column, Kind, Paper, Row, Says, Wanted
from service.reports.report import ReportAsk
from service.reports.season import stocktake
from service.season.counting.records import Outcome
from service.store.audit import person

NAME = "stocktake-sheet"
COLUMNS = (
    Column("found", is_box=True), Column("tag", is_tag=True), Column("model"),
    Column("book-place", is_wide=True), Column("state"), Column("book-length", "m"),
    Column("found-length", "m"), Column("state-found", is_write=True), Column("differs", is_wide=True),
    Column("counted-by"), Column("outcome", is_filed=True),
)  # fmt: skip
SHARED = (Column("stocktake"), Column("where"))


def make(session: Session, wanted: Wanted) -> Paper:
    """Of the whole house: no stocktake is of one show."""
    found = stocktake.rows(session, ReportAsk(wanted.day, today=wanted.today))
    names = names_of_places(session)
    blocks = [_block(list(rows), names) for _, rows in groupby(found, key=lambda row: row.stocktake)]
    counts = {outcome: sum(row.outcome == outcome for row in found) for outcome in stocktake.TOLD}
    to_count, differs, to_look_for = counts.values()
    values = {"count": to_count, "differs": differs, "missing": to_look_for}
    key = "differs" if differs else "count" if to_count else "missing" if to_look_for else "none"
    return Paper(NAME, Says(f"{NAME}-{key}", values), COLUMNS, blocks, SHARED, is_wide=True)


def _block(rows: list[stocktake.Row], names: dict[str, str]) -> Block:
    first = rows[0]
    facts = {"stocktake": first.stocktake, "where": first.place}
    title = names.get(first.place, first.place)
    return Block(first.stocktake, title, [_row(row, names) for row in rows], facts)


def _row(row: stocktake.Row, names: dict[str, str]) -> Row:
    place = row.book_place or ""
    cells = {
        "tag": row.tag,
        "model": row.item,
        "book-place": names.get(place, place),
        "state": row.book_state,
        "book-length": row.book_m,
        "found-length": row.found_m,
        "differs": "; ".join(row.differences),
        "counted-by": person(row.counted_by),
        "outcome": row.outcome,
    }
    if row.outcome == Outcome.TO_LOOK_FOR:
        return Row(cells, TIGHT, tells=(Says("to-look-for"),))
    return Row(cells, OVER if row.outcome == Outcome.DIFFERS else FINE)


KIND = Kind(NAME, make, of_house=True, of_show=False)
