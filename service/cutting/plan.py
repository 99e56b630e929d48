"""What the cutting of one tape answers. Frozen, whole cut pitches."""

from dataclasses import dataclass
from enum import StrEnum
from hashlib import sha256

# The lot of new reels that must be asked for as one lot.
NEW_LOT = "new lot"


class Why(StrEnum):
    """Why a piece is not met."""

    TOO_LONG = "longer than any reel"
    NO_LOT = "no lot yields all of its match group"
    TOO_LITTLE = "too little tape"


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard to try, in work units that do not depend on the machine.

    `deadline_s` is a watchdog: it only ends the work early, and the plan then says `stopped_early`.
    """

    scale: float = 1.0
    deadline_s: float | None = None


@dataclass(frozen=True, slots=True, order=True)
class Cut:
    """One length off a reel. `part`: 0 for a whole piece, 1 and 2 for the parts of a joined one."""

    key: str
    part: int
    pitches: int


@dataclass(frozen=True, slots=True)
class ReelPlan:
    """What is cut off one reel, in the order in which it is marked from the outer end.

    `label`: the tag of a reel on the shelf, or "new 1", "new 2" … for those to be bought. `lot`: None where
    it is not known, `NEW_LOT` for new reels to be asked for as one lot, the label itself for a new reel
    that may be of any lot. `is_kept`: what is left is an offcut worth keeping, not scrap or nothing.
    `is_opened`: it was sealed on the shelf. `joins_met`: factory joints inside a cut, in pitches from the
    hub.
    """

    label: str
    lot: str | None
    pitches: int
    cuts: tuple[Cut, ...]
    left_pitches: int
    is_kept: bool
    is_new: bool
    is_opened: bool
    joins_met: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, order=True)
class Unmet:
    """A piece that gets no tape, and why."""

    key: str
    why: Why


@dataclass(frozen=True, slots=True)
class Bounds:
    """Proven: no plan leaves fewer pieces unmet; none that meets as many buys for less, or fewer reels;
    none that is as good in what stands before opens fewer sealed reels, or makes less scrap.
    """

    unmet: int
    price_cents: int
    new_reels: int
    opened: int
    scrap_pitches: int


@dataclass(frozen=True, slots=True)
class CutPlan:
    """Reels with their cuts, what is not met, and how good the plan is.

    The aims, each one counting only among plans that are equally good in those before it: most pieces met
    (the most urgent first); least money for new reels; fewest sealed reels opened; fewest joints (a joint is
    made only where it lets a piece be met or saves a reel); least scrap; fewest offcuts, then the longest.

    `opened`: sealed reels of the shelf. `longest_left`: the longest offcut kept, in pitches, 0 if none.
    `is_proven`: every bound is reached and no joint can be saved; the last aim is never claimed.
    `gap`: how far the price may be over the least, as a share of it; None while more pieces might be met.
    `work`: effort spent, in work units. `notes`: what could not be tried.
    """

    reels: tuple[ReelPlan, ...]
    unmet: tuple[Unmet, ...]
    price_cents: int
    new_reels: int
    opened: int
    joints: int
    scrap_pitches: int
    longest_left: int
    bounds: Bounds
    is_proven: bool
    stopped_early: bool = False
    work: float = 0.0
    notes: tuple[str, ...] = ()

    @property
    def gap(self) -> float | None:
        if len(self.unmet) > self.bounds.unmet:
            return None
        if self.price_cents <= self.bounds.price_cents:
            return 0.0
        return self.price_cents / self.bounds.price_cents - 1.0 if self.bounds.price_cents else None

    def checksum(self) -> str:
        """Equal for equal plans."""
        return sha256(repr((self.reels, self.unmet)).encode()).hexdigest()[:16]
