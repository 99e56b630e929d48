"""All productions as plain facts on one day."""

from dataclasses import replace
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.limits.facts import PackModelFacts, ShowFacts
from service.planning.records import Plan
from service.planning.snapshot.availability import Claims, free_units, read_claims
from service.planning.snapshot.facts import show_facts
from service.planning.snapshot.house import House, read_house
from service.planning.snapshot.reading import read_show, read_shows
from service.planning.snapshot.show import ShowRows, find_production
from service.planning.swapping.standing import Asking, on_hand
from service.season.records import Production, ProductionStatus
from service.stock.gear import GearKind

NOT_CHECKED = (ProductionStatus.IDEA, ProductionStatus.CANCELLED)


def season_facts(
    session: Session, day: date, code: str | None = None, known_on: date | None = None
) -> list[ShowFacts]:
    """The kept plan of every production (or of one) on a day, by opening of its build.

    `known_on`: the day whose knowledge it rests on, where that is an earlier one: what is due back before
    `day` is not called overdue then.
    """
    house, claims = read_house(session), read_claims(session, known_on or day)
    return [facts_on(house, rows, claims, day) for rows in season_rows(session, code)]


def season_rows(session: Session, code: str | None = None) -> list[ShowRows]:
    """The rows of every production that is checked (or of one), by opening of its build."""
    if code is not None:
        return [read_show(session, find_production(session, code))]
    shows = session.scalars(
        select(Production)
        .where(Production.status.not_in(NOT_CHECKED), Production.retired_on.is_(None))
        .order_by(Production.build_start, Production.id)
    )
    return read_shows(session, shows.all())


def facts_on(house: House, rows: ShowRows, claims: Claims, day: date) -> ShowFacts:
    """One production as its plan has it on a day, with what is free for its own days."""
    free, _ = free_units(house, claims, rows.production.id, rows.window)
    facts = show_facts(house, rows, claims, free, day)
    return replace(facts, pack_models=_packs(facts, house, claims, rows, day))


def _packs(
    facts: ShowFacts, house: House, claims: Claims, rows: ShowRows, day: date
) -> tuple[PackModelFacts, ...]:
    """Kinds of packs, with which of each is to be had from that day on, though it was not all along."""
    first, until = rows.window
    start = max(first, day)
    packs = [unit for unit in house.gear if unit.kind == GearKind.BATTERY.value]
    hires = {unit.id: (unit.hired_from, unit.hired_until) for unit in packs}
    asking = Asking(rows.production.id, (start, max(start, until)), {}, hires)
    if facts.is_over or not any(supply.kind == "battery" for supply in facts.supplies):
        return facts.pack_models
    had = {house.sources[model].tag: words for model, words in on_hand(house, claims, asking, packs).items()}
    return tuple(replace(kind, on_hand=had.get(kind.tag, "")) for kind in facts.pack_models)


def plan_facts(session: Session, plan: Plan, today: date) -> ShowFacts:
    """One production as a plan, kept or not, would have it."""
    production = session.get_one(Production, plan.production_id)
    house, claims = read_house(session), read_claims(session, today)
    free, _ = free_units(house, claims, production.id, (plan.from_on, plan.until_on))
    used = read_show(session, production, plan)
    return show_facts(house, used, claims, free)
