"""What a change is judged by, as sums over the choices of a model, the most important first."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from service.allocation.change.offers import Offers
from service.allocation.change.room import Tenant


@dataclass(slots=True)
class Choice:
    """One way to feed a row: through a bank from some channel on, or straight on an output.

    `is_home`: just as it is installed. `keeps`: on its own channels, whatever output feeds them.
    """

    var: Any
    bank: int | None
    output: int | None
    first: Any
    is_home: bool = False
    is_join: bool = False
    keeps: bool = False


def aims_of(
    tenants: Sequence[Tenant],
    choices_of: Sequence[Sequence[Choice]],
    costs: Mapping[str, int],
    offers: Offers,
) -> list[tuple[str, Any]]:
    """Watts dark by priority, runs moved, runs that leave their channels, runs apart from their block,
    weight of new gear, supplies that matched blocks are spread over."""
    dark: dict[int, list[Any]] = defaultdict(list)
    moved, left, apart = [], [], []
    for tenant, choices in zip(tenants, choices_of, strict=True):
        fed = sum(choice.var for choice in choices)
        dark[tenant.row.block.priority].append(tenant.row.load_uw * (1 - fed))
        runs = len(tenant.row.runs)
        if tenant.home is not None and not tenant.orphan:
            moved.append(runs * (1 - sum(choice.var for choice in choices if choice.is_home)))
        if tenant.home is not None and tenant.home.decoder:
            left.append(runs * (1 - sum(choice.var for choice in choices if choice.keeps)))
        joined = [choice.var for choice in choices if choice.is_join]
        if joined:
            apart.append(runs * (1 - sum(joined)))
    cost = sum(costs[tag] * used for (tag, _), used in offers.new.items())
    aims = [("dark", sum(dark[priority])) for priority in sorted(dark)]
    aims += [("moved", sum(moved)), ("left", sum(left)), ("apart", sum(apart)), ("cost", cost)]
    # An aim without a choice in it is a number, and met already.
    aims = [aim for aim in aims if not isinstance(aim[1], int)] or [("cost", 0)]
    spread = _spread(tenants, choices_of, offers)
    return [*aims, ("spread", sum(spread))] if spread else aims


def _spread(tenants: Sequence[Tenant], choices_of: Sequence[Sequence[Choice]], offers: Offers) -> list[Any]:
    """For each match group and each supply, whether the supply feeds any of the group.

    One that feeds some of the group already, whatever is chosen here, counts for nothing more.
    """
    groups: dict[str, list[int]] = defaultdict(list)
    for number, tenant in enumerate(tenants):
        if tenant.row.block.match:
            groups[tenant.row.block.match].append(number)
    uses: list[Any] = []
    for match, numbers in sorted(groups.items()):
        held = {rack.unit.tag for rack in offers.room.racks.values() if match in rack.matches}
        if len(numbers) + len(held) < 2:
            continue
        on_supply: dict[str, Any] = {}
        on_bank: dict[int, Any] = {}
        for choice in (one for number in numbers for one in choices_of[number]):
            if choice.bank is None:
                assert choice.output is not None
                used = _flag(offers, on_supply, offers.outputs[choice.output].rack.unit.tag, match)
                offers.model.add_implication(choice.var, used)
            else:
                offers.model.add_implication(choice.var, _flag(offers, on_bank, choice.bank, match))
        for at, on in on_bank.items():
            bank = offers.banks[at]
            fixed = {} if bank.fixed is None else {bank.fixed: 1}
            for number, fed in (bank.fed_by or fixed).items():
                used = _flag(offers, on_supply, offers.outputs[number].rack.unit.tag, match)
                offers.model.add(used >= on + fed - 1)
        uses += [used for tag, used in on_supply.items() if tag not in held]
    return uses


def _flag(offers: Offers, flags: dict[Any, Any], key: object, match: str) -> Any:
    if key not in flags:
        flags[key] = offers.model.new_bool_var(f"{match} on {key}")
    return flags[key]
