"""What each segment of tape draws at the volts it is given."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.ladder.networks import Draw, Network
from service.ladder.rails import Array

# A switching driver cannot draw its watts from nothing; below this share of nominal volts the sum is off.
LEAST_SHARE = 0.02


@dataclass(frozen=True, slots=True)
class Loads:
    """Loads of many runs, runs x segments x emitters: amps at nominal volts, and how the volts change them.

        i = i0 + slope (v - v0), never below 0;   for constant power i = i0 v0 / v

    `nominal_v`, `is_power` and `slope_s` (siemens) are runs x segments x emitters too.
    """

    nominal_a: Array
    nominal_v: Array
    slope_s: Array
    is_power: Array

    @property
    def is_constant(self) -> bool:
        return not self.slope_s.any() and not self.is_power.any()

    def amps(self, volts: Array) -> Array:
        drawn = np.maximum(self.nominal_a + self.slope_s * (volts - self.nominal_v), 0.0)
        if self.is_power.any():
            held = np.maximum(volts, LEAST_SHARE * self.nominal_v)
            drawn = np.where(self.is_power > 0.0, self.nominal_a * self.nominal_v / held, drawn)
        return drawn

    def slopes(self, volts: Array) -> Array:
        """How fast the amps change with the volts, in siemens."""
        slope = np.where(self.nominal_a + self.slope_s * (volts - self.nominal_v) > 0.0, self.slope_s, 0.0)
        falling = -self.nominal_a * self.nominal_v / np.maximum(volts, LEAST_SHARE * self.nominal_v) ** 2
        return np.where(self.is_power > 0.0, falling, slope)


def lay_loads(networks: Sequence[Network], longest: int) -> Loads:
    """The loads of every run, as `rails.lay_out` lays their rails."""
    chains = [chain for network in networks for chain in network.chains]
    shape = (len(chains), longest, chains[0].emitters)
    amps, volts, slope, power = np.zeros(shape), np.ones(shape), np.zeros(shape), np.zeros(shape)
    for row, chain in enumerate(chains):
        at = 0
        for section in chain.sections:
            part = slice(at, at + section.pitches)
            amps[row, part] = section.emitters_a
            volts[row, part] = section.nominal_v
            if section.draw in (Draw.RESISTOR, Draw.LED):
                drop = section.led_drop_v if section.draw is Draw.LED else 0.0
                slope[row, part] = np.array(section.emitters_a) / (section.nominal_v - drop)
            elif section.draw is Draw.POWER:
                power[row, part] = 1.0
            at += section.pitches
    return Loads(amps, volts, slope, power)


def of_runs(loads: Loads, runs: NDArray[np.intp]) -> Loads:
    """Only those runs."""
    return Loads(loads.nominal_a[runs], loads.nominal_v[runs], loads.slope_s[runs], loads.is_power[runs])
