"""What a swap is asked of, read once: the unit, the kept plan it is in, the store and who has what."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from service.errors import BadRequest, NotFound, Refused
from service.planning.records import Allotment, Placing, Plan, PlanStatus
from service.planning.snapshot.availability import Claims, read_claims
from service.planning.snapshot.house import House, UnitRow, read_house
from service.planning.snapshot.reading import read_show
from service.planning.snapshot.show import ShowRows, find_production
from service.planning.swapping.standing import Asking, Days
from service.season.records import Hold, Production
from service.stock.gear import DecoderModel, GearModel, Unit
from service.store.base import tag_key


@dataclass(frozen=True, slots=True)
class Question:
    """`others`: other kept plans with the unit in them; `seen`: by unit, the place where it was seen last;
    `plugs`: by model of decoder, its connectors for control and output; `lead_days`: to get one more."""

    session: Session
    house: House
    claims: Claims
    rows: ShowRows
    production: Production
    plan: Plan
    old: UnitRow
    asking: Asking
    others: tuple[tuple[str, Plan], ...]
    seen: Mapping[int, int]
    plugs: Mapping[int, tuple[int | None, int | None]]
    lead_days: int | None

    @property
    def day(self) -> date:
        return self.asking.days[0]


def find_unit(session: Session, tag: str, is_held: bool = False) -> Unit:
    """The unit in use with that tag; held until the transaction ends where it is to be changed."""
    query = select(Unit).where(Unit.tag_key == tag_key(tag), Unit.retired_on.is_(None))
    unit = session.scalars(query.with_for_update() if is_held else query).one_or_none()
    if unit is None:
        raise NotFound(
            f"no supply, decoder, battery or box has the tag {tag!r}", "Look at the tag on the thing."
        )
    return unit


def read_question(
    session: Session, tag: str, code: str | None, today: date, is_held: bool = False
) -> Question:
    """Raises NotFound, BadRequest, and Refused where no kept plan has the unit. `is_held`: the plan is kept
    from changing until the transaction ends."""
    unit = find_unit(session, tag)
    plans = _plans_with(session, unit.id)
    production, plan = _chosen(session, unit, plans, code, today)
    if is_held:
        session.refresh(plan, with_for_update=True)
        if plan.status != PlanStatus.KEPT:
            raise Refused(f"plan {plan.number} of {production.tag} is {plan.status} now", "Ask again.")
    house, claims = read_house(session), read_claims(session, today)
    start = max(today, plan.from_on)
    return Question(
        session,
        house,
        claims,
        read_show(session, production, plan),
        production,
        plan,
        house.named(unit.id),
        Asking(production.id, (start, max(plan.until_on, start)), _playing(session), _hires(session)),
        tuple((show.tag, other) for show, other in plans if other.id != plan.id),
        seen_places(session),
        _plugs(session),
        session.scalar(select(GearModel.lead_days).where(GearModel.id == unit.model_id)),
    )


def _plans_with(session: Session, unit_id: int) -> Sequence[tuple[Production, Plan]]:
    fed = select(Allotment.plan_id).where(
        or_(Allotment.supply_id == unit_id, Allotment.decoder_id == unit_id)
    )
    stands = select(Placing.plan_id).where(or_(Placing.unit_id == unit_id, Placing.enclosure_id == unit_id))
    rows = session.execute(
        select(Production, Plan)
        .join(Plan, Plan.production_id == Production.id)
        .where(Plan.status == PlanStatus.KEPT, or_(Plan.id.in_(fed), Plan.id.in_(stands)))
        .order_by(Plan.from_on, Plan.id)
    )
    return [(row[0], row[1]) for row in rows]


def _chosen(
    session: Session, unit: Unit, plans: Sequence[tuple[Production, Plan]], code: str | None, today: date
) -> tuple[Production, Plan]:
    """The plan that has it today, the one of the show named, else the next to come."""
    if code is not None:
        wanted = find_production(session, code)
        plans = [pair for pair in plans if pair[0].id == wanted.id]
    whose = f" of {code}" if code is not None else ""
    if not plans:
        raise Refused(
            f"{unit.tag} is in no kept plan{whose}: nothing hangs on it",
            "Put it aside by its state, and keep a plan before you swap in it.",
        )
    live = [pair for pair in plans if pair[1].until_on > today]
    if not live:
        raise Refused(
            f"every kept plan with {unit.tag} in it is over",
            "Its feeds stand as the record of what was where.",
        )
    now = [pair for pair in live if pair[1].from_on <= today]
    if len(now) > 1:
        gave_back = _gave_back(session, unit.id)
        now = [pair for pair in now if pair[0].id not in gave_back] or now
    if len(now) > 1:
        codes = " and ".join(production.tag for production, _ in now)
        raise BadRequest(f"{unit.tag} is in the kept plans of {codes} today", "Name the production.")
    return (now or live)[0]


def _gave_back(session: Session, unit_id: int) -> set[int]:
    """Shows with no hold of the unit that is not over."""
    rows = session.execute(select(Hold.production_id, Hold.returned_on).where(Hold.unit_id == unit_id)).all()
    still = {row.production_id for row in rows if row.returned_on is None}
    return {row.production_id for row in rows} - still


def seen_places(session: Session) -> dict[int, int]:
    rows = session.execute(select(Unit.id, Unit.seen_place_id).where(Unit.seen_place_id.is_not(None)))
    return {row.id: row.seen_place_id for row in rows}


def _plugs(session: Session) -> dict[int, tuple[int | None, int | None]]:
    rows = select(DecoderModel.id, DecoderModel.control_connector_id, DecoderModel.output_connector_id)
    return {number: (control, output) for number, control, output in session.execute(rows)}


def _playing(session: Session) -> dict[int, Days]:
    rows = session.execute(select(Production.id, Production.load_in, Production.closing))
    return {row.id: (row.load_in, row.closing + timedelta(days=1)) for row in rows}


def _hires(session: Session) -> dict[int, tuple[date | None, date | None]]:
    rows = session.execute(
        select(Unit.id, Unit.hired_from, Unit.hired_until).where(
            or_(Unit.hired_from.is_not(None), Unit.hired_until.is_not(None))
        )
    )
    return {row.id: (row.hired_from, row.hired_until) for row in rows}
