"""The wall: what supplies draw from a circuit, how many it carries, and what switching them on does to it."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import floor, sqrt

from service.electrical.power.boxes import DECODER_LOSS_SHARE, supply_heat_w
from service.electrical.power.ranges import Assumed, share, within
from service.errors import BadQuantity

# Slack for a figure that equals its limit, so that 100.0 % stays allowed.
SLACK_A = 1e-6

# A load that runs three hours or more counts 125 % towards its breaker. NFPA 70 (2017) Art. 100, 210.20(A).
CONTINUOUS = 1.25

# Standard sizes up to what a stage circuit has. NFPA 70 (2017) 240.6(A).
BREAKERS_A = (15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0)

# Supplies switched on together on one 20 A circuit without a thought. Common practice.
AT_ONCE_ON_20_A = 4

# Usual where a sheet is silent: the worst is taken, the best told beside it. Common practice.
USUAL_EFFICIENCY = (0.85, 0.94)
USUAL_POWER_FACTOR = (0.5, 0.98)


class Curve(StrEnum):
    """How fast a breaker trips on a surge, as multiples of its rating. IEC 60898-1."""

    B = "B"
    C = "C"
    D = "D"


TRIPS_AT = {Curve.B: (3.0, 5.0), Curve.C: (5.0, 10.0), Curve.D: (10.0, 20.0)}


class Surge(StrEnum):
    HOLDS = "holds"
    MAY_TRIP = "may trip"
    TRIPS = "trips if it lasts"


@dataclass(frozen=True, slots=True)
class Draw:
    """What one supply takes from the wall. `assumed`: figures its sheet does not give, the answer's swing."""

    input_w: float
    apparent_va: float
    current_a: float
    heat_w: float
    assumed: tuple[Assumed, ...] = ()


def output_w(load_w: float, decoder_loss_share: float = DECODER_LOSS_SHARE) -> float:
    """Watts out of a supply: the tape, and what its decoders lose.

    Source: common practice (2 %).

    >>> output_w(100.0)
    102.0
    """
    load = within("the load", load_w, 0.0, 1e6, "W")
    return load * (1.0 + within("the decoders' share", decoder_loss_share, 0.0, 1.0))


def draw(given_w: float, mains_v: float, efficiency: float | None, power_factor: float | None) -> Draw:
    """What a supply that gives so many watts takes from the wall.

        P_in = P / efficiency;   S = P_in / PF;   I = S / V

    Efficiency or power factor may be None: the worst that is usual is taken and said in `assumed`.

    Source: single-phase power V I PF; definition of efficiency. Holds for: root mean square, in use.
    Raises BadQuantity for watts below 0, volts outside 50 to 500, shares not above 0 and at most 1.

    >>> round(draw(384.0, 120.0, 0.88, 0.95).current_a, 3)
    3.828
    """
    given = within("the load", given_w, 0.0, 1e6, "W")
    volts = within("the mains", mains_v, 50.0, 500.0, "V")
    eta = share("the efficiency", USUAL_EFFICIENCY[0] if efficiency is None else efficiency)
    factor = share("the power factor", USUAL_POWER_FACTOR[0] if power_factor is None else power_factor)
    input_w = given / eta
    current = input_w / factor / volts
    assumed = [
        Assumed(figure, worst, best, current, current * worst / best, "A", "common practice")
        for figure, known, (worst, best) in (
            ("the efficiency", efficiency, USUAL_EFFICIENCY),
            ("the power factor", power_factor, USUAL_POWER_FACTOR),
        )
        if known is None
    ]
    return Draw(input_w, input_w / factor, current, supply_heat_w(given, eta), tuple(assumed))


def peak_v(rms_v: float) -> float:
    """The top of a sine wave of that root mean square.

    Source: definition, V sqrt(2).

    >>> round(peak_v(120.0), 1)
    169.7
    """
    return within("the mains", rms_v, 0.0, 1000.0, "V") * sqrt(2.0)


def limit_a(breaker_a: float, load_factor: float = 0.80) -> float:
    """Amps a circuit may carry for hours.

        I = breaker * load factor

    Source: NFPA 70 (2017) 210.20(A), the other way round (1 / 1.25). IEC has no general 80 % rule; there it
    is house policy.

    >>> limit_a(20.0)
    16.0
    """
    breaker = within("the breaker", breaker_a, 0.5, 1000.0, "A")
    return breaker * share("the load factor", load_factor)


def limit_w(breaker_a: float, mains_v: float, load_factor: float = 0.80) -> float:
    """The same in watts, at a power factor of 1.

    >>> limit_w(20.0, 120.0)
    1920.0
    """
    return limit_a(breaker_a, load_factor) * within("the mains", mains_v, 50.0, 500.0, "V")


def branch_a(continuous_a: float, other_a: float = 0.0) -> float:
    """Amps a breaker must be rated for at least.

        I = other + 1.25 * continuous

    Continuous is three hours or more.

    Source: NFPA 70 (2017) Art. 100, 210.19(A)(1)(a), 210.20(A).

    >>> branch_a(10.0, 3.0)
    15.5
    """
    continuous = within("the continuous load", continuous_a, 0.0, 1e4, "A")
    return within("the other load", other_a, 0.0, 1e4, "A") + CONTINUOUS * continuous


def breaker_for_a(needed_a: float) -> float:
    """The smallest standard breaker of that many amps.

    Source: NFPA 70 (2017) 240.6(A).
    Raises BadQuantity above 100 A.

    >>> breaker_for_a(15.5)
    20.0
    """
    needed = within("the amps needed", needed_a, 0.0, BREAKERS_A[-1], "A")
    return next(size for size in BREAKERS_A if needed <= size + SLACK_A)


