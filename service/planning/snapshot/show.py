"""One production's rows as they are stored: elements, runs, pieces, and the feeds of one plan."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import NotFound
from service.limits.basis import NOMINAL
from service.limits.facts import CueFacts, FuseFacts, LineFacts
from service.planning.records import Plan, PlanStatus
from service.season.records import Production
from service.shows.measured import LoadBasis, shares
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
    lead_cores: int | None = None
    lead_connector_id: int | None = None
    fuses_a: tuple[float, ...] = ()

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
    cues: tuple[CueFacts, ...] = ()


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
    film_days: tuple[date, ...] = ()
    unit_fuses: Mapping[int, tuple[FuseFacts, ...]] = field(default_factory=dict)  # by unit id
    lines: Mapping[int, LineFacts] = field(default_factory=dict)  # by number

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
