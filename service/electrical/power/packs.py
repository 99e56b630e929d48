"""Battery packs: what is in them, how fast a load empties them, and how they may travel."""

from dataclasses import dataclass
from enum import StrEnum

from service.electrical.power.ranges import share, within
from service.errors import BadQuantity

# Reserve kept for ageing and a long evening. Common practice.
RESERVE_SHARE = 0.30

# Share of the capacity taken before the pack switches off. Common practice; the maker's sheet wins.
USABLE_SHARE = 0.80

# Capacity lost per kelvin below 25 degC, and the air a pack works in. From memory; try the pack in that cold.
COLD_LOSS_PER_K = 0.01
COLD_FROM_DEGC = 25.0
PACK_AIR_DEGC = (-20.0, 60.0)

# Hours over which a capacity is rated where the sheet does not say. Common practice for lead-acid.
RATED_H = 20.0

# A lithium-ion pack above it leaves the easy class for air passengers. 49 CFR 175.10.
TRANSPORT_WH = 100.0


class Dimming(StrEnum):
    """How a level becomes light: light in proportion to the level, or to its square."""

    LINEAR = "linear"
    SQUARE = "square"


@dataclass(frozen=True, slots=True)
class Pack:
    """A charged pack. `capacity_ah`: measured if it was, else as rated, over `rated_h` hours.

    `usable_share`: how much of it comes out before the cut-off. `peukert` None: the energy method.
    `air_degc`: the air it works in; its maker's figures are for 25.
    """

    nominal_v: float | None
    capacity_ah: float | None
    usable_share: float = USABLE_SHARE
    peukert: float | None = None
    rated_h: float = RATED_H
    air_degc: float = COLD_FROM_DEGC
    reserve_share: float = RESERVE_SHARE

    @property
    def rated_wh(self) -> float:
        volts = within("the pack's volts", self.nominal_v, 0.5, 120.0, "V")
        return energy_wh(volts, within("the capacity", self.capacity_ah, 0.01, 10_000.0, "Ah"))

    @property
    def usable_wh(self) -> float:
        """Watt hours until it switches off, cold counted."""
        return self.rated_wh * share("the usable share", self.usable_share) * cold_share(self.air_degc)

    @property
    def budget_wh(self) -> float:
        """Watt hours that may be planned with: usable less the reserve."""
        return self.usable_wh * (1.0 - within("the reserve", self.reserve_share, 0.0, 0.95))


@dataclass(frozen=True, slots=True)
class Demand:
    """What hangs on a pack. `load_w` at full; `idle_w` for as long as it is switched on.

    `converter`: efficiency of a converter between the pack and all of it, 1 without one.
    """

    load_w: float
    idle_w: float = 0.0
    converter: float = 1.0
    dimming: Dimming = Dimming.SQUARE

    def pack_w(self, level: float) -> float:
        """Watts out of the pack at that level, 0 to 1.

            P = (idle + load * duty) / converter

        Source: energy balance.

        >>> round(Demand(24.0, converter=0.90).pack_w(1.0), 2)
        26.67
        """
        load = within("the load", self.load_w, 0.0, 1e5, "W")
        idle = within("the idle draw", self.idle_w, 0.0, 1e4, "W")
        return (idle + load * duty(level, self.dimming)) / share("the converter's efficiency", self.converter)


def duty(level: float, dimming: Dimming) -> float:
    """Share of the time that pulse-width dimming is on.

        linear: level;   square: level squared

    Source: definition of the curves. A curve not known should be taken as linear: it empties a pack faster.

    >>> duty(0.6, Dimming.SQUARE)
    0.36
    """
    given = within("the level", level, 0.0, 1.0)
    return given * given if dimming is Dimming.SQUARE else given


def energy_wh(volts: float, capacity_ah: float) -> float:
    """Watt hours of a capacity at its nominal volts; one is 3600 joules.

    >>> energy_wh(6.0, 100.0)
    600.0
    """
    return volts * capacity_ah


def ideal_h(capacity_ah: float, current_a: float) -> float:
    """Hours without any loss: capacity over current.

    >>> ideal_h(40.0, 5.0)
    8.0
    """
    return _capacity(capacity_ah) / _current(current_a)


def c_rate(capacity_ah: float, current_a: float) -> float:
    """Current over capacity: how many times an hour it would empty the pack.

    >>> c_rate(8.0, 2.0)
    0.25
    """
    return _current(current_a) / _capacity(capacity_ah)


