"""The battery sheet: every pack of a show, what it is asked for, and whether it lasts."""

from sqlalchemy.orm import Session

from service.limits.cautions import BATTERY
from service.limits.facts import SupplyFacts
from service.limits.findings import Finding
from service.limits.rules.batteries import running_of
from service.paper.prints.feeding.show import Show, read_show
from service.paper.prints.table import NONE, OVER, Block, Column, Kind, Paper, Row, Says, Wanted, told

NAME = "battery-sheet"
COLUMNS = (
    Column("charged", is_box=True), Column("pack", is_tag=True), Column("model"),
    Column("worn-by", is_wide=True), Column("elements", is_wide=True), Column("charge", is_write=True),
    Column("used", "Wh"), Column("budget", "Wh"), Column("share", "%"), Column("dies-at", is_wide=True),
    Column("verdict"),
)  # fmt: skip


def make(session: Session, wanted: Wanted) -> Paper:
    """Raises NotFound for a show that is not there."""
    show = read_show(session, wanted)
    said = show.said("battery-time", "battery-amps")
    packs = [supply for supply in show.facts.supplies if supply.kind == "battery" and supply.load_w]
    rows = [_row(show, pack, said.get(pack.tag)) for pack in packs]
    rows.sort(key=lambda row: (row.cells["worn-by"], row.cells["pack"]))
    over, blank = sum(row.state == OVER for row in rows), sum(row.state == NONE for row in rows)
    values = {"over": over, "blank": blank, "packs": len(rows), "first": ""}
    if over:
        values["first"] = next(row.cells["pack"] for row in rows if row.state == OVER)
    key = "over" if over else "blank" if blank else "fine" if rows else "none"
    blocks = [Block("", "", rows)] if rows else []
    return Paper(NAME, Says(f"{NAME}-{key}", values), COLUMNS, blocks, (), (BATTERY,), is_wide=True)


def _row(show: Show, pack: SupplyFacts, finding: Finding | None) -> Row:
    fed = list(dict.fromkeys(found.element.tag for found in show.around.runs_of_supply(pack.tag)))
    ran = running_of(pack, show.around)
    dies = None if ran is None or ran.dies_at_min is None else Says(
        "dies-at-minute", {"minute": round(ran.dies_at_min), "stretch": ran.dies_in}
    )  # fmt: skip
    cells = {
        "pack": pack.tag,
        "model": pack.model,
        "worn-by": pack.scenic_unit or show.stands(pack),
        "elements": ", ".join(fed),
        "used": None if ran is None else round(ran.held_wh, 2),
        "budget": None if ran is None else round(ran.budget_wh, 2),
        "share": None if ran is None or not ran.budget_wh else round(100.0 * ran.budget_share, 1),
        "dies-at": dies or "",
        "verdict": "" if finding is None else str(finding.verdict),
    }
    return told(cells, finding)


KIND = Kind(NAME, make)
