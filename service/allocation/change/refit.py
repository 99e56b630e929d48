"""The least change as one whole-number model: rows that want a place, and gear with room for them.

Rows that are installed and may move have a home. A row of a dead supply has a home too: its channels,
on whatever output feeds that bank anew. The aims are met one after another, each with the earlier ones
held: watts left dark by priority, runs moved, runs that leave their channels (a decoder plugged into
another output keeps them), runs kept apart from their block, weight of new gear, and last the number
of supplies that matched blocks are spread over.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

from service.allocation.change.aims import Choice, aims_of
from service.allocation.change.layout import dark_uw
from service.allocation.change.offers import BankOffer, Offers
from service.allocation.change.room import Place, Room, Row, Tenant, speaks, suits
from service.allocation.search.watch import Pace, solve_watched

REFIT_WORK = 1.5  # deterministic units for all aims
SHARE = {"cost": 1.0, "spread": 1.0}  # of what is left of that work; every other aim takes half
MOST_CHOICES = 40  # banks offered to one row; beyond that the tightest and the emptiest


@dataclass(slots=True)
class Refit:
    """Where each row goes (None: dark), where new units stand, and what is proven."""

    places: list[Place | None]
    sites: dict[str, str]
    proven: bool
    fed_proven: bool
    cost_bound: int
    work: float


def refit(
    room: Room,
    tenants: Sequence[Tenant],
    costs: Mapping[str, int],
    hint: Sequence[Place | None],
    hint_sites: Mapping[str, str],
    most_cost: int | None,
    pace: Pace,
    more_or_nothing: bool = False,
) -> Refit:
    """The best places for these rows beside what the room already carries.

    `hint` is a whole plan; `most_cost`, if it feeds everything and moves nothing, its weight.
    `more_or_nothing`: the hint comes back as it is unless more can be fed.
    """
    model = _Model(room, tenants, costs, hint, hint_sites, most_cost)
    return model.solve(pace, more_or_nothing)


class _Model:
    def __init__(
        self,
        room: Room,
        tenants: Sequence[Tenant],
        costs: Mapping[str, int],
        hint: Sequence[Place | None],
        hint_sites: Mapping[str, str],
        most_cost: int | None,
    ) -> None:
        from ortools.sat.python import cp_model  # heavy: loaded only where the work is done

        self.cp = cp_model
        self.model = cp_model.CpModel()
        self.tenants, self.costs, self.most_cost = tenants, costs, most_cost
        self.offers = Offers(self.model, room, tenants, most_cost)
        self.given = (hint, hint_sites)
        self.hint, self.hint_sites = self.offers.renamed(hint, hint_sites)
        self.outputs, self.banks, self.new = self.offers.outputs, self.offers.banks, self.offers.new
        self.choices: list[list[Choice]] = []
        for number, tenant in enumerate(tenants):
            self._offer_row(number, tenant)
        self.offers.limit_banks()
        self.offers.limit_outputs()
        self.offers.limit_units()
        self._give_hint()

    # What each row may do

    def _offer_row(self, number: int, tenant: Tenant) -> None:
        choices: list[Choice] = []
        if tenant.row.channels:
            choices += self._home_bank(number, tenant)
        if tenant.row.channels and not tenant.pinned:
            able = [at for at, bank in enumerate(self.banks) if self._could_hold(bank, tenant.row)]
            for at in self.offers.some(
                able, MOST_CHOICES, lambda n: self.banks[n].room.left_uw(tenant.row.block.class_mv)
            ):
                choices.append(self._through(number, at, tenant.row))
            choices += self._joins(number, tenant.row)
        if not tenant.row.channels:
            choices += self._straight(number, tenant)
        self.model.add_at_most_one(choice.var for choice in choices)
        for choice in choices:
            self._charge(choice, tenant.row)
        self.choices.append(choices)

    def _could_hold(self, bank: BankOffer, row: Row, gap: bool = True) -> bool:
        class_mv = row.block.class_mv
        if not speaks(bank.box.model, row.block) or bank.site not in row.sites:
            return False
        if bank.box.channel_left_uw(class_mv) < row.peak_uw or bank.room.left_uw(class_mv) < row.load_uw:
            return False
        if bank.fixed is not None and not suits(self.outputs[bank.fixed].rack.model, row.block):
            return False
        return not gap or bank.room.gap(row.channels) is not None

    def _home_bank(self, number: int, tenant: Tenant) -> list[Choice]:
        """Stay on the channels it has; unless its supply is dead, on the output it has as well."""
        home = tenant.home
        if home is None or not home.decoder or not tenant.may_stay:
            return []
        for at, bank in enumerate(self.banks):
            if bank.box.unit.tag != home.decoder or bank.box.bank_at(home.first_channel) is not bank.room:
                continue
            if not self._could_hold(bank, tenant.row, gap=False):
                return []
            var = self.model.new_bool_var(f"row {number} stays")
            span = self.model.new_optional_fixed_size_interval_var(
                home.first_channel, tenant.row.channels, var, ""
            )
            bank.spans.append(span)
            choice = Choice(var, at, None, home.first_channel, is_home=not tenant.orphan, keeps=True)
            if tenant.orphan:
                return [choice]
            choice.output = self._own_output(home)
            if bank.fixed is not None:
                if bank.fixed != choice.output:
                    self.model.add(var == 0)
                return [choice]
            if choice.output in bank.fed_by:
                self.model.add_implication(var, bank.fed_by[choice.output])
            else:
                self.model.add(var == 0)
            return [choice, self._plugged_again(number, at, tenant)]
        return []

    def _own_output(self, home: Place) -> int:
        outputs = enumerate(self.outputs)
        return next(n for n, o in outputs if (o.rack.unit.tag, o.number) == (home.supply, home.output))

    def _plugged_again(self, number: int, at: int, tenant: Tenant) -> Choice:
        """Stay on its channels while another output feeds the bank: one plug, and no address changes."""
        assert tenant.home is not None
        first = tenant.home.first_channel
        var = self.model.new_bool_var(f"row {number} keeps its channels")
        span = self.model.new_optional_fixed_size_interval_var(first, tenant.row.channels, var, "")
        self.banks[at].spans.append(span)
        return Choice(var, at, None, first, keeps=True)

    def _through(self, number: int, at: int, row: Row) -> Choice:
        bank = self.banks[at]
        if bank.empty:
            # Rows in an empty bank can always stand side by side: only their number of channels counts.
            var = self.model.new_bool_var(f"row {number} bank {at}")
            bank.widths.append(row.channels * var)
            return Choice(var, at, None, 0)
        first_channel, last = bank.room.bank.first_channel, bank.room.bank.channels - row.channels
        var = self.model.new_bool_var(f"row {number} bank {at}")
        first = self.model.new_int_var(first_channel, first_channel + last, "")
        bank.spans.append(self.model.new_optional_fixed_size_interval_var(first, row.channels, var, ""))
        return Choice(var, at, None, first)

    def _joins(self, number: int, row: Row) -> list[Choice]:
        """Share the channels of another row of the block, if those can carry this one as well."""
        joins = []
        for at, bank in enumerate(self.banks):
            for taken in bank.room.rows.values():
                each_uw = bank.box.channel_left_uw(row.block.class_mv)
                if (
                    taken.block == row.block.tag
                    and self._could_hold(bank, row, gap=False)
                    and all(
                        has + more <= each_uw
                        for has, more in zip(taken.channel_uw, row.channel_uw, strict=True)
                    )
                ):
                    var = self.model.new_bool_var(f"row {number} joins")
                    joins.append(Choice(var, at, None, taken.first_channel, is_join=True))
        # Two rows that both join the same channels would have to be added up; one may, the other stays apart.
        for earlier in (c for choices in self.choices for c in choices if c.is_join):
            for choice in joins:
                if (choice.bank, choice.first) == (earlier.bank, earlier.first):
                    self.model.add_bool_or(~choice.var, ~earlier.var)
        return joins

    def _straight(self, number: int, tenant: Tenant) -> list[Choice]:
        choices = []
        home = tenant.home
        for at, out in enumerate(self.outputs):
            is_home = home is not None and (home.supply, home.output) == (out.rack.unit.tag, out.number)
            if not suits(out.rack.model, tenant.row.block) or out.site not in tenant.row.sites:
                continue
            if is_home and not tenant.may_stay:
                continue
            if out.left_uw < tenant.row.load_uw:
                continue
            choices.append(Choice(self.model.new_bool_var(f"row {number} on {at}"), None, at, 0, is_home))
        return choices

    def _charge(self, choice: Choice, row: Row) -> None:
        """The row's load is on the bank and on the output, and the bank's output suits the row."""
        if choice.bank is None:
            assert choice.output is not None
            out = self.outputs[choice.output]
            out.load.append(row.load_uw * choice.var)
            self.offers.implies(choice.var, out.used)
            return
        bank = self.banks[choice.bank]
        bank.load[row.block.class_mv].append(row.load_uw * choice.var)
        if bank.fixed is not None:
            self.outputs[bank.fixed].load.append(row.load_uw * choice.var)
            return
        self.model.add_implication(choice.var, bank.live)
        for number, fed in bank.fed_by.items():
            if not suits(self.outputs[number].rack.model, row.block):
                self.model.add_bool_or(~choice.var, ~fed)

    # The hint: a complete plan, so that the first answer is never worse

    def _give_hint(self) -> None:
        feeding: dict[int, int] = {}
        for tenant, choices, place in zip(self.tenants, self.choices, self.hint, strict=True):
            for choice in choices:
                chosen = place is not None and self._is(choice, place, tenant.row)
                self.model.add_hint(choice.var, int(chosen))
                if chosen and choice.bank is not None and place is not None:
                    feeding[choice.bank] = next(
                        (n for n in self.banks[choice.bank].fed_by if self._names(n, place)), -1
                    )
                    if not isinstance(choice.first, int):
                        self.model.add_hint(choice.first, place.first_channel)
                    place = None if choice.keeps else place
        for at, bank in enumerate(self.banks):
            for number, fed in bank.fed_by.items():
                self.model.add_hint(fed, int(feeding.get(at) == number))
        for (tag, site), used in self.new.items():
            self.model.add_hint(used, int(self.hint_sites.get(tag) == site))

    def _names(self, number: int, place: Place) -> bool:
        out = self.outputs[number]
        at = self.hint_sites.get(place.supply, out.site)
        return (out.rack.unit.tag, out.number, out.site) == (place.supply, place.output, at)

    def _is(self, choice: Choice, place: Place, row: Row) -> bool:
        if choice.bank is None:
            return not place.decoder and choice.output is not None and self._names(choice.output, place)
        bank = self.banks[choice.bank]
        if bank.box.unit.tag != place.decoder or bank.box.bank_at(place.first_channel) is not bank.room:
            return False
        if self.hint_sites.get(place.decoder, bank.site) != bank.site:
            return False
        if choice.keeps or choice.is_join:
            kept = choice.output is None or self._names(choice.output, place)
            return bool(choice.first == place.first_channel) and kept
        return row.channels > 0

    # The aims, one after another

    def solve(self, pace: Pace, more_or_nothing: bool) -> Refit:
        effort, solver = pace.effort, self.cp.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = effort.seed
        # With the linear relaxation of everything the bound is strong; without it, thirty times the work.
        solver.parameters.linearization_level = 2
        budget = REFIT_WORK * max(effort.scale, 0.05)
        proven, fed_proven, bound, work, answer = True, True, 0, 0.0, None
        sites: dict[str, str] = {}
        for name, aim in aims_of(self.tenants, self.choices, self.costs, self.offers):
            if more_or_nothing and name != "dark" and not self._feeds_more(answer):
                answer = None
                break
            if self.most_cost is not None and name in ("dark", "moved", "left"):
                # A whole plan is known that leaves nothing dark and moves nothing: these aims are at zero.
                self.model.add(aim <= 0)
                continue
            self.model.minimize(aim)
            share = SHARE.get(name, 0.5)
            solver.parameters.max_deterministic_time = share * max(budget - work, 0.1 * budget)
            status = self.cp.UNKNOWN
            if not pace.must_stop():
                status = solve_watched(solver, self.model, pace.must_stop)
                work += solver.response_proto.deterministic_time
            if status not in (self.cp.OPTIMAL, self.cp.FEASIBLE):
                proven, fed_proven = False, fed_proven and name != "dark"
                break
            optimal = status == self.cp.OPTIMAL
            fed_proven = fed_proven and (optimal or name != "dark")
            bound = ceil(solver.best_objective_bound - 1e-6) if proven and name == "cost" else bound
            proven = proven and (optimal or name == "spread")
            self.model.add(aim <= round(solver.objective_value))
            answer = self._read(solver)
            sites = {tag: site for (tag, site), used in self.new.items() if solver.value(used)}
            self._hint_again(solver)
        if answer is None:
            # As it was given: the names that suit the offers may not be enough for all its new units.
            return Refit(list(self.given[0]), dict(self.given[1]), False, False, 0, work)
        exact = not self.offers.trimmed
        return Refit(answer, sites, proven and exact, fed_proven and exact, bound if exact else 0, work)

    def _feeds_more(self, places: Sequence[Place | None] | None) -> bool:
        """More by priority than the plan that was given."""
        return places is not None and dark_uw(self.tenants, places) < dark_uw(self.tenants, self.given[0])

    def _read(self, solver: Any) -> list[Place | None]:
        """Where each row goes; rows in an empty bank stand side by side in their own order."""
        next_channel: dict[int, int] = {}
        places: list[Place | None] = []
        for tenant, choices in zip(self.tenants, self.choices, strict=True):
            choice = next((one for one in choices if solver.value(one.var)), None)
            if choice is None:
                places.append(None)
                continue
            if choice.bank is None:
                assert choice.output is not None
                out = self.outputs[choice.output]
                places.append(Place(out.rack.unit.tag, out.number, "", 0))
                continue
            bank = self.banks[choice.bank]
            number = bank.fixed
            if number is None:
                number = next(n for n, fed in bank.fed_by.items() if solver.value(fed))
            out = self.outputs[number]
            first = choice.first if isinstance(choice.first, int) else int(solver.value(choice.first))
            if bank.empty:
                first = next_channel.get(choice.bank, bank.room.bank.first_channel)
                next_channel[choice.bank] = first + tenant.row.channels
            places.append(Place(out.rack.unit.tag, out.number, bank.box.unit.tag, first))
        return places

    def _hint_again(self, solver: Any) -> None:
        """The next aim starts from the whole answer of this one."""
        self.model.clear_hints()  # type: ignore[no-untyped-call]
        for choices in self.choices:
            for choice in choices:
                self.model.add_hint(choice.var, solver.value(choice.var))
                if not isinstance(choice.first, int):
                    self.model.add_hint(choice.first, solver.value(choice.first))
        for bank in self.banks:
            for fed in bank.fed_by.values():
                self.model.add_hint(fed, solver.value(fed))
        for used in self.new.values():
            self.model.add_hint(used, solver.value(used))
