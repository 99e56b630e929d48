"""How shows stand on a day: facts read once, every limit asked, and told to people."""

from collections.abc import Iterable, Sequence
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.limits.facts import ShowFacts
from service.limits.findings import Finding, Verdict, by_harm
from service.limits.lookup import Lookup
from service.limits.registry import by_code, findings, of_supplies
from service.planning.records import Plan, PlanStatus
from service.planning.snapshot.availability import Claims, read_claims
from service.planning.snapshot.house import House, read_house
from service.planning.snapshot.reading import read_shows
from service.planning.snapshot.season import facts_on
from service.planning.snapshot.show import ShowRows
from service.reports.over_limit import OVERDUE
from service.reports.standing.faults import FEED, gathered, told
from service.reports.standing.lines import by_place
from service.reports.standing.loads import bars, universes
from service.reports.standing.parts import Fault, Heading, Standing, State
from service.season.records import Production
from service.stock.records import Venue


def standings(session: Session, productions: Sequence[Production], day: date) -> dict[str, Standing]:
    """How each of these shows stands, by its code."""
    if not productions:
        return {}
    house, claims = read_house(session), read_claims(session, day)
    venues = {row.id: row.name for row in session.execute(select(Venue.id, Venue.name))}
    plans = _kept(session, productions)
    return {
        production.tag: _standing(
            (production, venues.get(production.venue_id, ""), *plans.get(production.id, (None, None))),
            house,
            rows,
            claims,
            day,
        )
        for production, rows in zip(productions, read_shows(session, productions), strict=True)
    }


def _kept(session: Session, productions: Sequence[Production]) -> dict[int, tuple[Plan | None, Plan | None]]:
    """The kept plan of each, and the newest one where that is newer."""
    ids = [production.id for production in productions]
    found: dict[int, tuple[Plan | None, Plan | None]] = {}
    for plan in session.scalars(select(Plan).where(Plan.production_id.in_(ids)).order_by(Plan.number)):
        kept, _ = found.get(plan.production_id, (None, None))
        found[plan.production_id] = (plan, None) if plan.status == PlanStatus.KEPT else (kept, plan)
    return found


def _standing(
    of: tuple[Production, str, Plan | None, Plan | None],
    house: House,
    rows: ShowRows,
    claims: Claims,
    day: date,
) -> Standing:
    show = facts_on(house, rows, claims, day)
    around = Lookup(show, house.policy)
    found = _found(show, around)
    over = [f for f in found if f.verdict is Verdict.OVER]
    names = {element.tag: element.name for element in show.elements}
    places = by_place(show, house, [f for f in over if f.code != FEED])
    unfed = [f for f in found if f.code == FEED and f.verdict in (Verdict.OVER, Verdict.WATCH)]
    faults = _told([f for f in over if f.code != FEED], names)
    carried = bars(show, around, house, of_supplies(around) if show.is_over else found)
    wanted = [line for _, lines in places for line in lines if line.is_wanted]
    production, venue, plan, newer = of
    return Standing(
        heading=Heading(
            code=production.tag,
            title=production.title,
            venue=venue,
            status=production.status.value,
            build_start=production.build_start,
            load_in=production.load_in,
            opening=production.opening or production.first_preview,
            closing=production.closing,
            return_by=production.return_by,
            is_over=show.is_over,
            version=production.version,
            plan=plan.number if plan else None,
            kept_at=plan.kept_at if plan else None,
            latest=newer.number if newer else None,
            latest_status=newer.status.value if newer else "",
            listed=len(show.elements),
            elements=len(wanted),
            fed=sum(line.is_fed for line in wanted),
            locked=sum(line.is_locked for line in wanted),
            supplies=len(carried),
            over_supplies=sum(bar.state is State.OVER for bar in carried),
            faults=sum(1 + len(fault.also) for fault in faults),
            load_w=sum(bar.load_w for bar in carried),
        ),
        places=places,
        faults=faults,
        dark=_told(unfed, names),
        watched=_told([f for f in found if f.verdict is Verdict.WATCH and f.code != FEED], names),
        unknown=_told([f for f in found if f.verdict is Verdict.UNKNOWN], names),
        bars=carried,
        universes=universes(show, over),
        names=names,
    )


def _found(show: ShowFacts, around: Lookup) -> list[Finding]:
    """What the limits find amiss; of a show that is over, only what it should have given back."""
    if show.is_over:
        return sorted(by_code(OVERDUE).findings(around), key=by_harm)
    return findings(show, around.policy, but_ok=True)


def _told(found: Iterable[Finding], names: dict[str, str]) -> tuple[Fault, ...]:
    return gathered(told(finding, names) for finding in found)
