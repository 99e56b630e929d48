"""What dark runs have in common on their way from the wall: pure, on plain facts."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum
from itertools import combinations

from service.limits.cautions import CONTROL, FIRE, MAINS


class Width(IntEnum):
    """How much hangs on a thing, the narrowest first: among causes that explain as much, that is looked at
    first."""

    LEAD = 1
    CHANNEL = 2
    BANK = 3
    DECODER = 4
    OUTPUT = 5
    SUPPLY = 6
    BOX = 7
    OUTLET = 8
    LINE = 9
    UNIVERSE = 10


@dataclass(frozen=True, slots=True, order=True)
class Thing:
    """Something on the way: its width, its tag or tags as they are told, and where it stands."""

    width: Width
    name: str
    place: str = ""


@dataclass(frozen=True, slots=True)
class Path:
    """One run and everything on its way from the wall. `run`: as in SQ-09/1."""

    run: str
    element: str
    name: str
    production: str
    place: str
    things: tuple[Thing, ...]


@dataclass(frozen=True, slots=True)
class Cause:
    """`explains`: dark runs on it; `others`: runs on it that are not among the dark; `lit`: those of them
    said to be lit, which speak against it."""

    thing: Thing
    explains: tuple[Path, ...]
    others: tuple[Path, ...]
    lit: tuple[Path, ...]

    @property
    def is_ruled_out(self) -> bool:
        """Whatever it feeds would be dark; something is not. A lead or a channel can fail in part."""
        return bool(self.lit)


def ranked(paths: Iterable[Path], dark: frozenset[str], lit: frozenset[str]) -> list[Cause]:
    """Every thing on the way of a dark run, the likeliest first: not ruled out by what is lit, explaining the
    most of the dark, darkening the fewest others, the narrowest first. `dark`, `lit`: runs."""
    on: dict[Thing, list[Path]] = {}
    for path in paths:
        for thing in path.things:
            on.setdefault(thing, []).append(path)
    causes = []
    for thing, hanging in on.items():
        explains = tuple(path for path in hanging if path.run in dark)
        if explains:
            others = tuple(path for path in hanging if path.run not in dark)
            causes.append(Cause(thing, explains, others, tuple(p for p in others if p.run in lit)))
    return sorted(causes, key=_order)


def _order(cause: Cause) -> tuple[bool, int, int, Thing]:
    return (cause.is_ruled_out, -len(cause.explains), len(cause.others), cause.thing)


def together(causes: Sequence[Cause], dark: frozenset[str]) -> tuple[Cause, ...]:
    """The fewest causes, none ruled out, that explain all the dark: one, two or three; none if it takes more.

    Among as few, those that darken the fewest others, then the narrowest. Every cause but the widest few of
    each run is tried, so that the answer is the fewest there are up to three.
    """
    open_causes = [cause for cause in causes if not cause.is_ruled_out]
    for count in (1, 2, 3):
        found = [
            some
            for some in combinations(_worth(open_causes, count), count)
            if {path.run for cause in some for path in cause.explains} >= dark
        ]
        if found:
            return min(found, key=_cost)
    return ()


def _worth(causes: Sequence[Cause], count: int) -> Sequence[Cause]:
    """For sets of several: of causes that explain the same runs only the likeliest, and only so many."""
    if count == 1:
        return causes
    best: dict[frozenset[str], Cause] = {}
    for cause in causes:
        best.setdefault(frozenset(path.run for path in cause.explains), cause)
    return list(best.values())[:60]


def _cost(some: Sequence[Cause]) -> tuple[int, int, list[Thing]]:
    others = {path.run for cause in some for path in cause.others}
    return (len(others), sum(cause.thing.width for cause in some), sorted(cause.thing for cause in some))


_LOOKS: Mapping[Width, str] = {
    Width.LEAD: "Look at the lead, its joints and the tape of {name}",
    Width.CHANNEL: "Try {name} with another lead, or its lead on a free channel",
    Width.BANK: "Measure the power feed of {name}",
    Width.DECODER: "Look at the lamp and the control input of {name}",
    Width.OUTPUT: "Measure {name} and look at its fuse",
    Width.SUPPLY: "Look whether {name} is on, warm or shut down",
    Width.BOX: "Open {name}: it may have shut down hot",
    Width.OUTLET: "See whether {name} is live and its breaker is in",
    Width.LINE: "Look at the control line {name}: its first plug and its end",
    Width.UNIVERSE: "See whether {name} arrives at all",
}
_CAUTIONS: Mapping[Width, str] = {
    Width.SUPPLY: MAINS, Width.OUTLET: MAINS, Width.BOX: MAINS, Width.OUTPUT: FIRE, Width.LEAD: FIRE,
    Width.BANK: FIRE, Width.DECODER: CONTROL, Width.LINE: CONTROL, Width.UNIVERSE: CONTROL,
}  # fmt: skip


def check_of(cause: Cause) -> str:
    """Where to look, and what being lit would prove it is not this."""
    look = _LOOKS[cause.thing.width].format(name=cause.thing.name)
    if cause.lit:
        return f"{look} last: {_some(cause.lit)} is lit, so it is not this."
    if cause.others:
        return f"{look}; if {_some(cause.others)} is lit, it is not this."
    return f"{look}."


def _some(paths: Sequence[Path]) -> str:
    return " or ".join(dict.fromkeys(path.element for path in paths[:2]))


def caution_of(cause: Cause) -> str:
    return _CAUTIONS.get(cause.thing.width, FIRE)