def per_circuit(each_a: float, breaker_a: float, load_factor: float = 0.80) -> int:
    """How many supplies of those amps a circuit carries for hours; their switching on is another question.

    Source: arithmetic on `limit_a`.
    Raises BadQuantity for amps not above 0.

    >>> per_circuit(3.828, 15.0), per_circuit(3.828, 20.0)
    (3, 4)
    """
    each = within("the amps of each", each_a, 1e-6, 1e4, "A")
    return floor((limit_a(breaker_a, load_factor) + SLACK_A) / each)


def trip_band_a(breaker_a: float, curve: Curve) -> tuple[float, float]:
    """Amps up to which a breaker never trips at once on a surge, and from which it always does.

    Source: IEC 60898-1: B 3 to 5, C 5 to 10, D 10 to 20 times the rating.

    >>> trip_band_a(16.0, Curve.C)
    (80.0, 160.0)
    """
    low, high = TRIPS_AT[curve]
    breaker = within("the breaker", breaker_a, 0.5, 1000.0, "A")
    return low * breaker, high * breaker


def surge(inrush_a: float, breaker_a: float, curve: Curve) -> Surge:
    """What a breaker does when that much is switched on together.

    Supplies surge for far less time than the trip test lasts: the breaker maker's count per circuit wins.

    Source: IEC 60898-1.

    >>> surge(120.0, 16.0, Curve.C).value
    'may trip'
    """
    total = within("the inrush", inrush_a, 0.0, 1e5, "A")
    low, high = trip_band_a(breaker_a, curve)
    if total <= low + SLACK_A:
        return Surge.HOLDS
    return Surge.MAY_TRIP if total < high - SLACK_A else Surge.TRIPS


def at_once(breaker_a: float, on_20_a: int = AT_ONCE_ON_20_A) -> int:
    """Supplies that may be switched on together where the breaker's curve is not known; at least one.

    Source: common practice: four on 20 A. In proportion on other breakers (from memory).

    >>> at_once(20.0), at_once(15.0)
    (4, 3)
    """
    return max(1, floor(on_20_a * within("the breaker", breaker_a, 0.5, 1000.0, "A") / 20.0 + SLACK_A))


@dataclass(frozen=True, slots=True)
class Inrush:
    """All supplies of a circuit switched on together. `at_least_a`: the sum of those known.

    `unknown`: how many give no figure, so the true sum is greater. `steps`: how many groups to start in.
    """

    supplies: int
    at_least_a: float
    unknown: int
    steps: int


def inrush(
    each_a: Sequence[float | None],
    breaker_a: float,
    curve: Curve | None = None,
    on_20_a: int = AT_ONCE_ON_20_A,
) -> Inrush:
    """The surge of a circuit and the groups it should be started in.

    With a curve no group surges beyond what the breaker certainly holds, the largest first; a supply that
    gives no figure, or more than that, starts alone. Without, a group has `at_once` supplies.

    Source: IEC 60898-1 for the curve, else common practice.

    >>> inrush([60.0, 60.0, 60.0, 60.0, 50.0], 20.0)
    Inrush(supplies=5, at_least_a=290.0, unknown=0, steps=2)
    """
    known = sorted((within("the inrush", a, 0.0, 1e5, "A") for a in each_a if a is not None), reverse=True)
    unknown = len(each_a) - len(known)
    if curve is None:
        steps = -(-len(each_a) // at_once(breaker_a, on_20_a))
    else:
        steps = unknown + _groups(known, trip_band_a(breaker_a, curve)[0])
    return Inrush(len(each_a), sum(known), unknown, steps)


def _groups(falling_a: Sequence[float], holds_a: float) -> int:
    filled: list[float] = []
    for amps in falling_a:
        at = next((n for n, sum_a in enumerate(filled) if sum_a + amps <= holds_a + SLACK_A), None)
        if at is None:
            filled.append(amps)
        else:
            filled[at] += amps
    return len(filled)


@dataclass(frozen=True, slots=True)
class Circuit:
    """Amps on one circuit: of the supplies, of what else is plugged in, and what it may carry for hours."""

    supplies_a: float
    other_a: float
    limit_a: float

    @property
    def total_a(self) -> float:
        return self.supplies_a + self.other_a

    @property
    def load_share(self) -> float:
        return self.total_a / self.limit_a

    @property
    def is_over(self) -> bool:
        return self.total_a > self.limit_a + SLACK_A


def circuit(
    draws: Sequence[Draw], other_w: float | None, breaker_a: float, mains_v: float, load_factor: float = 0.80
) -> Circuit:
    """What a circuit carries with everything on.

    Amps of supplies with different power factors are added as they are: the true sum is never greater.
    `other_w` is 0 where nothing else is plugged in; not known is refused, never taken for nothing.

    Source: `draw`; others at a power factor of 1 (common practice for heaters; a motor takes more).
    Raises BadQuantity where the other load is not given or a figure cannot be.

    >>> circuit([draw(240.0, 120.0, 0.85, 0.60)], 1000.0, 20.0, 120.0).is_over
    False
    """
    if other_w is None:
        raise BadQuantity(
            "the other load on the circuit is not given", "Give its watts, 0 if nothing else is plugged in."
        )
    volts = within("the mains", mains_v, 50.0, 500.0, "V")
    other = within("the other load", other_w, 0.0, 1e6, "W")
    return Circuit(sum(d.current_a for d in draws), other / volts, limit_a(breaker_a, load_factor))
