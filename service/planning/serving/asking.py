"""One piece of gear in every show whose kept plan uses it from a day on."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from service.errors import NoSteadyState, NotFound
from service.ladder.picture import METRES, Ruler
from service.limits.facts import ShowFacts, SupplyFacts
from service.limits.findings import Finding, Verdict
from service.limits.lookup import Lookup
from service.limits.registry import findings
from service.planning.records import Allotment, Plan, PlanStatus
from service.planning.snapshot.house import read_policy
from service.planning.snapshot.season import season_facts
from service.planning.volts import picture_in
from service.season.records import Production
from service.stock.gear import Unit
from service.store.base import tag_key


@dataclass(frozen=True, slots=True)
class Serving:
    """A supply or battery that is, or feeds, the thing asked about. `to_on`: the last day of the plan.
    `findings`: what is not in order with the supply or the thing, worst first. `picture`: volts along the
    longest run on it (SVG), empty where a figure is missing; `pictured`: that run. `around`: the show, for
    look-ups."""

    title: str
    from_on: date
    to_on: date
    show: ShowFacts
    supply: SupplyFacts
    findings: Sequence[Finding]
    pictured: str
    picture: str
    around: Lookup


@dataclass(frozen=True, slots=True)
class ShowOn:
    """A show on a day, and all that is not in order in it, worst first."""

    around: Lookup
    findings: tuple[Finding, ...]


# Session, code of the show, the day, the day whose knowledge it rests on.
Reading = Callable[[Session, str, date, date], ShowOn]


def show_on(session: Session, code: str, on: date, known_on: date) -> ShowOn:
    """A show as its kept plan has it on that day. Raises NotFound."""
    policy = read_policy(session)
    [show] = season_facts(session, on, code, known_on)
    wrong = tuple(f for f in findings(show, policy) if f.verdict != Verdict.OK)
    return ShowOn(Lookup(show, policy), wrong)


def serving(
    session: Session, tag: str, day: date, read: Reading = show_on, ruler: Ruler = METRES
) -> list[Serving]:
    """The shows that have it now, and those that will; the earliest first. `read`: how a show is read;
    `ruler`: what the lengths of its drawing are told in."""
    plans = session.execute(
        select(Production.tag, Production.title, Plan.from_on, Plan.until_on)
        .join(Plan, Plan.production_id == Production.id)
        .join(Allotment, Allotment.plan_id == Plan.id)
        .join(Unit, or_(Unit.id == Allotment.supply_id, Unit.id == Allotment.decoder_id))
        .where(Unit.tag_key == tag_key(tag), Plan.status == PlanStatus.KEPT, Plan.until_on > day)
        .distinct()
        .order_by(Plan.from_on, Production.tag)
    ).all()
    found = []
    for code, title, from_on, until_on in plans:
        on = max(day, from_on)
        show = read(session, code, on, day)
        around = show.around
        for supply in _behind(around, tag):
            keys = (tag_key(supply.tag), tag_key(tag))
            about = [f for f in show.findings if tag_key(f.tag) in keys]
            span = (from_on, until_on - timedelta(days=1))
            picture = _picture(around, supply.tag, ruler)
            found.append(Serving(title, *span, around.show, supply, about, *picture, around))
    return found


def _behind(around: Lookup, tag: str) -> list[SupplyFacts]:
    """The supply itself; of a decoder, the supplies that feed through it."""
    key = tag_key(tag)
    feeds = [found.run.feed for found in around.runs if found.run.feed is not None]
    through = {feed.supply for feed in feeds if feed.decoder is not None and tag_key(feed.decoder) == key}
    return [s for s in around.show.supplies if tag_key(s.tag) == key or s.tag in through]


def _picture(around: Lookup, supply: str, ruler: Ruler) -> tuple[str, str]:
    on_it = [found.run for found in around.runs_of_supply(supply)]
    if not on_it:
        return "", ""
    longest = max(on_it, key=lambda run: (run.length_m, run.tag))
    element = longest.tag.rpartition("/")[0]
    try:
        return longest.tag, picture_in(around, element, longest.number, ruler)
    except (NotFound, NoSteadyState):
        return longest.tag, ""
