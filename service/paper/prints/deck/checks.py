"""The half-hour check: a walk from place to place, what should light up there, and where its spare lies."""

from collections import defaultdict
from collections.abc import Mapping

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.limits.facts import ElementFacts
from service.paper.prints.deck.faults import Dark, dark_now
from service.paper.prints.feeding.show import Show, read_show, ways
from service.paper.prints.table import NONE, OVER, Block, Column, Kind, Paper, Row, Says, Wanted
from service.stock.gear import Unit
from service.stock.records import Place

NAME = "half-hour-check"
COLUMNS = (
    Column("seen", is_box=True), Column("element", is_tag=True), Column("name", is_wide=True),
    Column("should-look"), Column("fed-by"), Column("address"), Column("spare-at"),
)  # fmt: skip
SHARED = (Column("where"),)


def make(session: Session, wanted: Wanted) -> Paper:
    """Raises NotFound for a show that is not there."""
    show = read_show(session, wanted)
    dark = {one.element: one for one in dark_now(session, wanted.show)}
    spares = _spares(session, show)
    by_place: dict[str, list[Row]] = defaultdict(list)
    for element in show.facts.elements:
        by_place[show.where(element)].append(_row(show, element, dark.get(element.tag), spares))
    blocks = [_block(where, rows) for where, rows in sorted(by_place.items())]
    out = sum(row.state == OVER for block in blocks for row in block.rows)
    unfed = sum(row.state == NONE for block in blocks for row in block.rows)
    values = {"out": out, "unfed": unfed, "elements": len(show.facts.elements), "places": len(blocks)}
    key = "out" if out else "unfed" if unfed else "none" if not blocks else "fine"
    return Paper(NAME, Says(f"{NAME}-{key}", values), COLUMNS, blocks, SHARED)


def _block(where: str, rows: list[Row]) -> Block:
    return Block("", where or Says("where-unknown"), rows, {"where": where})


def _row(show: Show, element: ElementFacts, dark: Dark | None, spares: Mapping[str, str]) -> Row:
    found = ways([element])
    feeds = dict.fromkeys(f"{way.feed.supply} · {way.feed.output}" for way in found)
    supply = show.around.supplies.get(found[0].feed.supply) if found else None
    cells = {
        "element": element.tag,
        "name": element.name,
        "should-look": _look(element),
        "fed-by": ", ".join(feeds),
        "address": ", ".join(dict.fromkeys(str(show.address(w.feed, w.feed.first_channel)) for w in found)),
        "spare-at": "" if supply is None else spares.get(supply.model, ""),
    }
    if dark is not None and dark.is_dark:
        return Row(cells, OVER, dark.symptom)
    is_fed = found and all(run.feed is not None for run in element.runs)
    return Row(cells, "" if is_fed else NONE, dark.symptom if dark else "")


def _look(element: ElementFacts) -> Says:
    """Its colours, at the level that its running order begins with where one is on record."""
    colours = " ".join(element.wired) or (element.tape.tag if element.tape else "")
    if not element.dimmed:
        return Says("looks-on", {"colours": colours})
    if element.cues:
        return Says("looks-at", {"colours": colours, "level": element.cues[0].level_pct})
    return Says("looks", {"colours": colours})


def _spares(session: Session, show: Show) -> dict[str, str]:
    """By model of supply, a sound one that is free for the show's days, and its bin."""
    free: dict[str, str] = {}
    for supply in sorted(show.facts.free_supplies, key=lambda s: s.tag):
        free.setdefault(supply.model, supply.tag)
    asked = select(Unit.tag, Place.name, Place.tag).join(Place, Place.id == Unit.home_id)
    homes = session.execute(asked.where(Unit.tag.in_(free.values())))
    bins = {tag: name or place for tag, name, place in homes}
    return {model: ", ".join(filter(None, (tag, bins.get(tag)))) for model, tag in free.items()}


KIND = Kind(NAME, make)
