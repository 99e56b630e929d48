"""From a content that looks good to a column that can be built: loads onto banks, cheaply and exactly."""

from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import combinations_with_replacement

from service.allocation.search.kit import Kit
from service.allocation.search.plan import Column, Held, channels, column_uw, held, loads_of

# Trials after which a content counts as not fitting its banks.
FIT_TRIALS = 1500
# Banks that are tried together on one output when a column is made cheaper.
TOGETHER = 3


class Fitter:
    """Answers whether loads fit banks, and remembers the answers."""

    def __init__(self, kit: Kit) -> None:
        self.kit = kit
        self._known: dict[tuple[tuple[int, ...], Held], tuple[tuple[int, Held], ...] | None] = {}
        self._sets: dict[int, list[tuple[float, int, tuple[int, ...]]]] = {}

    def fit(self, banks: tuple[int, ...], loads: Held) -> tuple[tuple[int, Held], ...] | None:
        """The loads on these banks, or None."""
        key = (banks, loads)
        if key not in self._known:
            self._known[key] = self._search(banks, loads)
        return self._known[key]

    def _search(self, banks: tuple[int, ...], loads: Held) -> tuple[tuple[int, Held], ...] | None:
        kit = self.kit
        if channels(kit, loads) > sum(kit.banks[n].channels for n in banks):
            return None
        items = [t for t, count in loads for _ in range(count)]
        items.sort(key=lambda t: (len(kit.types[t].banks), -kit.types[t].channels, -kit.types[t].load_uw, t))
        free = [kit.banks[n].channels for n in banks]
        room = [kit.banks[n].cap_uw for n in banks]
        order = sorted(range(len(banks)), key=lambda at: (kit.banks[banks[at]].channel_uw, banks[at]))
        inside: list[list[int]] = [[] for _ in banks]
        trials = 0

        def place(index: int) -> bool:
            nonlocal trials
            if index == len(items):
                return True
            t = items[index]
            load, tried = kit.types[t], set[tuple[int, int, int]]()
            for at in order:
                state = (banks[at], free[at], room[at])
                if banks[at] not in kit.fits_bank[t] or state in tried:
                    continue
                if free[at] < load.channels or room[at] < load.load_uw:
                    continue
                trials += 1
                if trials > FIT_TRIALS:
                    return False
                tried.add(state)
                inside[at].append(t)
                free[at] -= load.channels
                room[at] -= load.load_uw
                if place(index + 1):
                    return True
                inside[at].pop()
                free[at] += load.channels
                room[at] += load.load_uw
            return False

        if not place(0):
            return None
        pairs = ((bank, held(own)) for bank, own in zip(banks, inside, strict=True) if own)
        return tuple(sorted(pairs))

    def column(self, outlet: int, banks: Sequence[int], loads: Mapping[int, int]) -> Column | None:
        """A column of these loads on these banks, or None when they do not fit."""
        on_banks = tuple(sorted((t, n) for t, n in loads.items() if n and self.kit.types[t].channels))
        direct = tuple(sorted((t, n) for t, n in loads.items() if n and not self.kit.types[t].channels))
        fitted = self.fit(tuple(sorted(banks)), on_banks) if on_banks else ()
        return None if fitted is None else Column(outlet, fitted, direct)

    def repaired(
        self, outlet: int, banks: Sequence[int], loads: Mapping[int, int], worth: Sequence[float]
    ) -> Column | None:
        """The most valuable part of the loads that fits: the least valuable go first."""
        kept = Counter(loads)
        while kept:
            column = self.column(outlet, banks, kept)
            if column is not None:
                return column if column.banks or column.direct else None
            least = min(
                (t for t in kept if self.kit.types[t].channels),
                key=lambda t: (worth[t] / self.kit.types[t].channels, t),
            )
            kept[least] -= 1
            kept += Counter()
        return None

    def bank_sets(self, cell: int) -> list[tuple[float, int, tuple[int, ...]]]:
        """Up to three banks of a cell with their cost and channels, the cheapest first."""
        if cell not in self._sets:
            kit = self.kit
            own = [n for n, at in enumerate(kit.bank_cell) if at == cell]
            price = {n: kit.decoders[kit.banks[n].decoder].cost / _banks_of(kit, n) for n in own}
            self._sets[cell] = sorted(
                (sum(price[n] for n in some), sum(kit.banks[n].channels for n in some), some)
                for count in range(1, TOGETHER + 1)
                for some in combinations_with_replacement(own, count)
            )
        return self._sets[cell]

    def cheaper(self, column: Column, left: Sequence[int]) -> Column:
        """The same loads on the cheapest banks and output that hold them, units left by stock row."""
        return self._cheaper_outlet(self._cheaper_banks(column, left), left)

    def _cheaper_banks(self, column: Column, left: Sequence[int]) -> Column:
        kit = self.kit
        loads = loads_of(column)
        on_banks = tuple((t, n) for t, n in loads if kit.types[t].channels)
        if not on_banks:
            return column
        own = Counter(kit.decoders[kit.banks[n].decoder].stock for n, _ in column.banks)
        now = sum(_share(kit, n) for n, _ in column.banks)
        wanted = channels(kit, on_banks)
        for cost, width, banks in self.bank_sets(kit.outlet_cell[column.outlet]):
            if cost >= now - 1e-9:
                return column
            if width < wanted or not self._in_stock(banks, own, left):
                continue
            fitted = self.fit(banks, on_banks)
            if fitted is not None:
                return Column(column.outlet, fitted, column.direct)
        return column

    def _in_stock(self, banks: Sequence[int], own: Counter[int], left: Sequence[int]) -> bool:
        wanted = Counter(self.kit.decoders[self.kit.banks[n].decoder].stock for n in banks)
        return all(left[row] + own[row] >= count for row, count in wanted.items())

    def _cheaper_outlet(self, column: Column, left: Sequence[int]) -> Column:
        kit = self.kit
        now = kit.supplies[kit.outlets[column.outlet].supply]
        if len(now.outlets) > 1 or kit.outlets[column.outlet].number > 1:
            return column
        load_uw, kinds = column_uw(kit, column), [t for t, _ in loads_of(column)]
        best = (now.cost, column.outlet)
        for n, outlet in enumerate(kit.outlets):
            kind = kit.supplies[outlet.supply]
            alone = len(kind.outlets) == 1 and outlet.number == 1
            if not alone or kind.cell != now.cell or outlet.cap_uw < load_uw or left[kind.stock] <= 0:
                continue
            if (kind.cost, n) < best and all(n in kit.fits_outlet[t] for t in kinds):
                best = (kind.cost, n)
        return Column(best[1], column.banks, column.direct)


def _banks_of(kit: Kit, bank: int) -> int:
    return sum(kit.banks[n].number for n in kit.decoders[kit.banks[bank].decoder].banks)


def _share(kit: Kit, bank: int) -> float:
    return kit.decoders[kit.banks[bank].decoder].cost / _banks_of(kit, bank)


def within(column: Column, left: Sequence[int]) -> Column | None:
    """The column without the loads that nobody waits for any more; None when nothing remains."""
    rest = list(left)

    def kept(content: Held) -> Held:
        some = []
        for t, count in content:
            take = min(count, rest[t])
            rest[t] -= take
            if take:
                some.append((t, take))
        return tuple(some)

    banks = tuple((bank, inside) for bank, content in column.banks if (inside := kept(content)))
    direct = kept(column.direct)
    return Column(column.outlet, tuple(sorted(banks)), direct) if banks or direct else None
