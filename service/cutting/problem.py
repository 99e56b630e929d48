"""What the cutting of one tape is asked. Frozen, whole cut pitches, no database.

A *piece* is one unbroken length to be cut; all pieces of a *match group* are seen together and come from
one lot. *Stock* is a reel or an offcut on the shelf; what is not on the shelf may be bought in whole reels.
Nothing is lost to the cut itself (common practice: tape is cut with scissors at its marks).
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from hashlib import sha256

from service.errors import BadValues, RowError

KEEP_UM = 300_000  # an offcut shorter than this is scrap (common practice)
SHORTEST_JOINED_UM = 300_000  # no part of a joined piece is shorter than this (common practice)


@dataclass(frozen=True, slots=True, order=True)
class Stock:
    """A reel or offcut on the shelf.

    `lot`: None where it is not known; no match group is cut from it then. `joins`: joints that the
    factory made, in pitches from the hub (the inner end); they are told of, not kept clear of.
    """

    tag: str
    lot: str | None
    pitches: int
    is_sealed: bool = False
    joins: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, order=True)
class Buyable:
    """Whole new reels of one length.

    `most`: how many can be had, None for any number. `is_one_lot`: several of them may be asked for as one
    lot; otherwise each is a lot of its own, and a match group has to fit on one of them.
    """

    pitches: int
    price_cents: int = 1
    most: int | None = None
    is_one_lot: bool = False


@dataclass(frozen=True, slots=True, order=True)
class Wanted:
    """One piece. `priority`: smaller is met first."""

    key: str
    pitches: int
    group: str | None = None
    may_join: bool = False
    priority: int = 0


@dataclass(frozen=True, slots=True, order=True)
class Rules:
    """`keep_pitches`: the shortest offcut worth keeping; what is shorter is scrap.

    `shortest_joined_pitches`: the shortest part of a joined piece. `most_joints`: in one piece, 0 or 1.
    """

    keep_pitches: int
    shortest_joined_pitches: int
    most_joints: int = 1

    @classmethod
    def for_pitch(
        cls,
        pitch_um: int,
        keep_um: int = KEEP_UM,
        shortest_joined_um: int = SHORTEST_JOINED_UM,
        most_joints: int = 1,
    ) -> "Rules":
        """Lengths rounded up to whole pitches.

        >>> Rules.for_pitch(100_000)
        Rules(keep_pitches=3, shortest_joined_pitches=3, most_joints=1)
        """
        return cls(-(-keep_um // pitch_um), -(-shortest_joined_um // pitch_um), most_joints)


@dataclass(frozen=True, slots=True)
class Problem:
    """All of one tape. `lot_of_group`: match groups bound to a lot, being partly cut from it already.

    Equal problems give equal plans, whatever the order in which their parts are told.

    Raises BadValues, which names everything that cannot be.
    """

    stock: tuple[Stock, ...]
    buyable: tuple[Buyable, ...]
    wanted: tuple[Wanted, ...]
    rules: Rules
    lot_of_group: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        faults = [*_stock_faults(self), *_buying_faults(self), *_wanted_faults(self), *_rule_faults(self)]
        if faults:
            raise BadValues([RowError("cutting", None, name, what, mend) for name, what, mend in faults])

    def in_order(self) -> "Problem":
        """The same problem, always told in the same order."""
        return Problem(
            tuple(sorted(self.stock, key=lambda reel: reel.tag)),
            tuple(sorted(self.buyable)),
            tuple(sorted(self.wanted, key=lambda piece: piece.key)),
            self.rules,
            dict(sorted(self.lot_of_group.items())),
        )

    def fingerprint(self) -> str:
        """Equal for equal problems, told in any order."""
        told = self.in_order()
        parts = (told.stock, told.buyable, told.wanted, told.rules, tuple(told.lot_of_group.items()))
        return sha256(repr(parts).encode()).hexdigest()[:16]


Fault = tuple[str, str, str]


def _twice(names: list[str]) -> list[str]:
    return sorted(name for name, count in Counter(names).items() if count > 1)


def _stock_faults(problem: Problem) -> list[Fault]:
    faults = [
        (f"reel {tag}", "stands on the shelf twice", "Name each reel once.")
        for tag in _twice([reel.tag for reel in problem.stock])
    ]
    for reel in problem.stock:
        if reel.pitches < 1:
            mend = "Leave empty reels out, or count this one again."
            faults.append((f"reel {reel.tag}", f"has {reel.pitches} pitches left", mend))
        if any(not 0 < at < reel.pitches for at in reel.joins):
            mend = "Measure its joints from the hub, inside what is left."
            faults.append((f"reel {reel.tag}", "has a joint that is not on it", mend))
    return faults


def _buying_faults(problem: Problem) -> list[Fault]:
    faults = [
        (f"new reel of {length} pitches", "is offered twice", "Offer each length once, at one price.")
        for length in _twice([str(each.pitches) for each in problem.buyable])
    ]
    for each in problem.buyable:
        name = f"new reel of {each.pitches} pitches"
        if each.pitches < 1:
            faults.append((name, "has no length", "Give the length of a whole reel."))
        if each.price_cents < 1:
            mend = "Give the price of one reel, or 1 where only their number counts."
            faults.append((name, f"costs {each.price_cents}", mend))
        if each.most is not None and each.most < 0:
            faults.append((name, "can be had fewer than no times", "Give 0 or more, or leave it blank."))
    return faults


def _wanted_faults(problem: Problem) -> list[Fault]:
    faults = [
        (f"piece {key}", "is wanted twice", "Give each piece a key of its own.")
        for key in _twice([piece.key for piece in problem.wanted])
    ]
    faults += [
        (f"piece {piece.key}", f"is {piece.pitches} pitches long", "Ask for one cut pitch or more.")
        for piece in problem.wanted
        if piece.pitches < 1
    ]
    return faults


def _rule_faults(problem: Problem) -> list[Fault]:
    rules, faults = problem.rules, list[Fault]()
    if rules.keep_pitches < 1:
        faults.append(("keep_pitches", "is less than one pitch", "Keep one pitch or more."))
    if rules.shortest_joined_pitches < 1:
        faults.append(("shortest_joined_pitches", "is less than one pitch", "Join one pitch or more."))
    if rules.most_joints not in (0, 1):
        mend = "Allow none or one; cut a longer run as several pieces."
        faults.append(("most_joints", f"is {rules.most_joints}", mend))
    return faults
