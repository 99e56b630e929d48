"""What every wall circuit carries and starts, and which other shows stand on it on the same days."""

from collections.abc import Iterator
from datetime import date

from pydantic import BaseModel, Field
from sqlalchemy.orm import Session

from service.electrical.power import mains
from service.limits.cautions import MAINS
from service.limits.circuits import busiest, fullest
from service.limits.facts import OutletFacts, ShowFacts
from service.limits.findings import Finding, Verdict, by_harm
from service.limits.lookup import Lookup
from service.limits.policy import Policy
from service.limits.rules.mains import mains_amps, mains_inrush
from service.limits.rules.places import dimmed_circuit
from service.planning.snapshot.house import read_policy
from service.reports.report import Report, ReportAsk, counted, shows_of


class Row(BaseModel):
    """One outlet that a show plugs into, on its fullest day."""

    production: str = Field(description="show code")
    venue: str = Field(default="", description="venue of the outlet")
    outlet: str = Field(description="tag of the outlet")
    place: str = Field(default="", description="tag of the place where it is")
    kind: str = Field(description="constant, relay or dimmed")
    breaker_a: float | None = Field(default=None, description="its breaker in A; None: not known")
    volts_v: float | None = Field(default=None, description="its voltage in V; None: not known")
    supplies: list[str] = Field(default=[], description="tags of the show's supplies on it")
    supplies_a: float | None = Field(
        default=None, description="amps of all supplies on it that day, other shows' too; None: no volts"
    )
    other_w: float = Field(default=0.0, description="watts of what else hangs on it")
    load_a: float | None = Field(default=None, description="all of it in A; None: no volts")
    limit_a: float | None = Field(default=None, description="amps it may carry for hours; None: no breaker")
    load_pct: float | None = Field(default=None, description="load as a percentage of its limit")
    started: int = Field(description="supplies on it on the day with the most, that start together")
    at_once: int | None = Field(
        default=None, description="supplies a breaker is known to start; None: no breaker"
    )
    inrush_a: float = Field(default=0.0, description="their surge in A, of those whose sheet gives it")
    shared_with: list[str] = Field(default=[], description="other shows on it on that day", examples=[["TL"]])
    shared_on: date | None = Field(
        default=None, description="that day; None: every day alike", examples=["2027-01-04"]
    )
    venue_a: float | None = Field(
        default=None,
        description="amps of every outlet of that venue on which the show has supplies; None: no volts",
    )
    verdict: str = Field(description="ok, watch, over or unknown: the worst that is said of it")
    message: str = Field(default="", description="what is wrong, where something is")


def rows(session: Session, ask: ReportAsk) -> list[Row]:
    policy = read_policy(session)
    return [row for show in shows_of(session, ask) for row in of_show(show, policy)]


def of_show(show: ShowFacts, policy: Policy) -> list[Row]:
    """The circuits of one production, with the sum of each venue."""
    found = list(_rows(show, policy))
    sums: dict[str, float | None] = {}
    for row in found:
        so_far = sums.get(row.venue, 0.0)
        sums[row.venue] = None if so_far is None or row.load_a is None else so_far + row.load_a
    for row in found:
        venue_a = sums[row.venue]
        row.venue_a = None if venue_a is None else round(venue_a, 6)
    return found


def _rows(show: ShowFacts, policy: Policy) -> Iterator[Row]:
    around = Lookup(show, policy)
    return (of_outlet(outlet, around) for outlet in show.outlets)


def of_outlet(outlet: OutletFacts, around: Lookup) -> Row:
    """One circuit of a production, without the sum of its venue."""
    worst, policy = _worst(outlet, around), around.policy
    day, starts = fullest(outlet, around), busiest(outlet, around)
    volts_v, breaker_a = outlet.volts_v, outlet.breaker_a
    load_a = None if volts_v is None else day.a(volts_v)
    limit_a = None if breaker_a is None else mains.limit_a(breaker_a, policy.breaker_factor)
    return Row(
        production=around.show.production,
        venue=outlet.venue,
        outlet=outlet.tag,
        place=outlet.place,
        kind=outlet.kind,
        breaker_a=breaker_a,
        volts_v=volts_v,
        supplies=list(outlet.supplies),
        supplies_a=None if volts_v is None else round(sum(p.a(volts_v) for p in day.plugged), 6),
        other_w=round(day.other_w, 6),
        load_a=None if load_a is None else round(load_a, 6),
        limit_a=None if limit_a is None else round(limit_a, 6),
        load_pct=None if load_a is None or not limit_a else round(100.0 * load_a / limit_a, 1),
        started=len(starts.plugged),
        at_once=None if breaker_a is None else mains.at_once(breaker_a, int(policy.inrush_supplies)),
        inrush_a=sum(p.figures.inrush_a or 0.0 for p in starts.plugged),
        shared_with=list(day.sharers),
        shared_on=day.on if day.sharers else None,
        verdict=Verdict.OK.value if worst is None else worst.verdict.value,
        message="" if worst is None or worst.verdict is Verdict.OK else worst.message,
    )


def _worst(outlet: OutletFacts, around: Lookup) -> Finding | None:
    """The worst that the limits say of the circuit, and of a supply on it where it is dimmed."""
    said = [mains_amps(outlet, around), mains_inrush(outlet, around)]
    said += [
        dimmed_circuit(around.supplies[tag], around) for tag in outlet.supplies if tag in around.supplies
    ]
    return min((f for f in said if f is not None), key=by_harm, default=None)


REPORT = Report("circuits", "What every wall circuit carries", Row, rows, counted, (MAINS,))
