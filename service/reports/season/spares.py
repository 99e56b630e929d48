"""Spares of shows that play: what the house wants in reserve, what is free for it, and what would mend it."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from math import ceil
from typing import Any

from pydantic import BaseModel, Field
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.planning.snapshot.availability import Claims, read_claims
from service.planning.snapshot.house import House, UnitRow, read_house
from service.planning.snapshot.season import NOT_CHECKED
from service.planning.snapshot.shelf import NOT_WANTED, ReelRow, Shelf, read_shelf
from service.planning.snapshot.show import find_production, window_of
from service.planning.swapping.reading import seen_places
from service.reports.report import Report, ReportAsk
from service.season.records import Production
from service.shows.records import Element, Piece, Run
from service.stock.gear import GearModel
from service.stock.records import Tape


class Row(BaseModel):
    """One model or tape of one show on one day. Gear: the larger of one and a share of what the show has
    (house rule spare_share), rounded up; tape: one longest piece, in one length where a reel is as long. What
    is the spare of one show is not that of another."""

    production: str = Field(description="show code")
    kind: str = Field(description="supply, decoder, battery or tape")
    item: str = Field(description="tag of the model or tape")
    unit: str = Field(description="piece or m")
    in_show: float = Field(description="what the show has; tape: its longest piece, in m")
    needed: float = Field(description="what should be free, in `unit`")
    free: float = Field(description="what is free for it that day; tape: the longest length to be had, in m")
    short: float = Field(description="what is missing, in `unit`")
    verdict: str = Field(description="ok or short")
    is_due: bool = Field(description="whether the show plays to people by that day; else it is still to come")
    from_on: date | None = Field(description="first preview: the first day on which spares must be there")
    to_on: date = Field(description="last performance")
    take: list[str] = Field(description="units that are its spares, the nearest first; tape: the reel")
    where: list[str] = Field(description="where each of these is")
    away: list[str] = Field(description="gear: why others of the model are not free")
    mend: str = Field(description="what would mend it")


@dataclass(frozen=True, slots=True)
class _Show:
    production: Production
    is_due: bool

    @property
    def code(self) -> str:
        return self.production.tag


@dataclass(frozen=True, slots=True)
class _Model:
    """A model on the day. `in_show`: what each show has, by code; `idle`: units that nobody has, of which
    `free` are not promised; `ways`: what would bring others back."""

    id: int
    tag: str
    kind: str
    in_show: Counter[str]
    free: int
    idle: list[UnitRow]
    away: list[str]
    ways: list[str]
    lead_days: int | None


def rows(session: Session, ask: ReportAsk) -> list[Row]:
    """Shows that have gear that day and have not closed, by first preview."""
    shows = _shows(session, ask)
    if not shows:
        return []
    house, claims = read_house(session), read_claims(session, ask.known_on)
    models = _models(session, house, claims, ask.as_of)
    found: list[Row] = []
    for show in shows:
        for number, model in enumerate(models):
            if model.in_show[show.code]:
                row, models[number] = _gear_row(house, show, model, ask)
                found.append(row)
    found += _tape_rows(session, shows, ask)
    wanted = find_production(session, ask.production).tag if ask.production else None
    order = {show.code: place for place, show in enumerate(shows)}
    kinds = {"supply": 0, "decoder": 1, "battery": 2, "tape": 3}
    found.sort(key=lambda r: (order[r.production], kinds[r.kind], r.item))
    return [row for row in found if wanted in (None, row.production)]


def _shows(session: Session, ask: ReportAsk) -> list[_Show]:
    every = session.scalars(
        select(Production)
        .where(Production.status.not_in(NOT_CHECKED), Production.retired_on.is_(None))
        .where(Production.closing >= ask.as_of)
        .order_by(Production.id)
    )
    shows = [
        _Show(p, p.first_preview is not None and p.first_preview <= ask.as_of)
        for p in every
        if window_of(p)[0] <= ask.as_of
    ]
    return sorted(shows, key=lambda s: (s.production.first_preview or date.max, s.code))


def _models(session: Session, house: House, claims: Claims, day: date) -> list[_Model]:
    lead_days = {row.id: row.lead_days for row in session.execute(select(GearModel.id, GearModel.lead_days))}
    units: dict[int, list[UnitRow]] = defaultdict(list)
    seen = seen_places(session)
    for unit in house.gear:
        place = house.places.get(seen.get(unit.id, 0))
        units[unit.model_id or 0].append(replace(unit, where_note=place.tag) if place else unit)
    return [
        _on_day(house, claims, model_id, of, day, lead_days.get(model_id))
        for model_id, of in sorted(units.items())
    ]


def _on_day(
    house: House, claims: Claims, model_id: int, units: list[UnitRow], day: date, lead_days: int | None
) -> _Model:
    named: Counter[str] = Counter()
    held: Counter[str] = Counter()
    had: set[int] = set()
    counted: set[tuple[str, int]] = set()
    overdue: dict[int, str] = {}
    for unit in units:
        for claim in claims.of_unit(unit.id):
            if not claim.from_on <= day < claim.until_on:
                continue
            code = claims.codes[claim.production_id]
            if claim.is_overdue:
                overdue[unit.id] = code
                continue
            had.add(unit.id)
            if (code, unit.id) in counted:
                continue
            counted.add((code, unit.id))
            named[code] += 1
            held[code] += claim.is_held
    for want in claims.models:
        if want.model_id == model_id and want.from_on <= day < want.until_on:
            held[claims.codes[want.production_id]] += want.quantity
    in_show = Counter({code: max(held[code], named[code]) for code in held | named})
    usable = sum(unit.is_sound and unit.id not in overdue for unit in units)
    away, ways = [], []
    for unit in units:
        if not unit.is_sound:
            away.append(f"{unit.tag} {unit.state}" + (f" ({unit.state_note})" if unit.state_note else ""))
            ways.append(unit.to_have)
        elif unit.id in overdue:
            away.append(f"{unit.tag} overdue from {overdue[unit.id]}")
            ways.append(f"get {unit.tag} back from {overdue[unit.id]}")
    idle = [unit for unit in units if unit.is_sound and unit.id not in had and unit.id not in overdue]
    tag = house.model_tag(units[0])
    free = max(0, usable - in_show.total())
    return _Model(model_id, tag, units[0].kind, in_show, free, idle, away, ways, lead_days)


def _gear_row(house: House, show: _Show, model: _Model, ask: ReportAsk) -> tuple[Row, _Model]:
    """The row, and the model without the spares that this show takes."""
    in_show = model.in_show[show.code]
    # A hundredth of a piece less: 10 % of 10 is one, whatever binary shares make of it.
    needed = max(1, ceil(in_show * house.policy.spare_share - 0.01))
    nearest = sorted(model.idle, key=lambda unit: (_distance(house, show, unit), unit.tag))
    given = min(needed, model.free)
    take = nearest[:given]
    short = needed - given
    row = Row(
        production=show.code,
        kind=model.kind,
        item=model.tag,
        unit="piece",
        in_show=in_show,
        needed=needed,
        free=model.free,
        short=short,
        verdict="short" if short else "ok",
        is_due=show.is_due,
        from_on=show.production.first_preview,
        to_on=show.production.closing,
        take=[unit.tag for unit in take],
        where=[_where(house, unit) for unit in take],
        away=model.away,
        mend=_mend(house, model, short, ask) if short else "",
    )
    left = [unit for unit in model.idle if unit not in take]
    return row, replace(model, free=model.free - given, idle=left)


def _distance(house: House, show: _Show, unit: UnitRow) -> int:
    """0 in the show's venue, 1 in the store, 2 in another venue or nobody knows where."""
    place = next((p for p in house.places.values() if p.tag == (unit.where_note or "")), None)
    if place is not None and place.venue_id is not None:
        return 0 if place.venue_id == show.production.venue_id else 2
    return 1 if place is not None or not unit.where_note else 2


