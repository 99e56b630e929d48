"""A first plan, load by load: each goes where it costs least now and leaves least unused."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from service.allocation.search.kit import Kit
from service.allocation.search.plan import Column, Filled, Plan, held


@dataclass(slots=True)
class _Box:
    """A bank in use."""

    bank: int
    loads: list[int] = field(default_factory=list)
    channels: int = 0
    load_uw: int = 0
    cap_uw: int = 0


@dataclass(slots=True)
class _Output:
    outlet: int
    boxes: list[_Box] = field(default_factory=list)
    direct: list[int] = field(default_factory=list)
    load_uw: int = 0

    @property
    def is_free(self) -> bool:
        return not self.boxes and not self.direct


@dataclass(slots=True)
class _Rack:
    """A supply in use."""

    supply: int
    outputs: list[_Output]
    load_uw: int = 0


@dataclass(frozen=True, slots=True)
class Policy:
    """How to order loads, which supply kind to open first (None: the cheapest that fits), which bank."""

    order: int = 0
    supply: int | None = None
    bank: int | None = None


@dataclass(frozen=True, slots=True, order=True)
class _Choice:
    cost: float
    waste: float
    rack: int
    output: int
    box: int
    bank: int
    supply: int
    outlet: int


class Builder:
    """A plan in the making, never beyond the stock."""

    def __init__(self, kit: Kit, plan: Plan = ()) -> None:
        self.kit = kit
        self.left = list(kit.stock)
        self.racks: list[_Rack] = []
        self.spare_banks: Counter[int] = Counter()
        self.widest = max((bank.channels for bank in kit.banks), default=1)
        for filled in plan:
            self._adopt(filled)

    def _adopt(self, filled: Filled) -> None:
        rack = self._open_rack(filled.supply)
        for column in filled.columns:
            output = next(o for o in rack.outputs if o.outlet == column.outlet and o.is_free)
            for bank, content in column.banks:
                box = self._open_box(output, bank)
                for kind, count in content:
                    for _ in range(count):
                        self._fill(rack, output, box, kind)
            for kind, count in column.direct:
                for _ in range(count):
                    self._fill(rack, output, None, kind)

    def _open_rack(self, supply: int) -> _Rack:
        kind = self.kit.supplies[supply]
        self.left[kind.stock] -= 1
        outlets = [n for n in kind.outlets for _ in range(self.kit.outlets[n].number)]
        self.racks.append(_Rack(supply, [_Output(outlet) for outlet in outlets]))
        return self.racks[-1]

    def _open_box(self, output: _Output, bank: int) -> _Box:
        if self.spare_banks[bank]:
            self.spare_banks[bank] -= 1
        else:
            kind = self.kit.decoders[self.kit.banks[bank].decoder]
            self.left[kind.stock] -= 1
            for other in kind.banks:
                self.spare_banks[other] += self.kit.banks[other].number
            self.spare_banks[bank] -= 1
        output.boxes.append(_Box(bank, cap_uw=self.kit.banks[bank].cap_uw))
        return output.boxes[-1]

    def _fill(self, rack: _Rack, output: _Output, box: _Box | None, kind: int) -> None:
        load = self.kit.types[kind]
        if box is None:
            output.direct.append(kind)
        else:
            box.loads.append(kind)
            box.channels += load.channels
            box.load_uw += load.load_uw
        output.load_uw += load.load_uw
        rack.load_uw += load.load_uw

    def bank_cost(self, bank: int) -> float | None:
        """What one more bank of this kind costs; None when there is none left."""
        if self.spare_banks[bank]:
            return 0.0
        kind = self.kit.decoders[self.kit.banks[bank].decoder]
        return float(kind.cost) if self.left[kind.stock] > 0 else None

    def place(self, kind: int, policy: Policy = Policy()) -> bool:
        """One load of this type more is fed, or there is no way to without moving another."""
        choice = min(self._in_open(kind, policy), default=None)
        if choice is None:
            choice = min(self._in_new(kind, policy), default=None)
            if choice is None:
                return False
            rack = self._open_rack(choice.supply)
            output = next(o for o in rack.outputs if o.outlet == choice.outlet)
        else:
            rack = self.racks[choice.rack]
            output = rack.outputs[choice.output]
        box: _Box | None = None
        if self.kit.types[kind].channels:
            box = output.boxes[choice.box] if choice.box >= 0 else self._open_box(output, choice.bank)
        self._fill(rack, output, box, kind)
        return True

    def _in_open(self, kind: int, policy: Policy) -> Iterator[_Choice]:
        load, kit = self.kit.types[kind], self.kit
        for r, rack in enumerate(self.racks):
            if rack.load_uw + load.load_uw > kit.supplies[rack.supply].total_uw:
                continue
            for o, output in enumerate(rack.outputs):
                room = kit.outlets[output.outlet].cap_uw - output.load_uw - load.load_uw
                if room < 0 or output.outlet not in kit.fits_outlet[kind]:
                    continue
                waste = room / kit.outlets[output.outlet].cap_uw
                if not load.channels:
                    yield _Choice(0.0, waste, r, o, -1, -1, -1, output.outlet)
                    continue
                for b, box in enumerate(output.boxes):
                    size = kit.banks[box.bank]
                    free = size.channels - box.channels - load.channels
                    fits = box.bank in kit.fits_bank[kind] and box.load_uw + load.load_uw <= size.cap_uw
                    if free >= 0 and fits:
                        yield _Choice(0.0, waste + free / self.widest, r, o, b, box.bank, -1, output.outlet)
                bank = self._new_bank(kind, kit.outlet_cell[output.outlet], policy)
                if bank is not None:
                    yield _Choice(bank[0], waste, r, o, -1, bank[1], -1, output.outlet)

    def _new_bank(self, kind: int, cell: int, policy: Policy) -> tuple[float, int] | None:
        """The bank to open for this load in this cell: the wished one, else the cheapest."""
        best: tuple[float, int] | None = None
        for bank in self.kit.types[kind].banks:
            cost = self.bank_cost(bank)
            if cost is None or self.kit.bank_cell[bank] != cell:
                continue
            if bank == policy.bank:
                return cost, bank
            if best is None or (cost, bank) < best:
                best = (cost, bank)
        return best

    def _in_new(self, kind: int, policy: Policy) -> Iterator[_Choice]:
        load, kit = self.kit.types[kind], self.kit
        for outlet in load.outlets:
            supply = kit.outlets[outlet].supply
            if self.left[kit.supplies[supply].stock] <= 0:
                continue
            bank = self._new_bank(kind, kit.outlet_cell[outlet], policy) if load.channels else (0.0, -1)
            if bank is None:
                continue
            wished = 0.0 if supply == policy.supply else 1.0 + kit.supplies[supply].cost
            waste = kit.outlets[outlet].cap_uw - load.load_uw
            yield _Choice(wished, bank[0] + waste * 1e-12, -1, -1, -1, bank[1], supply, outlet)

    def plan(self) -> Plan:
        """The plan as it stands."""
        plan: list[Filled] = []
        for rack in self.racks:
            columns = tuple(
                sorted(
                    Column(
                        output.outlet,
                        tuple(sorted((box.bank, held(box.loads)) for box in output.boxes)),
                        held(output.direct),
                    )
                    for output in rack.outputs
                    if not output.is_free
                )
            )
            if columns:
                plan.append(Filled(rack.supply, columns))
        return tuple(sorted(plan))


def in_order(kit: Kit, wanted: Sequence[int], order: int) -> list[int]:
    """Types, one entry a load, highest priority first, then by one of four measures of size."""
    cap = max((outlet.cap_uw for outlet in kit.outlets), default=1)

    def size(kind: int) -> tuple[float, ...]:
        load = kit.types[kind]
        both = load.load_uw / cap + load.channels / 8
        return (
            (-load.load_uw, -load.channels),
            (-load.channels, -load.load_uw),
            (-both, 0),
            (-load.peak_uw, -load.load_uw),
        )[order]

    kinds = sorted(range(len(kit.types)), key=lambda kind: (kit.types[kind].priority, size(kind), kind))
    return [kind for kind in kinds for _ in range(wanted[kind])]


def greedy(kit: Kit, policy: Policy = Policy(), wanted: Sequence[int] | None = None, plan: Plan = ()) -> Plan:
    """Every load placed in turn where it costs least; what finds no place stays out."""
    builder = Builder(kit, plan)
    for kind in in_order(kit, kit.counts if wanted is None else wanted, policy.order):
        builder.place(kind, policy)
    return builder.plan()


def policies(kit: Kit) -> Iterator[Policy]:
    """Orders, first supplies and first banks, each worth a try."""
    banks = [None, *(n for n, bank in enumerate(kit.banks) if bank.channels >= 4)]
    for order in range(4):
        for supply in [None, *range(len(kit.supplies))]:
            for bank in banks:
                yield Policy(order, supply, bank)
