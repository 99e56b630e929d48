"""Fuses for leads: the size that holds the load and protects the wire, and why there is sometimes none."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar

from service.electrical.sources import CONTINUOUS_FACTOR
from service.errors import BadQuantity

# Blade and glass fuses that a shop keeps. Common practice.
STANDARD_A = (1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0)

# A supply that limits at less than this many times the fuse may cut out or hiccup and never blow it. Common
# practice.
BLOWING_FACTOR = 1.5

_SLACK_A = 1e-6  # 1.25 x 4 is not to miss a 5 A fuse by the last binary digit


class FuseFit(StrEnum):
    """What is to be said of one fuse on one lead."""

    FITS = "fits"
    BLOWS = "too small for the load"
    BURNS_WIRE = "too large for the wire"
    BURNS_CONNECTOR = "too large for the connector"


@dataclass(frozen=True, slots=True)
class Fuse:
    """The fuse for a lead. `needed_a`: 1.25 times the load; `bound_a`: the most the lead lets it be."""

    rating_a: float
    needed_a: float
    bound_a: float
    fits: ClassVar[bool] = True

    def __str__(self) -> str:
        return f"{self.rating_a:g} A fuse: {self.needed_a:.2f} A wanted, {self.bound_a:g} A allowed"


@dataclass(frozen=True, slots=True)
class NoFuse:
    """No size fits: why, and what to change. `rating_a`: the size the load wants, None beyond the largest."""

    why: str
    mend: str
    rating_a: float | None
    needed_a: float
    bound_a: float
    fits: ClassVar[bool] = False

    def __str__(self) -> str:
        return f"{self.why}: {self.mend}"


@dataclass(frozen=True, slots=True)
class FusedWire:
    """The thinnest wire that takes the load with a fuse, its amps, and that fuse."""

    wire: str
    limit_a: float
    fuse: Fuse


def fuse_for(load_a: float, wire_limit_a: float, connector_a: float | None = None) -> Fuse | NoFuse:
    """The smallest standard fuse that holds the load for hours and protects wire and connector.

        1.25 * I  <=  fuse  <=  min(wire, connector per pin)

    `wire_limit_a` is the greatest fuse the wire may have: `Ampacity.device_a`. `connector_a` None: there is
    no connector, or its amps are not known; the caller says which.

    Source: continuous load, NFPA 70 (2017) 210.20(A), 215.3; cords at their own amps, 240.5(A); the sizes
    are common practice. BadQuantity for a load that is negative or a limit that is not above zero.

    >>> print(fuse_for(3.9, 6.0))
    5 A fuse: 4.88 A wanted, 6 A allowed
    >>> print(fuse_for(6.4, 7.0))
    10 A is the fuse for 6.40 A, more than the wire's 7 A: use wire for 10 A or more, or divide the load
    """
    bound_a, part = _bound(load_a, wire_limit_a, connector_a)
    needed_a = CONTINUOUS_FACTOR * load_a
    rating_a = next((size for size in STANDARD_A if size >= needed_a - _SLACK_A), None)
    if rating_a is None:
        why = f"{load_a:.2f} A wants {needed_a:.2f} A, more than the largest fuse of {STANDARD_A[-1]:g} A"
        return NoFuse(why, "divide the load and give each part its own lead", None, needed_a, bound_a)
    if rating_a > bound_a + _SLACK_A:
        why = f"{rating_a:g} A is the fuse for {load_a:.2f} A, more than the {part}'s {bound_a:g} A"
        parts = [
            name for name, limit_a in _limits(wire_limit_a, connector_a) if limit_a < rating_a - _SLACK_A
        ]
        mend = f"use {' and '.join(parts)} for {rating_a:g} A or more, or divide the load"
        return NoFuse(why, mend, rating_a, needed_a, bound_a)
    return Fuse(rating_a, needed_a, bound_a)


def most_load_a(wire_limit_a: float) -> float:
    """The most amps for hours that a standard fuse holds which protects such a wire; 0 where none does.

    Source: `fuse_for`, the other way round.

    >>> most_load_a(7.0), most_load_a(10.0), most_load_a(0.5)
    (4.0, 8.0, 0.0)
    """
    fuses = [size for size in STANDARD_A if size <= wire_limit_a + _SLACK_A]
    return max(fuses, default=0.0) / CONTINUOUS_FACTOR


def fuse_fit(
    rating_a: float, load_a: float, wire_limit_a: float, connector_a: float | None = None
) -> FuseFit:
    """What is to be said of the fuse that is fitted; what burns is said before what blows.

    Source: as `fuse_for`.

    >>> [str(fuse_fit(rating_a, 3.9, 6.0)) for rating_a in (4.0, 5.0, 7.0)]
    ['too small for the load', 'fits', 'too large for the wire']
    """
    if not rating_a > 0.0:
        raise BadQuantity(f"a fuse of {rating_a:g} A is no fuse", "Give its rating, greater than 0 A.")
    bound_a, part = _bound(load_a, wire_limit_a, connector_a)
    if rating_a > bound_a + _SLACK_A:
        return FuseFit.BURNS_WIRE if part == "wire" else FuseFit.BURNS_CONNECTOR
    return FuseFit.BLOWS if rating_a < CONTINUOUS_FACTOR * load_a - _SLACK_A else FuseFit.FITS


def wire_for(
    load_a: float, wires: Iterable[tuple[str, float]], connector_a: float | None = None
) -> FusedWire | None:
    """The first of these wires that takes the load with a standard fuse; None where none does.

    `wires`: name and greatest fuse, in the order of preference, the thinnest first.

    Source: as `fuse_for`.

    >>> found = wire_for(6.4, [("18 AWG", 7.0), ("16 AWG", 10.0), ("14 AWG", 15.0)])
    >>> found.wire, found.fuse.rating_a
    ('16 AWG', 10.0)
    """
    for name, limit_a in wires:
        found = fuse_for(load_a, limit_a, connector_a)
        if isinstance(found, Fuse):
            return FusedWire(name, limit_a, found)
    return None


def wants_fuse(source_a: float, wire_limit_a: float, is_battery: bool = False) -> bool:
    """Whether a lead needs a fuse: its source can give more than its wire may carry, or it is a battery.

    `source_a` is what the output gives into a short, at least its rating; what is put on it in the show
    does not matter.

    Source: NFPA 70 (2017) 240.4, 240.5(A); a battery always, within 150 mm of the pack (common practice).

    >>> wants_fuse(13.3, 7.0), wants_fuse(5.0, 7.0), wants_fuse(3.0, 7.0, is_battery=True)
    (True, False, True)
    """
    return is_battery or source_a > wire_limit_a + _SLACK_A


def may_never_blow(supply_limit_a: float, rating_a: float) -> bool:
    """Whether the supply may give up before the fuse does, so that a short smoulders instead.

        supply limit < 1.5 * fuse

    Source: common practice. A fuse carries its own rating for hours.

    >>> may_never_blow(13.3, 10.0), may_never_blow(15.0, 10.0)
    (True, False)
    """
    return supply_limit_a < BLOWING_FACTOR * rating_a - _SLACK_A


def _limits(wire_limit_a: float, connector_a: float | None) -> list[tuple[str, float]]:
    limits = [("wire", wire_limit_a)]
    return limits if connector_a is None else [*limits, ("a connector", connector_a)]


def _bound(load_a: float, wire_limit_a: float, connector_a: float | None) -> tuple[float, str]:
    """(amps, what sets them): the most that a fuse may be."""
    if not load_a >= 0.0:
        raise BadQuantity(f"a load of {load_a:g} A is no load", "Give the amps at full, 0 A or more.")
    for name, limit_a in _limits(wire_limit_a, connector_a):
        if not limit_a > 0.0:
            raise BadQuantity(
                f"{name.removeprefix('a ')} for {limit_a:g} A carries nothing",
                "Give what it may carry, above 0 A.",
            )
    if connector_a is not None and connector_a < wire_limit_a:
        return connector_a, "connector"
    return wire_limit_a, "wire"
