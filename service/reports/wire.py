"""Wire that the leads of a show take, by gauge and cores, beside what is on the drums."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from math import inf

from pydantic import BaseModel, Field
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.electrical.tape import FeedStyle, leads_of
from service.limits.facts import ElementFacts, LeadFacts, RunFacts
from service.limits.lookup import lead_ohm_per_m
from service.reports.report import Report, ReportAsk, counted, shows_of
from service.stock.records import Wire

# A lead is soldered on when the element is built (common practice): until then it is still on the drum.
TO_MAKE = frozenset({"asked", "drawn", "cut"})


class Row(BaseModel):
    """One kind of wire: a gauge with so many cores. A run that is fed at both ends takes two leads."""

    gauge: str = Field(description="size of each core; blank: nobody entered it")
    cores: int | None = Field(default=None, description="cores, entered or counted; None: not known")
    leads: int = Field(description="leads made of it")
    wire_m: float = Field(description="metres in all of these leads")
    to_make_m: float = Field(description="metres in the leads of what is asked, drawn or cut, not yet built")
    unmeasured: int = Field(default=0, description="leads whose length nobody entered; not in the metres")
    on_hand_m: float | None = Field(
        default=None, description="metres on the drums of that gauge and cores; None: not known"
    )
    short_m: float | None = Field(
        default=None, description="metres still to make beyond what is on hand; None: not known"
    )
    elements: list[str] = Field(default=[], description="tags of the elements on such leads")


@dataclass(slots=True)
class _Sum:
    leads: int = 0
    wire_m: float = 0.0
    to_make_m: float = 0.0
    unmeasured: int = 0
    ohm_per_m: float = inf
    elements: set[str] = field(default_factory=set)

    def add(self, element: ElementFacts, run: RunFacts) -> None:
        count = leads_of(FeedStyle(run.feed_style))
        self.leads += count
        self.elements.add(element.tag)
        self.ohm_per_m = min(self.ohm_per_m, lead_ohm_per_m(run.lead) or inf)
        if run.lead.length_m is None:
            self.unmeasured += count
            return
        self.wire_m += count * run.lead.length_m
        self.to_make_m += count * run.lead.length_m if element.status in TO_MAKE else 0.0


def rows(session: Session, ask: ReportAsk) -> list[Row]:
    sums: dict[tuple[str, int | None], _Sum] = defaultdict(_Sum)
    for show in shows_of(session, ask):
        for element, run in _runs(show.elements):
            sums[run.lead.gauge or "", cores_of(element, run.lead)].add(element, run)
    on_hand = _on_hand(session)
    ordered = sorted(sums.items(), key=lambda pair: (-pair[1].ohm_per_m, pair[0][0], pair[0][1] or 0))
    return [_row(*kind, found, on_hand.get(kind)) for kind, found in ordered]


def _runs(elements: Iterable[ElementFacts]) -> Iterable[tuple[ElementFacts, RunFacts]]:
    return ((element, run) for element in elements for run in element.runs if run.pieces)


def cores_of(element: ElementFacts, lead: LeadFacts) -> int | None:
    """As entered; else one for each wired emitter beside the common one (common practice)."""
    if lead.cores is not None or element.tape is None or element.tape.signal == "pixel":
        return lead.cores
    return 1 + len(element.wired) if element.dimmed else 2


def _on_hand(session: Session) -> dict[tuple[str, int | None], float]:
    """Metres on each kind of drum; drums that nobody measured are left out."""
    drums = session.execute(select(Wire.gauge, Wire.cores, Wire.length_um).where(Wire.length_um.is_not(None)))
    return {(drum.gauge, drum.cores): (drum.length_um or 0) / 1e6 for drum in drums}


def _row(gauge: str, cores: int | None, found: _Sum, on_hand_m: float | None) -> Row:
    short_m = None if on_hand_m is None else max(0.0, found.to_make_m - on_hand_m)
    return Row(
        gauge=gauge,
        cores=cores,
        leads=found.leads,
        wire_m=round(found.wire_m, 6),
        to_make_m=round(found.to_make_m, 6),
        unmeasured=found.unmeasured,
        on_hand_m=on_hand_m,
        short_m=None if short_m is None else round(short_m, 6),
        elements=sorted(found.elements),
    )


REPORT = Report("wire", "Wire that leads take", Row, rows, counted)
