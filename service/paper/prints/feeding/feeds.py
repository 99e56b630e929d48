"""The feed sheet: supply by supply, what hangs on each output, beside what it may carry."""

from dataclasses import replace

from sqlalchemy.orm import Session

from service.electrical.fuses import Fuse, fuse_for
from service.limits.cautions import MAINS
from service.limits.facts import ElementFacts, RunFacts, SupplyFacts
from service.limits.findings import Finding, Verdict
from service.limits.registry import binding, of_supplies
from service.limits.rules.fuses import lead_of
from service.paper.prints.feeding.show import Show, Way, read_show, unfed, ways, worst_of
from service.paper.prints.table import (
    FINE,
    NONE,
    OVER,
    TIGHT,
    Block,
    Column,
    Kind,
    Paper,
    Row,
    Says,
    Wanted,
    numbers,
    told,
    told_once,
)  # fmt: skip
from service.reports.standing.loads import bars_of
from service.reports.standing.parts import Bar, State

NAME = "feed-sheet"
COLUMNS = (
    Column("output"), Column("decoder"), Column("address"), Column("element", is_tag=True),
    Column("name", is_wide=True), Column("of-runs"), Column("load", "W"), Column("amps", "A"),
    Column("fuse", "A"), Column("verdict"),
)  # fmt: skip
SHARED = (
    Column("supply", is_tag=True), Column("model"), Column("place"), Column("outlet"),
    Column("supply-load", "W"), Column("supply-limit", "W"), Column("supply-share", "%"),
)  # fmt: skip

MARKS = {State.OVER: OVER, State.TIGHT: TIGHT, State.UNKNOWN: NONE, State.OK: FINE}


def make(session: Session, wanted: Wanted) -> Paper:
    """Raises NotFound for a show that is not there."""
    show = read_show(session, wanted)
    found = ways(show.facts.elements)
    said = of_supplies(show.around)
    outputs = show.said("output-amps")
    fuses = show.said("fuse", "fuse-fitted")
    supplies = sorted(show.facts.supplies, key=lambda s: (show.stands(s), s.tag))
    blocks = [
        _block(show, supply, [w for w in found if w.feed.supply == supply.tag], said, outputs, fuses)
        for supply in supplies
        if supply.load_w or any(w.feed.supply == supply.tag for w in found)
    ]
    over = [block for block in blocks if block.state == OVER]
    dark = unfed(show.facts.elements)
    if dark:
        blocks.append(_dark(show, dark))
    values = {"over": len(over), "supplies": len(blocks) - bool(dark), "dark": len(dark), "first": ""}
    if over:
        values["first"] = over[0].tag
    key = "over" if over else "dark" if dark else "none" if not blocks else "fine"
    return Paper(NAME, Says(f"{NAME}-{key}", values), COLUMNS, blocks, SHARED, (MAINS,), is_wide=True)


def _block(
    show: Show,
    supply: SupplyFacts,
    found: list[Way],
    said: list[Finding],
    outputs: dict[str, Finding],
    fuses: dict[str, Finding],
) -> Block:
    bar, *_ = bars_of(supply, show.around, said)
    finding, limit_w, state = binding(said, supply.tag), bar.limit_w, MARKS[bar.state]
    over_outputs = [
        o.number
        for o in supply.outputs
        if _verdict(outputs, f"{supply.tag} output {o.number}") is Verdict.OVER
    ]
    share = None if not limit_w else 100.0 * supply.load_w / limit_w
    notes = [Says("at-outlet", {"outlet": supply.outlet})] if supply.outlet else []
    facts = {
        "supply": supply.tag, "model": supply.model, "place": show.stands(supply),
        "outlet": supply.outlet or "", "supply-load": supply.load_w, "supply-limit": limit_w,
        "supply-share": None if share is None else round(share, 1),
    }  # fmt: skip
    rows = told_once([_row(show, way, outputs, fuses) for way in sorted(found, key=_by_output)])
    says = _says(bar, over_outputs)
    mend = finding.mend.text if finding is not None and finding.mend is not None and state == OVER else ""
    if mend:  # what lightens the supply lightens its output
        rows = [replace(row, mend="") if row.says.startswith(f"{supply.tag} ") else row for row in rows]
    return Block(supply.tag, show.stands(supply), rows, facts, notes, state, says, mend)


def _says(bar: Bar, outputs: list[int]) -> Says:
    if outputs and bar.state_of_watts is not State.OVER:
        return Says("outputs-over", {"count": len(outputs), "outputs": numbers(outputs)})
    if bar.said:
        return Says("supply-said", {"said": bar.said[:1].upper() + bar.said[1:]})
    if bar.left_w is None:
        return Says("limit-unknown")
    if bar.state is State.OVER:
        return Says("watts-over", {"excess_w": -bar.left_w})
    return Says("watts-left", {"left_w": bar.left_w})


def _verdict(said: dict[str, Finding], subject: str) -> Verdict | None:
    return said[subject].verdict if subject in said else None


def _by_output(way: Way) -> tuple[int, str, int, str]:
    return way.feed.output, way.feed.decoder or "", way.feed.first_channel or 0, way.element.tag


def _row(show: Show, way: Way, outputs: dict[str, Finding], fuses: dict[str, Finding]) -> Row:
    feed = way.feed
    on_output = outputs.get(f"{feed.supply} output {feed.output}")
    of_lead = worst_of(fuses.get(run.tag) for run in way.runs)
    finding = worst_of((on_output, of_lead))
    cells = {
        "output": feed.output,
        "decoder": way.through,
        "address": str(show.address(feed, feed.first_channel)),
        "element": way.element.tag,
        "name": way.element.name,
        "of-runs": way.label,
        "load": way.load_w,
        "amps": way.load_a,
        "fuse": _fuse_a(show, way),
        "verdict": "" if finding is None else str(finding.verdict),
    }
    return told(cells, finding)


def _fuse_a(show: Show, way: Way) -> str | Says:
    """The fuses its leads want; blank where none is wanted."""
    sizes = []
    for run in way.runs:
        lead = lead_of(show.around.run_by_tag[run.tag], show.around)
        if lead is not None and lead.fuse_a is not None and lead.is_wanted:
            fit = fuse_for(lead.a, lead.fuse_a, lead.pin_a)
            if not isinstance(fit, Fuse):
                return Says("no-fuse-fits")
            sizes.append(f"{fit.rating_a:g}")
    return " + ".join(dict.fromkeys(sizes))


def _dark(show: Show, dark: list[tuple[ElementFacts, list[RunFacts]]]) -> Block:
    rows = [Row(_dark_cells(element, runs), NONE, show.where(element)) for element, runs in dark]
    return Block("", Says("no-feed"), rows, state=NONE)


def _dark_cells(element: ElementFacts, runs: list[RunFacts]) -> dict[str, object]:
    tape = element.tape
    return {
        "element": element.tag,
        "name": element.name,
        "of-runs": numbers([run.number for run in runs]),
        "load": None if tape is None else tape.w_per_m * sum(run.length_m for run in runs),
    }


KIND = Kind(NAME, make, is_followed=True)
