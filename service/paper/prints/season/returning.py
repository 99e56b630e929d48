"""The return list: what is out and is to come back, the latest first, and whom it hurts."""

from collections import defaultdict

from sqlalchemy.orm import Session

from service.paper.prints.table import OVER, TIGHT, Block, Column, Kind, Paper, Row, Says, Wanted
from service.paper.prints.titles import titles
from service.reports.report import ReportAsk
from service.reports.season import return_list

NAME = "return-list"
COLUMNS = (
    Column("back", is_box=True), Column("tag", is_tag=True), Column("model"),
    Column("last-seen", is_wide=True), Column("seen-on"), Column("due-on"), Column("days-late"),
    Column("wanted-next", is_wide=True), Column("state"), Column("state-back", is_write=True),
    Column("went-on", is_filed=True), Column("standing", is_filed=True),
)  # fmt: skip
SHARED = (Column("show"),)


def make(session: Session, wanted: Wanted) -> Paper:
    """Of one show, or of all that have something out. Raises NotFound."""
    found = return_list.rows(session, ReportAsk(wanted.day, wanted.show, today=wanted.today))
    shows: dict[str, list[return_list.Row]] = defaultdict(list)
    for row in found:
        shows[row.production].append(row)
    names = {} if wanted.show else {one.code: one.title for one in titles(session)}
    blocks = [_block(show, names.get(show), rows) for show, rows in shows.items()]
    late = [row for row in found if row.days_late]
    struck = sum(row.standing == "after strike" for row in found)
    values = {"out": len(found), "late": len(late), "struck": struck, "first": late[0].tag if late else "",
              "days": late[0].days_late if late else 0}  # fmt: skip
    key = "late" if late else "struck" if struck else "some" if found else "none"
    return Paper(NAME, Says(f"{NAME}-{key}", values), COLUMNS, blocks, SHARED, is_wide=True)


def _block(show: str, name: str | None, rows: list[return_list.Row]) -> Block:
    """`name` None: the paper is of this show alone."""
    tag, facts = "" if name is None else show, {"show": show}
    struck = next((row.strike_on for row in rows if row.standing == "after strike"), None)
    told_rows = [_row(row) for row in rows]
    if struck is None:
        return Block(tag, name or "", told_rows, facts)
    says = Says("struck-and-out", {"day": struck})
    return Block(tag, name or Says("still-out"), told_rows, facts, state=TIGHT, says=says)


def _row(row: return_list.Row) -> Row:
    cells = {
        "tag": row.tag,
        "model": row.item,
        "last-seen": row.last_seen,
        "seen-on": row.seen_on,
        "due-on": row.due_on,
        "days-late": row.days_late or None,
        "wanted-next": Says("next-with", {"shows": ", ".join(row.hurts)}) if row.hurts else "",
        "state": row.state,
        "went-on": row.issued_on,
        "standing": row.standing,
    }
    if row.days_late:
        return Row(cells, OVER, tells=(_late(row),))
    return Row(cells)


def _late(row: return_list.Row) -> Says:
    """How late it is, and what the next show cannot light without it."""
    values = {"days": row.days_late, "shows": ", ".join(row.hurts), "day": row.hurts_from,
              "elements": ", ".join(row.hurts_elements), "load_w": row.hurts_w}  # fmt: skip
    return Says("late-and-hurts" if row.hurts_elements else "late-and-next" if row.hurts else "late", values)


KIND = Kind(NAME, make, of_house=True)
