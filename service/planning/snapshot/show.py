"""One production's rows as they are stored: elements, runs, pieces, and the feeds of one plan."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date, timedelta
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from service.errors import NotFound
from service.limits.basis import NOMINAL
from service.planning.records import Allotment, Patch, Placing, Plan, PlanStatus
from service.season.records import Production
from service.shows.faults import BenchTest
from service.shows.measured import FIGURES, LoadBasis, is_test_in_force, load_basis, shares
from service.shows.records import Element, Group, Piece, PieceCut, Run, ScenicUnit
from service.stock.records import Cut, Emitter, Reel, Tape
from service.store.base import tag_key


@dataclass(frozen=True, slots=True)
class EmitterRow:
    name: str
    w_per_m: float
    return_ohm_per_m: float | None


@dataclass(frozen=True, slots=True)
class TapeRow:
    id: int
    tag: str
    class_v: float
    polarity: str
    signal: str
    pitch_um: int
    max_run_um: int | None
    common_ohm_per_m: float | None
    ip: int | None
    pwm_hz: float | None
    pixels_per_m: float | None
    slots_per_pixel: int | None
    pixel_idle_w: float | None
    emitters: tuple[EmitterRow, ...] = ()
    load_basis: str = NOMINAL

    def drawing(self, basis: LoadBasis | None) -> "TapeRow":
        """The same tape with emitters that draw what the basis says."""
        if basis is None or not self.emitters:
            return self
        drawn = shares([e.w_per_m for e in self.emitters], basis.w_per_m)
        emitters = (replace(e, w_per_m=w) for e, w in zip(self.emitters, drawn, strict=True))
        return replace(self, emitters=tuple(emitters), load_basis=basis.says)


@dataclass(frozen=True, slots=True)
class PieceRow:
    number: int
    drawn_um: int
    cut_pitches: int | None
    lots: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RunRow:
    id: int
    number: int
    feed_style: str
    lead_um: int | None
    lead_gauge: str | None
    pieces: tuple[PieceRow, ...]

    @property
    def pitches(self) -> int:
        return sum(p.cut_pitches or 0 for p in self.pieces)


@dataclass(frozen=True, slots=True)
class ElementRow:
    id: int
    tag: str
    name: str
    tape: TapeRow | None
    wired: tuple[str, ...]
    is_dimmed: bool
    control_group: str
    match_group: str
    mount: str | None
    zone: str
    motion: str
    travelling_cable: bool
    scenic_unit_id: int | None
    scenic_unit: str
    place_id: int | None
    needs_battery: bool
    needs_wireless: bool
    priority: int
    status: str
    cap_pct: float | None
    runs: tuple[RunRow, ...]


@dataclass(frozen=True, slots=True)
class ProductionRow:
    """A production's own dates, inclusive as shown, and where it plays."""

    id: int
    tag: str
    venue_id: int
    build_start: date
    load_in: date
    tech: date | None
    first_preview: date | None
    opening: date | None
    closing: date
    strike_end: date
    return_by: date
    needed_from: date | None
    needed_to: date | None
    default_universe: int | None


@dataclass(frozen=True, slots=True)
class PlanRow:
    """Half-open days for which a plan wants gear."""

    id: int
    from_on: date
    until_on: date


@dataclass(frozen=True, slots=True)
class ScenicRow:
    id: int
    name: str
    motion: str
    zone: str
    has_travelling_cable: bool
    place_id: int


@dataclass(frozen=True, slots=True)
class ShowRows:
    """`allotments`, `placings`, `patches` are those of `plan`, the kept one unless another was asked for."""

    production: ProductionRow
    elements: tuple[ElementRow, ...]
    scenic_units: Mapping[int, ScenicRow]
    plan: PlanRow | None
    allotments: Mapping[int, Any]  # by run id; rows read, or a draft not stored yet
    placings: Mapping[int, Any]  # by unit id
    patches: Sequence[Any]

    @property
    def scenic_places(self) -> dict[int, int]:
        """The place that each scenic unit itself is."""
        return {unit.id: unit.place_id for unit in self.scenic_units.values()}

    @property
    def window(self) -> tuple[date, date]:
        """Half-open days for which gear is wanted."""
        return window_of(self.production)


