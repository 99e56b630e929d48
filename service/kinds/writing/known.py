"""What rows of sheets refer to, read from the store by key: a few plain facts of each thing."""

from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cached_property, partial
from typing import TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from service.kinds.writing.context import Context, Index
from service.planning.records import Patch, Placing, Plan, PlanStatus
from service.season.records import FilmDay, Hold, OrderLine, OtherLoad, Production
from service.shows.records import Cue, Element, Group, GroupKind, Piece, Run, ScenicUnit
from service.stock.gear import DecoderModel, GearKind, GearModel, SupplyOutput, Unit
from service.stock.records import Cut, Emitter, Outlet, Place, PolicyRow, Reach, Reel, Tape, Venue, Wire
from service.store.base import Tagged

R = TypeVar("R")


@dataclass(slots=True)
class TapeFacts:
    id: int
    tag: str
    pitch_um: int
    emitters: tuple[str, ...]


@dataclass(slots=True)
class ModelFacts:
    """`places`: outputs of a supply, channels of a decoder."""

    id: int
    tag: str
    kind: GearKind
    places: int = 1
    footprints: Mapping[str, int | None] = field(default_factory=dict)


@dataclass(slots=True)
class UnitFacts:
    id: int
    tag: str
    kind: GearKind
    model: ModelFacts | None


@dataclass(slots=True)
class ReelFacts:
    id: int
    tag: str
    tape: TapeFacts
    left_pitches: int
    state: str
    state_was_given: bool = False


@dataclass(slots=True)
class ProductionFacts:
    """The window gear is out for, first and last day, both inclusive."""

    id: int
    tag: str
    from_on: date
    to_on: date

    @property
    def until_on(self) -> date:
        return self.to_on + timedelta(days=1)


@dataclass(slots=True)
class RunFacts:
    id: int
    number: int
    pieces: list[int] = field(default_factory=list)  # ids in order


@dataclass(slots=True)
class ElementFacts:
    id: int
    tag: str
    production: str  # its tag
    tape: str  # code, or nothing while it is undecided
    runs: list[RunFacts]

    def piece(self, number: int) -> int | None:
        """Pieces count through the whole element, run after run."""
        ids = [piece for run in self.runs for piece in run.pieces]
        return ids[number - 1] if 1 <= number <= len(ids) else None


def window(p: Production) -> tuple[date, date]:
    return p.needed_from or p.build_start, p.needed_to or p.return_by


class Known:
    """The indexes of one import, each read from the store when something first asks for it."""

    def __init__(self, ctx: Context) -> None:
        self.session = ctx.session
        self.new_plans: dict[str, int] = {}  # by production tag
        self._others: dict[str, Index[int]] = {}

    def _index(
        self, kind: str, read: Callable[[Session], dict[str, R]], record: type[Tagged] | None = None
    ) -> Index[R]:
        return Index(kind, partial(read, self.session), retired=lambda: _retired(self.session, record))

    def others(
        self, kind: str, read: Callable[[Session], dict[str, int]], record: type[Tagged] | None = None
    ) -> Index[int]:
        """The index of a kind that only one sheet or two refer to: its key to its number in the store."""
        if kind not in self._others:
            self._others[kind] = self._index(kind, read, record)
        return self._others[kind]

    @cached_property
    def venues(self) -> Index[int]:
        return self._index("venue", _venues)

    @cached_property
    def places(self) -> Index[int]:
        return self._index("place", _places, Place)

    @cached_property
    def reaches(self) -> Index[int]:
        """By the tags of the place and of where the gear stands."""
        return self._index("reach", _reaches)

    @cached_property
    def rules(self) -> Index[int]:
        return self._index("house rule", _rules)

    @cached_property
    def wires(self) -> Index[int]:
        return self._index("wire", _wires)

    @cached_property
    def tapes(self) -> Index[TapeFacts]:
        return self._index("tape", _tapes, Tape)

    @cached_property
    def models(self) -> Index[ModelFacts]:
        return self._index("model", _models, GearModel)

    @cached_property
    def units(self) -> Index[UnitFacts]:
        return Index(
            "unit", lambda: _units(self.session, self.models), retired=lambda: _retired(self.session, Unit)
        )

    @cached_property
    def outlets(self) -> Index[int]:
        return self._index("outlet", _outlets, Outlet)

    @cached_property
    def reels(self) -> Index[ReelFacts]:
        return Index(
            "reel", lambda: _reels(self.session, self.tapes), retired=lambda: _retired(self.session, Reel)
        )

    @cached_property
    def productions(self) -> Index[ProductionFacts]:
        return self._index("production", _productions, Production)

    @cached_property
    def scenic_units(self) -> Index[int]:
        return self._index("scenic unit", _scenic_units)

    @cached_property
    def groups(self) -> Index[int]:
        return self._index("group", _groups)

    @cached_property
    def film_days(self) -> Index[int]:
        return self._index("film day", _film_days)

    @cached_property
    def other_loads(self) -> Index[int]:
        return self._index("other load", _other_loads)

    @cached_property
    def cues(self) -> Index[int]:
        return self._index("cue", _cues)

    @cached_property
    def elements(self) -> Index[ElementFacts]:
        return self._index("element", _elements, Element)

    @cached_property
    def cuts(self) -> Index[int]:
        return self._index("cut", _cuts)

    @cached_property
    def holds(self) -> Index[int]:
        return self._index("hold", _holds)

    @cached_property
    def orders(self) -> Index[int]:
        return self._index("order line", _orders)

    @cached_property
    def plans(self) -> Index[int]:
        """Kept plans, by production tag."""
        return self._index("plan", _plans)

    @cached_property
    def standing(self) -> Index[int]:
        """Where gear stands in kept plans, by production and unit."""
        return self._index("gear on stage", _standing)

    @cached_property
    def addresses(self) -> Index[int]:
        """Of kept plans, by production, decoder and port."""
        return self._index("address", _addresses)


