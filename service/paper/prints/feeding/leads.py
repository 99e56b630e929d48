"""The lead list: every lead to be made, by wire, with its fuse and the volts it loses."""

from collections import defaultdict

from sqlalchemy.orm import Session

from service.electrical.fuses import Fuse, fuse_for
from service.electrical.tape import FeedStyle, leads_of
from service.limits.cautions import FIRE
from service.limits.findings import Finding
from service.limits.lookup import RunOf, lead_ohm_per_m
from service.limits.rules.fuses import lead_of
from service.paper.prints.feeding.show import Show, read_show
from service.paper.prints.table import (
    NONE,
    OVER,
    Block,
    Column,
    Kind,
    Paper,
    Row,
    Says,
    Wanted,
    told,
)  # fmt: skip
from service.reports.wire import cores_of

NAME = "lead-list"
COLUMNS = (
    Column("made", is_box=True), Column("run"), Column("name", is_wide=True), Column("lead", "m"),
    Column("leads"), Column("fuse", "A"), Column("connector"), Column("drop", "%"), Column("ends"),
    Column("from-output"), Column("verdict"),
)  # fmt: skip
SHARED = (Column("gauge"), Column("cores"))
LIMITS = ("lead-amps", "total-drop", "lead-drop", "fuse", "connector-pins")


def make(session: Session, wanted: Wanted) -> Paper:
    """Raises NotFound for a show that is not there."""
    show = read_show(session, wanted)
    said = show.said(*LIMITS)
    kinds: dict[tuple[str, int | None], list[RunOf]] = defaultdict(list)
    for found in show.around.runs:
        if found.run.pieces:
            kinds[found.run.lead.gauge or "", cores_of(found.element, found.run.lead)].append(found)
    ordered = sorted(kinds.items(), key=lambda pair: (_ohm(pair[1]), pair[0][1] or 0), reverse=True)
    blocks = [_block(show, *kind, found, said) for kind, found in ordered]
    rows = [row for block in blocks for row in block.rows]
    over, blank = sum(row.state == OVER for row in rows), sum(row.cells["lead"] is None for row in rows)
    count = sum(row.cells["leads"] for row in rows)
    values = {"over": over, "blank": blank, "leads": count, "wire_m": sum(_wire_m(row) for row in rows)}
    key = "over" if over else "blank" if blank else "none" if not rows else "fine"
    return Paper(NAME, Says(f"{NAME}-{key}", values), COLUMNS, blocks, SHARED, (FIRE,), is_wide=True)


def _ohm(found: list[RunOf]) -> float:
    return max((lead_ohm_per_m(one.run.lead) or 0.0 for one in found), default=0.0)


def _wire_m(row: Row) -> float:
    return float((row.cells["lead"] or 0.0) * row.cells["leads"])


def _block(show: Show, gauge: str, cores: int | None, found: list[RunOf], said: dict[str, Finding]) -> Block:
    rows = sorted((_row(show, one, said) for one in found), key=_longest_first)
    leads = sum(row.cells["leads"] for row in rows)
    notes = [Says("leads-of", {"leads": leads, "wire_m": sum(_wire_m(row) for row in rows)})]
    title = Says("no-gauge") if not gauge else Says("cores", {"count": cores}) if cores else ""
    return Block(gauge, title, rows, {"gauge": gauge, "cores": cores}, notes, "" if gauge else NONE)


def _longest_first(row: Row) -> tuple[float, str]:
    return -(row.cells["lead"] or 0.0), row.cells["run"]


def _row(show: Show, found: RunOf, said: dict[str, Finding]) -> Row:
    run, element = found.run, found.element
    lead = lead_of(found, show.around)
    ohm = lead_ohm_per_m(run.lead)
    drop = None
    if element.tape is not None and ohm is not None:
        drop = show.around.drop(run, element.tape, run.feed_style, ohm)
    fuse: str | Says = ""
    if lead is not None and lead.fuse_a is not None and lead.is_wanted:
        fit = fuse_for(lead.a, lead.fuse_a, lead.pin_a)
        fuse = f"{fit.rating_a:g}" if isinstance(fit, Fuse) else Says("no-fuse-fits")
    finding = said.get(run.tag)
    total = None if drop is None else drop.total_pct if drop.total_pct is not None else drop.lead_pct
    cells = {
        "run": run.tag,
        "name": element.name,
        "lead": run.lead.length_m,
        "leads": leads_of(FeedStyle(run.feed_style)),
        "fuse": fuse,
        "connector": run.lead.connector.tag if run.lead.connector else "",
        "drop": None if total is None else round(total, 2),
        "ends": Says(f"ends-{FeedStyle(run.feed_style).value}"),
        "from-output": "" if run.feed is None else f"{run.feed.supply} · {run.feed.output}",
        "verdict": "" if finding is None else str(finding.verdict),
    }
    return told(cells, finding)


KIND = Kind(NAME, make, is_followed=True)
