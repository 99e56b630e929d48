"""Which production puts what on which wall circuit, and on which days: they share it while both stand."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.planning.records import Allotment, Placing, Plan, PlanStatus
from service.planning.snapshot.fed import fed_runs
from service.planning.snapshot.show import ShowRows
from service.season.records import Production, ProductionStatus
from service.shows.faults import BenchTest
from service.shows.measured import FIGURES, is_test_in_force, load_basis
from service.shows.records import Element, ElementStatus, Piece, Run
from service.stock.records import Tape

NOT_STANDING = (ProductionStatus.IDEA, ProductionStatus.CANCELLED)


@dataclass(frozen=True, slots=True, order=True)
class Plug:
    """A supply of a kept plan on an outlet, from load-in through the end of strike, with all it feeds."""

    outlet_id: int
    production_id: int
    unit_id: int
    from_on: date
    last_on: date
    load_w: float


def read_plugs(session: Session, today: date) -> tuple[Plug, ...]:
    """Those of every production that still stands today or will."""
    pitches = (
        select(func.coalesce(func.sum(Piece.cut_pitches), 0))
        .where(Piece.run_id == Run.id)
        .correlate(Run)
        .scalar_subquery()
        .label("pitches")
    )
    loads: Counter[tuple[int, int, int, date, date]] = Counter()
    for row in session.execute(
        select(
            Placing.outlet_id, Plan.production_id, Placing.unit_id, Production.load_in, Production.strike_end,
            Tape.pitch_um, pitches, *FIGURES,
        )
        .join(Plan, Plan.id == Placing.plan_id)
        .join(Production, Production.id == Plan.production_id)
        .join(Allotment, (Allotment.plan_id == Plan.id) & (Allotment.supply_id == Placing.unit_id))
        .join(Run, Run.id == Allotment.run_id)
        .join(Element, Element.id == Run.element_id)
        .join(Tape, Tape.id == Element.tape_id)
        .outerjoin(BenchTest, is_test_in_force())
        .where(
            Plan.status == PlanStatus.KEPT,
            Placing.outlet_id.is_not(None),
            Production.strike_end >= today,
            Production.status.not_in(NOT_STANDING),
            Production.retired_on.is_(None),
            Element.retired_on.is_(None),
            Element.status != ElementStatus.CUT_FROM_SHOW,
        )
        .order_by(Run.id)
    ):  # fmt: skip
        basis = load_basis(row._mapping)
        key = (row.outlet_id, row.production_id, row.unit_id, row.load_in, row.strike_end)
        loads[key] += 0.0 if basis is None else basis.w_per_m * row.pitches * row.pitch_um / 1e6  # type: ignore[assignment]
    return tuple(sorted(Plug(*key, load_w=w) for key, w in loads.items()))


def plugs_of(rows: ShowRows) -> Iterable[Plug]:
    """The same of one production, from its rows."""
    loads: Counter[int] = Counter()
    for fed in fed_runs(rows):
        if fed.supply_id is not None:
            loads[fed.supply_id] += fed.load_w  # type: ignore[assignment]
    show = rows.production
    return [
        Plug(placing.outlet_id, show.id, unit_id, show.load_in, show.strike_end, float(loads[unit_id]))
        for unit_id, placing in rows.placings.items()
        if placing.outlet_id is not None and unit_id in loads
    ]
