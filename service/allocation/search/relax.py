"""Column generation: the linear program is solved, priced and grown until no column would help."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from service.allocation.search.columns import Fitter
from service.allocation.search.kit import Kit
from service.allocation.search.master import Box, Duals, Loose, Master
from service.allocation.search.plan import Plan, columns_of
from service.allocation.search.pricing import Corner, Grid, Prices, Table, corners, make_grid

# A column must promise at least this much, in units of cost, to be worth adding.
WORTH = 1e-4
FINE_STEPS = 1200
COARSE_STEPS = 300
COARSE_ROWS = 40


@dataclass(frozen=True, slots=True)
class Relaxed:
    """What one node of the branching knows: a proven bound and whether the program converged."""

    bound: float
    duals: Duals | None
    converged: bool


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

    def relax(self, box: Box, cutoff: float = math.inf, rounds: int = 10_000) -> Relaxed:
        """The bound of a box, found by pricing until nothing helps or the bound reaches the cutoff."""
        self.master.set_box(box)
        best, coarse = -math.inf, True
        duals = None
        for _ in range(rounds):
            duals = self.master.solve()
            self.work += 1
            if duals is None:
                return Relaxed(math.inf, None, True)
            if coarse:
                added, _ = self.price(duals, self.coarse, self.kit.counts, COARSE_ROWS)
                coarse = added > 0
                if coarse:
                    continue
            added, excess = self.price(duals, self.fine, self.kit.counts, None)
            best = max(best, self.master.bound(duals, excess))
            if self.rounded(best) >= cutoff or not added:
                return Relaxed(best, duals, not added)
            coarse = True
        return Relaxed(best, duals, False)

    def price(
        self,
        duals: Duals,
        grids: Sequence[Grid],
        counts: Sequence[int],
        rows: int | None,
        buildable: bool = False,
    ) -> tuple[int, list[float]]:
        """Columns that help at these prices are added; by how much each outlet's price falls short.

        With `buildable`, only columns whose loads really fit their banks are added.
        """
        added, excess = 0, [0.0] * len(self.kit.outlets)
        for corner, grid in zip(self.corners, grids, strict=True):
            self.work += 1
            table = Table(corner, Prices(duals.load, duals.bank), counts, grid, rows)
            seen: set[tuple[int, int]] = set()
            for outlet in corner.outlets:
                value, at = table.best_for(outlet, duals.watt[self.kit.outlets[outlet].supply])
                gain = value - duals.outlet[outlet]
                if gain <= WORTH:
                    continue
                excess[outlet] = gain
                added += self._add_content(table, outlet, at, duals, buildable)
                seen.add((outlet, at))
        return added, excess

    def _add_content(self, table: Table, outlet: int, at: int, duals: Duals, buildable: bool) -> int:
        content = table.content(at)
        loads = content.loads
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