def window_of(production: Production | ProductionRow) -> tuple[date, date]:
    """Half-open days: build start (or the day given instead) through return by."""
    last = production.needed_to or production.return_by
    return production.needed_from or production.build_start, last + timedelta(days=1)


def find_production(session: Session, code: str) -> Production:
    found = session.scalars(select(Production).where(Production.tag_key == tag_key(code))).one_or_none()
    if found is None:
        raise NotFound(f"no production has the code {code!r}", "List the productions to see their codes.")
    return found


def kept_plan(session: Session, production_id: int) -> Plan | None:
    return session.scalars(
        select(Plan).where(Plan.production_id == production_id, Plan.status == PlanStatus.KEPT)
    ).one_or_none()


def read_show(session: Session, production: Production, plan: Plan | None = None) -> ShowRows:
    """The rows of a production; `plan` None reads the kept one."""
    plan = plan or kept_plan(session, production.id)
    tapes = read_tapes(session)
    units = {
        row.id: ScenicRow(*row)
        for row in session.execute(
            select(
                ScenicUnit.id, ScenicUnit.name, ScenicUnit.motion, ScenicUnit.zone,
                ScenicUnit.has_travelling_cable, ScenicUnit.place_id,
            ).where(ScenicUnit.production_id == production.id)
        )
    }  # fmt: skip
    bases = _bases(session, production.id)
    runs = _runs(session, production.id)
    groups = {
        row.id: row.name
        for row in session.execute(select(Group.id, Group.name).where(Group.production_id == production.id))
    }
    rows = session.execute(
        select(
            Element.id, Element.tag, Element.name, Element.scenic_unit_id, Element.place_id, Element.tape_id,
            Element.wired, Element.is_dimmed, Element.control_group_id, Element.match_group_id, Element.mount,
            Element.zone, Element.needs_battery, Element.needs_wireless, Element.priority, Element.status,
            Element.cap_pct,
        )
        .where(Element.production_id == production.id, Element.retired_on.is_(None))
        .order_by(Element.id)
    )  # fmt: skip
    elements = []
    for e in rows:
        unit = units.get(e.scenic_unit_id)
        tape = tapes.get(e.tape_id)
        tape = tape and tape.drawing(bases[e.id])
        wired = tuple(e.wired.split()) if e.wired else tuple(x.name for x in tape.emitters) if tape else ()
        elements.append(
            ElementRow(
                e.id, e.tag, e.name, tape, wired, e.is_dimmed, groups.get(e.control_group_id, ""),
                groups.get(e.match_group_id, ""), e.mount,
                (e.zone or (unit.zone if unit else None) or "dry"),
                unit.motion if unit else "static",
                unit is not None and unit.has_travelling_cable,
                e.scenic_unit_id, unit.name if unit else "",
                e.place_id or (unit.place_id if unit else None),
                e.needs_battery, e.needs_wireless, e.priority, e.status, e.cap_pct,
                tuple(runs.get(e.id, ())),
            )
        )  # fmt: skip
    allotments, placings, patches = _plan_rows(session, plan)
    return ShowRows(
        ProductionRow(**{field.name: getattr(production, field.name) for field in fields(ProductionRow)}),
        tuple(elements),
        units,
        None if plan is None else PlanRow(plan.id, plan.from_on, plan.until_on),
        allotments,
        placings,
        patches,
    )


