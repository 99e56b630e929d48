"""A whole plan at once: row after row, each where it costs least, so that there is something to improve."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from service.allocation.change.layout import Layout
from service.allocation.change.room import Place, Room, Row, Tenant


def costs_of(room: Room) -> dict[str, int]:
    """Weight of each unit that does not stand anywhere yet."""
    supplies = {rack.unit.tag: rack.model.cost for rack in room.racks.values() if not rack.site}
    return supplies | {box.unit.tag: box.model.cost for box in room.boxes.values() if not box.site}


def quickly(room: Room, tenants: Sequence[Tenant], costs: dict[str, int]) -> Layout:
    """Row after row, banks of dead supplies first and whole, each where it costs least and fits best."""
    places: dict[int, Place] = {}
    for number in sorted(range(len(tenants)), key=lambda n: (tenants[n].row.load_uw, n)):
        home = tenants[number].home
        if home is not None and not tenants[number].orphan and _stays(room, tenants[number], home):
            room.put(tenants[number].row, home)
            places[number] = home
    banks: dict[tuple[str, int], list[int]] = defaultdict(list)
    for number, tenant in enumerate(tenants):
        if tenant.orphan and tenant.home is not None:
            bank = room.boxes[tenant.home.decoder].bank_at(tenant.home.first_channel)
            if bank is not None:
                banks[tenant.home.decoder, bank.bank.first_channel].append(number)
    for _, numbers in sorted(banks.items(), key=lambda item: (-_load(tenants, item[1]), item[0])):
        _feed_bank_again(room, tenants, numbers, places, costs)
    order = sorted(
        range(len(tenants)), key=lambda n: (tenants[n].row.block.priority, -tenants[n].row.load_uw, n)
    )
    for number in order:
        if number in places:
            continue
        row = tenants[number].row
        best = min(room.places(row), key=lambda place: _price(room, place, row, costs), default=None)
        if best is not None:
            room.put(row, best)
            places[number] = best
    used = {tag for place in places.values() for tag in (place.supply, place.decoder) if tag in costs}
    sites = {tag: (room.racks.get(tag) or room.boxes[tag]).site for tag in sorted(used)}
    return Layout(list(tenants), [places.get(n) for n in range(len(tenants))], sites)


def _stays(room: Room, tenant: Tenant, home: Place) -> bool:
    """The row still fits where it is, beside those put before it."""
    row = tenant.row
    if not tenant.may_stay or room.racks[home.supply].left_uw(home.output) < row.load_uw:
        return False
    if not home.decoder:
        return True
    box = room.boxes[home.decoder]
    bank = box.bank_at(home.first_channel)
    if bank is None or bank.output not in (None, (home.supply, home.output)):
        return False
    fits = box.channel_left_uw(row.block.class_mv) >= row.peak_uw
    return (
        fits
        and bank.left_uw(row.block.class_mv) >= row.load_uw
        and bank.is_free(home.first_channel, row.channels)
    )


def _load(tenants: Sequence[Tenant], numbers: Sequence[int]) -> int:
    return sum(tenants[number].row.load_uw for number in numbers)


def _price(room: Room, place: Place, row: Row, costs: dict[str, int]) -> tuple[int, int, Place]:
    new = 0 if room.racks[place.supply].used else costs.get(place.supply, 0)
    if place.decoder and not room.boxes[place.decoder].used:
        new += costs.get(place.decoder, 0)
    return new, room.racks[place.supply].left_uw(place.output) - row.load_uw, place


def _feed_bank_again(
    room: Room,
    tenants: Sequence[Tenant],
    numbers: Sequence[int],
    places: dict[int, Place],
    costs: dict[str, int],
) -> None:
    """All rows of a bank that lost its supply stay on it, on one output that carries them together."""
    rows = [tenants[number].row for number in numbers]
    runs = tuple(run for row in rows for run in row.runs)
    homes = [home for number in numbers if (home := tenants[number].home) is not None]
    box = room.boxes[homes[0].decoder]
    bank = box.bank_at(homes[0].first_channel)
    each_uw = box.channel_left_uw(rows[0].block.class_mv)
    if bank is None or bank.left_uw(rows[0].block.class_mv) < _load(tenants, numbers):
        return
    if any(row.peak_uw > each_uw or box.site not in row.sites for row in rows):
        return
    outputs = [
        Place(rack.unit.tag, output, box.unit.tag, 0)
        for rack, output in room.outputs_for(Row(rows[0].block, runs))
        if rack.site in ("", box.site)
        if bank.output in (None, (rack.unit.tag, output))
        if all(rack.model.source in row.block.sources for row in rows)
    ]
    whole = Row(rows[0].block, runs)
    best = min(outputs, key=lambda place: _price(room, place, whole, costs), default=None)
    if best is None:
        return
    for number, row, home in zip(numbers, rows, homes, strict=True):
        places[number] = replace(best, first_channel=home.first_channel)
        room.put(row, places[number])
