"""Everything a search needs to know of some loads and the gear for them, as plain numbered tables.

A *cell* is a site with the class of the tape and the volts a supply really gives: gear in a cell serves
only loads that may be fed from there. A model in the store becomes one kind for each cell it could be
put into; its kinds share one stock row.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from service.allocation.loads import Load, bank_rows, outlet_uw, speaks_to
from service.allocation.problem import DecoderModel, Problem, Source, SupplyModel, Unit


@dataclass(frozen=True, slots=True, order=True)
class Cell:
    """Where gear may stand together: 25.6 V in the 24 V class is a cell of its own."""

    class_mv: int
    site: str
    real_mv: int

    def may_feed(self, load: Load) -> bool:
        return load.class_mv == self.class_mv and self.site in load.sites


@dataclass(frozen=True, slots=True, order=True)
class LoadType:
    """Loads that differ only in their tags. `cells` numbers the cells that may feed them."""

    load_uw: int
    channels: int
    peak_uw: int
    priority: int
    banks: tuple[int, ...]
    outlets: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Outlet:
    """Outputs of one size on one kind of supply; `number` of them on each."""

    supply: int
    cap_uw: int
    number: int


@dataclass(frozen=True, slots=True)
class SupplyKind:
    """Supplies of one model in one cell. `total_uw` is None when the outputs alone already keep it."""

    model: str
    cell: int
    source: Source
    total_uw: int
    total_binds: bool
    cost: int
    stock: int
    outlets: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Bank:
    """Banks of one size on one kind of decoder; `number` of them on each, `places` their order there."""

    decoder: int
    channels: int
    channel_uw: int
    cap_uw: int
    places: tuple[int, ...]

    @property
    def number(self) -> int:
        return len(self.places)


@dataclass(frozen=True, slots=True)
class DecoderKind:
    """Decoders of one model in one cell. Banks of one `flavour` serve the same polarity and signal."""

    model: str
    cell: int
    flavour: tuple[str, str]
    cost: int
    stock: int
    banks: tuple[int, ...]


@dataclass(frozen=True, slots=True, order=True)
class StockKey:
    """Units of one model at one site ("" = in the store), supplies and decoders apart."""

    decoder: bool
    model: str
    site: str


@dataclass(frozen=True)
class Kit:
    """Types of load with their members in order of tag, kinds of gear, and how many units there are."""

    types: tuple[LoadType, ...]
    members: tuple[tuple[Load, ...], ...]
    cells: tuple[Cell, ...]
    supplies: tuple[SupplyKind, ...]
    outlets: tuple[Outlet, ...]
    decoders: tuple[DecoderKind, ...]
    banks: tuple[Bank, ...]
    stock_keys: tuple[StockKey, ...]
    stock: tuple[int, ...]

    @cached_property
    def counts(self) -> tuple[int, ...]:
        return tuple(len(each) for each in self.members)

    @cached_property
    def outlet_cell(self) -> tuple[int, ...]:
        return tuple(self.supplies[outlet.supply].cell for outlet in self.outlets)

    @cached_property
    def bank_cell(self) -> tuple[int, ...]:
        return tuple(self.decoders[bank.decoder].cell for bank in self.banks)

    @cached_property
    def fits_bank(self) -> tuple[frozenset[int], ...]:
        return tuple(frozenset(kind.banks) for kind in self.types)

    @cached_property
    def fits_outlet(self) -> tuple[frozenset[int], ...]:
        return tuple(frozenset(kind.outlets) for kind in self.types)

    def total_uw(self) -> int:
        return sum(kind.load_uw * count for kind, count in zip(self.types, self.counts, strict=True))


class Store:
    """How many units of each model are left, at each site and in the store."""

    def __init__(self, problem: Problem, taken: Iterable[str] = ()) -> None:
        gone = frozenset(taken)
        self.supply_models = {model.tag: model for model in problem.supply_models}
        self.decoder_models = {model.tag: model for model in problem.decoder_models}
        standing = {tag for feed in problem.installed for tag in (feed.supply, feed.decoder)}
        self.units: dict[StockKey, list[str]] = {}
        self.costs: dict[StockKey, int] = {}
        for decoder, units in ((False, problem.supplies), (True, problem.decoders)):
            for unit in sorted(units):
                if unit.tag not in gone:
                    self._add(unit, decoder, unit.tag in standing)

    def _add(self, unit: Unit, decoder: bool, standing: bool) -> None:
        key = StockKey(decoder, unit.model, unit.site)
        models: Mapping[str, SupplyModel | DecoderModel]
        models = self.decoder_models if decoder else self.supply_models
        if unit.model not in models or (standing and not unit.site):
            return
        self.units.setdefault(key, []).append(unit.tag)
        self.costs[key] = 0 if unit.site else models[unit.model].cost

    def left(self, key: StockKey) -> int:
        """Units not yet taken."""
        return len(self.units.get(key, ()))

    def take(self, key: StockKey) -> str:
        """The first unit by tag leaves the store."""
        return self.units[key].pop(0)

    def output_caps(self, model: str) -> list[int]:
        """Watts of each output of a supply model, in order; 0 where they are not known."""
        known = self.supply_models[model]
        return [outlet_uw(known, output_ua) for output_ua in known.outputs_ua]


def build_kit(loads: Sequence[Load], store: Store, stock: Mapping[StockKey, int] | None = None) -> Kit:
    """Tables for these loads with what the store has left (or with the `stock` given instead)."""
    return _Builder(loads, store, stock).build()


class _Builder:
    def __init__(self, loads: Sequence[Load], store: Store, stock: Mapping[StockKey, int] | None) -> None:
        self.loads = sorted(loads)
        self.store = store
        self.stock = dict(stock) if stock is not None else {key: store.left(key) for key in store.units}
        self.keys = [key for key in sorted(store.units) if self.stock.get(key, 0) > 0]
        self.cells = [
            Cell(class_mv, site, real_mv)
            for class_mv, site in _useful_sites(self.loads, {key.site for key in self.keys if key.site})
            for real_mv in self._volts(class_mv)
        ]
        self.supplies: list[SupplyKind] = []
        self.outlets: list[Outlet] = []
        self.decoders: list[DecoderKind] = []
        self.banks: list[Bank] = []
        self.speaks: list[DecoderModel] = []

    def build(self) -> Kit:
        for row, key in enumerate(self.keys):
            for number, cell in enumerate(self.cells):
                if key.site in ("", cell.site):
                    (self._decoder if key.decoder else self._supply)(row, key, number, cell)
        grouped: dict[LoadType, list[Load]] = {}
        for load in self.loads:
            grouped.setdefault(self._type(load), []).append(load)
        types = tuple(sorted(grouped))
        return Kit(
            types=types,
            members=tuple(tuple(grouped[kind]) for kind in types),
            cells=tuple(self.cells),
            supplies=tuple(self.supplies),
            outlets=tuple(self.outlets),
            decoders=tuple(self.decoders),
            banks=tuple(self.banks),
            stock_keys=tuple(self.keys),
            stock=tuple(self.stock[key] for key in self.keys),
        )

    def _volts(self, class_mv: int) -> list[int]:
        """What supplies of this class really give."""
        models = (self.store.supply_models[key.model] for key in self.keys if not key.decoder)
        return sorted({model.real_mv for model in models if model.class_mv == class_mv})

    def _supply(self, row: int, key: StockKey, number: int, cell: Cell) -> None:
        model = self.store.supply_models[key.model]
        caps = Counter(cap for ua in model.outputs_ua if (cap := outlet_uw(model, ua)) > 0)
        served = (load for load in self.loads if cell.may_feed(load) and model.source in load.sources)
        if (model.class_mv, model.real_mv) != (cell.class_mv, cell.real_mv) or model.usable_uw is None:
            return
        if not caps or not any(served):
            return
        first, supply = len(self.outlets), len(self.supplies)
        self.outlets.extend(Outlet(supply, cap, caps[cap]) for cap in sorted(caps))
        self.supplies.append(
            SupplyKind(
                model=key.model,
                cell=number,
                source=model.source,
                total_uw=model.usable_uw,
                total_binds=sum(cap * number for cap, number in caps.items()) > model.usable_uw,
                cost=self.store.costs[key],
                stock=row,
                outlets=tuple(range(first, len(self.outlets))),
            )
        )

    def _decoder(self, row: int, key: StockKey, number: int, cell: Cell) -> None:
        model = self.store.decoder_models[key.model]
        served = (load for load in self.loads if cell.may_feed(load) and speaks_to(model, load))
        if not model.min_mv <= cell.real_mv <= model.max_mv or not any(load.channels for load in served):
            return
        places: dict[tuple[int, int, int], list[int]] = {}
        for place, bank in zip(_known_places(model), bank_rows(model, cell.class_mv), strict=True):
            places.setdefault((bank.channels, bank.channel_uw, bank.bank_uw), []).append(place)
        first, decoder = len(self.banks), len(self.decoders)
        self.banks.extend(Bank(decoder, *size, tuple(places[size])) for size in sorted(places))
        self.speaks.extend(model for _ in places)
        self.decoders.append(
            DecoderKind(
                model=key.model,
                cell=number,
                flavour=(model.polarity, str(model.signal)),
                cost=self.store.costs[key],
                stock=row,
                banks=tuple(range(first, len(self.banks))),
            )
        )

    def _type(self, load: Load) -> LoadType:
        cells = {number for number, cell in enumerate(self.cells) if cell.may_feed(load)}
        banks = tuple(
            number
            for number, bank in enumerate(self.banks)
            if load.channels
            and self.decoders[bank.decoder].cell in cells
            and speaks_to(self.speaks[number], load)
            and bank.channels >= load.channels
            and bank.channel_uw >= load.peak_uw
            and bank.cap_uw >= load.load_uw
        )
        bank_cells = {self.decoders[self.banks[number].decoder].cell for number in banks}
        outlets = tuple(
            number
            for number, outlet in enumerate(self.outlets)
            if self.supplies[outlet.supply].cell in (bank_cells if load.channels else cells)
            and self.supplies[outlet.supply].source in load.sources
            and outlet.cap_uw >= load.load_uw
        )
        reachable = {self.supplies[self.outlets[number].supply].cell for number in outlets}
        banks = tuple(n for n in banks if self.decoders[self.banks[n].decoder].cell in reachable)
        return LoadType(load.load_uw, load.channels, load.peak_uw, load.priority, banks, outlets)


def _known_places(model: DecoderModel) -> list[int]:
    return [place for place, bank in enumerate(model.banks) if bank.usable_ua is not None]


def _useful_sites(loads: Sequence[Load], standing: set[str]) -> list[tuple[int, str]]:
    """Sites worth putting gear at: where gear stands, or no other site serves the same loads and more."""
    serves: dict[tuple[int, str], set[str]] = {}
    for load in loads:
        for site in load.sites:
            serves.setdefault((load.class_mv, site), set()).add(load.tag)
    useful = []
    for here in sorted(serves):
        better = any(
            serves[other] > serves[here] or (serves[other] == serves[here] and other < here)
            for other in serves
            if other[0] == here[0] and other != here
        )
        if not better or here[1] in standing:
            useful.append(here)
    return useful
