"""A pack along the running order of a show: what is left at each minute, and the minute it dies."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from service.electrical.power.packs import Demand, Pack, drain_w
from service.electrical.power.ranges import within
from service.errors import BadQuantity

# Slack for a sum that equals its limit, so that 100.0 % stays allowed.
SLACK_WH = 1e-6

# Minutes the house may be held for, dark. Common practice.
HOLD_MIN = 15.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """Part of a running order at one level, 0 to 1."""

    name: str
    minutes: float
    level: float


@dataclass(frozen=True, slots=True)
class Charge:
    """Watt hours used and left when a stretch ends. Left is below 0 where the pack died before."""

    name: str
    end_min: float
    used_wh: float
    left_wh: float


@dataclass(frozen=True, slots=True)
class Running:
    """A pack through a running order.

    `used_wh` without and `held_wh` with the hold, of the rated energy. `dies_at_min`: counted from the start
    of the order, the hold left out; None if it lasts. `dies_in`: the name of that stretch, `dies_in_min` the
    minute in it.
    """

    charges: tuple[Charge, ...]
    used_wh: float
    held_wh: float
    usable_wh: float
    budget_wh: float
    dies_at_min: float | None = None
    dies_in: str = ""
    dies_in_min: float | None = None

    @property
    def budget_share(self) -> float:
        return self.held_wh / self.budget_wh

    @property
    def eats_reserve(self) -> bool:
        return self.held_wh > self.budget_wh + SLACK_WH

    @property
    def is_over(self) -> bool:
        return self.held_wh > self.usable_wh + SLACK_WH


def running(
    order: Sequence[Stretch], demand: Demand, pack: Pack, hold_min: float = HOLD_MIN, hold_level: float = 0.0
) -> Running:
    """What a charged pack has left along the order, with a hold counted on top.

        used = sum of (idle + load * duty) / converter * minutes / 60

    With a Peukert exponent each stretch drains the pack as a steady current would.

    Source: energy balance; `drain_w`.
    Raises BadQuantity for an order without a stretch, minutes not above 0, and figures that cannot be.

    >>> robe = running([Stretch("act one", 60.0, 1.0)], Demand(24.0, 1.2), Pack(12.8, 3.0))
    >>> round(robe.used_wh, 1), robe.is_over, robe.eats_reserve
    (25.2, False, True)
    """
    if not order:
        raise BadQuantity("the running order is empty", "Give at least one stretch with minutes and a level.")
    usable = pack.usable_wh
    used = at_min = 0.0
    charges = []
    death: tuple[float, str, float] | None = None
    for stretch in order:
        minutes = _minutes(stretch)
        drain = drain_w(pack, demand.pack_w(stretch.level))
        wanted = drain * minutes / 60.0
        if death is None and used + wanted > usable + SLACK_WH:
            into = (usable - used) / drain * 60.0
            death = (at_min + into, stretch.name, into)
        used += wanted
        at_min += minutes
        charges.append(Charge(stretch.name, at_min, used, usable - used))
    held = within("the hold", hold_min, 0.0, 1440.0, "min") / 60.0 * drain_w(pack, demand.pack_w(hold_level))
    dies_at, dies_in, dies_in_min = death or (None, "", None)
    return Running(tuple(charges), used, used + held, usable, pack.budget_wh, dies_at, dies_in, dies_in_min)


def _minutes(stretch: Stretch) -> float:
    return within(f"the minutes of {stretch.name or 'a stretch'}", stretch.minutes, 1e-6, 10_000.0, "min")


def lasts_h(
    demand: Demand, pack: Pack, profile: Sequence[tuple[float, float]] = ((1.0, 1.0),), reserve: bool = False
) -> float | None:
    """Hours on one charge. `profile`: share of the time and the level then; the shares make 1.

    None where nothing is drawn. With `reserve` the hours until only the reserve is left.

    Source: usable energy over the average drain.
    Raises BadQuantity for shares that do not make 1, and for figures that cannot be.

    >>> round(lasts_h(Demand(16.8), Pack(12.0, 7.0, 1.0, peukert=1.2)), 3)
    3.789
    """
    total = sum(within("a share of the time", time, 0.0, 1.0) for time, _ in profile)
    if abs(total - 1.0) > 1e-6:
        raise BadQuantity(f"the shares of the time make {total:g}", "Give shares that make 1 together.")
    drain = sum(time * drain_w(pack, demand.pack_w(level)) for time, level in profile)
    if drain <= 0.0:
        return None
    return (pack.budget_wh if reserve else pack.usable_wh) / drain


@dataclass(frozen=True, slots=True)
class PacksNeeded:
    """`at_once`: charged packs one show uses up. `for_day`: packs to own for all shows of a day.

    `recharged`: whether they are charged between shows. `why`: what the figure rests on.
    """

    at_once: int
    for_day: int
    recharged: bool
    why: str


def packs_needed(used_wh: float, pack: Pack, shows: int, gap_h: float, charge_h: float | None) -> PacksNeeded:
    """Packs for a day of so many shows, each within its budget, `gap_h` hours between two of them.

    One show's packs are swapped where it is dark, or stand side by side: a share of a pack counts as one.
    A charge counts only if the whole of it fits: its last part is the slowest. `charge_h` None: not known,
    so taken as not possible, and said.

    Source: common practice.
    Raises BadQuantity for shows outside 1 to 4 and figures that cannot be.

    >>> packs_needed(32.62, Pack(12.8, 3.0), shows=2, gap_h=4.0, charge_h=3.0).for_day
    2
    """
    if not 1 <= shows <= 4:
        raise BadQuantity(f"{shows} shows on a day cannot be", "Give between 1 and 4 shows.")
    used = within("the watt hours used", used_wh, 0.0, 1e6, "Wh")
    gap = within("the gap between shows", gap_h, 0.0, 24.0, "h")
    budget = pack.budget_wh
    once = max(1, ceil((used - SLACK_WH) / budget))
    uncharged = max(1, ceil((shows * used - SLACK_WH) / budget))
    if uncharged <= once:
        return PacksNeeded(once, once, False, "one charge covers the day")
    if charge_h is None:
        why = f"how long a charge takes is not given: none was assumed; with one, {once} would do"
        return PacksNeeded(once, once * shows, False, why)
    charge = within("the time a charge takes", charge_h, 0.01, 48.0, "h")
    if charge <= gap + 1e-6:
        return PacksNeeded(once, once, True, f"a charge of {charge:g} h fits the {gap:g} h between shows")
    why = f"a charge of {charge:g} h does not fit the {gap:g} h between shows"
    return PacksNeeded(once, once * shows, False, why)
