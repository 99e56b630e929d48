"""Rows that stay on a decoder keep their channels there, when the newcomers beside them can make room."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from service.allocation.change.room import Place, Tenant
from service.allocation.problem import Bank

Pair = tuple[Tenant, Place | None]


def keep_channels(pairs: Sequence[Pair], banks_of: Mapping[str, Sequence[Bank]]) -> list[Pair]:
    """The same placing with the fewest rows on other channels than they had.

    A supply that feeds a decoder anew, or a newcomer on it, is no reason to plug leads again or to change
    addresses. `banks_of`: the banks of each decoder by its tag. Watts and amps do not change: a bank holds
    the same rows afterwards.
    """
    rows: dict[tuple[str, int], list[int]] = defaultdict(list)
    for number, (_, place) in enumerate(pairs):
        if place is not None and place.decoder:
            rows[place.decoder, place.first_channel].append(number)
    first_channels: dict[int, int] = {}
    for decoder in sorted({decoder for decoder, _ in rows}):
        for bank in banks_of.get(decoder, ()):
            inside = range(bank.first_channel, bank.first_channel + bank.channels)
            of_bank = [
                members for key, members in sorted(rows.items()) if key[0] == decoder and key[1] in inside
            ]
            first_channels |= _arranged(pairs, of_bank, inside)
    return [
        (tenant, replace(place, first_channel=first_channels[number]))
        if place is not None and number in first_channels
        else (tenant, place)
        for number, (tenant, place) in enumerate(pairs)
    ]


def _arranged(pairs: Sequence[Pair], rows: Sequence[Sequence[int]], channels: range) -> dict[int, int]:
    """New first channels by number of the pair; empty when all is well or the rows do not fit round."""
    wished = [_home(pairs, members) for members in rows]
    now = [_place(pairs, members).first_channel for members in rows]
    if all(wish is None or wish == first for wish, first in zip(wished, now, strict=True)):
        return {}
    busy: set[int] = set()
    found: dict[int, int] = {}

    def take(members: Sequence[int], first: int) -> bool:
        wanted = set(range(first, first + pairs[members[0]][0].row.channels))
        if busy & wanted or not wanted <= set(channels):
            return False
        busy.update(wanted)
        found.update(dict.fromkeys(members, first))
        return True

    left = []
    for members, wish in zip(rows, wished, strict=True):
        if wish is None or not take(members, wish):
            left.append(members)
    for members in sorted(left, key=lambda m: -pairs[m[0]][0].row.channels):
        if not any(take(members, first) for first in channels):
            return {}
    stayed = zip(rows, wished, now, strict=True)
    if any(wish == first and found[members[0]] != first for members, wish, first in stayed):
        return {}  # rows that were installed over each other: not to be put right in passing
    return found


def _place(pairs: Sequence[Pair], members: Sequence[int]) -> Place:
    place = pairs[members[0]][1]
    assert place is not None
    return place


def _home(pairs: Sequence[Pair], members: Sequence[int]) -> int | None:
    """The first channel that the rows had on this very decoder, if they had one and agree on it."""
    decoder = _place(pairs, members).decoder
    homes = {
        tenant.home.first_channel
        for tenant, _ in (pairs[number] for number in members)
        if tenant.home is not None and tenant.home.decoder == decoder
    }
    return homes.pop() if len(homes) == 1 else None