def _where(house: House, unit: UnitRow) -> str:
    home = house.places.get(unit.home_id or 0)
    return unit.where_note or (home.tag if home else "nobody wrote down where")


def _mend(house: House, model: _Model, short: int, ask: ReportAsk) -> str:
    """What could come back, and what to get for the rest: in time where there is time."""
    more = f"{short} more {model.tag}"
    if model.lead_days is not None:
        takes = timedelta(days=model.lead_days + round(house.policy.receiving_days))
        if ask.as_of - takes >= ask.known_on:
            more += f", ordered by {(ask.as_of - takes).isoformat()}"
        else:
            more += f", here {(ask.known_on + takes).isoformat()} at the earliest"
    return "; or ".join([*model.ways, more])


def _tape_rows(session: Session, shows: Sequence[_Show], ask: ReportAsk) -> Iterable[Row]:
    """What shows that have begun still cut is not spare; the spare of one show is not that of the next."""
    shelf = read_shelf(session, ask.as_of, ask.known_on)
    begun = {show.code for show in shows}
    by_id = {show.production.id: show for show in shows}
    longest = session.execute(
        select(
            Element.production_id,
            Tape.id,
            Tape.tag,
            Tape.pitch_um,
            Tape.reel_pitches,
            func.max(Piece.cut_pitches).label("pitches"),
        )
        .join(Tape, Tape.id == Element.tape_id)
        .join(Run, Run.element_id == Element.id)
        .join(Piece, Piece.run_id == Run.id)
        .where(Element.production_id.in_(by_id), Element.retired_on.is_(None))
        .where(Element.status.not_in(NOT_WANTED), Piece.cut_pitches > 0)
        .group_by(Element.production_id, Tape.id, Tape.tag, Tape.pitch_um, Tape.reel_pitches)
    )
    taken: Counter[int] = Counter()
    order = list(by_id)
    for row in sorted(longest, key=lambda r: (order.index(r.production_id), r.tag)):
        yield _tape_row(shelf, by_id[row.production_id], row, begun, taken)


