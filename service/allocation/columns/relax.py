"""Column generation: the linear program is solved, priced and grown until no column would help."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from service.allocation.columns.bundles import BundleTable, binds
from service.allocation.columns.fitting import Fitter
from service.allocation.columns.master import Box, Duals, Loose, Master
from service.allocation.columns.pricing import Content, Corner, Grid, Prices, Table, corners, make_grid
from service.allocation.search.kit import Kit
from service.allocation.search.plan import Plan, columns_of

# A column must promise at least this much, in units of cost, to be worth adding.
WORTH = 1e-4
FINE_STEPS = 12_000
FINE_PASSES = 1
COARSE_STEPS = 300
COARSE_ROWS = 40


@dataclass(frozen=True, slots=True)
class Depth:
    """How long a node is priced, in rounds, and how many sets of columns a round may bring."""

    coarse_rounds: int = 200
    fine_rounds: int = 4
    passes: int = 40


DEEP = Depth()


@dataclass(frozen=True, slots=True)
class Sweep:
    """How to price once: on which grids, for how many loads, with how many rows and passes.

    With `buildable`, only columns whose loads really fit their banks are added.
    """

    grids: Sequence[Grid]
    counts: Sequence[int]
    rows: int | None
    passes: int = 1
    buildable: bool = False


@dataclass(frozen=True, slots=True)
class Relaxed:
    """What one node of the branching knows: a proven bound, and prices unless no plan is possible."""

    bound: float
    duals: Duals | None


@dataclass
class Search:
    """One kit with its growing master program, its grids and a count of the work done."""

    kit: Kit
    floors: tuple[int, int] = (0, 0)
    fine_steps: int = FINE_STEPS
    coarse_steps: int = COARSE_STEPS
    work: int = 0
    fitter: Fitter = field(init=False)
    master: Master = field(init=False)
    corners: tuple[Corner, ...] = field(init=False)

    def __post_init__(self) -> None:
        self.fitter = Fitter(self.kit)
        self.master = Master(self.kit, self.floors)
        self.corners = corners(self.kit)
        self.fine = [make_grid(self.kit, self.fine_steps, each.cap_uw, up=False) for each in self.corners]
        self.coarse = [make_grid(self.kit, self.coarse_steps, each.cap_uw, up=True) for each in self.corners]
        costs = [kind.cost for kind in self.kit.supplies] + [kind.cost for kind in self.kit.decoders]
        self.unit = math.gcd(*costs) or 1
        self.add_singles()

    def rounded(self, bound: float) -> int:
        """Costs are whole multiples of one unit, so a bound may be rounded up to it."""
        if bound == math.inf:
            return self.unit * 10**12
        return math.ceil(bound / self.unit - 1e-6) * self.unit

    def add_plan(self, plan: Plan) -> None:
        """Columns of a known plan."""
        for column in columns_of(plan):
            self.master.add(column)

    def add_singles(self) -> None:
        """Every load alone on the outputs and banks that could feed it."""
        kit = self.kit
        for t, load in enumerate(kit.types):
            if not kit.counts[t]:
                continue
            for outlet in load.outlets:
                cell = kit.outlet_cell[outlet]
                for bank in [n for n in load.banks if kit.bank_cell[n] == cell] if load.channels else [-1]:
                    column = self.fitter.column(outlet, (bank,) if bank >= 0 else (), {t: 1})
                    if column is not None:
                        self.master.add(column)

    def relax(self, box: Box, cutoff: float = math.inf, depth: Depth = DEEP) -> Relaxed:
        """The bound of a box: priced coarsely until nothing helps, then finely for what is proven.

        Ends as soon as the proven bound reaches the cutoff.
        """
        self.master.set_box(box)
        best = -math.inf
        duals = self.master.solve(columns_changed=False)
        for _ in range(depth.coarse_rounds):
            self.work += 1
            if duals is None:
                return Relaxed(math.inf, None)
            if not self.price(duals, Sweep(self.coarse, self.kit.counts, COARSE_ROWS, depth.passes))[0]:
                break
            duals = self.master.solve()
        for _ in range(depth.fine_rounds):
            if duals is None:
                return Relaxed(math.inf, None)
            added, excess = self.price(duals, Sweep(self.fine, self.kit.counts, None, FINE_PASSES))
            best = max(best, self.master.bound(duals, excess))
            if self.rounded(best) >= cutoff or not added:
                break
            duals = self.master.solve()
        return Relaxed(best, duals)

    def price(self, duals: Duals, sweep: Sweep) -> tuple[int, list[float]]:
        """Columns that help at these prices are added; by how much each outlet's price falls short.

        Each further pass looks only at the loads that the pass before did not use, so that the
        columns of one round go together.
        """
        added, excess = 0, [0.0] * len(self.kit.outlets)
        prices = Prices(duals.load, duals.bank)
        for corner, grid in zip(self.corners, sweep.grids, strict=True):
            left = list(sweep.counts)
            made = BundleTable if binds(corner) else Table
            for number in range(sweep.passes):
                self.work += 1
                table = made(corner, prices, left, grid, sweep.rows)
                best, new = self._harvest(table, duals, sweep.buildable, excess if number == 0 else None)
                added += new
                if best is None:
                    break
                for t, count in best.loads.items():
                    left[t] -= count
        return added, excess

    def _harvest(
        self, table: Table | BundleTable, duals: Duals, buildable: bool, excess: list[float] | None
    ) -> tuple[Content | None, int]:
        """The best content of each output becomes a column; the best of all is handed back."""
        best: Content | None = None
        most, added = WORTH, 0
        for outlet in table.corner.outlets:
            value, at = table.best_for(outlet, duals.watt[self.kit.outlets[outlet].supply])
            gain = value - duals.outlet[outlet]
            if gain <= WORTH:
                continue
            if excess is not None:
                excess[outlet] = gain
            content = table.content(at)
            if gain > most:
                best, most = content, gain
            added += self._add_content(content, outlet, duals, buildable)
        return best, added

    def _add_content(self, content: Content, outlet: int, duals: Duals, buildable: bool) -> int:
        loads = Counter(content.loads)
        cap = self.kit.outlets[outlet].cap_uw
        # On a grid that rounds down, a content may be a little too heavy in truth.
        while sum(self.kit.types[t].load_uw * n for t, n in loads.items()) > cap:
            least = min(loads, key=lambda t: (duals.load[t] / max(1, self.kit.types[t].load_uw), t))
            loads[least] -= 1
            loads = +loads
        suited = {t: n for t, n in loads.items() if outlet in self.kit.fits_outlet[t]}
        if not suited:
            return 0
        column = self.fitter.column(outlet, content.banks, suited)
        if column is not None:
            return int(self.master.add(column))
        added = 0
        repaired = self.fitter.repaired(outlet, content.banks, suited, duals.load)
        if repaired is not None:
            added += int(self.master.add(repaired))
        if not buildable:
            added += int(self.master.add(Loose(outlet, content.banks, tuple(sorted(suited.items())))))
        return added
