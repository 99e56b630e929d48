"""Universes, slots, footprints and free starts.

A universe has 512 slots, numbered from 1 (ANSI E1.11). Universes are numbered 1 to 63999
(ANSI E1.31). A footprint is the slots one decoder, or one port of a pixel driver, listens to.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

UNIVERSE_SLOTS = 512  # ANSI E1.11: at most 512 data slots after the start code
FIRST_UNIVERSE = 1  # ANSI E1.31: 0 is reserved
LAST_UNIVERSE = 63999  # ANSI E1.31


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """Slots start..end of one universe. `mirror`: decoders declared to copy one another share it."""

    universe: int
    start: int
    footprint: int
    owner: str = ""
    mirror: str = ""
    mode: str = ""

    @property
    def end(self) -> int:
        """The last slot, itself included."""
        return self.start + self.footprint - 1

    @property
    def text(self) -> str:
        return f"{self.start}-{self.end}" if self.footprint > 1 else str(self.start)


def channel_slot(start: int, channel: int, mode: str) -> int:
    """The first slot of a channel of a decoder that listens from `start`: channels count on, two slots each
    in 16-bit mode. A port of a pixel driver has a start of its own and is not asked here.

    Source: ANSI E1.11 sends one slot of 8 bits after another; two to a 16-bit channel are common practice.

    >>> channel_slot(51, 3, "8-bit"), channel_slot(51, 3, "16-bit")
    (53, 55)
    """
    return start + (channel - 1) * (2 if mode == "16-bit" else 1)


def slot_of(absolute: int) -> tuple[int, int]:
    """Universe and slot of an address counted straight through.

        universe = (a - 1) div 512 + 1,  slot = (a - 1) mod 512 + 1

    Source: arithmetic on 512 slots, ANSI E1.11.

    >>> slot_of(512), slot_of(513)
    ((1, 512), (2, 1))
    """
    if absolute < 1:
        raise ValueError("addresses start at 1")
    universe, slot = divmod(absolute - 1, UNIVERSE_SLOTS)
    return universe + 1, slot + 1


def absolute_of(universe: int, slot: int) -> int:
    """The address counted straight through; the other way of `slot_of`.

    >>> absolute_of(2, 512)
    1024
    """
    if universe < 1 or not 1 <= slot <= UNIVERSE_SLOTS:
        raise ValueError("a universe is 1 or more and a slot is 1 to 512")
    return (universe - 1) * UNIVERSE_SLOTS + slot


def is_universe(number: int) -> bool:
    """Whether streaming control may carry it.

    Source: ANSI E1.31: 1 to 63999.

    >>> [is_universe(n) for n in (0, 1, 63999, 64000)]
    [False, True, True, False]
    """
    return FIRST_UNIVERSE <= number <= LAST_UNIVERSE


def fits(start: int, footprint: int) -> bool:
    """Whether a footprint lies inside one universe.

    Source: ANSI E1.11: slots 1 to 512.

    >>> fits(509, 4), fits(510, 4)
    (True, False)
    """
    return footprint >= 1 and start >= 1 and start + footprint - 1 <= UNIVERSE_SLOTS


def slots_for(channels: int, bits: int = 8) -> int:
    """Slots that level channels take: one each at 8 bit, two at 16.

    >>> slots_for(4), slots_for(4, bits=16)
    (4, 8)
    """
    if bits not in (8, 16):
        raise ValueError("a channel has 8 or 16 bits")
    return channels * (bits // 8)


def pixels_in_universe(slots_per_pixel: int) -> int:
    """Whole pixels that one universe holds; a pixel is never split.

    Source: arithmetic on 512 slots, ANSI E1.11.

    >>> pixels_in_universe(3), pixels_in_universe(4)
    (170, 128)
    """
    if slots_per_pixel < 1:
        raise ValueError("a pixel takes at least one slot")
    return UNIVERSE_SLOTS // slots_per_pixel


def universes_for(pixels: int, slots_per_pixel: int) -> int:
    """Universes that a row of pixels needs when no pixel is split.

    >>> universes_for(170, 3), universes_for(171, 3)
    (1, 2)
    """
    return -(-pixels // pixels_in_universe(slots_per_pixel))


def overlap(one: Span, other: Span) -> range:
    """Slots that both listen to; empty when there are none.

    >>> list(overlap(Span(3, 41, 4), Span(3, 43, 5)))
    [43, 44]
    """
    if one.universe != other.universe:
        return range(0)
    return range(max(one.start, other.start), min(one.end, other.end) + 1)


def are_mirrors(one: Span, other: Span) -> bool:
    """Whether two spans were declared to copy each other and really do: same start, size and mode."""
    return bool(one.mirror) and (one.mirror, one.universe, one.start, one.footprint, one.mode) == (
        other.mirror,
        other.universe,
        other.start,
        other.footprint,
        other.mode,
    )


def clashes(spans: Iterable[Span]) -> list[tuple[Span, Span]]:
    """Every pair that shares slots without being a declared mirror, the earlier start first."""
    found: list[tuple[Span, Span]] = []
    live: list[Span] = []
    for span in sorted(spans):
        live = [s for s in live if s.universe == span.universe and s.end >= span.start]
        found += [(s, span) for s in live if overlap(s, span) and not are_mirrors(s, span)]
        live.append(span)
    return found


def free_start(universe: int, footprint: int, occupied: Iterable[Span], from_slot: int = 1) -> int | None:
    """The lowest start in that universe whose slots nobody has, or None if there is none.

    >>> river, windows = Span(3, 41, 4), Span(3, 51, 12)
    >>> free_start(3, 5, [Span(3, 1, 38), river, windows])
    45
    """
    start = from_slot
    for span in sorted(s for s in occupied if s.universe == universe):
        if span.start - start >= footprint and fits(start, footprint):
            return start
        start = max(start, span.end + 1)
    return start if fits(start, footprint) else None


def first_fit(
    footprints: Sequence[int], occupied: Iterable[Span], from_universe: int = 1
) -> list[tuple[int, int]]:
    """A universe and start for each footprint, in the order asked, each at the lowest place free.

    Later ones go round earlier ones; a footprint never straddles two universes. The same question
    always gets the same answer.

    >>> first_fit([5, 510, 3], [Span(1, 1, 4)])
    [(1, 5), (2, 1), (1, 10)]
    """
    if not is_universe(from_universe):
        raise ValueError(f"universes are {FIRST_UNIVERSE} to {LAST_UNIVERSE}")
    taken: dict[int, list[Span]] = {}
    for span in occupied:
        taken.setdefault(span.universe, []).append(span)
    places = []
    for footprint in footprints:
        universe, start = _first_place(footprint, taken, from_universe)
        taken.setdefault(universe, []).append(Span(universe, start, footprint))
        places.append((universe, start))
    return places


def _first_place(footprint: int, taken: dict[int, list[Span]], from_universe: int) -> tuple[int, int]:
    if not 1 <= footprint <= UNIVERSE_SLOTS:
        raise ValueError(f"a footprint is 1 to {UNIVERSE_SLOTS} slots; {footprint} is not")
    for universe in range(from_universe, LAST_UNIVERSE + 1):
        start = free_start(universe, footprint, taken.get(universe, ()))
        if start is not None:
            return universe, start
    raise ValueError("no universe has room")
