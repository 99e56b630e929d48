"""One run as it is, or as it might be, and the limits it has to keep."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.electrical.fuses import most_load_a
from service.electrical.gauges import Gauge
from service.electrical.power.ranges import more_than_nothing
from service.electrical.tape import Drop, FeedStyle, Rails, leads_of, quick_drop
from service.errors import BadQuantity

# Compared figures come out of floating point sums; a limit that is met exactly is met.
HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class Wire:
    """One size of wire on the shelf. `limit_a`: what one core may carry; None: nobody knows."""

    text: str
    ohm_per_m: float
    limit_a: float | None

    def __post_init__(self) -> None:
        more_than_nothing(self.ohm_per_m, "a wire", "Ω/m", "Give its ohms a metre, or its gauge.")
        if self.limit_a is not None:
            more_than_nothing(self.limit_a, "a wire limit", "A", "Give what one core may carry.")


def wire_of(gauge: Gauge) -> Wire:
    """The wire that a gauge is, with the shop's limit."""
    return Wire(gauge.text, gauge.ohm_per_m, gauge.shop_limit_a)


@dataclass(frozen=True, slots=True)
class Limits:
    """What is asked of a run. Shares of the nominal volts, 0 to 1.

    `run_m`: the maker's longest run fed from one end, blank where he says none; `two_sided`: how many times
    that when the current comes from two sides.
    """

    total: float
    lead: float = 1.0
    run_m: float | None = None
    two_sided: float = 2.0

    def __post_init__(self) -> None:
        for share in (self.total, self.lead):
            if not 0.0 < share <= 1.0:
                raise BadQuantity(
                    f"a limit of {100.0 * share:g} % of the volts",
                    "Give a limit of more than 0 % and at most 100 %, such as 5 %.",
                )
        if self.run_m is not None:
            more_than_nothing(self.run_m, "a longest run", "m", "Give the maker's longest run, or leave it.")


@dataclass(frozen=True, slots=True)
class Case:
    """A run of so many cut pitches, its feed, and the lead to it. `lead_m`: one way."""

    rails: Rails
    pitches: int
    pitch_m: float
    style: FeedStyle
    wire: Wire
    lead_m: float
    conductor_degc: float = 20.0

    def __post_init__(self) -> None:
        if self.pitches < 1:
            raise BadQuantity(f"{self.pitches} cut pitches of tape", "Give at least one cut pitch.")
        more_than_nothing(self.pitch_m, "a cut pitch", "m", "Give the distance between two cut marks.")
        if not 0.0 <= self.lead_m < float("inf"):
            raise BadQuantity(f"a lead {self.lead_m:g} m long", "Give a length of 0 m or more, one way.")

    @property
    def length_m(self) -> float:
        return self.pitches * self.pitch_m

    @property
    def leads(self) -> int:
        return leads_of(self.style)

    def drop(self) -> Drop:
        return quick_drop(
            self.rails,
            self.length_m,
            self.style,
            self.wire.ohm_per_m,
            self.lead_m,
            self.conductor_degc,
        )

    def of(self, pitches: int) -> "Case":
        return replace(self, pitches=pitches)


def breaks(case: Case, limits: Limits) -> tuple[str, ...]:
    """What is not kept: "drop", "lead drop", "lead amps", "fuse" (none protects the wire), "run length"."""
    drop = case.drop()
    run_m = longest_by_maker_m(case.style, limits)
    fused_a = None if case.wire.limit_a is None else most_load_a(case.wire.limit_a)
    pairs: Sequence[tuple[str, float, float | None]] = (
        ("drop", drop.total_v / drop.class_v, limits.total),
        ("lead drop", drop.lead_v / drop.class_v, limits.lead),
        ("lead amps", drop.lead_a, case.wire.limit_a),
        ("fuse", drop.lead_a, fused_a),
        ("run length", case.length_m, run_m),
    )
    return tuple(name for name, value, limit in pairs if limit is not None and value > limit * (1.0 + HAIR))


def longest_by_maker_m(style: FeedStyle, limits: Limits) -> float | None:
    """The maker's longest run for this feed.

    Source: the maker's figure is for one end; from two sides each half carries half (theory).
    """
    if limits.run_m is None:
        return None
    return limits.run_m * (1.0 if style is FeedStyle.ONE else limits.two_sided)
