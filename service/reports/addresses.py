"""Every slot that something listens to, universe by universe, with what its line and its stream can do."""

from collections.abc import Iterator, Mapping

from pydantic import BaseModel, Field
from sqlalchemy.orm import Session

from service.control.addresses import UNIVERSE_SLOTS, are_mirrors, is_universe, overlap
from service.control.lines import multicast_address, refresh_hz
from service.limits.cautions import CONTROL, SCOPE
from service.limits.facts import PatchFacts, ShowFacts
from service.limits.findings import Finding, Verdict, by_harm
from service.limits.lookup import Lookup, patch_name, span_of
from service.limits.policy import Policy
from service.limits.registry import by_code
from service.limits.rules.addresses import listeners
from service.planning.snapshot.house import read_policy
from service.reports.report import Report, ReportAsk, counted, shows_of

JUDGED_BY = ("address-known", "universe", "address-overlap", "pixels")


class Row(BaseModel):
    """What one decoder, or one port of it, listens to."""

    production: str = Field(description="show code")
    universe: int | None = Field(description="universe, from 1; None: not known")
    first_slot: int | None = Field(description="first slot, from 1; None: not known")
    last_slot: int | None = Field(description="last slot; None: not known")
    decoder: str = Field(description="tag of the decoder")
    port: int | None = Field(default=None, description="port of a pixel driver, from 1")
    model: str = Field(default="", description="tag of its model")
    place: str = Field(default="", description="tag of the place where the decoder stands")
    mode: str = Field(description="8-bit, 16-bit or pixels")
    mirror: str = Field(default="", description="group of decoders that share these slots on purpose")
    elements: list[str] = Field(default=[], description="tags of the elements on it")
    line: str = Field(default="", description="control line that the decoder hangs on")
    line_loads: float | None = Field(
        default=None,
        description="unit loads on that line, of 32 as a rule (EIA-485); None: not on a wired line",
        examples=[12.0],
    )
    line_limit: float | None = Field(
        default=None, description="unit loads that the line's driver carries", examples=[32.0]
    )
    slots_sent: int | None = Field(
        default=None, description="slots of the universe up to the last that a show listens to"
    )
    refresh_hz: float | None = Field(
        default=None,
        description="how often a second, in Hz, a wired line can tell the slots up to the last used, at the "
        "most (ANSI E1.11); many sources always send all 512, 44.1 times",
    )
    multicast: str = Field(
        default="", description="IPv4 address the universe is streamed to, if it is (ANSI E1.31)"
    )
    verdict: str = Field(description="ok, watch, over or unknown: the worst that is said of it")
    message: str = Field(default="", description="what is wrong, where something is")


def rows(session: Session, ask: ReportAsk) -> list[Row]:
    policy = read_policy(session)
    return [row for show in shows_of(session, ask) for row in of_show(show, policy)]


def of_show(show: ShowFacts, policy: Policy) -> list[Row]:
    """The addresses of one production, by universe and slot; what has none comes last."""
    around = Lookup(show, policy)
    listening = [*show.patches, *_without_address(around)]
    said, ends, loads = _said(around), _last_slots(show), _loads(around)
    found = [_row(show.production, around, patch, said.get(patch_name(patch)), loads) for patch in listening]
    for row in found:
        if row.universe in ends:
            row.slots_sent = ends[row.universe]
            row.refresh_hz = round(refresh_hz(ends[row.universe]), 2)
        if row.universe is not None and is_universe(row.universe):
            row.multicast = multicast_address(row.universe)
    return sorted(found, key=lambda row: (row.universe or 1 << 30, row.first_slot or 1 << 30, row.decoder))


def _row(
    production: str,
    around: Lookup,
    patch: PatchFacts,
    finding: Finding | None,
    loads: Mapping[str, Finding],
) -> Row:
    span, decoder = span_of(patch), around.decoders.get(patch.decoder)
    line = loads.get(decoder.line) if decoder is not None else None
    return Row(
        production=production,
        universe=patch.universe,
        first_slot=patch.start,
        last_slot=span.end if span else None,
        decoder=patch.decoder,
        port=patch.port,
        model=decoder.model if decoder else "",
        place=decoder.place if decoder else "",
        mode=patch.mode,
        mirror=patch.mirror,
        elements=list(dict.fromkeys(around.elements_of_unit(patch.decoder))),
        line=decoder.line if decoder else "",
        line_loads=line.value if line else None,
        line_limit=line.limit if line else None,
        verdict=str(finding.verdict if finding else Verdict.OK),
        message=finding.message if finding and finding.verdict is not Verdict.OK else "",
    )


def _without_address(around: Lookup) -> Iterator[PatchFacts]:
    """What feeds something and has no address at all."""
    for at in listeners(around):
        if not any(patch.port in (at.port, None) for patch in around.patches_of.get(at.decoder.tag, ())):
            yield PatchFacts(at.decoder.tag, at.port, None, None, None, mode="")


def _said(around: Lookup) -> dict[str, Finding]:
    """The worst that the limits say of each decoder or port, by its name."""
    worst: dict[str, Finding] = {}
    found = (finding for code in JUDGED_BY for finding in by_code(code).findings(around))
    for finding in sorted(found, key=by_harm):
        for name in (finding.subject, *_met_by(finding, around)):
            worst.setdefault(name, finding)
    return worst


def _met_by(finding: Finding, around: Lookup) -> list[str]:
    """What else listens to the slots of a clash, which is told on the one that starts later."""
    if finding.code != "address-overlap" or finding.verdict is not Verdict.OVER:
        return []
    return [
        other.owner
        for spans in around.spans_in.values()
        for later in spans
        if later.owner == finding.subject
        for other in spans
        if other < later and overlap(other, later) and not are_mirrors(other, later)
    ]


def _loads(around: Lookup) -> dict[str, Finding]:
    """What is said of each wired line with something on it, by its name."""
    return {finding.subject: finding for finding in by_code("line-loads").findings(around)}


def _last_slots(show: ShowFacts) -> dict[int | None, int]:
    """By universe, the last slot that something listens to: so many have to be sent, 512 at the most."""
    ends: dict[int | None, int] = {}
    for span in filter(None, map(span_of, show.patches)):
        if span.end >= 1:
            ends[span.universe] = max(ends.get(span.universe, 0), min(span.end, UNIVERSE_SLOTS))
    return ends


REPORT = Report(
    "addresses", "What listens to which slots, universe by universe", Row, rows, counted, (CONTROL, SCOPE)
)
