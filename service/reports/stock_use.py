"""What is owned, sound, out, wanted and free on one day, by model and by tape."""

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date
from typing import Any

from pydantic import BaseModel, Field
from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from service.planning.snapshot.availability import Claims, read_claims
from service.planning.snapshot.house import DecoderKind, House, SourceKind, read_house
from service.reports.report import Report, ReportAsk, counted
from service.season.records import Hold, OrderLine, Production
from service.shows.records import Element, ElementStatus, Piece, PieceCut, Run
from service.stock.records import Cut, Reel, Tape

NOT_WANTED = (ElementStatus.CUT_FROM_SHOW, ElementStatus.STRUCK)


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
    longest_m: float | None = Field(default=None, description="tape: longest single length")
    wanted_by: list[str] = Field(default=[], description="codes of the shows that want it")


@dataclass(frozen=True, slots=True)
class _Use:
    wanted: Counter[str]  # per production
    out: int
    overdue: int


def rows(session: Session, ask: ReportAsk) -> list[Row]:
    house, claims = read_house(session), read_claims(session, ask.known_on)
    return [*_gear(session, house, claims, ask.as_of), *_tapes(session, ask)]


def _gear(session: Session, house: House, claims: Claims, day: date) -> list[Row]:
    incoming = _incoming(session, OrderLine.model_id.expression, OrderLine.quantity.expression)
    found = []
    kinds: list[SourceKind | DecoderKind] = [*house.sources.values(), *house.decoders.values()]
    for kind in sorted(kinds, key=lambda k: k.tag):
        units = [u for u in house.units.values() if u.model_id == kind.id]
        use = _use(house, claims, kind.id, day)
        sound = sum(u.is_sound for u in units)
        usable = sound - use.overdue
        wanted = sum(use.wanted.values())
        found.append(
            Row(
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
        )
    order = {"supply": 0, "decoder": 1, "battery": 2}
    return sorted(found, key=lambda r: (order.get(r.kind, 3), r.item))


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


def _incoming(
    session: Session, key: ColumnElement[int | None], amount: ColumnElement[Any]
) -> dict[int, float]:
    query = (
        select(key, func.sum(amount)).where(OrderLine.received_on.is_(None), key.is_not(None)).group_by(key)
    )
    return {row[0]: float(row[1]) for row in session.execute(query)}


def _tapes(session: Session, ask: ReportAsk) -> list[Row]:
    left: dict[int, list[int]] = defaultdict(list)
    for tape_id, pitches in session.execute(
        select(Reel.tape_id, func.sum(Cut.change_pitches))
        .join(Cut, Cut.reel_id == Reel.id)
        .where(
            Cut.is_disputed.is_(False), Cut.cut_on <= ask.as_of, Reel.state.not_in(("scrap", "written off"))
        )
        .group_by(Reel.id, Reel.tape_id)
    ):
        left[tape_id].append(pitches)
    wanted = _tape_wanted(session, ask.known_on)
    incoming = _incoming(session, OrderLine.tape_id.expression, OrderLine.quantity * OrderLine.reel_pitches)
    found = []
    for tape_id, tag, pitch_um in session.execute(
        select(Tape.id, Tape.tag, Tape.pitch_um).where(Tape.retired_on.is_(None)).order_by(Tape.tag_key)
    ):
        metre = pitch_um / 1e6
        shelf, want = sum(left[tape_id]), sum(wanted[tape_id].values())
        found.append(
            Row(
                kind="tape",
                item=tag,
                unit="m",
                owned=_m(shelf, metre),
                usable=_m(shelf, metre),
                out=0,
                wanted=_m(want, metre),
                free=_m(max(0, shelf - want), metre),
                short=_m(max(0, want - shelf), metre),
                incoming=_m(incoming.get(tape_id, 0), metre),
                longest_m=_m(max(left[tape_id], default=0), metre),
                wanted_by=sorted(code for code, pitches in wanted[tape_id].items() if pitches),
            )
        )
    return found


def _m(pitches: float, metre: float) -> float:
    return round(pitches * metre, 6)


def _tape_wanted(session: Session, day: date) -> dict[int, Counter[str]]:
    """Pitches per tape and production: the larger of what is held and what is still uncut."""
    held: dict[int, Counter[str]] = defaultdict(Counter)
    live = (Production.return_by >= day, Production.retired_on.is_(None))
    for tape_id, code, pitches in session.execute(
        select(func.coalesce(Hold.tape_id, Reel.tape_id), Production.tag, func.sum(Hold.pitches))
        .join(Production, Production.id == Hold.production_id)
        .outerjoin(Reel, Reel.id == Hold.reel_id)
        .where(Hold.pitches.is_not(None), *live)
        .group_by(func.coalesce(Hold.tape_id, Reel.tape_id), Production.tag)
    ):
        held[tape_id][code] = pitches or 0
    cut = select(PieceCut.id).where(PieceCut.piece_id == Piece.id).exists()
    for kind_id, code, uncut in session.execute(
        select(Element.tape_id, Production.tag, func.sum(Piece.cut_pitches))
        .join(Run, Run.element_id == Element.id)
        .join(Piece, Piece.run_id == Run.id)
        .join(Production, Production.id == Element.production_id)
        .where(Element.tape_id.is_not(None), Element.status.not_in(NOT_WANTED), ~cut, *live)
        .group_by(Element.tape_id, Production.tag)
    ):
        if kind_id is not None:
            held[kind_id][code] = max(held[kind_id][code], uncut or 0)
    return held


REPORT = Report("stock-use", "Stock on one day", Row, rows, counted)