def peukert_h(capacity_ah: float, current_a: float, exponent: float, rated_h: float = RATED_H) -> float:
    """Hours at a steady current, by the capacity that was rated over so many hours.

        t = H (C / (I H)) ** k

    Source: Peukert's law, rated-hours form. An estimate: it is for lead-acid, a steady current and one
    temperature.

    >>> round(peukert_h(100.0, 10.0, 1.2), 3)
    8.706
    """
    hours = within("the rated hours", rated_h, 0.1, 1000.0, "h")
    return float(hours * (_capacity(capacity_ah) / (_current(current_a) * hours)) ** _exponent(exponent))


def peukert_one_ampere_h(capacity_at_1_a_ah: float, current_a: float, exponent: float) -> float:
    """Hours at a steady current, by the capacity at one ampere. Not the same capacity as in `peukert_h`.

        t = C1 / I ** k

    Source: Peukert's law, one-ampere form. An estimate, as above.

    >>> round(peukert_one_ampere_h(100.0, 5.0, 1.2), 3)
    14.496
    """
    return float(_capacity(capacity_at_1_a_ah) / _current(current_a) ** _exponent(exponent))


def cold_share(air_degc: float) -> float:
    """Share of the capacity left in the cold: 1 % less for each kelvin below 25, never more than all.

    Source: from memory; coarse, and kinds differ. Never charge a lithium pack below 0 degC.
    Raises BadQuantity outside -20 to 60 degC.

    >>> cold_share(5.0)
    0.8
    """
    air = within("the pack's air", air_degc, *PACK_AIR_DEGC, "°C")
    return 1.0 - COLD_LOSS_PER_K * max(0.0, COLD_FROM_DEGC - air)


def cut_off_share(full_v: float, empty_v: float, cut_off_v: float) -> float:
    """Share of the capacity that has come out when what it feeds switches off, for `Pack.usable_share`.

        (full - cut-off) / (full - empty)

    Source: from memory: a straight line. Lithium iron phosphate stays flat and then falls, so it gives more.
    Raises BadQuantity where full is not above empty; nothing comes out at or above full, all at empty.

    >>> cut_off_share(12.8, 10.8, 11.2)
    0.8
    """
    empty = within("the empty volts", empty_v, 0.5, 120.0, "V")
    full = within("the full volts", full_v, 0.5, 120.0, "V")
    cut = within("the cut-off", cut_off_v, 0.0, 120.0, "V")
    if full <= empty:
        raise BadQuantity(
            f"{full:g} V full is not above {empty:g} V empty", f"Give full volts above {empty:g} V."
        )
    return round(min(1.0, max(0.0, (full - cut) / (full - empty))), 9)


def drain_w(pack: Pack, drawn_w: float) -> float:
    """Watts of its rated energy that a draw uses up: more than drawn where a Peukert exponent says so.

    Below the rated current the exponent would give more than the rating; that is never planned with.

    Source: `peukert_h` at the nominal volts, else energy balance.

    >>> drain_w(Pack(12.8, 3.0), 26.16)
    26.16
    """
    drawn = within("the draw", drawn_w, 0.0, 1e6, "W")
    rated_wh = pack.rated_wh
    if pack.peukert is None or pack.capacity_ah is None or pack.nominal_v is None:
        return drawn
    if drawn * within("the rated hours", pack.rated_h, 0.1, 1000.0, "h") <= rated_wh:
        return drawn
    return rated_wh / peukert_h(pack.capacity_ah, drawn / pack.nominal_v, pack.peukert, pack.rated_h)


@dataclass(frozen=True, slots=True)
class Transport:
    """Watt hours of one pack, and whether it leaves the easy class."""

    wh: float
    is_over: bool
    caution: str


def transport(nominal_v: float, capacity_ah: float) -> Transport:
    """Whether a lithium-ion pack is above 100 Wh; exactly 100 is not.

    Source: 49 CFR 175.10 (air passengers). The carrier and the rules of the day win.

    >>> transport(25.2, 4.0).is_over
    True
    """
    volts = within("the pack's volts", nominal_v, 0.5, 120.0, "V")
    wh = energy_wh(volts, _capacity(capacity_ah))
    over = wh > TRANSPORT_WH + 1e-6
    said = (
        "above 100 Wh: ask the carrier before it flies or is sent; "
        if over
        else "at most 100 Wh: carried by hand in the cabin, terminals covered; "
    )
    return Transport(wh, over, said + "only types tested to UN 38.3 travel at all; never a damaged pack")


def _capacity(capacity_ah: float) -> float:
    return within("the capacity", capacity_ah, 0.01, 10_000.0, "Ah")


def _current(current_a: float) -> float:
    return within("the current", current_a, 1e-6, 1e5, "A")


def _exponent(exponent: float) -> float:
    return within("the Peukert exponent", exponent, 1.0, 2.0)
