"""The cut list: reel by reel, in the order in which it is marked, with what to write on each piece."""

from itertools import groupby

from sqlalchemy.orm import Session

from service.limits.cautions import CUTTING, DATA
from service.paper.prints.table import TIGHT, Block, Column, Kind, Paper, Row, Says, Wanted
from service.reports.report import ReportAsk
from service.reports.season import cut_list

NAME = "cut-list"
COLUMNS = (
    Column("done", is_box=True), Column("step"), Column("cut", "mm"), Column("drawn", "mm"),
    Column("mark", "mm"),
    Column("element", is_tag=True), Column("piece"), Column("label-text", is_wide=True), Column("left", "mm"),
)  # fmt: skip
SHARED = (Column("reel", is_tag=True), Column("tape"), Column("lot"), Column("plan"))


def make(session: Session, wanted: Wanted) -> Paper:
    """What kept plans still have to cut, of one show or of all. Raises NotFound."""
    ask = ReportAsk(wanted.day, wanted.show, today=wanted.today)
    found = cut_list.rows(session, ask)
    blocks = [
        _block(list(rows))
        for _, rows in groupby(found, key=lambda row: (row.tape, row.lot, row.reel, row.plan))
    ]
    figures = cut_list.summary(session, ask, found)
    values = {"cuts": figures["cuts"], "reels": figures["reels"]}
    key = "some" if found else "unplanned" if "pieces_in_no_kept_plan" in figures else "fine"
    first = Says(f"{NAME}-{key}", values)
    return Paper(NAME, first, COLUMNS, blocks, SHARED, (CUTTING + DATA,), is_wide=True)


def _block(rows: list[cut_list.Row]) -> Block:
    first = rows[0]
    facts = {"reel": first.reel, "tape": first.tape, "lot": first.lot or "", "plan": first.plan}
    key = "reel-of" if first.lot else "reel-to-come"
    title = Says(key, {"tape": first.tape, "lot": first.lot or ""})
    return Block(
        first.reel, title, [_row(row) for row in rows], facts, [Says("of-plan", {"plan": first.plan})]
    )


def _row(row: cut_list.Row) -> Row:
    cells = {
        "step": row.step,
        "cut": row.cut_mm,
        "drawn": row.drawn_mm,
        "mark": row.mark_mm,
        "element": row.element,
        "piece": row.piece if row.element else "",
        "label-text": row.label,
        "left": row.left_mm,
    }
    return Row(cells, TIGHT if row.warning else "", row.warning or "")


KIND = Kind(NAME, make, of_house=True)