def _retired(session: Session, record: type[Tagged] | None) -> frozenset[str]:
    if record is None:
        return frozenset()
    return frozenset(session.scalars(select(record.tag_key).where(record.retired_on.is_not(None))))


def _venues(session: Session) -> dict[str, int]:
    return {name.upper(): i for i, name in session.execute(select(Venue.id, Venue.name))}


def _places(session: Session) -> dict[str, int]:
    return {key: i for i, key in session.execute(select(Place.id, Place.tag_key))}


def _reaches(session: Session) -> dict[str, int]:
    gear = aliased(Place)
    rows = session.execute(
        select(Reach.id, Place.tag_key, gear.tag_key)
        .join(Place, Reach.place_id == Place.id)
        .join(gear, Reach.gear_place_id == gear.id)
    )
    return {f"{place}\t{stands}": i for i, place, stands in rows}


def _rules(session: Session) -> dict[str, int]:
    return {name.upper(): i for i, name in session.execute(select(PolicyRow.id, PolicyRow.name))}


def _wires(session: Session) -> dict[str, int]:
    rows = session.execute(select(Wire.id, Wire.gauge, Wire.cores))
    return {f"{gauge}\t{cores}".upper(): i for i, gauge, cores in rows}


def _tapes(session: Session) -> dict[str, TapeFacts]:
    names: dict[int, list[str]] = defaultdict(list)
    for tape_id, name in session.execute(
        select(Emitter.tape_id, Emitter.name).order_by(Emitter.tape_id, Emitter.position)
    ):
        names[tape_id].append(name)
    rows = session.execute(select(Tape.id, Tape.tag, Tape.tag_key, Tape.pitch_um))
    return {key: TapeFacts(i, tag, pitch_um, tuple(names[i])) for i, tag, key, pitch_um in rows}


def _models(session: Session) -> dict[str, ModelFacts]:
    outputs: dict[int, int] = defaultdict(int)
    for (model_id,) in session.execute(select(SupplyOutput.model_id)):
        outputs[model_id] += 1
    decoders = {
        i: (channels, {"8-bit": eight, "16-bit": sixteen})
        for i, channels, eight, sixteen in session.execute(
            select(
                DecoderModel.id,
                DecoderModel.channels,
                DecoderModel.footprint_8bit,
                DecoderModel.footprint_16bit,
            )
        )
    }
    models: dict[str, ModelFacts] = {}
    for i, tag, key, kind in session.execute(
        select(GearModel.id, GearModel.tag, GearModel.tag_key, GearModel.kind)
    ):
        channels, footprints = decoders.get(i, (1, {}))
        models[key] = ModelFacts(i, tag, kind, outputs.get(i, channels), footprints)
    return models


def _units(session: Session, models: Index[ModelFacts]) -> dict[str, UnitFacts]:
    by_id = {model.id: model for model in models.things.values()}
    rows = session.execute(select(Unit.id, Unit.tag, Unit.tag_key, Unit.kind, Unit.model_id))
    return {
        key: UnitFacts(i, tag, kind, None if model_id is None else by_id.get(model_id))
        for i, tag, key, kind, model_id in rows
    }


def _outlets(session: Session) -> dict[str, int]:
    return {key: i for i, key in session.execute(select(Outlet.id, Outlet.tag_key))}


def _reels(session: Session, tapes: Index[TapeFacts]) -> dict[str, ReelFacts]:
    by_id = {tape.id: tape for tape in tapes.things.values()}
    rows = session.execute(
        select(Reel.id, Reel.tag, Reel.tag_key, Reel.tape_id, Reel.left_pitches, Reel.state)
    )
    return {key: ReelFacts(i, tag, by_id[tape], left, state) for i, tag, key, tape, left, state in rows}


