"""The gear a change may use, as the variables of a model: outputs, banks, and new units at each site."""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

from service.allocation.change.room import (
    BankRoom,
    Box,
    Place,
    Rack,
    Room,
    Row,
    Tenant,
    bears,
    speaks,
    suits,
)

SMALL = 8  # rows up to which as many new units are offered as there are rows
MOST_OUTPUTS = 40  # outputs offered to one bank; beyond that the tightest and the emptiest


@dataclass(slots=True)
class Output:
    """An output at a site, whether its supply is used there, and what is put on it."""

    rack: Rack
    number: int
    site: str
    used: Any
    load: list[Any] = field(default_factory=list)

    @property
    def left_uw(self) -> int:
        return max(0, self.rack.left_uw(self.number))


@dataclass(slots=True)
class BankOffer:
    """A bank at a site. `fixed`: the output that feeds it already; else `fed_by` decides.

    Rows in an `empty` bank can always stand side by side, so only their `widths` count; elsewhere
    each has a span.
    """

    box: Box
    room: BankRoom
    site: str
    used: Any
    fixed: int | None
    empty: bool
    live: Any = 1
    fed_by: dict[int, Any] = field(default_factory=dict)
    load: dict[int, list[Any]] = field(default_factory=lambda: defaultdict(list))
    spans: list[Any] = field(default_factory=list)
    widths: list[Any] = field(default_factory=list)


