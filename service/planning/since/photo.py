"""A show as it stood at a moment, or as one of its plans has it: every run with what feeds it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Select, and_, case, func, or_, select
from sqlalchemy.orm import Session, aliased

from service.control.addresses import channel_slot
from service.electrical.tape import FeedStyle, leads_of
from service.planning.queries import load_w, source_limit_w
from service.planning.records import Allotment, Patch, Placing, Plan, PlanStatus
from service.shows.faults import BenchTest
from service.shows.measured import FIGURES, is_test_in_force
from service.shows.records import Element, ElementStatus, Piece, Run, ScenicUnit
from service.stock.gear import BatteryModel, GearModel, SupplyModel, Unit
from service.stock.records import Outlet, Place, PolicyRow, Tape
from service.store.lists.past import Past

GONE = (ElementStatus.STRUCK, ElementStatus.CUT_FROM_SHOW)
_supply, _decoder, _box = aliased(Unit), aliased(Unit), aliased(Unit)
_stand, _decoder_stand, _own = aliased(Place), aliased(Place), aliased(Place)
_decoder_at = aliased(Placing)
_model, _any_decoder = GearModel.__table__.alias("supply_kind"), GearModel.__table__.alias("decoder_kind")
_rating, _pack = SupplyModel.__table__.c, BatteryModel.__table__.c


@dataclass(frozen=True, slots=True)
class RunThen:
    """One run: what it is, and what feeds it. Blanks where there is nothing. `start`: its own first slot."""

    element: str
    run: int
    name: str
    place: str
    tape: str
    length_mm: float | None
    load_w: float
    supply: str = ""
    output: int = 0
    decoder: str = ""
    channels: str = ""
    universe: int | None = None
    start: int | None = None
    supply_place: str = ""
    outlet: str = ""
    box: str = ""
    decoder_place: str = ""
    limit_w: float | None = None
    lead_mm: float | None = None
    lead_gauge: str = ""
    lead_cores: int | None = None
    leads: int = 1

    @property
    def tag(self) -> str:
        return f"{self.element}/{self.run}"

    @property
    def feed(self) -> str:
        """Supply, output, decoder and channels in words; blank: dark."""
        if not self.supply:
            return ""
        through = f", {self.decoder} channel {self.channels}" if self.decoder else ""
        return f"{self.supply} output {self.output}{through}"

    @property
    def lead(self) -> str:
        """Its leads in words, as they are to be made: how many, how long, of which wire; blank: not known."""
        wire = f"{self.lead_gauge} × {self.lead_cores}" if self.lead_cores else self.lead_gauge
        length = "" if self.lead_mm is None else f"{self.lead_mm:g} mm"
        one = " of ".join(filter(None, (length, wire)))
        return f"{self.leads} leads, each {one}" if one and self.leads > 1 else one

    @property
    def address(self) -> str:
        return "" if self.universe is None else f"{self.universe}/{self.start}"

    @property
    def label(self) -> str:
        """What is written on the lead: source, then control, then its first slot."""
        parts = [f"{self.supply}·{self.output}" if self.supply else ""]
        parts += [f"{self.decoder}·{self.channels}" if self.decoder else "", self.address]
        return "  ".join(part for part in parts if part)


Photo = dict[str, RunThen]


def photo(
    session: Session, production_id: int, before: datetime | None = None, plan: int | None = None
) -> Photo:
    """Every run of the show by element and number: as it stands; as it stood before an instant; or as the
    plan of that number has it. One statement, and those that look up the past."""
    asked = _statement(production_id, plan)
    if before is not None:
        asked = Past(session, before).over(asked)
    return {run.tag: run for run in _runs(session.execute(asked).mappings())}


def _statement(production_id: int, plan: int | None) -> Select[Any]:
    which = Plan.status == PlanStatus.KEPT if plan is None else Plan.number == plan
    rules = {
        name: select(PolicyRow.value).where(PolicyRow.name == name).scalar_subquery()
        for name in ("load_factor", "open_air_degc")
    }
    pitches = (
        select(func.sum(Piece.cut_pitches)).where(Piece.run_id == Run.id).correlate(Run).scalar_subquery()
    )
    return (
        select(
            Element.tag.label("element"), Element.name, Run.number.label("run"), _own.tag.label("place"),
            Tape.tag.label("tape"), Tape.pitch_um, pitches.label("pitches"), *FIGURES,
            Run.lead_um, Run.lead_gauge, Run.lead_cores, Run.feed_style,
            _supply.tag.label("supply"), _supply.kind.label("supply_kind"), _model.c.tag.label("any_supply"),
            Allotment.id.label("allotment_id"), Allotment.output, Allotment.first_channel,
            Allotment.channels, _decoder.tag.label("decoder"), _any_decoder.c.tag.label("any_decoder"),
            Allotment.decoder_model_id, _stand.tag.label("supply_place"), Outlet.tag.label("outlet"),
            _box.tag.label("box"), _decoder_stand.tag.label("decoder_place"), Patch.universe, Patch.start,
            Patch.mode, Tape.signal,
            _rating.rated_w, _rating.load_factor, _rating.full_to_degc, _rating.derate_per_k,
            _rating.max_degc, _pack.max_a, _pack.class_v.label("pack_v"),
            rules["load_factor"].label("house_load_factor"), rules["open_air_degc"].label("house_degc"),
        )
        .select_from(Element)
        .join(Run, Run.element_id == Element.id)
        .outerjoin(ScenicUnit, ScenicUnit.id == Element.scenic_unit_id)
        .outerjoin(_own, _own.id == func.coalesce(Element.place_id, ScenicUnit.place_id))
        .outerjoin(Tape, Tape.id == Element.tape_id)
        .outerjoin(BenchTest, is_test_in_force())
        .outerjoin(Plan, and_(Plan.production_id == Element.production_id, which))
        .outerjoin(Allotment, and_(Allotment.plan_id == Plan.id, Allotment.run_id == Run.id))
        .outerjoin(_supply, _supply.id == Allotment.supply_id)
        .outerjoin(_model, _model.c.id == func.coalesce(_supply.model_id, Allotment.supply_model_id))
        .outerjoin(SupplyModel.__table__, _rating.id == _model.c.id)
        .outerjoin(BatteryModel.__table__, _pack.id == _model.c.id)
        .outerjoin(Placing, and_(Placing.plan_id == Plan.id, Placing.unit_id == _supply.id))
        .outerjoin(_stand, _stand.id == Placing.place_id)
        .outerjoin(_box, _box.id == Placing.enclosure_id)
        .outerjoin(Outlet, Outlet.id == Placing.outlet_id)
        .outerjoin(_decoder, _decoder.id == Allotment.decoder_id)
        .outerjoin(_any_decoder, _any_decoder.c.id == Allotment.decoder_model_id)
        .outerjoin(_decoder_at, and_(_decoder_at.plan_id == Plan.id, _decoder_at.unit_id == _decoder.id))
        .outerjoin(_decoder_stand, _decoder_stand.id == _decoder_at.place_id)
        .outerjoin(
            Patch,
            and_(
                Patch.plan_id == Plan.id,
                Patch.decoder_id == _decoder.id,
                Patch.port == case((Tape.signal == "pixel", Allotment.first_channel), else_=0),
            ),
        )
        .where(
            Element.production_id == production_id,
            Element.status.not_in(GONE),
            or_(Element.retired_on.is_(None)),
        )
        .order_by(Element.tag_key, Run.number)
    )  # fmt: skip


def _runs(rows: Iterable[Mapping[Any, Any]]) -> Iterable[RunThen]:
    for row in rows:
        is_fed = row["allotment_id"] is not None
        first, count = row["first_channel"], row["channels"]
        channels = "" if first is None else str(first) if count == 1 else f"{first}-{first + count - 1}"
        decoder = row["decoder"] or (f"any {row['any_decoder']}" if row["any_decoder"] else "")
        length = row["pitches"] and row["pitch_um"] and row["pitches"] * row["pitch_um"] / 1000
        yield RunThen(
            element=row["element"],
            run=row["run"],
            name=row["name"],
            place=row["place"] or "",
            tape=row["tape"] or "",
            length_mm=None if not length else float(length),
            load_w=load_w(row),
            supply=(row["supply"] or f"any {row['any_supply']}") if is_fed else "",
            output=row["output"] or 0,
            decoder=decoder,
            channels=channels,
            universe=row["universe"],
            start=_first_slot(row),
            supply_place=row["supply_place"] or "",
            outlet=row["outlet"] or "",
            box=row["box"] or "",
            decoder_place=row["decoder_place"] or "",
            limit_w=source_limit_w(row) if is_fed and not row["box"] else None,
            lead_mm=None if row["lead_um"] is None else row["lead_um"] / 1000,
            lead_gauge=row["lead_gauge"] or "",
            lead_cores=row["lead_cores"],
            leads=leads_of(FeedStyle(row["feed_style"])),
        )


def _first_slot(row: Mapping[Any, Any]) -> int | None:
    start, first = row["start"], row["first_channel"]
    if start is None or first is None or row["signal"] == "pixel":
        return None if start is None else int(start)
    return channel_slot(start, first, row["mode"])
