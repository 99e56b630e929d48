"""Cheap proven bounds: watts covered by whole supplies, and channels covered by whole decoders.

A supply never costs less because of a decoder, nor the other way round, so the two add up.
"""

import math
from collections.abc import Sequence

from service.allocation.search.kit import Kit

COVER_STEPS = 20_000
# Beyond so many sums of loads the plain capacity is taken.
SUMS_AT_MOST = 4_000_000


def supply_floor(kit: Kit) -> int:
    """The least that supplies for all the watts can cost, each used whole.

    A supply counts only for the watts that some set of loads can really bring onto it.
    """
    need_uw = sum(load.load_uw * count for load, count in zip(kit.types, kit.counts, strict=True))
    kinds: list[tuple[int, int]] = []
    for kind in kit.supplies:
        most = sum(reachable_uw(kit, n) * kit.outlets[n].number for n in kind.outlets)
        useful = min(kind.total_uw, most)
        if kind.cost == 0:
            need_uw -= useful * kit.stock[kind.stock]
        elif useful:
            kinds.append((useful, kind.cost))
    return cover(need_uw, kinds)


def reachable_uw(kit: Kit, outlet: int) -> int:
    """The most watts, up to the capacity, that some of the loads add up to."""
    common = math.gcd(*(load.load_uw for load in kit.types)) or 1
    cap = kit.outlets[outlet].cap_uw // common
    if cap > SUMS_AT_MOST:
        return kit.outlets[outlet].cap_uw
    # Bit n of `sums` is set when some loads add up to n.
    mask, sums = (1 << (cap + 1)) - 1, 1
    for t, load in enumerate(kit.types):
        if outlet not in kit.fits_outlet[t]:
            continue
        left, batch = min(kit.counts[t], cap // max(1, load.load_uw // common)), 1
        while left > 0:
            count = min(batch, left)
            left -= count
            batch *= 2
            sums |= (sums << (count * load.load_uw // common)) & mask
    return (sums.bit_length() - 1) * common


def cover(need_uw: int, kinds: Sequence[tuple[int, int]]) -> int:
    """Least cost of any number of (watts, cost) that reach the need; 0 when nothing is needed.

    >>> cover(200, [(120, 20), (70, 13)])
    39
    >>> cover(240, [(120, 20), (70, 13)])
    40
    """
    if need_uw <= 0 or not kinds:
        return 0
    common = math.gcd(*(watts for watts, _ in kinds))
    exact = need_uw / common <= COVER_STEPS
    step = common if exact else need_uw / COVER_STEPS
    # On a coarse grid capacities round up and the need down: the floor may only sink.
    steps = -(-need_uw // common) if exact else int(need_uw / step)
    sizes = sorted({(math.ceil(watts / step - 1e-9), cost) for watts, cost in kinds})
    best = [0] * (steps + 1)
    for at in range(1, steps + 1):
        best[at] = min(best[max(0, at - size)] + cost for size, cost in sizes)
    return best[steps]