def read_tapes(session: Session) -> dict[int, TapeRow]:
    emitters: dict[int, list[EmitterRow]] = {}
    for row in session.execute(
        select(Emitter.tape_id, Emitter.name, Emitter.w_per_m, Emitter.return_ohm_per_m).order_by(
            Emitter.tape_id, Emitter.position
        )
    ):
        emitters.setdefault(row.tape_id, []).append(EmitterRow(row.name, row.w_per_m, row.return_ohm_per_m))
    rows = session.execute(
        select(
            Tape.id, Tape.tag, Tape.class_v, Tape.polarity, Tape.signal, Tape.pitch_um, Tape.max_run_um,
            Tape.common_ohm_per_m, Tape.ip, Tape.pwm_hz, Tape.pixels_per_m, Tape.slots_per_pixel,
            Tape.pixel_idle_w, Tape.measured_w_per_m,
        )
    )  # fmt: skip
    found = {}
    for tape_row in rows:
        figures = dict(tape_row._mapping)
        measured = {"test_w_per_m": None, "tape_w_per_m": figures.pop("measured_w_per_m")}
        tape = TapeRow(**figures, emitters=tuple(emitters.get(tape_row.id, ())))
        found[tape_row.id] = tape.drawing(load_basis(measured | {"nominal_w_per_m": None}))
    return found


def _bases(session: Session, production_id: int) -> dict[int, LoadBasis | None]:
    """What the loads of each element rest on."""
    rows = session.execute(
        select(Element.id, *FIGURES)
        .outerjoin(Tape, Tape.id == Element.tape_id)
        .outerjoin(BenchTest, is_test_in_force())
        .where(Element.production_id == production_id)
    )
    return {row.id: load_basis(row._mapping) for row in rows}


def _runs(session: Session, production_id: int) -> dict[int, list[RunRow]]:
    lots: dict[int, list[str]] = {}
    of_show = (
        select(Piece.id)
        .join(Run, Run.id == Piece.run_id)
        .join(Element, Element.id == Run.element_id)
        .where(Element.production_id == production_id)
    )
    for row in session.execute(
        select(PieceCut.piece_id, Reel.lot)
        .join(Cut, Cut.id == PieceCut.cut_id)
        .join(Reel, Reel.id == Cut.reel_id)
        .where(PieceCut.piece_id.in_(of_show), Cut.is_disputed.is_(False))
        .order_by(PieceCut.id)
    ):
        if row.lot not in lots.setdefault(row.piece_id, []):
            lots[row.piece_id].append(row.lot)
    pieces: dict[int, list[PieceRow]] = {}
    for p in session.execute(
        select(Piece.id, Piece.run_id, Piece.number, Piece.drawn_um, Piece.cut_pitches)
        .where(Piece.id.in_(of_show))
        .order_by(Piece.run_id, Piece.number)
    ):
        pieces.setdefault(p.run_id, []).append(
            PieceRow(p.number, p.drawn_um, p.cut_pitches, tuple(lots.get(p.id, ())))
        )
    found: dict[int, list[RunRow]] = {}
    for r in session.execute(
        select(Run.id, Run.element_id, Run.number, Run.feed_style, Run.lead_um, Run.lead_gauge)
        .join(Element, Element.id == Run.element_id)
        .where(Element.production_id == production_id)
        .order_by(Run.element_id, Run.number)
    ):
        found.setdefault(r.element_id, []).append(
            RunRow(r.id, r.number, r.feed_style, r.lead_um, r.lead_gauge, tuple(pieces.get(r.id, ())))
        )
    return found


def _plan_rows(
    session: Session, plan: Plan | None
) -> tuple[dict[int, Row[Any]], dict[int, Row[Any]], tuple[Row[Any], ...]]:
    if plan is None:
        return {}, {}, ()
    a, p, s = Allotment.__table__.c, Placing.__table__.c, Patch.__table__.c
    allotments = session.execute(select(*a).where(a.plan_id == plan.id).order_by(a.run_id)).all()
    placings = session.execute(select(*p).where(p.plan_id == plan.id).order_by(p.unit_id)).all()
    patches = session.execute(
        select(*s).where(s.plan_id == plan.id).order_by(s.universe, s.start, s.decoder_id, s.port)
    ).all()
    return {row.run_id: row for row in allotments}, {row.unit_id: row for row in placings}, tuple(patches)
