"""The least change as one whole-number model: rows that want a place, and gear with room for them.

Rows that are installed and may move have a home. A row of a dead supply has a home too: its channels,
on whatever output feeds that bank anew. The aims are met one after another, each with the earlier ones
held: watts left dark by priority, runs moved, runs that leave their channels, runs kept
apart from their block, weight of new gear.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import ceil
from typing import Any

from service.allocation.problem import Effort
from service.allocation.room import BankRoom, Box, Place, Rack, Room, Row, speaks, suits

LEVEL_WORK = 2.0  # deterministic units for each aim
MOST_CHOICES = 40  # standing banks offered to one row; beyond that the tightest and the emptiest
SMALL = 8  # rows for which every number of new units is offered
MOST_OUTPUTS = 40  # outputs offered to one bank, in the same way


@dataclass(frozen=True, slots=True)
class Tenant:
    """A row that wants a place. `home`: where it is now; `orphan`: the supply of its home is gone.

    `pinned`: it keeps its channels or goes dark; `may_stay`: false when those are the wrong ones.
    """

    row: Row
    home: Place | None = None
    orphan: bool = False
    may_stay: bool = True
    pinned: bool = False


@dataclass(slots=True)
class Refit:
    """Where each row goes (None: dark), where new units stand, and what is proven."""

    places: list[Place | None]
    sites: dict[str, str]
    proven: bool
    fed_proven: bool
    cost_bound: int
    work: float


@dataclass(slots=True)
class _Output:
    rack: Rack
    number: int
    site: str
    used: Any
    load: list[Any] = field(default_factory=list)

    @property
    def left_uw(self) -> int:
        return max(0, self.rack.left_uw(self.number))


@dataclass(slots=True)
class _Bank:
    box: Box
    room: BankRoom
    site: str
    used: Any
    fixed: int | None
    live: Any = None
    fed_by: dict[int, Any] = field(default_factory=dict)
    load: dict[int, list[Any]] = field(default_factory=lambda: defaultdict(list))
    spans: list[Any] = field(default_factory=list)
    widths: list[Any] = field(default_factory=list)
    empty: bool = True


@dataclass(slots=True)
class _Choice:
    """One way to feed a row: through a bank from some channel on, or straight on an output."""

    var: Any
    bank: int | None
    output: int | None
    first: Any
    is_home: bool = False
    is_join: bool = False


def refit(
    room: Room,
    tenants: Sequence[Tenant],
    costs: Mapping[str, int],
    hint: Sequence[Place | None],
    hint_sites: Mapping[str, str],
    most_cost: int | None,
    effort: Effort,
) -> Refit:
    """The best places for these rows beside what the room already carries.

    `hint` is a whole plan; `most_cost`, if it feeds everything and moves nothing, its weight.
    """
    model = _Model(room, tenants, costs, hint, hint_sites, most_cost)
    return model.solve(effort)


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
        self.room, self.tenants, self.costs = room, tenants, costs
        self.hint, self.hint_sites, self.most_cost = hint, hint_sites, most_cost
        self.trimmed = False
        self.new: dict[tuple[str, str], Any] = {}
        self.outputs: list[_Output] = []
        self.banks: list[_Bank] = []
        self.choices: list[list[_Choice]] = []
        self._offer_outputs()
        self._offer_banks()
        self._pair_banks_with_outputs()
        for number, tenant in enumerate(tenants):
            self._offer_row(number, tenant)
        self._limit_banks()
        self._limit_outputs()
        self._limit_units()
        self._give_hint()

    # What there is

    def _sites(self, site: str, fits: Iterable[Row]) -> list[str]:
        """Where a unit could stand to be of use to the rows."""
        wanted = {at for row in fits for at in row.block.sites}
        return sorted(wanted) if not site else [site] if site in wanted else []

    def _use(self, tag: str, site: str, standing: bool) -> Any:
        """True when the unit is used there; constant for one that stands already."""
        if standing:
            return 1
        if (tag, site) not in self.new:
            self.new[tag, site] = self.model.new_bool_var(f"use {tag} {site}")
        return self.new[tag, site]

    def _wanted(self) -> int:
        """New units of one model that a plan could want: one a row, fewer where most rows have a home."""
        if len(self.tenants) <= SMALL:
            return len(self.tenants)
        self.trimmed |= any(tenant.home is not None and not tenant.orphan for tenant in self.tenants)
        return 2 + sum(1 for tenant in self.tenants if tenant.home is None or tenant.orphan)

    def _enough(self, units: Iterable[Any]) -> list[Any]:
        """Standing units, and of new ones that are alike as many as a plan could want.

        No plan wants more than one for each row, nor dearer ones than a whole plan that is known.
        """
        kept, seen = [], dict[str, int]()
        for unit in units:
            if not unit.site:
                most = self._wanted()
                if self.most_cost is not None and unit.model.cost > 0:
                    most = min(most, self.most_cost // unit.model.cost)
                seen[unit.model.tag] = seen.get(unit.model.tag, 0) + 1
                if seen[unit.model.tag] > most:
                    continue
            kept.append(unit)
        return kept

    def _offer_outputs(self) -> None:
        rows = [tenant.row for tenant in self.tenants]
        homes = {(t.home.supply, t.home.output) for t in self.tenants if t.home and not t.orphan}
        for rack in self._enough(self.room.racks.values()):
            fits = [row for row in rows if suits(rack.model, row.block)]
            least_uw = min((row.load_uw for row in fits), default=0)
            for site in self._sites(rack.site, fits):
                for number in range(1, len(rack.outputs_uw) + 1):
                    if rack.left_uw(number) >= least_uw or (rack.unit.tag, number) in homes:
                        used = self._use(rack.unit.tag, site, bool(rack.site))
                        self.outputs.append(_Output(rack, number, site, used))

    def _offer_banks(self) -> None:
        rows = [tenant.row for tenant in self.tenants if tenant.row.channels]
        at = {(out.rack.unit.tag, out.number): n for n, out in enumerate(self.outputs)}
        homes = {(t.home.decoder, id(self._home_room(t.home))) for t in self.tenants if t.home}
        for box in self._enough(self.room.boxes.values()):
            fits = [row for row in rows if speaks(box.model, row.block)]
            for site in self._sites(box.site, fits):
                for room in box.banks:
                    if room.output is not None and room.output not in at:
                        continue
                    fixed = at[room.output] if room.output is not None else None
                    used = self._use(box.unit.tag, site, bool(box.site))
                    empty = not room.rows and (box.unit.tag, id(room)) not in homes
                    self.banks.append(_Bank(box, room, site, used, fixed, empty=empty))

    def _home_room(self, home: Place) -> BankRoom | None:
        box = self.room.boxes.get(home.decoder)
        return box.bank_at(home.first_channel) if box else None

    def _pair_banks_with_outputs(self) -> None:
        """One output feeds a bank, at the same place."""
        by_site: dict[str, list[int]] = defaultdict(list)
        for number, out in enumerate(self.outputs):
            by_site[out.site].append(number)
        for at, bank in enumerate(self.banks):
            if bank.fixed is not None:
                bank.live = 1
                continue
            bank.live = self.model.new_bool_var(f"live {at}")
            low, high = bank.box.model.min_mv, bank.box.model.max_mv
            able = [n for n in by_site[bank.site] if low <= self.outputs[n].rack.model.class_mv <= high]
            for number in self._some(able, MOST_OUTPUTS, lambda n: self.outputs[n].left_uw):
                bank.fed_by[number] = self.model.new_bool_var(f"{at} from {number}")
                self._implies(bank.fed_by[number], self.outputs[number].used)
            self.model.add(sum(bank.fed_by.values()) == bank.live)
            self._implies(bank.live, bank.used)

    def _some(self, numbers: list[int], most: int, left: Any) -> list[int]:
        """All of them, or the tightest and the emptiest with every home and every new one that counts."""
        if len(numbers) <= most:
            return numbers
        self.trimmed = True
        ranked = sorted(numbers, key=lambda n: (left(n), n))
        return sorted({*ranked[: most // 2], *ranked[-most // 2 :]})

    def _implies(self, var: Any, used: Any) -> None:
        if not isinstance(used, int):
            self.model.add_implication(var, used)

    # What each row may do

    def _offer_row(self, number: int, tenant: Tenant) -> None:
        choices: list[_Choice] = []
        if tenant.row.channels:
            choices += self._home_bank(number, tenant)
        if tenant.row.channels and not tenant.pinned:
            able = [at for at, bank in enumerate(self.banks) if self._could_hold(bank, tenant.row)]
            for at in self._some(
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

    def _could_hold(self, bank: _Bank, row: Row, gap: bool = True) -> bool:
        class_mv = row.block.class_mv
        if not speaks(bank.box.model, row.block) or bank.site not in row.block.sites:
            return False
        if bank.box.channel_left_uw(class_mv) < row.peak_uw or bank.room.left_uw(class_mv) < row.load_uw:
            return False
        if bank.fixed is not None and not suits(self.outputs[bank.fixed].rack.model, row.block):
            return False
        return not gap or bank.room.gap(row.channels) is not None

    def _home_bank(self, number: int, tenant: Tenant) -> list[_Choice]:
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
            choice = _Choice(var, at, None, home.first_channel, is_home=True)
            if not tenant.orphan:
                own = next(
                    n
                    for n, o in enumerate(self.outputs)
                    if (o.rack.unit.tag, o.number) == (home.supply, home.output)
                )
                choice.output = own
                if bank.fixed is None and own in bank.fed_by:
                    self.model.add_implication(var, bank.fed_by[own])
                elif bank.fixed != own:
                    self.model.add(var == 0)
            return [choice]
        return []

    def _through(self, number: int, at: int, row: Row) -> _Choice:
        bank = self.banks[at]
        if bank.empty:
            # Rows in an empty bank can always stand side by side: only their number of channels counts.
            var = self.model.new_bool_var(f"row {number} bank {at}")
            bank.widths.append(row.channels * var)
            return _Choice(var, at, None, 0)
        first_channel, last = bank.room.bank.first_channel, bank.room.bank.channels - row.channels
        var = self.model.new_bool_var(f"row {number} bank {at}")
        first = self.model.new_int_var(first_channel, first_channel + last, "")
        bank.spans.append(self.model.new_optional_fixed_size_interval_var(first, row.channels, var, ""))
        return _Choice(var, at, None, first)

    def _joins(self, number: int, row: Row) -> list[_Choice]:
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
                    joins.append(_Choice(var, at, None, taken.first_channel, is_join=True))
        # Two rows that both join the same channels would have to be added up; one may, the other stays apart.
        for earlier in (c for choices in self.choices for c in choices if c.is_join):
            for choice in joins:
                if (choice.bank, choice.first) == (earlier.bank, earlier.first):
                    self.model.add_bool_or(~choice.var, ~earlier.var)
        return joins

    def _straight(self, number: int, tenant: Tenant) -> list[_Choice]:
        choices = []
        home = tenant.home
        for at, out in enumerate(self.outputs):
            is_home = home is not None and (home.supply, home.output) == (out.rack.unit.tag, out.number)
            if not suits(out.rack.model, tenant.row.block) or out.site not in tenant.row.block.sites:
                continue
            if is_home and not tenant.may_stay:
                continue
            if out.left_uw < tenant.row.load_uw:
                continue
            choices.append(_Choice(self.model.new_bool_var(f"row {number} on {at}"), None, at, 0, is_home))
        return choices

    def _charge(self, choice: _Choice, row: Row) -> None:
        """The row's load is on the bank and on the output, and the bank's output suits the row."""
        if choice.bank is None:
            assert choice.output is not None
            out = self.outputs[choice.output]
            out.load.append(row.load_uw * choice.var)
            self._implies(choice.var, out.used)
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

    # Limits

    def _limit_banks(self) -> None:
        for at, bank in enumerate(self.banks):
            for class_mv, load in bank.load.items():
                self.model.add(sum(load) <= max(0, bank.room.left_uw(class_mv)))
            for taken in bank.room.rows.values():
                first, count = taken.first_channel, len(taken.channel_uw)
                bank.spans.append(self.model.new_fixed_size_interval_var(first, count, ""))
            if len(bank.spans) > 1:
                self.model.add_no_overlap(bank.spans)
            if bank.widths:
                self.model.add(sum(bank.widths) <= bank.room.bank.channels)
            if not bank.fed_by:
                continue
            flows = []
            for number, fed in bank.fed_by.items():
                flow = self.model.new_int_var(0, self.outputs[number].left_uw, f"flow {at} {number}")
                self.model.add(flow == 0).only_enforce_if(~fed)
                self.outputs[number].load.append(flow)
                flows.append(flow)
            self.model.add(sum(flows) == sum(term for load in bank.load.values() for term in load))

    def _limit_outputs(self) -> None:
        by_supply: dict[tuple[str, str], list[Any]] = defaultdict(list)
        for out in self.outputs:
            self.model.add(sum(out.load) <= max(0, out.rack.outputs_uw[out.number - 1]))
            by_supply[out.rack.unit.tag, out.site] += out.load
        for (tag, _), load in by_supply.items():
            self.model.add(sum(load) <= max(0, self.room.racks[tag].free_uw))

    def _limit_units(self) -> None:
        """A new unit stands in one place; of units that are alike, the first by tag are used first."""
        by_tag: dict[str, list[Any]] = defaultdict(list)
        alike: dict[tuple[str, str], list[Any]] = defaultdict(list)
        for (tag, site), used in sorted(self.new.items(), key=lambda pair: pair[0]):
            by_tag[tag].append(used)
            unit = self.room.racks.get(tag) or self.room.boxes[tag]
            alike[unit.model.tag, site].append(used)
        for uses in by_tag.values():
            self.model.add_at_most_one(uses)
        if len({site for _, site in self.new}) == 1:
            for uses in alike.values():
                for first, second in pairwise(uses):
                    self.model.add_implication(second, first)

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
                    place = None if choice.is_home else place
        for at, bank in enumerate(self.banks):
            for number, fed in bank.fed_by.items():
                self.model.add_hint(fed, int(feeding.get(at) == number))
        for (tag, site), used in self.new.items():
            self.model.add_hint(used, int(self.hint_sites.get(tag) == site))

    def _names(self, number: int, place: Place) -> bool:
        out = self.outputs[number]
        at = self.hint_sites.get(place.supply, out.site)
        return (out.rack.unit.tag, out.number, out.site) == (place.supply, place.output, at)

    def _is(self, choice: _Choice, place: Place, row: Row) -> bool:
        if choice.bank is None:
            return not place.decoder and choice.output is not None and self._names(choice.output, place)
        bank = self.banks[choice.bank]
        if bank.box.unit.tag != place.decoder or bank.box.bank_at(place.first_channel) is not bank.room:
            return False
        if self.hint_sites.get(place.decoder, bank.site) != bank.site:
            return False
        if choice.is_home or choice.is_join:
            kept = choice.output is None or self._names(choice.output, place)
            return bool(choice.first == place.first_channel) and kept
        return row.channels > 0

    # The aims, one after another

    def solve(self, effort: Effort) -> Refit:
        solver = self.cp.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = effort.seed
        solver.parameters.max_deterministic_time = LEVEL_WORK * max(effort.scale, 0.05)
        proven, fed_proven, bound, work, answer = True, True, 0, 0.0, None
        sites: dict[str, str] = {}
        for name, aim in self._aims():
            if self.most_cost is not None and name in ("dark", "moved", "left"):
                # A whole plan is known that leaves nothing dark and moves nothing: these aims are at zero.
                self.model.add(aim <= 0)
                continue
            self.model.minimize(aim)
            status = solver.solve(self.model)
            work += solver.response_proto.deterministic_time
            if status not in (self.cp.OPTIMAL, self.cp.FEASIBLE):
                return Refit(list(self.hint), dict(self.hint_sites), False, False, 0, work)
            optimal = status == self.cp.OPTIMAL
            fed_proven = fed_proven and (optimal or name != "dark")
            bound = ceil(solver.best_objective_bound - 1e-6) if proven and name == "cost" else bound
            proven = proven and optimal
            self.model.add(aim <= round(solver.objective_value))
            answer = self._read(solver)
            sites = {tag: site for (tag, site), used in self.new.items() if solver.value(used)}
            self._hint_again(solver)
        assert answer is not None
        exact = not self.trimmed
        return Refit(answer, sites, proven and exact, fed_proven and exact, bound if exact else 0, work)

    def _aims(self) -> list[tuple[str, Any]]:
        dark: dict[int, list[Any]] = defaultdict(list)
        moved, left, apart = [], [], []
        for tenant, choices in zip(self.tenants, self.choices, strict=True):
            fed = sum(choice.var for choice in choices)
            dark[tenant.row.block.priority].append(tenant.row.load_uw * (1 - fed))
            runs = len(tenant.row.runs)
            home = sum(choice.var for choice in choices if choice.is_home)
            if tenant.home is not None and not tenant.orphan:
                moved.append(runs * (1 - home))
            elif tenant.home is not None and tenant.home.decoder:
                left.append(runs * (1 - home))
            joined = [choice.var for choice in choices if choice.is_join]
            if joined:
                apart.append(runs * (1 - sum(joined)))
        cost = sum(self.costs[tag] * used for (tag, _), used in self.new.items())
        aims = [("dark", sum(dark[priority])) for priority in sorted(dark)]
        aims += [("moved", sum(moved)), ("left", sum(left)), ("apart", sum(apart)), ("cost", cost)]
        # An aim without a choice in it is a number, and met already.
        return [aim for aim in aims if not isinstance(aim[1], int)] or [("cost", 0)]

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
