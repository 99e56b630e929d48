"""House defaults: every threshold a limit uses, each with its source and its range, each overridable.

A stored policy row replaces the default of the same name.
"""

from dataclasses import dataclass
from enum import StrEnum

from service.errors import BadQuantity


@dataclass(frozen=True, slots=True)
class Policy:
    """Ratios are 0 to 1. Sources: common practice unless the line says otherwise."""

    load_factor: float = (
        0.80  # continuous load; NFPA 70 Art. 210.19(A)(1) uses the same idea for branch circuits
    )
    output_factor: float = 0.80
    channel_factor: float = 0.80
    decoder_factor: float = 0.80
    open_air_degc: float = 25.0
    lead_watch: float = 0.03  # advisory 3 % of NFPA 70 210.19(A) Informational Note 4
    drop_watch: float = 0.05  # advisory 5 % of NFPA 70 215.2 Informational Note 2
    drop_over: float = 0.10
    both_ends_run_factor: float = 2.0
    match_drop_spread: float = 0.03
    keep_offcut_m: float = 0.300
    join_min_piece_m: float = 0.300
    conductor_degc: float = 20.0
    mount_w_per_m: float = 10.0
    splash_ip: float = 65.0  # IEC 60529; which zone wants which is common practice
    wet_ip: float = 67.0
    worn_v: float = 12.0
    film_watch_hz: float = 2000.0
    film_over_hz: float = 1000.0
    breaker_factor: float = 0.80  # continuous load; NFPA 70 (2017) Art. 210.20(A)
    inrush_supplies: float = 4.0  # started together on one breaker without anything that staggers them
    battery_budget: float = 0.70  # of what is usable; the rest is for cold, ageing and a late curtain
    battery_hold_min: float = 15.0  # after the last cue, dark but switched on
    spare_share: float = 0.10  # of what a show has of a model, kept free while it plays; one at least
    receiving_days: float = 3.0  # from a delivery to the shelf: checked, tested, labelled
    wire_us_cord: float = 0.0  # these five ask for a set of wire figures beside the shop's: 1 asks
    wire_us_fixture: float = 0.0
    wire_us_small: float = 0.0
    wire_us_stage: float = 0.0
    wire_iec_cord: float = 0.0


DEFAULT = Policy()


class Figure(StrEnum):
    """What a house rule's figure is."""

    SHARE = "share"
    RATIO = "ratio"
    DEGC = "degC"
    METRES = "m"
    W_PER_M = "W/m"
    VOLTS = "V"
    HERTZ = "Hz"
    MINUTES = "min"
    DAYS = "days"
    SWITCH = "switch"


@dataclass(frozen=True, slots=True)
class Range:
    """From `low` to `high`, both allowed; a share of nothing never, and of a switch only its ends."""

    figure: Figure
    low: float
    high: float

    def holds(self, value: float) -> bool:
        if self.figure is Figure.SWITCH:
            return value in (self.low, self.high)
        return self.low <= value <= self.high and (self.figure is not Figure.SHARE or value > 0)

    def __str__(self) -> str:
        if self.figure is Figure.SWITCH:
            return "0 for no or 1 for yes"
        unit = {Figure.SHARE: "", Figure.RATIO: "", Figure.DEGC: " °C"}.get(self.figure, f" {self.figure}")
        low = "more than 0" if self.figure is Figure.SHARE else f"from {self.low:g}"
        return f"{low} to {self.high:g}{unit}"


_FACTOR, _PART = Range(Figure.SHARE, 0.0, 1.0), Range(Figure.SHARE, 0.0, 0.5)
_LENGTH = Range(Figure.METRES, 0.0, 2.0)
_SWITCH = Range(Figure.SWITCH, 0.0, 1.0)
_HERTZ = Range(Figure.HERTZ, 0.0, 200_000.0)

# A factor of 80 instead of 0.80 would let every load read as in order. Ranges: common practice.
RANGES: dict[str, Range] = {
    "load_factor": _FACTOR,
    "output_factor": _FACTOR,
    "channel_factor": _FACTOR,
    "decoder_factor": _FACTOR,
    "open_air_degc": Range(Figure.DEGC, -20.0, 60.0),
    "lead_watch": _PART,
    "drop_watch": _PART,
    "drop_over": _PART,
    "both_ends_run_factor": Range(Figure.RATIO, 1.0, 2.0),
    "match_drop_spread": _PART,
    "keep_offcut_m": _LENGTH,
    "join_min_piece_m": _LENGTH,
    "conductor_degc": Range(Figure.DEGC, -40.0, 120.0),
    "mount_w_per_m": Range(Figure.W_PER_M, 1.0, 40.0),
    "splash_ip": Range(Figure.RATIO, 0.0, 69.0),
    "wet_ip": Range(Figure.RATIO, 0.0, 69.0),
    "worn_v": Range(Figure.VOLTS, 1.0, 60.0),
    "film_watch_hz": _HERTZ,
    "film_over_hz": _HERTZ,
    "breaker_factor": _FACTOR,
    "inrush_supplies": Range(Figure.RATIO, 1.0, 100.0),
    "battery_budget": _FACTOR,
    "battery_hold_min": Range(Figure.MINUTES, 0.0, 240.0),
    "spare_share": _FACTOR,
    "receiving_days": Range(Figure.DAYS, 0.0, 60.0),
    "wire_us_cord": _SWITCH,
    "wire_us_fixture": _SWITCH,
    "wire_us_small": _SWITCH,
    "wire_us_stage": _SWITCH,
    "wire_iec_cord": _SWITCH,
}


def stored_figure(name: str, text: str) -> float:
    """The figure of a stored house rule; one that is no number, or out of its range, is refused by name.

    >>> stored_figure("load_factor", "0.8")
    0.8
    """
    allowed = RANGES[name]
    try:
        value = float(text)
    except ValueError as error:
        raise BadQuantity(
            f"the house rule {name} is {text!r}, which is not a number",
            f"Put a number {allowed} in its place, such as {getattr(DEFAULT, name):g}.",
        ) from error
    if not allowed.holds(value):
        raise BadQuantity(
            f"the house rule {name} is {text}, which is out of range",
            f"Put a number {allowed} in its place, such as {getattr(DEFAULT, name):g}.",
        )
    return value


def fault_between(policy: Policy) -> str:
    """What is wrong between two figures that are each in range; empty where nothing is.

    >>> fault_between(Policy(drop_watch=0.2))
    'drop_watch (0.2) is above drop_over (0.1)'
    """
    if policy.drop_watch > policy.drop_over:
        return f"drop_watch ({policy.drop_watch:g}) is above drop_over ({policy.drop_over:g})"
    if policy.film_over_hz > policy.film_watch_hz:
        return f"film_over_hz ({policy.film_over_hz:g}) is above film_watch_hz ({policy.film_watch_hz:g})"
    return ""


# Pairs of figures that may contradict each other, the lower one first.
PAIRS = (("drop_watch", "drop_over"), ("film_over_hz", "film_watch_hz"))
