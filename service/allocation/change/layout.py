"""Rows with their places, and which of two such plans is the better."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.allocation.change.room import Place, Tenant


@dataclass(slots=True)
class Layout:
    """Rows with their places, where new units stand, and what is known of how good that is."""

    tenants: list[Tenant]
    places: list[Place | None]
    sites: dict[str, str]
    proven: bool = False
    fed_proven: bool = False
    cost_bound: int = 0
    work: float = 0.0

    @property
    def dark(self) -> list[Tenant]:
        return [tenant for tenant, place in zip(self.tenants, self.places, strict=True) if place is None]


def best_of(first: Layout, second: Layout, costs: Mapping[str, int]) -> Layout:
    """The second, unless the first feeds more, moves less or costs less."""
    return first if worth(first, costs) < worth(second, costs) else second


def worth(
    layout: Layout, costs: Mapping[str, int]
) -> tuple[tuple[tuple[int, int], ...], tuple[int, int], int]:
    used = {tag for place in layout.places if place for tag in (place.supply, place.decoder)}
    dark = dark_uw(layout.tenants, layout.places)
    return dark, moved_and_left(layout), sum(costs.get(tag, 0) for tag in used)


def dark_uw(tenants: Sequence[Tenant], places: Sequence[Place | None]) -> tuple[tuple[int, int], ...]:
    """Load left dark by priority, the most urgent first, in microwatts."""
    dark: Counter[int] = Counter()
    for tenant, place in zip(tenants, places, strict=True):
        dark[tenant.row.block.priority] += 0 if place is not None else tenant.row.load_uw
    return tuple(sorted(dark.items()))


def moved_and_left(layout: Layout) -> tuple[int, int]:
    """Runs that move, and runs that leave their channels."""
    moved = left = 0
    for tenant, place in zip(layout.tenants, layout.places, strict=True):
        home, runs = tenant.home, len(tenant.row.runs)
        if home is None:
            continue
        moved += runs * (place != home and not tenant.orphan)
        if place is None or (place.decoder, place.first_channel) != (home.decoder, home.first_channel):
            left += runs * bool(home.decoder)
    return moved, left