def _productions(session: Session) -> dict[str, ProductionFacts]:
    return {p.tag_key: ProductionFacts(p.id, p.tag, *window(p)) for p in session.scalars(select(Production))}


def _scenic_units(session: Session) -> dict[str, int]:
    rows = session.execute(
        select(ScenicUnit.id, Production.tag_key, ScenicUnit.name).join(
            Production, ScenicUnit.production_id == Production.id
        )
    )
    return {f"{production}\t{name}".upper(): i for i, production, name in rows}


def _groups(session: Session) -> dict[str, int]:
    rows = session.execute(select(Group.id, Group.production_id, Group.kind, Group.name))
    return {group_key(production_id, kind, name): i for i, production_id, kind, name in rows}


def group_key(production_id: int, kind: GroupKind, name: str) -> str:
    return f"{production_id}\t{kind.value}\t{name}".upper()


def _film_days(session: Session) -> dict[str, int]:
    rows = session.execute(
        select(FilmDay.id, Production.tag_key, FilmDay.filmed_on).join(
            Production, FilmDay.production_id == Production.id
        )
    )
    return {f"{production}\t{filmed_on}": i for i, production, filmed_on in rows}


def _other_loads(session: Session) -> dict[str, int]:
    rows = session.execute(
        select(OtherLoad.id, Outlet.tag_key, Production.tag_key, OtherLoad.what)
        .join(Outlet, OtherLoad.outlet_id == Outlet.id)
        .outerjoin(Production, OtherLoad.production_id == Production.id)
    )
    return {f"{outlet}\t{show or ''}\t{what}".upper().strip(): i for i, outlet, show, what in rows}


def _cues(session: Session) -> dict[str, int]:
    rows = session.execute(
        select(Cue.id, Element.tag_key, Cue.number).join(Element, Cue.element_id == Element.id)
    )
    return {f"{element}\t{number}": i for i, element, number in rows}


def _elements(session: Session) -> dict[str, ElementFacts]:
    pieces: dict[int, list[int]] = defaultdict(list)
    for piece_id, run_id in session.execute(
        select(Piece.id, Piece.run_id).order_by(Piece.run_id, Piece.number)
    ):
        pieces[run_id].append(piece_id)
    runs: dict[int, list[RunFacts]] = defaultdict(list)
    for run_id, element_id, number in session.execute(
        select(Run.id, Run.element_id, Run.number).order_by(Run.element_id, Run.number)
    ):
        runs[element_id].append(RunFacts(run_id, number, pieces[run_id]))
    rows = session.execute(
        select(Element.id, Element.tag, Element.tag_key, Production.tag, Tape.tag)
        .join(Production, Element.production_id == Production.id)
        .outerjoin(Tape, Element.tape_id == Tape.id)
    )
    return {
        key: ElementFacts(i, tag, production, tape or "", runs[i]) for i, tag, key, production, tape in rows
    }


def _cuts(session: Session) -> dict[str, int]:
    return {number.upper(): i for i, number in session.execute(select(Cut.id, Cut.number)) if number}


def _holds(session: Session) -> dict[str, int]:
    return {number.upper(): i for i, number in session.execute(select(Hold.id, Hold.number)) if number}


def _orders(session: Session) -> dict[str, int]:
    rows = session.execute(select(OrderLine.id, OrderLine.order_number, OrderLine.line))
    return {f"{number}\t{line}".upper(): i for i, number, line in rows}


def _plans(session: Session) -> dict[str, int]:
    rows = session.execute(
        select(Plan.id, Production.tag_key)
        .join(Production, Plan.production_id == Production.id)
        .where(Plan.status == PlanStatus.KEPT)
    )
    return {key: i for i, key in rows}


def _standing(session: Session) -> dict[str, int]:
    rows = session.execute(
        select(Placing.id, Production.tag_key, Unit.tag_key)
        .join(Plan, Placing.plan_id == Plan.id)
        .join(Production, Plan.production_id == Production.id)
        .join(Unit, Placing.unit_id == Unit.id)
        .where(Plan.status == PlanStatus.KEPT)
    )
    return {f"{production}\t{unit}": i for i, production, unit in rows}


def _addresses(session: Session) -> dict[str, int]:
    rows = session.execute(
        select(Patch.id, Production.tag_key, Unit.tag_key, Patch.port)
        .join(Plan, Patch.plan_id == Plan.id)
        .join(Production, Plan.production_id == Production.id)
        .join(Unit, Patch.decoder_id == Unit.id)
        .where(Plan.status == PlanStatus.KEPT)
    )
    return {f"{production}\t{decoder}\t{port or ''}".strip(): i for i, production, decoder, port in rows}
