"""The rows of productions read for a snapshot: the same few statements for one production as for all."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from functools import cache
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session

from service.planning.records import Allotment, Patch, Placing, Plan, PlanStatus
from service.planning.snapshot.show import (
    ElementRow,
    EmitterRow,
    PieceRow,
    PlanRow,
    ProductionRow,
    RunRow,
    ScenicRow,
    ShowRows,
    TapeRow,
)
from service.planning.snapshot.surroundings import (
    control_lines,
    film_days,
    lead_fuses,
    running_orders,
    unit_fuses,
)
from service.season.records import Production
from service.shows.faults import BenchTest
from service.shows.measured import FIGURES, LoadBasis, is_test_in_force, load_basis
from service.shows.records import Element, Group, Piece, PieceCut, Run, ScenicUnit
from service.stock.records import Cut, Emitter, Reel, Tape


def read_show(session: Session, production: Production, plan: Plan | None = None) -> ShowRows:
    """The rows of a production; `plan` None reads the kept one."""
    return read_shows(session, [production], None if plan is None else {production.id: plan})[0]


def read_shows(
    session: Session, productions: Sequence[Production], plans: Mapping[int, Plan] | None = None
) -> list[ShowRows]:
    """The rows of each production, in order; `plans` by production, the kept ones where none are given."""
    ids = [production.id for production in productions]
    if plans is None:
        plans = _kept_plans(session, ids)
    units, of_plans = _scenic_units(session, ids), _plan_rows(session, [p.id for p in plans.values()])
    elements, films = _elements(session, ids, units), film_days(session, ids)
    fuses, lines = unit_fuses(session), control_lines(session, ids)
    shows = []
    for production in productions:
        plan = plans.get(production.id)
        rows = of_plans[plan.id] if plan is not None else _PlanRows()
        shows.append(
            ShowRows(
                ProductionRow(**{f.name: getattr(production, f.name) for f in fields(ProductionRow)}),
                tuple(elements[production.id]),
                units[production.id],
                None if plan is None else PlanRow(plan.id, plan.from_on, plan.until_on),
                rows.allotments,
                rows.placings,
                tuple(rows.patches),
                tuple(films[production.id]),
                fuses,
                lines[production.id],
            )
        )
    return shows


def _kept_plans(session: Session, ids: Sequence[int]) -> dict[int, Plan]:
    kept = select(Plan).where(Plan.production_id.in_(ids), Plan.status == PlanStatus.KEPT)
    return {plan.production_id: plan for plan in session.scalars(kept)}


def _scenic_units(session: Session, ids: Sequence[int]) -> Mapping[int, dict[int, ScenicRow]]:
    """By production, then by number."""
    units: dict[int, dict[int, ScenicRow]] = defaultdict(dict)
    for row in session.execute(
        select(
            ScenicUnit.production_id, ScenicUnit.id, ScenicUnit.name, ScenicUnit.motion, ScenicUnit.zone,
            ScenicUnit.has_travelling_cable, ScenicUnit.place_id,
        ).where(ScenicUnit.production_id.in_(ids))
    ):  # fmt: skip
        units[row.production_id][row.id] = ScenicRow(*row[1:])
    return units


def _elements(
    session: Session, ids: Sequence[int], units: Mapping[int, dict[int, ScenicRow]]
) -> Mapping[int, list[ElementRow]]:
    """By production, in the order they were made."""
    tapes, bases, runs = read_tapes(session), _bases(session, ids), _runs(session, ids)
    cues = running_orders(session, ids)
    named = select(Group.id, Group.name).where(Group.production_id.in_(ids))
    groups = {row.id: row.name for row in session.execute(named)}
    rows = session.execute(
        select(
            Element.production_id, Element.id, Element.tag, Element.name, Element.scenic_unit_id,
            Element.place_id, Element.tape_id, Element.wired, Element.is_dimmed, Element.control_group_id,
            Element.match_group_id, Element.mount, Element.zone, Element.needs_battery,
            Element.needs_wireless, Element.priority, Element.status, Element.cap_pct,
        )
        .where(Element.production_id.in_(ids), Element.retired_on.is_(None))
        .order_by(Element.id)
    )  # fmt: skip

    @cache  # many elements of one tape draw alike: facts made of the very same row are shared too
    def drawing(tape_id: int | None, basis: LoadBasis | None) -> TapeRow | None:
        tape = tapes.get(tape_id or 0)
        return tape and tape.drawing(basis)

    elements: dict[int, list[ElementRow]] = defaultdict(list)
    for e in rows:
        unit = units[e.production_id].get(e.scenic_unit_id) if e.production_id in units else None
        tape = drawing(e.tape_id, bases[e.id])
        wired = tuple(e.wired.split()) if e.wired else tuple(x.name for x in tape.emitters) if tape else ()
        elements[e.production_id].append(
            ElementRow(
                e.id, e.tag, e.name, tape, wired, e.is_dimmed, groups.get(e.control_group_id, ""),
                groups.get(e.match_group_id, ""), e.mount,
                (e.zone or (unit.zone if unit else None) or "dry"),
                unit.motion if unit else "static",
                unit is not None and unit.has_travelling_cable,
                e.scenic_unit_id, unit.name if unit else "",
                e.place_id or (unit.place_id if unit else None),
                e.needs_battery, e.needs_wireless, e.priority, e.status, e.cap_pct,
                tuple(runs.get(e.id, ())), tuple(cues.get(e.id, ())),
            )
        )  # fmt: skip
    return elements


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


def _bases(session: Session, ids: Sequence[int]) -> dict[int, LoadBasis | None]:
    """What the loads of each element rest on."""
    rows = session.execute(
        select(Element.id, *FIGURES)
        .outerjoin(Tape, Tape.id == Element.tape_id)
        .outerjoin(BenchTest, is_test_in_force())
        .where(Element.production_id.in_(ids))
    )
    return {row.id: load_basis(row._mapping) for row in rows}


def _runs(session: Session, ids: Sequence[int]) -> dict[int, list[RunRow]]:
    lots: dict[int, list[str]] = {}
    of_show = (
        select(Piece.id)
        .join(Run, Run.id == Piece.run_id)
        .join(Element, Element.id == Run.element_id)
        .where(Element.production_id.in_(ids))
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
    fuses = lead_fuses(session, ids)
    for r in session.execute(
        select(
            Run.id, Run.element_id, Run.number, Run.feed_style, Run.lead_um, Run.lead_gauge, Run.lead_cores,
            Run.lead_connector_id,
        )
        .join(Element, Element.id == Run.element_id)
        .where(Element.production_id.in_(ids))
        .order_by(Run.element_id, Run.number)
    ):  # fmt: skip
        found.setdefault(r.element_id, []).append(
            RunRow(
                r.id, r.number, r.feed_style, r.lead_um, r.lead_gauge, tuple(pieces.get(r.id, ())),
                r.lead_cores, r.lead_connector_id, tuple(fuses.get(r.id, ())),
            )
        )  # fmt: skip
    return found


@dataclass(slots=True)
class _PlanRows:
    allotments: dict[int, Row[Any]] = field(default_factory=dict)  # by run
    placings: dict[int, Row[Any]] = field(default_factory=dict)  # by unit
    patches: list[Row[Any]] = field(default_factory=list)


def _plan_rows(session: Session, ids: Sequence[int]) -> Mapping[int, _PlanRows]:
    """By plan."""
    found: dict[int, _PlanRows] = defaultdict(_PlanRows)
    a, p, s = Allotment.__table__.c, Placing.__table__.c, Patch.__table__.c
    for row in session.execute(select(*a).where(a.plan_id.in_(ids)).order_by(a.run_id)):
        found[row.plan_id].allotments[row.run_id] = row
    for row in session.execute(select(*p).where(p.plan_id.in_(ids)).order_by(p.unit_id)):
        found[row.plan_id].placings[row.unit_id] = row
    patches = select(*s).where(s.plan_id.in_(ids)).order_by(s.universe, s.start, s.decoder_id, s.port)
    for row in session.execute(patches):
        found[row.plan_id].patches.append(row)
    return found
