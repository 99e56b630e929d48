"""What is to come back: what is out, where it was last, how late it is, and whom that hurts."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from pydantic import BaseModel, Field
from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from service.planning.snapshot.availability import Claims, read_claims
from service.planning.snapshot.fed import fed_runs
from service.planning.snapshot.house import House, read_house
from service.planning.snapshot.season import season_rows
from service.planning.snapshot.show import ShowRows, find_production
from service.reports.report import Report, ReportAsk
from service.season.issuing.standing import Standing, out_with
from service.season.records import Hold, Production
from service.stock.gear import Unit
from service.stock.records import Place
from service.store.base import tag_key

AT_ITS_PLACE = "by the kept plan"


class Row(BaseModel):
    """A unit that is out with a production, or came back from it."""

    production: str = Field(description="code of the production")
    tag: str = Field(description="tag of the unit")
    item: str = Field(description="tag of the model; blank for a box")
    last_seen: str = Field(description="where it was last, and how that is known; blank: nowhere on record")
    seen_on: date | None = Field(description="day it was last seen there")
    issued_on: date | None = Field(description="day it went out; null: nobody wrote it down")
    issued_by: str = Field(description="who gave it out")
    strike_on: date = Field(description="last day of the strike")
    due_on: date | None = Field(description="last day it may be out; null: no end is written")
    returned_on: date | None = Field(description="day it came back; null: still out")
    state: str = Field(description="good, suspect, faulty, missing, …")
    standing: str = Field(description="back, out, after strike (struck, not back yet), or overdue")
    days_late: int = Field(description="whole days after its last day")
    hurts: list[str] = Field(description="codes of the shows that are to have it next, the earliest first")
    hurts_from: date | None = Field(description="first day on which one of them is to have it")
    hurts_elements: list[str] = Field(description="elements that their kept plans feed by it")
    hurts_w: float = Field(description="watts of the runs that their kept plans feed by it")


@dataclass(frozen=True, slots=True)
class _Out:
    """One hold of a unit, ended or not."""

    hold: Standing
    strike_on: date
    returned_on: date | None


@dataclass(frozen=True, slots=True)
class _Seen:
    place: str | None
    on: date | None
    note: str


def rows(session: Session, ask: ReportAsk) -> list[Row]:
    """What is out on the day, the latest first; what came back only where all is asked."""
    if ask.production is not None:
        find_production(session, ask.production)
    house, claims = read_house(session), read_claims(session, ask.known_on)
    seen, shows = _seen(session), {show.production.id: show for show in season_rows(session)}
    found = []
    for out in _holds(session, ask):
        unit = house.named(out.hold.unit_id)
        late = 0 if out.returned_on else out.hold.days_late(ask.as_of)
        hurt = _Hurt() if out.returned_on else _hurt(claims, shows, out.hold, ask.as_of)
        last_seen, seen_on = _last_seen(house, shows, out, seen[unit.id])
        found.append(
            Row(
                production=out.hold.code,
                tag=unit.tag,
                item=house.model_tag(unit),
                last_seen=last_seen,
                seen_on=seen_on,
                issued_on=out.hold.issued_on,
                issued_by=out.hold.issued_by,
                strike_on=out.strike_on,
                due_on=out.hold.due_on,
                returned_on=out.returned_on,
                state=unit.state,
                standing=_standing(out, late, ask.as_of),
                days_late=late,
                hurts=list(hurt.codes),
                hurts_from=hurt.from_on,
                hurts_elements=list(hurt.elements),
                hurts_w=round(hurt.load_w, 6),
            )
        )
    return sorted(found, key=lambda row: (-row.days_late, row.production, row.tag))


def _holds(session: Session, ask: ReportAsk) -> list[_Out]:
    query = (
        select(
            Hold.id, Hold.number, Hold.unit_id, Hold.production_id, Production.tag, Hold.from_on,
            Hold.until_on, Hold.issued_on, Hold.issued_by, Production.strike_end, Hold.returned_on,
        )
        .join(Production, Production.id == Hold.production_id)
        .where(Hold.unit_id.is_not(None))
        .order_by(Hold.from_on, Hold.id)
    )  # fmt: skip
    if not ask.everything:
        query = query.where(Hold.returned_on.is_(None))
    back: list[_Out] = []
    strikes: dict[int, date] = {}
    standing: dict[int, list[Standing]] = defaultdict(list)
    for *row, strike_on, returned_on in session.execute(query):
        hold = Standing(*row)
        strikes[hold.hold_id] = strike_on
        if returned_on is not None:
            back.append(_Out(hold, strike_on, returned_on))
        else:
            standing[hold.unit_id].append(hold)
    now = (out_with(holds, ask.as_of) for holds in standing.values())
    found = [_Out(hold, strikes[hold.hold_id], None) for hold in now if hold is not None] + back
    code = None if ask.production is None else tag_key(ask.production)
    return [out for out in found if code is None or tag_key(out.hold.code) == code]


def _seen(session: Session) -> dict[int, _Seen]:
    place = aliased(Place)
    query = select(Unit.id, place.tag, Unit.seen_on, Unit.where_note)
    found = session.execute(query.outerjoin(place, Unit.seen_place_id == place.id))
    return {row.id: _Seen(row.tag, row.seen_on, row.where_note) for row in found}


def _last_seen(house: House, shows: dict[int, ShowRows], out: _Out, seen: _Seen) -> tuple[str, date | None]:
    """Where it stands by the kept plan of the show that has it, else where the book saw it last."""
    show = shows.get(out.hold.production_id)
    placing = None if show is None or out.returned_on else show.placings.get(out.hold.unit_id)
    place = house.places.get(placing.place_id or 0) if placing is not None else None
    if place is not None and (seen.place is None or (seen.on or date.min) <= out.hold.out_from):
        return f"{place.tag} ({AT_ITS_PLACE})", None
    return seen.place or seen.note, seen.on


def _standing(out: _Out, late: int, day: date) -> str:
    if out.returned_on is not None:
        return "back"
    if late:
        return "overdue"
    return "after strike" if day > out.strike_on else "out"


@dataclass(frozen=True, slots=True)
class _Hurt:
    """Whom it hurts that a unit is still out."""

    codes: tuple[str, ...] = ()
    from_on: date | None = None
    elements: tuple[str, ...] = ()
    load_w: float = 0.0


def _hurt(claims: Claims, shows: dict[int, ShowRows], hold: Standing, day: date) -> _Hurt:
    """The shows that are to have the unit next, and what they feed by it."""
    later = sorted(
        (claim.from_on, claim.production_id)
        for claim in claims.of_unit(hold.unit_id)
        if claim.production_id != hold.production_id
        and claim.until_on > day
        and claim.from_on >= hold.from_on
        and claim.due_on is not None
    )
    fed = [
        one
        for number in dict.fromkeys(number for _, number in later)
        if number in shows
        for one in fed_runs(shows[number])
        if hold.unit_id in (one.supply_id, one.decoder_id)
    ]
    return _Hurt(
        tuple(dict.fromkeys(claims.codes[number] for _, number in later)),
        later[0][0] if later else None,
        tuple(dict.fromkeys(one.element.tag for one in fed)),
        sum(one.load_w for one in fed),
    )


def _counted(_session: Session, _ask: ReportAsk, found: Sequence[BaseModel]) -> dict[str, object]:
    units = [row for row in found if isinstance(row, Row)]
    return {
        "rows": len(units),
        "out": sum(row.returned_on is None for row in units),
        "after_strike": sum(row.standing == "after strike" for row in units),
        "overdue": sum(row.standing == "overdue" for row in units),
        "hurts": sorted({code for row in units if row.standing == "overdue" for code in row.hurts}),
    }


REPORT = Report("return-list", "What is to come back", Row, rows, _counted)
