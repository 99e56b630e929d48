"""An answer without names, and the watch over the work on it."""

from dataclasses import dataclass, field
from math import inf
from time import monotonic

from service.cutting.board import Kind, Sort


@dataclass(frozen=True, slots=True)
class Reel:
    """What is cut off one reel of a length: kinds, the longest first."""

    length: int
    kinds: tuple[Kind, ...]

    @property
    def used_pitches(self) -> int:
        return sum(pitches for pitches, _ in self.kinds)


@dataclass(frozen=True, slots=True)
class Layout:
    """A full answer without names. `lots`: the layer of each group, None where it is left out.

    `joined`: for each piece made of two parts its kind, the shorter part and their layer. `short`: pieces
    without a group that are left out.
    """

    reels: tuple[Reel, ...]
    lots: tuple[int | None, ...]
    joined: tuple[tuple[Kind, int, int], ...] = ()
    short: tuple[Sort, ...] = ()


@dataclass(slots=True)
class Clock:
    """The watchdog over all steps, and the work done so far."""

    scale: float = 1.0
    deadline_s: float | None = None
    began: float = field(default_factory=monotonic)
    stopped: bool = False
    work: float = 0.0

    def left_s(self) -> float:
        return inf if self.deadline_s is None else self.deadline_s - (monotonic() - self.began)

    def is_late(self) -> bool:
        if self.left_s() <= 0:
            self.stopped = True
        return self.stopped
