"""Do all loads fit exactly this gear? First with the channels of each output pooled, then in full.

The pooled question is small and often already says no; where it says yes, its answer usually splits
over the real banks, and then it is a plan.
"""

from itertools import pairwise
from typing import Any

from service.allocation.columns.fitting import Fitter
from service.allocation.search.exact import pack_exactly
from service.allocation.search.kit import Kit
from service.allocation.search.plan import Column, Plan, assemble


def pack_leaf(kit: Kit, fitter: Fitter, effort: float, seed: int = 0) -> tuple[bool | None, Plan | None]:
    """Yes with a plan, no, or not known (None)."""
    if all(len(kind.banks) == 1 and kit.banks[kind.banks[0]].number == 1 for kind in kit.decoders):
        for ordered in (False, True):
            pooled = _Pooled(kit, ordered)
            told = pooled.solve(effort, seed)
            if told is False:
                return False, None
            if told is True:
                plan = pooled.plan(fitter)
                if plan is not None:
                    return True, plan
                break
    return pack_exactly(kit, effort, seed)


class _Pooled:
    """Loads and decoders onto outputs; on one output the decoders share their channels and amps."""

    def __init__(self, kit: Kit, ordered: bool) -> None:
        from ortools.sat.python import cp_model  # heavy: loaded only where the work is done

        self.kit, self.cp = kit, cp_model
        self.model: Any = cp_model.CpModel()
        self.outputs = [
            (unit, outlet)
            for unit, kind in enumerate(self._units())
            for outlet in kit.supplies[kind].outlets
            for _ in range(kit.outlets[outlet].number)
        ]
        self.loads = {
            (t, o): self.model.new_int_var(0, kit.counts[t], "loads")
            for t in range(len(kit.types))
            for o, (_, outlet) in enumerate(self.outputs)
            if outlet in kit.fits_outlet[t]
        }
        self.banks = {
            (n, o): self.model.new_int_var(0, kit.stock[kit.decoders[bank.decoder].stock], "banks")
            for n, bank in enumerate(kit.banks)
            for o, (_, outlet) in enumerate(self.outputs)
            if kit.bank_cell[n] == kit.outlet_cell[outlet]
        }
        self._share()
        self._keep_supplies(ordered)
        for o in range(len(self.outputs)):
            self._keep_channels(o)

    def _units(self) -> list[int]:
        return [n for n, kind in enumerate(self.kit.supplies) for _ in range(self.kit.stock[kind.stock])]

    def _share(self) -> None:
        """Every load is on one output, and no more decoders are used than there are."""
        for t, count in enumerate(self.kit.counts):
            self.model.add(sum(var for (kind, _), var in self.loads.items() if kind == t) == count)
        for n, bank in enumerate(self.kit.banks):
            own = [var for (kind, _), var in self.banks.items() if kind == n]
            self.model.add(sum(own) <= self.kit.stock[self.kit.decoders[bank.decoder].stock])

    def _keep_supplies(self, ordered: bool) -> None:
        """Outputs and supplies keep their watts; with `ordered`, of equal outputs the fuller comes first."""
        kit, units = self.kit, self._units()
        load = [
            sum(kit.types[t].load_uw * var for (t, p), var in self.loads.items() if p == o)
            for o in range(len(self.outputs))
        ]
        for o, (_, outlet) in enumerate(self.outputs):
            self.model.add(load[o] <= kit.outlets[outlet].cap_uw)
        for unit, kind in enumerate(units):
            if kit.supplies[kind].total_binds:
                own = [load[o] for o, (at, _) in enumerate(self.outputs) if at == unit]
                self.model.add(sum(own) <= kit.supplies[kind].total_uw)
        for (a, (unit, outlet)), (b, (other, next_outlet)) in pairwise(enumerate(self.outputs)):
            alone = len(kit.supplies[units[unit]].outlets) == 1 and kit.outlets[outlet].number == 1
            if ordered and outlet == next_outlet and (unit == other or alone):
                self.model.add(load[a] >= load[b])

    def _keep_channels(self, o: int) -> None:
        """Loads that fit only some kinds of bank have the channels and watts of those kinds at most."""
        kit = self.kit
        here = frozenset(n for (n, p) in self.banks if p == o)
        fits = {kit.fits_bank[t] & here for t in range(len(kit.types)) if kit.types[t].channels}
        for kinds in sorted(fits, key=sorted):
            inside = [
                t for t, load in enumerate(kit.types) if load.channels and kit.fits_bank[t] & here <= kinds
            ]
            held = [(t, self.loads[t, o]) for t in inside if (t, o) in self.loads]
            free = [(n, self.banks[n, o]) for n in sorted(kinds)]
            self.model.add(
                sum(kit.types[t].channels * var for t, var in held)
                <= sum(kit.banks[n].channels * var for n, var in free)
            )
            self.model.add(
                sum(kit.types[t].load_uw * var for t, var in held)
                <= sum(kit.banks[n].cap_uw * var for n, var in free)
            )

    def solve(self, effort: float, seed: int) -> bool | None:
        """Whether the pooled question has an answer; None when that is not known."""
        self.solver: Any = self.cp.CpSolver()
        self.solver.parameters.num_workers = 1
        self.solver.parameters.random_seed = seed
        self.solver.parameters.max_deterministic_time = effort
        status = self.solver.solve(self.model)
        if status in (self.cp.OPTIMAL, self.cp.FEASIBLE):
            return True
        return False if status == self.cp.INFEASIBLE else None

    def plan(self, fitter: Fitter) -> Plan | None:
        """The pooled answer on real banks, where every output splits."""
        columns: list[Column] = []
        for o, (_, outlet) in enumerate(self.outputs):
            loads = {t: self.solver.value(var) for (t, p), var in self.loads.items() if p == o}
            loads = {t: count for t, count in loads.items() if count}
            if not loads:
                continue
            banks = [n for (n, p), var in self.banks.items() if p == o for _ in range(self.solver.value(var))]
            column = fitter.column(outlet, banks, loads)
            if column is None:
                return None
            columns.append(column)
        return assemble(self.kit, columns)