def _tape_row(shelf: Shelf, show: _Show, row: Any, begun: set[str], taken: Counter[int]) -> Row:
    metre, pitches = row.pitch_um / 1e6, row.pitches
    reels = sorted(shelf.reels_of(row.id), key=lambda r: (r.left_pitches, r.tag))
    wanted = sum(n for code, n in shelf.wanted(row.id).items() if code in begun)
    left = max(0, sum(r.left_pitches for r in reels) - wanted - taken[row.id])
    # A piece longer than any reel of it is joined as the first one was: then only the sum counts.
    is_joined = row.reel_pitches is not None and pitches > row.reel_pitches
    free = left if is_joined else min(max((r.left_pitches for r in reels), default=0), left)
    is_there = free >= pitches
    taken[row.id] += pitches if is_there else 0
    take = [r.tag for r in reels if r.left_pitches >= pitches][:1]
    if is_joined:
        take = _joined(reels, pitches)
    return Row(
        production=show.code,
        kind="tape",
        item=row.tag,
        unit="m",
        in_show=round(pitches * metre, 6),
        needed=round(pitches * metre, 6),
        free=round(free * metre, 6),
        short=round(max(0, pitches - free) * metre, 6),
        verdict="ok" if is_there else "short",
        is_due=show.is_due,
        from_on=show.production.first_preview,
        to_on=show.production.closing,
        take=take if is_there else [],
        where=[],
        away=[],
        mend=""
        if is_there
        else f"{pitches * metre:g} m of {row.tag}" + ("" if is_joined else " in one length"),
    )


def _joined(reels: Sequence[ReelRow], pitches: int) -> list[str]:
    """The longest reels that are enough together."""
    take: list[str] = []
    for reel in reversed(reels):
        if pitches <= 0:
            break
        take.append(reel.tag)
        pitches -= reel.left_pitches
    return take


def summary(_session: Session, _ask: ReportAsk, found: Sequence[BaseModel]) -> dict[str, object]:
    """How many models and tapes are short, of shows that play by then and of those still to come."""
    short = [row for row in found if isinstance(row, Row) and row.verdict == "short"]
    return {
        "rows": len(found),
        "short": sum(row.is_due for row in short),
        "short before first preview": sum(not row.is_due for row in short),
    }


REPORT = Report("spares", "Spares of shows that play", Row, rows, summary)