class Offers:
    """Everything standing with room for the rows, and as many new units as a plan could want."""

    def __init__(self, model: Any, room: Room, tenants: Sequence[Tenant], most_cost: int | None) -> None:
        self.model, self.room, self.tenants, self.most_cost = model, room, tenants, most_cost
        self.trimmed = False
        self.new: dict[tuple[str, str], Any] = {}
        self.outputs: list[Output] = []
        self.banks: list[BankOffer] = []
        self._offer_outputs()
        self._offer_banks()
        self._pair_banks_with_outputs()

    def home_room(self, home: Place) -> BankRoom | None:
        box = self.room.boxes.get(home.decoder)
        return box.bank_at(home.first_channel) if box else None

    def implies(self, var: Any, used: Any) -> None:
        """What is chosen needs its unit; a unit that stands already is a constant."""
        if not isinstance(used, int):
            self.model.add_implication(var, used)

    def some(self, numbers: list[int], most: int, left: Callable[[int], int]) -> list[int]:
        """All of them, or the tightest and the emptiest."""
        if len(numbers) <= most:
            return numbers
        self.trimmed = True
        ranked = sorted(numbers, key=lambda n: (left(n), n))
        return sorted({*ranked[: most // 2], *ranked[-most // 2 :]})

    def renamed(
        self, places: Sequence[Place | None], sites: Mapping[str, str]
    ) -> tuple[list[Place | None], dict[str, str]]:
        """The same plan on the new units that are offered, each for another of its kind at its site."""
        offered: dict[tuple[str, str], list[str]] = defaultdict(list)
        for tag, site in sorted(self.new):
            offered[self._kind(tag), site].append(tag)
        names: dict[str, str] = {}
        for tag in sorted(sites):
            free = offered[self._kind(tag), sites[tag]]
            names[tag] = free.pop(0) if free else tag
        told = [
            place
            and replace(
                place,
                supply=names.get(place.supply, place.supply),
                decoder=names.get(place.decoder, place.decoder),
            )
            for place in places
        ]
        return told, {names[tag]: site for tag, site in sites.items()}

    def _kind(self, tag: str) -> str:
        return (self.room.racks.get(tag) or self.room.boxes[tag]).model.tag

    def _offer_outputs(self) -> None:
        rows = [tenant.row for tenant in self.tenants]
        homes = {(t.home.supply, t.home.output) for t in self.tenants if t.home and not t.orphan}
        sites = self._where(self.room.racks, lambda rack, row: suits(rack.model, row.block), False)
        for rack in self.room.racks.values():
            fits = [row.load_uw for row in rows if suits(rack.model, row.block)]
            for site in sites[rack.unit.tag]:
                for number in range(1, len(rack.outputs_uw) + 1):
                    if rack.left_uw(number) >= min(fits) or (rack.unit.tag, number) in homes:
                        used = self._use(rack.unit.tag, site, bool(rack.site))
                        self.outputs.append(Output(rack, number, site, used))

    def _offer_banks(self) -> None:
        at = {(out.rack.unit.tag, out.number): n for n, out in enumerate(self.outputs)}
        homes = {(t.home.decoder, id(self.home_room(t.home))) for t in self.tenants if t.home}
        sites = self._where(self.room.boxes, _may_hold, True)
        for box in self.room.boxes.values():
            for site in sites[box.unit.tag]:
                for room in box.banks:
                    if room.output is not None and room.output not in at:
                        continue
                    fixed = at[room.output] if room.output is not None else None
                    used = self._use(box.unit.tag, site, bool(box.site))
                    empty = not room.rows and (box.unit.tag, id(room)) not in homes
                    self.banks.append(BankOffer(box, room, site, used, fixed, empty))

    def _where(
        self, gear: Mapping[str, Any], fits: Callable[[Any, Row], bool], decoders: bool
    ) -> dict[str, list[str]]:
        """Sites each unit is offered at: where it stands, or, if idle, where it could be of use.

        Where there are enough idle units, each site has its own, so that sites do not compete for them.
        """
        sites: dict[str, list[str]] = {}
        idle: dict[str, list[str]] = defaultdict(list)
        wants: dict[str, dict[str, int]] = {}
        all_wants: dict[str, dict[str, int]] = {}
        for tag, unit in gear.items():
            sites[tag] = []
            if unit.site or unit.model.tag not in wants:
                able = [tenant for tenant in self.tenants if fits(unit, tenant.row)]
                if unit.site:
                    at_home = any(unit.site in tenant.row.sites for tenant in able)
                    sites[tag] = [unit.site] if at_home else []
                    continue
                wants[unit.model.tag] = self._wants(able, decoders, unit.model.cost)
                all_wants[unit.model.tag] = self._wants(able, decoders, unit.model.cost, whole=True)
            idle[unit.model.tag].append(tag)
        for model, tags in idle.items():
            plenty = sum(wants[model].values()) <= len(tags)
            offered = {site: min(count, len(tags)) for site, count in all_wants[model].items()}
            self.trimmed |= any(wants[model].get(site, 0) < count for site, count in offered.items())
            for site, count in sorted(wants[model].items()):
                for tag in tags[:count]:
                    sites[tag].append(site)
                tags = tags[count:] if plenty else tags
        return sites

    def _wants(
        self, able: Sequence[Tenant], decoders: bool, cost: int, whole: bool = False
    ) -> dict[str, int]:
        """New units of one model that a plan could want at each site: one a row, one a bank that is kept.

        Where many rows stand, only a few new units are offered to those, unless the `whole` is asked for.
        """
        loose = [tenant for tenant in able if not tenant.pinned and (not decoders or tenant.row.channels)]
        held = any(t.home is not None and not t.orphan for t in self.tenants)
        few = held and len(self.tenants) > SMALL and not whole
        if few:
            loose = [tenant for tenant in loose if tenant.home is None or tenant.orphan]
        wants: dict[str, int] = defaultdict(int)
        for tenant in loose:
            for site in tenant.row.sites:
                wants[site] += 1
        pinned = {
            (t.home.decoder, id(self.home_room(t.home)))
            for t in able
            if t.pinned and t.home is not None and not decoders
        }
        for decoder, _ in sorted(pinned):
            wants[self.room.boxes[decoder].site] += 1
        spare = 2 if few else 0
        most = (
            self.most_cost // cost if self.most_cost is not None and cost > 0 else len(self.tenants) + spare
        )
        return {site: min(count + spare, most) for site, count in wants.items()}

    def _use(self, tag: str, site: str, standing: bool) -> Any:
        """True when the unit is used there; constant for one that stands already."""
        if standing:
            return 1
        if (tag, site) not in self.new:
            self.new[tag, site] = self.model.new_bool_var(f"use {tag} {site}")
        return self.new[tag, site]

    def _pair_banks_with_outputs(self) -> None:
        """One output feeds a bank, at the same place."""
        by_site: dict[str, list[int]] = defaultdict(list)
        for number, out in enumerate(self.outputs):
            by_site[out.site].append(number)
        for at, bank in enumerate(self.banks):
            if bank.fixed is not None:
                continue
            bank.live = self.model.new_bool_var(f"live {at}")
            able = [n for n in by_site[bank.site] if bears(bank.box.model, self.outputs[n].rack.model)]
            for number in self.some(able, MOST_OUTPUTS, lambda n: self.outputs[n].left_uw):
                bank.fed_by[number] = self.model.new_bool_var(f"{at} from {number}")
                self.implies(bank.fed_by[number], self.outputs[number].used)
            self.model.add(sum(bank.fed_by.values()) == bank.live)
            self.implies(bank.live, bank.used)

    # Limits, once every row has said where it could go

    def limit_banks(self) -> None:
        """No bank carries more than its current, and no two rows are on one channel."""
        for at, bank in enumerate(self.banks):
            for class_mv, load in bank.load.items():
                self.model.add(sum(load) <= max(0, bank.room.left_uw(class_mv)) * bank.live)
            for taken in bank.room.rows.values():
                first, count = taken.first_channel, len(taken.channel_uw)
                bank.spans.append(self.model.new_fixed_size_interval_var(first, count, ""))
            if len(bank.spans) > 1:
                self.model.add_no_overlap(bank.spans)
            if bank.widths:
                self.model.add(sum(bank.widths) <= bank.room.bank.channels * bank.live)
            if bank.fed_by:
                self._carry_to_output(at, bank)

    def _carry_to_output(self, at: int, bank: BankOffer) -> None:
        """The load of the bank is on the one output that feeds it."""
        flows = []
        for number, fed in bank.fed_by.items():
            flow = self.model.new_int_var(0, self.outputs[number].left_uw, f"flow {at} {number}")
            self.model.add(flow <= self.outputs[number].left_uw * fed)
            self.outputs[number].load.append(flow)
            flows.append(flow)
        self.model.add(sum(flows) == sum(term for load in bank.load.values() for term in load))

    def limit_outputs(self) -> None:
        """No output carries more than its current, and no supply more than its watts.

        A supply that is not used carries nothing: said outright, because the bound is weak without it.
        """
        by_supply: dict[tuple[str, str], list[Any]] = defaultdict(list)
        for out in self.outputs:
            self.model.add(sum(out.load) <= max(0, out.rack.outputs_uw[out.number - 1]) * out.used)
            by_supply[out.rack.unit.tag, out.site] += out.load
        for (tag, site), load in by_supply.items():
            self.model.add(sum(load) <= max(0, self.room.racks[tag].free_uw) * self.new.get((tag, site), 1))

    def limit_units(self) -> None:
        """A new unit stands in one place; of units that are alike, the first by tag are used first."""
        by_tag: dict[str, list[Any]] = defaultdict(list)
        alike: dict[tuple[str, str], list[Any]] = defaultdict(list)
        for (tag, site), used in sorted(self.new.items(), key=lambda pair: pair[0]):
            by_tag[tag].append(used)
            unit = self.room.racks.get(tag) or self.room.boxes[tag]
            alike[unit.model.tag, site].append((tag, used))
        for uses in by_tag.values():
            self.model.add_at_most_one(uses)
        for group in alike.values():
            # Not where another site may want the first one: then the order of tags says nothing.
            if all(len(by_tag[tag]) == 1 for tag, _ in group):
                for (_, first), (_, second) in pairwise(group):
                    self.model.add_implication(second, first)


def _may_hold(box: Box, row: Row) -> bool:
    return row.channels > 0 and speaks(box.model, row.block)
