"""The house and every show as they stand, read once, so that they can be thought of otherwise."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from sqlalchemy.orm import Session

from service.errors import NotFound
from service.limits.facts import ShowFacts
from service.planning.snapshot.availability import Claim, Claims, free_units, read_claims
from service.planning.snapshot.circuits import plugs_of
from service.planning.snapshot.facts import show_facts
from service.planning.snapshot.house import House, UnitRow, read_house
from service.planning.snapshot.reading import read_tapes
from service.planning.snapshot.season import season_rows
from service.planning.snapshot.show import ShowRows, TapeRow
from service.planning.supposing.names import near
from service.stock.gear import UnitState
from service.store.base import tag_key


@dataclass(frozen=True, slots=True)
class Absence:
    """A unit that is not in the house on these half-open days."""

    unit_id: int
    from_on: date
    until_on: date

    def covers(self, day: date) -> bool:
        return self.from_on <= day < self.until_on

    def meets(self, window: tuple[date, date]) -> bool:
        return self.from_on < window[1] and self.until_on > window[0]


@dataclass(frozen=True, slots=True)
class World:
    """`day`: the day asked about; `claims.today` the day whose knowledge it rests on. What was thought up has
    negative numbers, so that it is never taken for a stored row."""

    house: House
    claims: Claims
    shows: tuple[ShowRows, ...]
    tapes: Mapping[int, TapeRow]
    day: date
    absences: tuple[Absence, ...] = ()
    thought_up: int = field(default=0)

    def show(self, code: str) -> ShowRows:
        """The production with that code; NotFound names the nearest."""
        key = tag_key(code)
        for rows in self.shows:
            if tag_key(rows.production.tag) == key:
                return rows
        raise NotFound(
            f"no production that is checked has the code {code!r}",
            near(code, [rows.production.tag for rows in self.shows]),
        )

    def unit(self, tag: str, *kinds: str) -> UnitRow:
        """The unit with that tag, of one of these kinds if any are named; NotFound names the nearest."""
        found = self.house.unit_by_tag(tag)
        if found is None or (kinds and found.kind not in kinds):
            tags = [u.tag for u in self.house.units.values() if not kinds or u.kind in kinds]
            what = " or ".join(kinds) or "unit"
            raise NotFound(f"no {what} has the tag {tag!r}", near(tag, tags))
        return found

    def with_show(self, rows: ShowRows) -> "World":
        """The same with these rows for that production, and the claims that its plan then makes."""
        others = [r for r in self.shows if r.production.id != rows.production.id]
        shows = sorted((*others, rows), key=lambda r: (r.production.build_start, r.production.id))
        return replace(self, shows=tuple(shows), claims=claims_with(self.claims, rows))

    def with_unit(self, unit: UnitRow) -> "World":
        return replace(self, house=replace(self.house, units=self.house.units | {unit.id: unit}))

    def facts(self, code: str | None = None) -> list[ShowFacts]:
        """Every show that is checked, or one, as the limits read it."""
        shows = self.shows if code is None else (self.show(code),)
        return [self.facts_of(rows) for rows in shows]

    def facts_of(self, rows: ShowRows) -> ShowFacts:
        return show_facts(self.house_on(self.day), rows, self.claims, self.free_for(rows), self.day)

    def free_for(self, rows: ShowRows) -> list[UnitRow]:
        """Sound units that nobody else has, and that are in the house, on each of the show's own days."""
        house = self.house
        if away := {a.unit_id for a in self.absences if a.meets(rows.window)}:
            house = replace(house, units={i: u for i, u in house.units.items() if i not in away})
        return free_units(house, self.claims, rows.production.id, rows.window)[0]

    def house_on(self, day: date) -> House:
        """What is owned on a day. What is away and has a part in a show is missed there; the rest is gone."""
        away = {a.unit_id for a in self.absences if a.covers(day)}
        if not away:
            return self.house
        claimed = {c.unit_id for c in self.claims.units}
        units = {
            i: replace(u, state=UnitState.MISSING.value, state_note="") if i in away else u
            for i, u in self.house.units.items()
            if i not in away or i in claimed
        }
        return replace(self.house, units=units)

    def next_id(self) -> tuple["World", int]:
        return replace(self, thought_up=self.thought_up + 1), -(self.thought_up + 1)


def read_world(session: Session, day: date, known_on: date | None = None, code: str | None = None) -> World:
    """The house and every production that is checked (and the one named, checked or not) on a day."""
    house, claims = read_house(session), read_claims(session, known_on or day)
    shows = season_rows(session)
    if code is not None and all(tag_key(rows.production.tag) != tag_key(code) for rows in shows):
        shows = [*shows, *season_rows(session, code)]
    return World(house, claims, tuple(shows), read_tapes(session), day)


def claims_with(claims: Claims, rows: ShowRows) -> Claims:
    """The claims on the store when that production's plan is these rows: what it holds stays as it is."""
    number = rows.production.id
    plugs = [plug for plug in claims.plugs if plug.production_id != number]
    if rows.plan is not None and rows.production.strike_end >= claims.today:
        plugs += plugs_of(rows)
    claims = replace(claims, plugs=tuple(sorted(plugs)))
    others = [c for c in claims.units if c.is_held or c.production_id != number]
    if rows.plan is None:
        return replace(claims, units=tuple(sorted(others, key=_order)))
    held = {c.unit_id for c in others if c.production_id == number}
    used = {a.supply_id for a in rows.allotments.values()} | {a.decoder_id for a in rows.allotments.values()}
    start, end = rows.plan.from_on, rows.plan.until_on
    kept = [
        Claim(unit_id, number, start, end, due_on=end - timedelta(days=1), is_held=False)
        for unit_id in (used | set(rows.placings)) - held
        if unit_id is not None
    ]
    return replace(claims, units=tuple(sorted(others + kept, key=_order)))


def _order(claim: Claim) -> tuple[int, int, date, date, bool, date, bool]:
    last = claim.due_on or date.min
    return (
        claim.unit_id, claim.production_id, claim.from_on, claim.until_on, claim.is_overdue, last,
        claim.is_held,
    )  # fmt: skip
