"""Tape: where it may be cut, what it draws, and the quick volt drop of one run."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import inf

from service.electrical.conductors import lead_drop_v, warming


class Fit(StrEnum):
    """How a drawn length becomes a whole number of cut pitches."""

    INSIDE = "inside"  # never longer than drawn
    COVER = "cover"  # never shorter than drawn
    NEAREST = "nearest"  # half a pitch goes up


class FeedStyle(StrEnum):
    """Where the lead joins the run."""

    ONE = "one"
    BOTH = "both"
    MIDDLE = "middle"


def cut_pitches(drawn_um: int, pitch_um: int, fit: Fit = Fit.INSIDE) -> int:
    """Whole cut pitches for a drawn length; both in micrometres, so that nothing is rounded twice.

        inside: floor(L / p)    cover: ceil(L / p)    nearest: half up

    Source: arithmetic; tape may be cut only at its marks (common practice). Kerf is zero.

    >>> cut_pitches(3_330_000, 50_000) * 50
    3300
    >>> cut_pitches(3_330_000, 50_000, Fit.COVER) * 50, cut_pitches(3_325_000, 50_000, Fit.NEAREST) * 50
    (3350, 3350)
    """
    if pitch_um <= 0 or drawn_um < 0:
        raise ValueError("a cut pitch is greater than zero and a length is not negative")
    if fit is Fit.INSIDE:
        return drawn_um // pitch_um
    if fit is Fit.COVER:
        return -(-drawn_um // pitch_um)
    return (2 * drawn_um + pitch_um) // (2 * pitch_um)


def tape_w(length_m: float, w_per_m: float) -> float:
    """Watts of a length of tape at full.

        P = l * w

    Source: arithmetic on the maker's watts a metre; all emitters, wired or not, because somebody
    will wire the last one (common practice).

    >>> round(tape_w(3.3, 19.2), 2)
    63.36
    """
    return length_m * w_per_m


def emitter_a(length_m: float, w_per_m: float, class_v: float) -> float:
    """Amps of one emitter of a run at full, at the nominal voltage.

        I = l * w / V

    Source: P = V I. Holds for: nominal voltage; a run that drops volts draws no more than this on
    tape with resistors.

    >>> round(emitter_a(8.0, 4.8, 24.0), 3)
    1.6
    """
    if class_v <= 0.0:
        raise ValueError("a voltage class is greater than zero")
    return length_m * w_per_m / class_v


def common_a(length_m: float, emitters_w_per_m: Sequence[float], class_v: float) -> float:
    """Amps in the shared core with every emitter at full.

        I_common = sum of I_emitter

    Source: Kirchhoff's current law.

    >>> round(common_a(8.0, [4.8, 4.8, 4.8, 4.8], 24.0), 3)
    6.4
    """
    return sum(emitter_a(length_m, w_per_m, class_v) for w_per_m in emitters_w_per_m)


@dataclass(frozen=True, slots=True)
class Rails:
    """One kind of tape for the drop sum. Ohms a metre at 20 degC; emitters in pad order."""

    class_v: float
    common_ohm_per_m: float
    emitters_w_per_m: tuple[float, ...]
    returns_ohm_per_m: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Drop:
    """Volts lost on the way to the worst emitter, and the amps in the shared core of each lead."""

    class_v: float
    lead_a: float
    lead_v: float
    tape_v: float

    @property
    def total_v(self) -> float:
        return self.lead_v + self.tape_v

    @property
    def lead_pct(self) -> float:
        return 100.0 * self.lead_v / self.class_v

    @property
    def total_pct(self) -> float:
        return 100.0 * self.total_v / self.class_v


def leads_of(style: FeedStyle) -> int:
    """Leads that share a run's current: two when it is fed at both ends, else one.

    >>> leads_of(FeedStyle.BOTH), leads_of(FeedStyle.MIDDLE)
    (2, 1)
    """
    return 2 if style is FeedStyle.BOTH else 1


def quick_drop(
    rails: Rails,
    length_m: float,
    style: FeedStyle,
    lead_ohm_per_m: float,
    lead_one_way_m: float,
    conductor_degc: float = 20.0,
) -> Drop:
    """The drop to the worst emitter with all emitters at full, load evenly spread, constant current.

        lead = (I_common + I_emitter) / n * r_wire * d        n = 2 fed at both ends, else 1
        tape = (I_common r_common + I_emitter r_return) * l / 2
        tape is a quarter of that when fed at both ends or in the middle

    One lead that joins the run in the middle carries all of its current; two leads share it.

    Source: elementary theory of an evenly loaded line: R' i L^2 / 2 fed at one end, R' i L^2 / 8
    fed at both ends or in the middle.
    Holds for: loads that do not depend on the voltage; dimming does not lower it, because the
    current is full while the pulse lasts. The real tape with resistors drops a little less.

    >>> rgbw = Rails(24.0, 0.025, (4.8,) * 4, (0.050,) * 4)
    >>> drop = quick_drop(rgbw, 8.0, FeedStyle.ONE, 0.02095, 12.0)
    >>> round(drop.lead_pct, 2), round(drop.total_pct, 2)
    (8.38, 12.38)
    >>> round(quick_drop(rgbw, 8.0, FeedStyle.BOTH, 0.01318, 12.0).total_pct, 2)
    3.64
    """
    shared_a, leads = common_a(length_m, rails.emitters_w_per_m, rails.class_v), leads_of(style)
    worst = (0.0, 0.0)
    for own_a, tape_v in _along(rails, length_m, style, conductor_degc):
        lead_v = lead_drop_v(shared_a / leads, own_a / leads, lead_ohm_per_m, lead_one_way_m, conductor_degc)
        worst = max(worst, (lead_v, tape_v), key=sum)
    return Drop(rails.class_v, shared_a / leads, *worst)


def longest_lead_m(
    rails: Rails,
    length_m: float,
    style: FeedStyle,
    lead_ohm_per_m: float,
    most_v: float,
    conductor_degc: float = 20.0,
) -> float:
    """The longest lead, one way, with which no emitter loses more than so many volts; each lead alike.

        d = (V_most - tape) / ((I_common + I_emitter) / n * r_wire)        the least of all emitters

    Less than zero where the tape alone loses more: then no lead would do. Endless where nothing flows.

    Source: `quick_drop` solved for the lead.
    Holds for: the same.

    >>> rgbw = Rails(24.0, 0.025, (4.8,) * 4, (0.050,) * 4)
    >>> round(longest_lead_m(rgbw, 8.0, FeedStyle.ONE, 0.02095, 2.4), 3)
    8.592
    >>> round(longest_lead_m(rgbw, 8.0, FeedStyle.BOTH, 0.02095, 2.4), 2)
    25.78
    """
    shared_a, leads = common_a(length_m, rails.emitters_w_per_m, rails.class_v), leads_of(style)
    if not shared_a:
        return inf
    return min(
        (most_v - tape_v) / lead_drop_v(shared_a / leads, own_a / leads, lead_ohm_per_m, 1.0, conductor_degc)
        for own_a, tape_v in _along(rails, length_m, style, conductor_degc)
    )


def _along(
    rails: Rails, length_m: float, style: FeedStyle, conductor_degc: float
) -> Iterator[tuple[float, float]]:
    """Of each emitter, its amps and the volts lost along the tape."""
    if not rails.emitters_w_per_m or len(rails.emitters_w_per_m) != len(rails.returns_ohm_per_m):
        raise ValueError("one return resistance for each emitter, and at least one emitter")
    quarter = 1.0 if style is FeedStyle.ONE else 0.25
    shared_a = common_a(length_m, rails.emitters_w_per_m, rails.class_v)
    for w_per_m, return_ohm_per_m in zip(rails.emitters_w_per_m, rails.returns_ohm_per_m, strict=True):
        own_a = emitter_a(length_m, w_per_m, rails.class_v)
        rail_v = shared_a * rails.common_ohm_per_m + own_a * return_ohm_per_m
        yield own_a, rail_v * warming(conductor_degc) * length_m / 2.0 * quarter
