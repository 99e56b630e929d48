"""What the tape of an element draws: measured beats nominal, and says so. Every load comes from here."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from typing import Any

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import aliased

from service.limits.basis import NOMINAL
from service.shows.faults import BenchTest
from service.shows.records import Element
from service.stock.records import Emitter, Tape

SMALLEST_W_PER_M = Decimal("0.000001")


@dataclass(frozen=True, slots=True)
class LoadBasis:
    """`w_per_m`: all emitters together at full; `says`: what the figure rests on."""

    w_per_m: float
    says: str = NOMINAL


def load_basis(row: Mapping[Any, Any]) -> LoadBasis | None:
    """What the loads of an element rest on, from the columns `FIGURES`; None while its tape is undecided.

    The latest bench test of the element that passed and measured its tape, else what the house measured of
    that kind of tape, else the sum of the maker's figures.
    Source: common practice: what the piece itself drew says more than the sheet of its kind.
    """
    if row["test_w_per_m"] is not None:
        by = f" by {row['tested_by']}" if row["tested_by"] else ""
        said = f"measured {row['test_w_per_m']:g} W/m, bench test {row['tested_on']}{by}"
        return LoadBasis(row["test_w_per_m"], said)
    if row["tape_w_per_m"] is not None:
        return LoadBasis(row["tape_w_per_m"], f"measured {row['tape_w_per_m']:g} W/m, sample of the tape")
    if row["nominal_w_per_m"] is None:
        return None
    return LoadBasis(row["nominal_w_per_m"])


def shares(emitters_w_per_m: Sequence[float], w_per_m: float) -> tuple[float, ...]:
    """What each emitter draws when all together draw `w_per_m`: as their nominal figures stand to one
    another, to a µW a metre; the last takes what is over, so that in decimals they add up exactly.

    >>> shares((4.8, 4.8, 4.8), 14.5)
    (4.833333, 4.833333, 4.833334)
    >>> shares((4.8, 2.4), 7.2)
    (4.8, 2.4)
    """
    nominal = [Decimal(str(each)) for each in emitters_w_per_m]
    whole, wanted = sum(nominal, Decimal(0)), Decimal(str(w_per_m))
    if whole == wanted:
        return tuple(emitters_w_per_m)
    found = [(wanted * each / whole).quantize(SMALLEST_W_PER_M, ROUND_FLOOR) for each in nominal]
    found[-1] = wanted - sum(found[:-1], Decimal(0))
    return tuple(float(each) for each in found)


_newer = aliased(BenchTest)


def is_test_in_force() -> ColumnElement[bool]:
    """The condition on which `BenchTest` is joined to `Element`: its latest that passed and measured the tape
    it now has."""
    latest = (
        select(_newer.id)
        .where(
            _newer.element_id == Element.id,
            _newer.tape_id == Element.tape_id,
            _newer.passed.is_(True),
            _newer.measured_w_per_m.is_not(None),
        )
        .order_by(_newer.tested_on.desc(), _newer.id.desc())
        .limit(1)
        .correlate(Element)
        .scalar_subquery()
    )
    return BenchTest.id == latest


FIGURES: tuple[ColumnElement[Any], ...] = (
    select(func.sum(Emitter.w_per_m))
    .where(Emitter.tape_id == Tape.id)
    .correlate(Tape)
    .scalar_subquery()
    .label("nominal_w_per_m"),
    Tape.measured_w_per_m.label("tape_w_per_m"),
    BenchTest.measured_w_per_m.label("test_w_per_m"),
    BenchTest.tested_on.label("tested_on"),
    BenchTest.tested_by.label("tested_by"),
)
