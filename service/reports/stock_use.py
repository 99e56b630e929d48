"""What is owned, sound, out, wanted and free on one day, by model and by tape."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from pydantic import BaseModel, Field
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.planning.snapshot.availability import Claims, read_claims
from service.planning.snapshot.house import DecoderKind, House, SourceKind, read_house
from service.planning.snapshot.shelf import Shelf, read_shelf
from service.reports.report import Report, ReportAsk, counted
from service.season.records import OrderLine
from service.stock.records import Tape


class Row(BaseModel):
    """One model (pieces) or one tape (metres) on one day."""

    kind: str = Field(description="supply, decoder, battery or tape")
    item: str = Field(description="tag of the model or tape")
    unit: str = Field(description="piece or m")
    owned: float = Field(description="in the house, in `unit`")
    usable: float = Field(description="sound and not overdue; tape: on reels and offcuts")
    out: float = Field(description="with a production that day, overdue ones included; tape: 0")
    wanted: float = Field(
        description="per production the larger of held and allotted; tape: the larger of held and uncut"
    )
    free: float = Field(description="neither out nor wanted, in `unit`")
    short: float = Field(description="wanted beyond what there is, in `unit`")
    incoming: float = Field(description="ordered, not yet received")
    longest_m: float | None = Field(default=None, description="tape: longest single length, in m")
    wanted_by: list[str] = Field(default=[], description="codes of the shows that want it")


@dataclass(frozen=True, slots=True)
class _Use:
    wanted: Counter[str]  # per production
    out: int
    overdue: int


def rows(session: Session, ask: ReportAsk) -> list[Row]:
    house, claims = read_house(session), read_claims(session, ask.known_on)
    shelf = read_shelf(session, ask.as_of, ask.known_on)
    tapes = session.execute(
        select(Tape.id, Tape.tag, Tape.pitch_um).where(Tape.retired_on.is_(None)).order_by(Tape.tag_key)
    )
    return [
        *gear_rows(house, claims, ask.as_of, _incoming(session)),
        *(tape_row(shelf, tape_id, tag, pitch_um) for tape_id, tag, pitch_um in tapes),
    ]


def gear_rows(
    house: House, claims: Claims, day: date, incoming: Mapping[int, float] | None = None
) -> list[Row]:
    """Every model on one day. `incoming`: pieces on order, by model."""
    kinds: list[SourceKind | DecoderKind] = [*house.sources.values(), *house.decoders.values()]
    found = [_gear_row(house, claims, kind, day, incoming or {}) for kind in kinds]
    order = {"supply": 0, "decoder": 1, "battery": 2}
    return sorted(found, key=lambda r: (order.get(r.kind, 3), r.item))


def _gear_row(
    house: House, claims: Claims, kind: SourceKind | DecoderKind, day: date, incoming: Mapping[int, float]
) -> Row:
    units = [u for u in house.units.values() if u.model_id == kind.id]
    use = _use(house, claims, kind.id, day)
    usable = sum(u.is_sound for u in units) - use.overdue
    wanted = sum(use.wanted.values())
    return Row(
        kind=units[0].kind if units else ("decoder" if kind.id in house.decoders else "supply"),
        item=kind.tag,
        unit="piece",
        owned=len(units),
        usable=usable,
        out=use.out,
        wanted=wanted,
        free=max(0, usable - wanted),
        short=max(0, wanted - usable),
        incoming=incoming.get(kind.id, 0),
        wanted_by=sorted(use.wanted),
    )


def _use(house: House, claims: Claims, model_id: int, day: date) -> _Use:
    """Units of a model with productions on a day, and what each production wants of it."""
    held: Counter[str] = Counter()
    named: Counter[str] = Counter()
    out: set[int] = set()
    overdue: set[int] = set()
    for claim in claims.units:
        unit = house.units.get(claim.unit_id)
        if unit is None or unit.model_id != model_id or not claim.from_on <= day < claim.until_on:
            continue
        out.add(unit.id)
        if claim.is_overdue:
            if unit.is_sound:
                overdue.add(unit.id)
            continue
        code = claims.codes[claim.production_id]
        named[code] += 1
        held[code] += claim.is_held
    for want in claims.models:
        if want.model_id == model_id and want.from_on <= day < want.until_on:
            held[claims.codes[want.production_id]] += want.quantity
    wanted = Counter({code: max(held[code], named[code]) for code in held | named})
    return _Use(wanted, len(out), len(overdue))


def _incoming(session: Session) -> dict[int, float]:
    query = (
        select(OrderLine.model_id, func.sum(OrderLine.quantity))
        .where(OrderLine.received_on.is_(None), OrderLine.model_id.is_not(None))
        .group_by(OrderLine.model_id)
    )
    return {model_id or 0: float(count) for model_id, count in session.execute(query)}


def tape_row(shelf: Shelf, tape_id: int, tag: str, pitch_um: int) -> Row:
    """One tape, in metres."""
    metre = pitch_um / 1e6
    left = [reel.left_pitches for reel in shelf.reels_of(tape_id)]
    wanted = shelf.wanted(tape_id)
    have, want = sum(left), sum(wanted.values())
    return Row(
        kind="tape",
        item=tag,
        unit="m",
        owned=_m(have, metre),
        usable=_m(have, metre),
        out=0,
        wanted=_m(want, metre),
        free=_m(max(0, have - want), metre),
        short=_m(max(0, want - have), metre),
        incoming=_m(shelf.incoming.get(tape_id, 0), metre),
        longest_m=_m(max(left, default=0), metre),
        wanted_by=sorted(code for code, pitches in wanted.items() if pitches),
    )


def _m(pitches: float, metre: float) -> float:
    return round(pitches * metre, 6)


REPORT = Report("stock-use", "Stock on one day", Row, rows, counted)
