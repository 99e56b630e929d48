"""The acts of a mend carried out on the kept plan of a show. They take a session and never commit."""

from collections.abc import Iterable, Sequence
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import NotFound, OverLimit, Refused
from service.limits.findings import Finding, Verdict
from service.limits.mends.acts import Act, Readdress, Relead, Replug, Shift
from service.limits.registry import findings
from service.planning.moving import move_together
from service.planning.records import Patch, Placing, Plan
from service.planning.schemas import FeedMove
from service.planning.snapshot.house import read_policy
from service.planning.snapshot.season import season_facts
from service.planning.snapshot.show import find_production, kept_plan
from service.shows.actions import change_run
from service.shows.records import FeedStyle
from service.shows.schemas import RunChange
from service.stock.gear import Unit
from service.stock.records import Outlet
from service.store.base import tag_key


def carry_out(session: Session, code: str, acts: Sequence[Act], today: date, despite: str | None) -> None:
    """Does them all, or refuses. Refused when something is over afterwards that was not before; `despite`:
    why that is put up with. Raises NotFound, Refused, OverLimit, BadRequest."""
    before = over_of(session, code, today)
    shifts = [act for act in acts if isinstance(act, Shift)]
    if shifts:
        move_together(session, list(_moves(shifts, despite)), today)
    plan = _kept(session, code)
    for act in acts:
        if isinstance(act, Relead):
            _relead(session, act)
        elif isinstance(act, Readdress):
            _readdress(session, plan, act)
        elif isinstance(act, Replug):
            _replug(session, plan, act)
    session.flush()
    worse = [f for key, f in over_of(session, code, today).items() if key not in before]
    if worse and not despite:
        raise OverLimit(
            "that would put something over a limit: " + "; ".join(f.message for f in worse),
            "Choose another way.",
            worse,
        )


def over_of(session: Session, code: str, today: date) -> dict[tuple[str, str], Finding]:
    """What is over in the show, by limit and what it is about."""
    session.expire_all()
    policy = read_policy(session)
    found = (f for show in season_facts(session, today, code) for f in findings(show, policy))
    return {(f.code, f.subject): f for f in found if f.verdict is Verdict.OVER}


def _moves(shifts: Iterable[Shift], despite: str | None) -> Iterable[tuple[str, FeedMove]]:
    for shift in shifts:
        for run in shift.runs:
            tag, _, number = run.rpartition("/")
            yield (
                tag,
                FeedMove(
                    run=int(number),
                    supply=shift.supply or None,
                    output=shift.output,
                    decoder=shift.decoder,
                    first_channel=shift.first_channel,
                    despite_limits=despite,
                ),
            )


def _kept(session: Session, code: str) -> Plan:
    production = find_production(session, code)
    plan = kept_plan(session, production.id)
    if plan is None:
        raise Refused(f"{production.tag} has no kept plan", "Work out the feeds and keep them first.")
    return plan


def _relead(session: Session, act: Relead) -> None:
    tag, _, number = act.run.rpartition("/")
    change = RunChange(feed_style=FeedStyle(act.feed_style), lead_gauge=act.gauge)
    change_run(session, tag, int(number), change, None)


def _readdress(session: Session, plan: Plan, act: Readdress) -> None:
    unit = _unit(session, act.decoder)
    wanted = select(Patch).where(
        Patch.plan_id == plan.id, Patch.decoder_id == unit.id, Patch.port == (act.port or 0)
    )
    patch = session.scalars(wanted.with_for_update()).one_or_none()
    if patch is None:
        raise NotFound(f"{act.decoder} has no address in this plan", "Read the page again.")
    patch.universe, patch.start = act.universe, act.start


def _replug(session: Session, plan: Plan, act: Replug) -> None:
    unit = _unit(session, act.supply)
    outlet = session.scalars(select(Outlet).where(Outlet.tag_key == tag_key(act.outlet))).one_or_none()
    wanted = select(Placing).where(Placing.plan_id == plan.id, Placing.unit_id == unit.id)
    placing = session.scalars(wanted.with_for_update()).one_or_none()
    if outlet is None or placing is None:
        raise NotFound(f"{act.supply} or {act.outlet} is not there any more", "Read the page again.")
    placing.outlet_id = outlet.id


def _unit(session: Session, tag: str) -> Unit:
    unit = session.scalars(select(Unit).where(Unit.tag_key == tag_key(tag))).one_or_none()
    if unit is None:
        raise NotFound(f"nothing has the tag {tag}", "Read the page again.")
    return unit
