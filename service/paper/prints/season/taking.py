"""The take list: what goes out to a show, in the order in which one walks along the shelf."""

from itertools import groupby

from sqlalchemy.orm import Session

from service.paper.prints.places import names_of_places
from service.paper.prints.table import FINE, OVER, TIGHT, Block, Column, Kind, Paper, Row, Says, Wanted
from service.reports.report import ReportAsk
from service.reports.season import take_list

NAME = "take-list"
COLUMNS = (
    Column("taken", is_box=True), Column("tag", is_tag=True), Column("model"),
    Column("how-many"), Column("in-box"), Column("goes-to", is_wide=True), Column("elements", is_wide=True),
    Column("out-from"), Column("out-until"), Column("state"), Column("went-on"),
    Column("waits-for", is_filed=True), Column("hold", is_filed=True),
)  # fmt: skip
SHARED = (Column("show"), Column("bin"))


def make(session: Session, wanted: Wanted) -> Paper:
    """Of one show, or of all that run or are to come. Raises NotFound."""
    found = take_list.rows(session, ReportAsk(wanted.day, wanted.show, today=wanted.today))
    names = names_of_places(session)
    found.sort(key=lambda row: _walk(row, names))
    blocks = [
        _block(show, bin_tag, is_gone, list(rows), names, wanted)
        for (show, is_gone, bin_tag), rows in groupby(found, key=_head)
    ]
    to_take = sum(row.count for row in found if row.issued_on is None)
    stuck = sum(row.tag is not None and bool(row.waits_for) for row in found)
    due = sum(row.count for row in found if row.issued_on is None and row.from_on <= wanted.day)
    gone = sum(row.issued_on is not None for row in found)
    values = {"count": to_take, "stuck": stuck, "due": due, "gone": gone}
    key = "stuck" if stuck else "due" if due else "some" if to_take else "gone" if gone else "none"
    return Paper(NAME, Says(f"{NAME}-{key}", values), COLUMNS, blocks, SHARED, is_wide=True)


def _head(row: take_list.Row) -> tuple[str, bool, str]:
    is_gone = row.issued_on is not None
    return row.production, is_gone, "" if is_gone else row.bin or ""


def _walk(row: take_list.Row, names: dict[str, str]) -> tuple[object, ...]:
    """Show by show; what went already last; bin by bin, those without one at the end."""
    show, is_gone, bin_tag = _head(row)
    return (show, is_gone, not bin_tag, names.get(bin_tag, bin_tag), bin_tag, row.item, row.tag or "~")


def _block(
    show: str, bin_tag: str, is_gone: bool, rows: list[take_list.Row], names: dict[str, str], wanted: Wanted
) -> Block:
    title = Says("gone-already") if is_gone else names.get(bin_tag, bin_tag) or Says("bin-unknown")
    notes = [] if wanted.show else [Says("of-show", {"show": show})]
    count = sum(row.count for row in rows)
    notes.append(Says("pieces-of", {"count": count}))
    return Block("", title, [_row(row, names) for row in rows], {"show": show}, notes)


def _row(row: take_list.Row, names: dict[str, str]) -> Row:
    place = row.goes_to or ""
    cells = {
        "tag": row.tag,
        "model": row.item,
        "how-many": row.count,
        "in-box": row.box,
        "goes-to": names.get(place, place),
        "elements": ", ".join(row.used_for),
        "out-from": row.from_on,
        "out-until": row.due_on,
        "state": row.state,
        "went-on": row.issued_on,
        "waits-for": row.waits_for,
        "hold": row.hold,
        "bin": row.bin,
    }
    state = FINE if not row.waits_for else OVER if row.tag else TIGHT
    return Row(cells, state, row.waits_for)


KIND = Kind(NAME, make, of_house=True)
