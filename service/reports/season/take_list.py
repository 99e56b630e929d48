"""What goes out to a production: each unit by its tag, and what is promised by model without one."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from pydantic import BaseModel, Field
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.planning.snapshot.availability import Claims, Want, read_claims
from service.planning.snapshot.fed import fed_runs, placeholder_tag
from service.planning.snapshot.house import House, UnitRow, read_house
from service.planning.snapshot.season import season_rows
from service.planning.snapshot.show import ShowRows, window_of
from service.reports.report import Report, ReportAsk
from service.season.issuing.standing import Standing, holds_standing, out_with
from service.season.records import Hold, Production, ProductionStatus

OVER = (ProductionStatus.CLOSED, ProductionStatus.RETURNED, ProductionStatus.CANCELLED)


class Row(BaseModel):
    """A unit that goes out to a production, or so many of a model of which no unit is named yet."""

    production: str = Field(description="code of the production")
    tag: str | None = Field(description="tag of the unit; null: any of the model")
    item: str = Field(description="tag of the model; blank for a box")
    count: int = Field(description="how many")
    bin: str | None = Field(description="tag of the bin it lives in")
    box: str | None = Field(description="tag of the box it stands in, by the kept plan")
    goes_to: str | None = Field(description="tag of the place where the kept plan has it")
    used_for: list[str] = Field(description="elements that the kept plan feeds by it")
    from_on: date = Field(description="first day out")
    due_on: date | None = Field(description="last day it may be out; null: no end is written")
    hold: str | None = Field(description="number of its hold; null: the kept plan alone names it")
    issued_on: date | None = Field(description="day it went out; null: not yet")
    issued_by: str = Field(description="who gave it out")
    state: str = Field(description="good, suspect, faulty, …; blank where no unit is named")
    waits_for: str = Field(description="why it cannot go yet: who has it; blank: it can")


@dataclass(slots=True)
class _Uses:
    """What the kept plan of a show does with its units."""

    elements: dict[int, list[str]] = field(default_factory=lambda: defaultdict(list))
    open_models: dict[int, list[str]] = field(default_factory=lambda: defaultdict(list))


def rows(session: Session, ask: ReportAsk) -> list[Row]:
    """Shows that run or are to come, or the one named; what came back already only where all is asked."""
    house, claims = read_house(session), read_claims(session, ask.known_on)
    standing, ended = holds_standing(session), _ended(session) if ask.everything else {}
    status = {row.id: row.status for row in session.execute(select(Production.id, Production.status))}
    found: list[Row] = []
    for show in season_rows(session, ask.production):
        is_over = status[show.production.id] in OVER
        if is_over and not ask.everything and ask.production is None:
            continue
        found += _of_show(house, claims, standing, show, ask, ended.get(show.production.id, []))
    return found


def _of_show(
    house: House,
    claims: Claims,
    standing: dict[int, list[Standing]],
    show: ShowRows,
    ask: ReportAsk,
    ended: Sequence[Standing],
) -> list[Row]:
    number, uses = show.production.id, _uses(show)
    own = {
        unit_id: [one for one in holds if one.production_id == number] for unit_id, holds in standing.items()
    }
    held = {unit_id: holds[0] for unit_id, holds in own.items() if holds}
    gone = {one.unit_id for one in ended}
    named = {claim.unit_id for claim in claims.units if claim.production_id == number and not claim.is_held}
    found = [
        _unit_row(house, show, uses, house.named(unit_id), held.get(unit_id), standing, ask.as_of)
        for unit_id in (held.keys() | named) - gone
    ]
    found += [_unit_row(house, show, uses, house.named(one.unit_id), one, {}, ask.as_of) for one in ended]
    found.sort(key=lambda row: (row.goes_to or "~", row.bin or "~", row.tag or ""))
    return found + _promises(house, show, uses, claims)


def _ended(session: Session) -> dict[int, list[Standing]]:
    """What went out and is back, by production."""
    query = (
        select(
            Hold.id, Hold.number, Hold.unit_id, Hold.production_id, Production.tag, Hold.from_on,
            Hold.until_on, Hold.issued_on, Hold.issued_by,
        )
        .join(Production, Production.id == Hold.production_id)
        .where(Hold.unit_id.is_not(None), Hold.returned_on.is_not(None))
        .order_by(Hold.from_on, Hold.id)
    )  # fmt: skip
    found: dict[int, list[Standing]] = defaultdict(list)
    for row in session.execute(query):
        held = Standing(*row)  # type: ignore[arg-type]  # a hold of a unit has one
        found[held.production_id].append(held)
    return found


def _uses(show: ShowRows) -> _Uses:
    uses = _Uses()
    for fed in fed_runs(show):
        for unit_id, model_id in (
            (fed.supply_id, fed.supply_model_id),
            (fed.decoder_id, fed.decoder_model_id),
        ):
            if unit_id is not None:
                _once(uses.elements[unit_id], fed.element.tag)
            elif model_id is not None:
                _once(uses.open_models[model_id], fed.element.tag)
    return uses


def _once(tags: list[str], tag: str) -> None:
    if tag not in tags:
        tags.append(tag)


def _unit_row(
    house: House,
    show: ShowRows,
    uses: _Uses,
    unit: UnitRow,
    hold: Standing | None,
    standing: dict[int, list[Standing]],
    day: date,
) -> Row:
    placing = show.placings.get(unit.id)
    box = None if placing is None or placing.enclosure_id is None else house.named(placing.enclosure_id).tag
    first, until = window_of(show.production)
    return Row(
        production=show.production.tag,
        tag=unit.tag,
        item=house.model_tag(unit),
        count=1,
        bin=_place(house, unit.home_id),
        box=box,
        goes_to=None if placing is None else _place(house, placing.place_id),
        used_for=uses.elements.get(unit.id, []),
        from_on=hold.from_on if hold else show.plan.from_on if show.plan else first,
        due_on=hold.due_on if hold else (show.plan.until_on if show.plan else until) - timedelta(days=1),
        hold=hold.number if hold else None,
        issued_on=hold.issued_on if hold else None,
        issued_by=hold.issued_by if hold else "",
        state=unit.state,
        waits_for=_waits_for(unit, hold, standing.get(unit.id, []), show.production.id, day),
    )


def _waits_for(
    unit: UnitRow, hold: Standing | None, standing: Sequence[Standing], number: int, day: date
) -> str:
    if hold is not None and hold.issued_on is not None:
        return ""
    if not unit.is_sound:
        return f"{unit.tag} is {unit.state}" + (f" ({unit.state_note})" if unit.state_note else "")
    out = out_with(standing, day)
    if out is None or out.production_id == number:
        return ""
    return f"{unit.tag} {out.said(day)}"


def _place(house: House, place_id: int | None) -> str | None:
    place = house.places.get(place_id or 0)
    return None if place is None else place.tag


def _promises(house: House, show: ShowRows, uses: _Uses, claims: Claims) -> list[Row]:
    """What is promised by model and not drawn yet; placeholders of the kept plan stand in it."""
    left = [w for w in claims.models if w.production_id == show.production.id and w.until_on > claims.today]
    return [
        _promise_row(house, show, uses, want) for want in sorted(left, key=lambda w: (w.from_on, w.model_id))
    ]


def _promise_row(house: House, show: ShowRows, uses: _Uses, want: Want) -> Row:
    kind = house.sources.get(want.model_id) or house.decoders.get(want.model_id)
    model = kind.tag if kind else ""
    homes = {
        unit.home_id for unit in house.units.values() if unit.model_id == want.model_id and unit.is_sound
    }
    return Row(
        production=show.production.tag,
        tag=None,
        item=model,
        count=want.quantity,
        bin=_place(house, homes.pop()) if len(homes) == 1 else None,
        box=None,
        goes_to=None,
        used_for=uses.open_models.get(want.model_id, []),
        from_on=want.from_on,
        due_on=want.until_on - timedelta(days=1),
        hold=None,
        issued_on=None,
        issued_by="",
        state="",
        waits_for=f"choose {placeholder_tag(model)}: issue it by its tag",
    )


def _counted(_session: Session, _ask: ReportAsk, found: Sequence[BaseModel]) -> dict[str, object]:
    units = [row for row in found if isinstance(row, Row)]
    return {
        "rows": len(units),
        "units": sum(row.count for row in units),
        "issued": sum(row.issued_on is not None for row in units),
        "cannot_go_yet": sum(bool(row.tag and row.waits_for) for row in units),
    }


REPORT = Report("take-list", "What goes out", Row, rows, _counted)
