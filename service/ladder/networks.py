"""What is to be solved: tape in a chain of sections, its feed and lead, and how it draws its current."""

from dataclasses import dataclass
from enum import StrEnum

from service.electrical.power.ranges import more_than_nothing
from service.errors import BadQuantity

LARGEST_DEGC, SMALLEST_DEGC = 120.0, -40.0


class Draw(StrEnum):
    """How the current of an emitter depends on the volts it is given.

    The same tape with the same nominal watts ends at fewer volts from one to the next:
    power < current < resistor (elementary: the first draws more as the volts fall, the last draws less).
    """

    CURRENT = "current"  # drivers on the tape hold it: i = i0
    POWER = "power"  # switching drivers: i = i0 v0 / v
    RESISTOR = "resistor"  # i = i0 v / v0
    LED = "led"  # a fixed drop and a resistor: i = i0 (v - vf) / (v0 - vf), nothing below vf


class FeedAt(StrEnum):
    """Where the cores of the lead join the run."""

    START = "start"
    END = "end"
    BOTH = "both"  # a lead to each end, from the same supply output
    MIDDLE = "middle"  # one lead, at the cut mark nearest the middle
    OPPOSITE = "opposite"  # the common at the start, the returns at the end


def _not_below(value: float, what: str, unit: str) -> None:
    if not 0.0 <= value < float("inf"):
        raise BadQuantity(f"{what} of {value:g} {unit}", f"Give it as 0 {unit} or more.")


def _whole(value: int, what: str) -> None:
    if value < 1:
        raise BadQuantity(f"{value} {what}", f"Give at least 1 of {what}.")


@dataclass(frozen=True, slots=True)
class Section:
    """A length of one tape. Emitters in pad order; ohms a metre of each rail at 20 degC.

    `lit`: which emitters are on; none given: all. `led_drop_v` is wanted for `Draw.LED` only.
    """

    pitches: int
    pitch_m: float
    nominal_v: float
    emitters_w_per_m: tuple[float, ...]
    common_ohm_per_m: float
    returns_ohm_per_m: tuple[float, ...]
    draw: Draw = Draw.CURRENT
    led_drop_v: float = 0.0
    lit: tuple[bool, ...] = ()

    def __post_init__(self) -> None:
        _whole(self.pitches, "cut pitches")
        more_than_nothing(self.pitch_m, "a cut pitch", "m")
        more_than_nothing(self.nominal_v, "the nominal voltage of a tape", "V")
        if not self.emitters_w_per_m or len(self.emitters_w_per_m) != len(self.returns_ohm_per_m):
            raise BadQuantity(
                f"{len(self.emitters_w_per_m)} emitters and {len(self.returns_ohm_per_m)} returns",
                "Give at least one emitter, and one return for each.",
            )
        if self.lit and len(self.lit) != len(self.emitters_w_per_m):
            raise BadQuantity(
                "which emitters are lit is not said for each", "Say on or off for each emitter."
            )
        for watts in self.emitters_w_per_m:
            _not_below(watts, "watts of an emitter", "W/m")
        for ohms in (self.common_ohm_per_m, *self.returns_ohm_per_m):
            _not_below(ohms, "resistance of a rail", "Ω/m")
        if self.draw is Draw.LED and not 0.0 < self.led_drop_v < self.nominal_v:
            raise BadQuantity(
                f"an LED drop of {self.led_drop_v:g} V in {self.nominal_v:g} V tape",
                f"Give the drop as more than 0 and less than {self.nominal_v:g} V.",
            )

    @property
    def length_m(self) -> float:
        return self.pitches * self.pitch_m

    @property
    def emitters_a(self) -> tuple[float, ...]:
        """Amps of one segment of each emitter at the nominal voltage, nothing where it is off."""
        lit = self.lit or (True,) * len(self.emitters_w_per_m)
        return tuple(
            watts * self.pitch_m / self.nominal_v if on else 0.0
            for watts, on in zip(self.emitters_w_per_m, lit, strict=True)
        )


@dataclass(frozen=True, slots=True)
class Lead:
    """Between the supply and the run. Ohms of a whole core, warm as it is.

    `output_ohm`: of one decoder channel, on each return (from the drop on its sheet at a known current);
    where the run is fed at both ends, one channel feeds both leads. `to_end`: cores of the second lead then;
    none given: as the first.
    """

    common_ohm: float = 0.0
    return_ohm: float = 0.0
    output_ohm: float = 0.0
    to_end: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        for ohms in (self.common_ohm, self.return_ohm, self.output_ohm, *(self.to_end or ())):
            _not_below(ohms, "resistance of a lead", "Ω")


@dataclass(frozen=True, slots=True)
class Chain:
    """One run: sections end to end, fed as said. All of them have the same emitters, pad to pad."""

    sections: tuple[Section, ...]
    feed: FeedAt = FeedAt.START

    def __post_init__(self) -> None:
        if not self.sections:
            raise BadQuantity("a run without tape", "Give at least one length of tape.")
        if len({len(section.emitters_w_per_m) for section in self.sections}) > 1:
            raise BadQuantity(
                "tapes of different numbers of emitters in one chain",
                "Join only tape of the same pads; put the other on a lead of its own.",
            )

    @property
    def length_m(self) -> float:
        return sum(section.length_m for section in self.sections)

    @property
    def pitches(self) -> int:
        return sum(section.pitches for section in self.sections)

    @property
    def emitters(self) -> int:
        return len(self.sections[0].emitters_w_per_m)


@dataclass(frozen=True, slots=True)
class Network:
    """A supply output, a lead, and the run on it, or several runs in parallel at its end.

    `conductor_degc` warms the rails of the tape (copper); the lead's ohms are given warm.
    """

    supply_v: float
    chains: tuple[Chain, ...]
    lead: Lead = Lead()
    conductor_degc: float = 20.0

    def __post_init__(self) -> None:
        more_than_nothing(self.supply_v, "the voltage of a supply", "V")
        if not SMALLEST_DEGC <= self.conductor_degc <= LARGEST_DEGC:
            raise BadQuantity(
                f"copper at {self.conductor_degc:g} °C",
                f"Give a temperature from {SMALLEST_DEGC:g} to {LARGEST_DEGC:g} °C.",
            )
        if not self.chains:
            raise BadQuantity("a lead with nothing on it", "Give at least one run.")
        if len({chain.emitters for chain in self.chains}) > 1:
            raise BadQuantity(
                "runs of different numbers of emitters on one lead",
                "Put runs of the same emitters on one lead.",
            )
        if len(self.chains) > 1 and any(chain.feed is FeedAt.BOTH for chain in self.chains):
            raise BadQuantity(
                "a run fed at both ends beside others on one lead",
                "Work it out by itself: it has a second lead that the others do not share.",
            )
