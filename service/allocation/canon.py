"""A plan told by kinds becomes units, outputs and channels, always the same way."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from hashlib import sha256

from service.allocation.loads import Load
from service.allocation.problem import Answer, Feed
from service.allocation.search.kit import Kit, Store
from service.allocation.search.plan import Column, Filled, Plan


@dataclass(slots=True)
class Placed:
    """Feeds with the units they use, where those must stand, and the loads that got none."""

    feeds: list[Feed] = field(default_factory=list)
    sites: dict[str, str] = field(default_factory=dict)
    left: list[Load] = field(default_factory=list)


@dataclass(slots=True)
class _Named:
    """An output with its loads by tag, not only by type."""

    column: Column
    banks: list[tuple[int, list[Load]]]
    direct: list[Load]

    @property
    def tags(self) -> list[str]:
        return sorted(load.tag for _, loads in self.banks for load in loads) + [ld.tag for ld in self.direct]


def place_units(kit: Kit, plan: Plan, store: Store) -> Placed:
    """Loads and units get their places in the order of tags; units are taken out of the store."""
    placed = Placed()
    named, placed.left = _name_loads(kit, plan)
    open_banks: dict[int, list[tuple[str, int]]] = {}
    for filled, columns in sorted(named, key=lambda pair: min(one.tags for one in pair[1])):
        kind = kit.supplies[filled.supply]
        supply = store.take(kit.stock_keys[kind.stock])
        placed.sites[supply] = kit.cells[kind.cell].site
        outputs = _outputs_of(kit, store, filled)
        for column in sorted(columns, key=lambda one: one.tags):
            output = outputs[column.column.outlet].pop(0)
            placed.feeds.extend(_feed(load, supply, output, "", 0) for load in column.direct)
            for bank, loads in sorted(column.banks, key=lambda pair: [ld.tag for ld in pair[1]]):
                decoder, place = _bank_unit(kit, store, placed, open_banks, bank)
                first = store.decoder_models[kit.decoders[kit.banks[bank].decoder].model].banks[place]
                channel = first.first_channel
                for load in loads:
                    placed.feeds.append(_feed(load, supply, output, decoder, channel))
                    channel += load.channels
    placed.feeds = spread_runs(placed.feeds, {load.tag: load for each in kit.members for load in each})
    return placed


def spread_runs(feeds: Sequence[Feed], loads: Mapping[str, Load]) -> list[Feed]:
    """A feed of a load becomes a feed of each of its runs."""
    return sorted(
        Feed(run, feed.supply, feed.output, feed.decoder, feed.first_channel, feed.channels)
        for feed in feeds
        for run in loads[feed.run].runs
    )


def checksum(answer: Answer) -> str:
    """Equal for equal plans: who is fed how, who is not, and at what cost."""
    dark = tuple(one.run for one in answer.unfed)
    told = repr((answer.feeds, dark, sorted(answer.sites.items()), answer.cost))
    return sha256(told.encode()).hexdigest()[:16]


def _feed(load: Load, supply: str, output: int, decoder: str, first_channel: int) -> Feed:
    return Feed(load.tag, supply, output, decoder, first_channel, load.channels)


def _name_loads(kit: Kit, plan: Plan) -> tuple[list[tuple[Filled, list[_Named]]], list[Load]]:
    """Each place in the plan gets a load of its type: those seen together first, then by tag."""
    waiting = [sorted(each, key=lambda load: (load.match, load.tag), reverse=True) for each in kit.members]
    named = []
    for filled in sorted(plan):
        columns = []
        for column in filled.columns:
            banks = []
            for bank, content in column.banks:
                loads = [waiting[kind].pop() for kind, count in content for _ in range(count)]
                banks.append((bank, sorted(loads)))
            direct = sorted(waiting[kind].pop() for kind, count in column.direct for _ in range(count))
            columns.append(_Named(column, banks, direct))
        named.append((filled, columns))
    return named, sorted(load for each in waiting for load in each)


def _outputs_of(kit: Kit, store: Store, filled: Filled) -> dict[int, list[int]]:
    """Numbers of the outputs of each size on a supply, from 1."""
    kind = kit.supplies[filled.supply]
    by_cap = {kit.outlets[outlet].cap_uw: outlet for outlet in kind.outlets}
    numbers: dict[int, list[int]] = {outlet: [] for outlet in kind.outlets}
    for number, cap in enumerate(store.output_caps(kind.model), 1):
        if cap in by_cap:
            numbers[by_cap[cap]].append(number)
    return numbers


def _bank_unit(
    kit: Kit,
    store: Store,
    placed: Placed,
    open_banks: dict[int, list[tuple[str, int]]],
    bank: int,
) -> tuple[str, int]:
    """A free bank of this size: on a decoder already in use if there is one, else on the next unit."""
    if not open_banks.get(bank):
        kind = kit.decoders[kit.banks[bank].decoder]
        unit = store.take(kit.stock_keys[kind.stock])
        placed.sites[unit] = kit.cells[kind.cell].site
        for other in kind.banks:
            free = [(unit, place) for place in kit.banks[other].places]
            open_banks.setdefault(other, []).extend(free)
    return open_banks[bank].pop(0)
