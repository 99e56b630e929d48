"""Control lines: how many receivers one drives, how often a line tells everything, where streams go.

A line is one wired run of ANSI E1.11 from its source or splitter to its terminator.
"""

from collections.abc import Mapping
from math import isfinite

from service.control.addresses import FIRST_UNIVERSE, LAST_UNIVERSE, UNIVERSE_SLOTS, is_universe
from service.errors import BadQuantity

BIT_US = 4.0  # 250 kbit/s. ANSI E1.11
SLOT_BITS = 11  # 1 start, 8 data, 2 stop. ANSI E1.11
SLOT_US = BIT_US * SLOT_BITS
BREAK_US = 92.0  # shortest a source may send. ANSI E1.11 (2008)
MARK_AFTER_BREAK_US = 12.0  # ANSI E1.11 (2008)
BREAK_1990_US = 88.0  # USITT DMX512 (1990)
MARK_AFTER_BREAK_1990_US = 8.0  # USITT DMX512 (1990)
SHORTEST_BREAK_TO_BREAK_US = 1204.0  # ANSI E1.11: what 24 slots take, however few are sent
LINE_UNIT_LOADS = 32.0  # EIA-485, adopted by ANSI E1.11


def packet_us(
    slots: int, break_us: float = BREAK_US, mark_after_break_us: float = MARK_AFTER_BREAK_US
) -> float:
    """Microseconds one packet takes at the fastest, start code counted, nothing padded.

        t = break + mark + 44 us * (slots + 1)

    Source: ANSI E1.11; `break_us` and `mark_after_break_us` are its minima of 2008 unless given.
    Raises BadQuantity for slots outside 1 to 512, and for times below those of USITT DMX512 (1990).

    >>> packet_us(512)
    22676.0
    """
    if not 1 <= slots <= UNIVERSE_SLOTS:
        raise BadQuantity(
            f"a packet cannot carry {slots} slots", f"Give between 1 and {UNIVERSE_SLOTS} slots."
        )
    _time("the break", break_us, BREAK_1990_US)
    _time("the mark after break", mark_after_break_us, MARK_AFTER_BREAK_1990_US)
    return break_us + mark_after_break_us + SLOT_US * (slots + 1)


def _time(what: str, given_us: float, shortest_us: float) -> None:
    # The standard's own longest packet is one second.
    if not isfinite(given_us) or not shortest_us <= given_us < 1e6:
        raise BadQuantity(
            f"{what} cannot be {given_us:g} us", f"Give it between {shortest_us:g} us and one second."
        )


def break_to_break_us(slots: int) -> float:
    """Microseconds from one break to the next at the fastest: short packets are padded to 1204 us.

    Source: ANSI E1.11.

    >>> break_to_break_us(4), break_to_break_us(24), break_to_break_us(512)
    (1204.0, 1204.0, 22676.0)
    """
    return max(packet_us(slots), SHORTEST_BREAK_TO_BREAK_US)


def refresh_hz(slots: int) -> float:
    """How often a second the line can tell that many slots, at the most. Many sources send slower.

    Source: ANSI E1.11.

    >>> round(refresh_hz(512), 2), round(refresh_hz(24), 1)
    (44.1, 830.6)
    """
    return 1e6 / break_to_break_us(slots)


def unit_loads(receivers: Mapping[float, int]) -> float:
    """Unit loads on one line: each kind of receiver's load, times how many of it there are.

    A receiver whose sheet says nothing counts as one whole load.

    Source: EIA-485, adopted by ANSI E1.11.
    Raises BadQuantity for a load not above 0 or above 32, or a count below 0.

    >>> unit_loads({1.0: 30, 0.125: 16})
    32.0
    """
    for load, count in receivers.items():
        if not isfinite(load) or not 0.0 < load <= LINE_UNIT_LOADS:
            raise BadQuantity(
                f"a receiver cannot be {load:g} unit loads", "Give above 0 and at most 32; 1 if not known."
            )
        if count < 0:
            raise BadQuantity(f"{count} receivers cannot be", "Give 0 or more.")
    return sum(load * count for load, count in receivers.items())


def line_carries(loads: float) -> bool:
    """Whether one line drives them; exactly 32 is allowed. Beyond that a splitter starts a new line.

    Source: EIA-485, adopted by ANSI E1.11.

    >>> line_carries(32.0), line_carries(32.125)
    (True, False)
    """
    return loads <= LINE_UNIT_LOADS + 1e-6


def multicast_address(universe: int) -> str:
    """The IPv4 address a universe is streamed to.

        239.255.high byte.low byte

    Source: ANSI E1.31.
    Raises BadQuantity for a universe outside 1 to 63999.

    >>> multicast_address(256)
    '239.255.1.0'
    """
    if not is_universe(universe):
        raise BadQuantity(
            f"there is no universe {universe}", f"Give between {FIRST_UNIVERSE} and {LAST_UNIVERSE}."
        )
    high, low = divmod(universe, 256)
    return f"239.255.{high}.{low}"
