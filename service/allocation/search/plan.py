"""A plan of one part, told by kinds and counts: what it costs, what it uses, whom it feeds."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from service.allocation.search.kit import Kit

Held: TypeAlias = tuple[tuple[int, int], ...]
"""Load types with how many of each, in the order of types."""

# Trials of the exact search for the fewest supplies behind many outputs.
SUPPLY_TRIALS = 3000


@dataclass(frozen=True, slots=True, order=True)
class Column:
    """What one supply output carries: banks with their loads, and loads straight on it."""

    outlet: int
    banks: tuple[tuple[int, Held], ...]
    direct: Held = ()


@dataclass(frozen=True, slots=True, order=True)
class Filled:
    """One supply and what its outputs carry."""

    supply: int
    columns: tuple[Column, ...]


Plan: TypeAlias = tuple[Filled, ...]


def held(types: Iterable[int]) -> Held:
    """Types with their counts, canonical."""
    return tuple(sorted(Counter(types).items()))


def join(parts: Iterable[Held]) -> Held:
    """Several bags of loads as one."""
    total: Counter[int] = Counter()
    for part in parts:
        for kind, count in part:
            total[kind] += count
    return tuple(sorted(total.items()))


def loads_of(column: Column) -> Held:
    """All loads on one output."""
    return join([*(content for _, content in column.banks), column.direct])


def watts(kit: Kit, content: Held) -> int:
    """Load of a bag in microwatts."""
    return sum(kit.types[kind].load_uw * count for kind, count in content)


def channels(kit: Kit, content: Held) -> int:
    """Channels a bag takes."""
    return sum(kit.types[kind].channels * count for kind, count in content)


def column_uw(kit: Kit, column: Column) -> int:
    """Load of one output in microwatts."""
    return watts(kit, column.direct) + sum(watts(kit, content) for _, content in column.banks)


def columns_of(plan: Plan) -> list[Column]:
    """All outputs in use."""
    return [column for filled in plan for column in filled.columns]


def served(kit: Kit, plan: Plan) -> list[int]:
    """How many loads of each type the plan feeds."""
    counts = [0] * len(kit.types)
    for column in columns_of(plan):
        for kind, count in loads_of(column):
            counts[kind] += count
    return counts


def missing(kit: Kit, plan: Plan) -> list[int]:
    """How many loads of each type the plan leaves out."""
    return [want - got for want, got in zip(kit.counts, served(kit, plan), strict=True)]


def left_by_priority(kit: Kit, plan: Plan) -> dict[int, int]:
    """Load in microwatts that the plan leaves out, by priority."""
    left = {load.priority: 0 for load in kit.types}
    for load, count in zip(kit.types, missing(kit, plan), strict=True):
        left[load.priority] += load.load_uw * count
    return left


def decoders_used(kit: Kit, columns: Iterable[Column]) -> Counter[int]:
    """Decoders of each kind, each as full of banks as can be."""
    banks = Counter(bank for column in columns for bank, _ in column.banks)
    used: Counter[int] = Counter()
    for bank, count in banks.items():
        kind = kit.banks[bank].decoder
        used[kind] = max(used[kind], -(-count // kit.banks[bank].number))
    return used


def plan_cost(kit: Kit, plan: Plan) -> int:
    """Weight of the supplies and decoders of a plan."""
    supplies = sum(kit.supplies[filled.supply].cost for filled in plan)
    decoders = decoders_used(kit, columns_of(plan))
    return supplies + sum(kit.decoders[kind].cost * count for kind, count in decoders.items())


def usage(kit: Kit, plan: Plan) -> Counter[int]:
    """Units taken from each stock row."""
    used: Counter[int] = Counter(kit.supplies[filled.supply].stock for filled in plan)
    for kind, count in decoders_used(kit, columns_of(plan)).items():
        used[kit.decoders[kind].stock] += count
    return used


def within_stock(kit: Kit, plan: Plan) -> bool:
    """No stock row is overdrawn."""
    return all(count <= kit.stock[row] for row, count in usage(kit, plan).items())


def faulty(kit: Kit, plan: Plan) -> str:
    """The first rule the plan breaks, in words; empty when it keeps them all."""
    for filled in plan:
        kind = kit.supplies[filled.supply]
        if sum(column_uw(kit, column) for column in filled.columns) > kind.total_uw:
            return f"supply {kind.model} over its watts"
        for outlet, count in Counter(column.outlet for column in filled.columns).items():
            if outlet not in kind.outlets or count > kit.outlets[outlet].number:
                return f"supply {kind.model} has not so many outputs"
        for column in filled.columns:
            if fault := _column_fault(kit, column):
                return fault
    return "" if within_stock(kit, plan) else "stock overdrawn"


def _column_fault(kit: Kit, column: Column) -> str:
    if column_uw(kit, column) > kit.outlets[column.outlet].cap_uw:
        return "output over its watts"
    if any(column.outlet not in kit.fits_outlet[kind] for kind, _ in loads_of(column)):
        return "load on an output that may not feed it"
    for bank, content in column.banks:
        size = kit.banks[bank]
        if watts(kit, content) > size.cap_uw or channels(kit, content) > size.channels:
            return "bank over its watts or channels"
        if any(bank not in kit.fits_bank[kind] for kind, _ in content):
            return "load on a bank that may not feed it"
        if kit.bank_cell[bank] != kit.outlet_cell[column.outlet]:
            return "bank and output stand apart"
    return "a load without channels on a bank" if any(kit.types[k].channels for k, _ in column.direct) else ""


def assemble(kit: Kit, columns: Sequence[Column]) -> Plan:
    """Outputs gathered into as few supplies as a short search finds, in canonical order."""
    by_supply: dict[int, list[Column]] = {}
    for column in sorted(columns):
        by_supply.setdefault(kit.outlets[column.outlet].supply, []).append(column)
    plan: list[Filled] = []
    for supply, own in by_supply.items():
        plan.extend(Filled(supply, tuple(sorted(group))) for group in _gather(kit, supply, own))
    return tuple(sorted(plan))


def _gather(kit: Kit, supply: int, columns: list[Column]) -> list[list[Column]]:
    kind = kit.supplies[supply]
    if not kind.total_binds and len(kind.outlets) == 1:
        number = kit.outlets[kind.outlets[0]].number
        return [columns[at : at + number] for at in range(0, len(columns), number)]
    load = {column: column_uw(kit, column) for column in columns}
    ordered = sorted(columns, key=lambda column: (-load[column], column))
    counts = Counter(column.outlet for column in columns)
    fewest = max(
        -(-sum(load[column] for column in columns) // kind.total_uw),
        *(-(-count // kit.outlets[outlet].number) for outlet, count in counts.items()),
    )
    for bins in range(fewest, len(columns) + 1):
        packed = _into(kit, kind.total_uw, ordered, load, bins)
        if packed is not None:
            return packed
    return [[column] for column in ordered]


def _into(
    kit: Kit, total_uw: int, ordered: list[Column], load: dict[Column, int], bins: int
) -> list[list[Column]] | None:
    """The outputs on so many supplies; None when a bounded search finds no way."""
    groups: list[list[Column]] = [[] for _ in range(bins)]
    room = [total_uw] * bins
    free = [Counter({n: kit.outlets[n].number for n in {c.outlet for c in ordered}}) for _ in range(bins)]
    trials = 0

    def place(index: int) -> bool:
        nonlocal trials
        if index == len(ordered):
            return True
        column = ordered[index]
        tried: set[tuple[int, tuple[tuple[int, int], ...]]] = set()
        for at in sorted(range(bins), key=lambda n: (room[n], n)):
            state = (room[at], tuple(sorted(free[at].items())))
            if room[at] < load[column] or not free[at][column.outlet] or state in tried:
                continue
            trials += 1
            if trials > SUPPLY_TRIALS:
                return False
            tried.add(state)
            groups[at].append(column)
            room[at] -= load[column]
            free[at][column.outlet] -= 1
            if place(index + 1):
                return True
            groups[at].pop()
            room[at] += load[column]
            free[at][column.outlet] += 1
        return False

    # The search goes one call deep for each output; beyond this the tree is hopeless anyway.
    if len(ordered) > 400:
        return _best_fit(total_uw, ordered, load, free, bins)
    return groups if place(0) else None


def _best_fit(
    total_uw: int, ordered: list[Column], load: dict[Column, int], free: list[Counter[int]], bins: int
) -> list[list[Column]] | None:
    groups: list[list[Column]] = [[] for _ in range(bins)]
    room = [total_uw] * bins
    for column in ordered:
        can = [at for at in range(bins) if room[at] >= load[column] and free[at][column.outlet]]
        if not can:
            return None
        at = min(can, key=lambda n: (room[n], n))
        groups[at].append(column)
        room[at] -= load[column]
        free[at][column.outlet] -= 1
    return groups
