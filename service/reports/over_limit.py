"""Everything that is over a limit, nearly so, or cannot be checked, worst first."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from pydantic import BaseModel, Field
from sqlalchemy.orm import Session

from service.limits.cautions import SCOPE
from service.limits.facts import ShowFacts
from service.limits.findings import Finding, Verdict, by_harm
from service.limits.policy import Policy
from service.limits.registry import findings
from service.planning.snapshot.house import read_policy
from service.planning.snapshot.season import season_facts
from service.reports.report import Report, ReportAsk

OVERDUE = "overdue"
HARM_WORDS = {1: "fire or heat", 2: "wrong voltage", 3: "goes dark", 4: "looks wrong", 5: "paperwork"}


class Row(BaseModel):
    """One limit compared with one figure. `value`, `limit`, `margin` are in `unit`."""

    production: str = Field(description="show code; blank where it is of no one show")
    verdict: str = Field(description="over, watch, unknown (cannot check) or ok")
    harm: str = Field(description="what happens if it is ignored")
    code: str = Field(description="the limit, for programs")
    subject_kind: str = Field(description="kind of thing it is about")
    subject: str = Field(description="what it is about")
    tag: str = Field(description="the label to go to")
    value: float | None = Field(default=None, description="the figure, in `unit`")
    limit: float | None = Field(default=None, description="the limit, in `unit`")
    unit: str = Field(default="", description="unit of the figures")
    margin: float | None = Field(None, description="room left, negative when over")
    pct: float | None = Field(None, description="value as a percentage of the limit")
    message: str = Field(description="the finding in words, with its figures")
    mend: str = Field(default="", description="how to put it right")
    mend_value: float | None = Field(None, description="the value when mended")
    mend_limit: float | None = Field(default=None, description="the limit when mended")
    source: str = Field(description="where the limit comes from")
    caution: str = Field(default="", description="what to mind")
    elements: list[str] = Field(default=[], description="tags of the elements it touches")
    is_history: bool = Field(default=False, description="whether the show is over")
    load_basis: str = Field(
        default="",
        description="what the loads rest on: nominal, or what was measured, when and by whom; blank: no load",
    )


def as_row(finding: Finding) -> Row:
    mend = finding.mend
    return Row(
        production=finding.production,
        verdict=finding.verdict.value,
        harm=HARM_WORDS[int(finding.harm)],
        code=finding.code,
        subject_kind=finding.subject_kind,
        subject=finding.subject,
        tag=finding.tag,
        value=_short(finding.value),
        limit=_short(finding.limit),
        unit=finding.unit,
        margin=_short(finding.margin),
        pct=None if finding.share_pct is None else round(finding.share_pct, 2),
        message=finding.message,
        mend=mend.text if mend else "",
        mend_value=_short(mend.value_after) if mend else None,
        mend_limit=_short(mend.limit_after) if mend else None,
        source=finding.source,
        caution=finding.caution,
        elements=list(finding.elements),
        is_history=finding.is_history,
        load_basis=finding.load_basis,
    )


def _short(value: float | None) -> float | None:
    return None if value is None else round(value, 6)


def all_findings(session: Session, ask: ReportAsk) -> list[Finding]:
    """Findings of every production, once each."""
    shows = season_facts(session, ask.as_of, ask.production, ask.known_on)
    return findings_of(shows, read_policy(session))


def findings_of(shows: Iterable[ShowFacts], policy: Policy) -> list[Finding]:
    """Findings of these productions, once each: an overdue unit is one fault though two shows see it."""
    found: dict[tuple[str, str, str], Finding] = {}
    for show in shows:
        has_out = {unit.tag for unit in show.units if unit.held_by == show.production}
        for finding in findings(show, policy):
            if finding.code == OVERDUE:
                # It is missing today whoever's show is over: no history, and one fault though two shows see
                # it, told of the show that should have given it back.
                told = replace(finding, is_history=False)
                if finding.tag in has_out:
                    found["", OVERDUE, finding.subject] = told
                else:
                    found.setdefault(("", OVERDUE, finding.subject), told)
            else:
                found[show.production, finding.code, finding.subject] = finding
    return sorted(found.values(), key=by_harm)


def rows(session: Session, ask: ReportAsk) -> list[Row]:
    """Faults first; what is in order, and what is history, only when everything is asked for."""
    return [
        as_row(f)
        for f in all_findings(session, ask)
        if ask.everything or (f.verdict != Verdict.OK and not f.is_history)
    ]


def summary(session: Session, ask: ReportAsk, found: Sequence[BaseModel]) -> dict[str, object]:
    """How many of each verdict, and how many elements every limit could be checked for."""
    counts = dict.fromkeys((v.value for v in Verdict), 0)
    unsure: set[tuple[str, str]] = set()
    for row in found:
        assert isinstance(row, Row)
        counts[row.verdict] += 1
        if row.verdict == Verdict.UNKNOWN:
            unsure |= {(row.production, tag) for tag in row.elements}
    seen = season_facts(session, ask.as_of, ask.production, ask.known_on)
    shows = [show for show in seen if not show.is_over]
    elements = {(show.production, e.tag) for show in shows for e in show.elements}
    # What has no feed has nothing that its limits could be compared with.
    unsure |= {
        (show.production, e.tag)
        for show in shows
        for e in show.elements
        if any(r.feed is None for r in e.runs)
    }
    if not ask.everything:
        counts.pop(Verdict.OK)
    return {**counts, "elements": len(elements), "elements_fully_checked": len(elements - unsure)}


def faults_of(show: ShowFacts) -> list[Finding]:
    """What is over in one production."""
    return [f for f in findings(show) if f.verdict == Verdict.OVER]


REPORT = Report("over-limit", "Over a limit", Row, rows, summary, (SCOPE,))
