"""The volts that rails and leads lose to given currents, for many runs at once.

Arrays are runs x segments x rails: rail 0 is the common, the others are the returns of the emitters. Each
segment is one cut pitch with its load at the middle, half of its resistance on either side; runs shorter than
the longest are filled up with segments that have neither resistance nor load.

Source: Kirchhoff's laws on a ladder. With the currents given, what a rail carries is a running sum of them,
and what it loses a running sum of that; a rail fed at both ends shares its current so that both ways agree.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.electrical.conductors import warming
from service.ladder.networks import Chain, FeedAt, Lead, Network

Array = NDArray[np.float64]
Runs = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Rails:
    """The rails of many runs.

    `segment_ohm`: runs x segments x rails. `beyond`, `before`: 1 for segments on the far and on the near side
    of a single feed, where the rail carries what is still to come, or what has gathered. `lead_ohm`,
    `end_ohm`: the leads to the feed and to the other end, runs x rails; `output_ohm`: what both share.
    `is_both`: runs fed at both ends. `lead_of`: the lead each run hangs on.
    """

    supply_v: Array
    segment_ohm: Array
    beyond: Array
    before: Array
    lead_ohm: Array
    end_ohm: Array
    output_ohm: Array
    is_both: NDArray[np.bool_]
    lead_of: Runs

    def volts(self, amps: Array) -> Array:
        """What is left across each load, for the amps of each: runs x segments x emitters."""
        return self.supply_v[:, None, None] - self.lost(amps)

    def lost(self, amps: Array) -> Array:
        """What rails, lead and output lose on the way to each load and back; linear in the amps."""
        drawn = _drawn(amps)
        right, lost, on_lead = self._carried(drawn)
        middle = np.cumsum(lost, axis=1)
        right *= self.segment_ohm
        right *= 0.5
        middle -= right
        middle += on_lead[:, None, :]
        return middle[:, :, :1] + middle[:, :, 1:]

    def ends_v(self, amps: Array) -> Array:
        """Volts between the rails at the start and at the end of each run: runs x 2 x emitters."""
        _, lost, on_lead = self._carried(_drawn(amps))
        ends = np.stack([on_lead, on_lead + lost.sum(axis=1)], axis=1)
        return np.asarray(self.supply_v[:, None, None] - ends[:, :, :1] - ends[:, :, 1:])

    def _carried(self, drawn: Array) -> tuple[Array, Array, Array]:
        """Amps to the right of each load, volts lost on each segment, and volts lost before the start."""
        gathered = np.cumsum(drawn, axis=1)
        whole = gathered[:, -1, :]
        right = self.beyond * whole[:, None, :]
        right -= gathered
        first = whole
        if self.is_both.any():
            first = np.where(self.is_both[:, None], self._first_share(drawn, gathered), whole)
            right += np.where(self.is_both[:, None], first, 0.0)[:, None, :]
        lost = 0.5 * drawn
        lost += right
        lost *= self.segment_ohm
        on_lead = self.lead_ohm * self._together(first) + self.output_ohm * self._together(whole)
        if self.before.any():
            on_lead = on_lead - np.einsum("rsk,rsk->rk", lost, self.before)
        return right, lost, on_lead

    def _first_share(self, drawn: Array, gathered: Array) -> Array:
        """Amps that come in at the start of a rail fed at both ends: runs x rails.

        lead1 x + sum r (x - gathered) = lead2 (whole - x)
        """
        whole = gathered[:, -1, :]
        along = np.einsum("rsk,rsk->rk", self.segment_ohm, gathered - 0.5 * drawn)
        ways = self.lead_ohm + self.end_ohm + self.segment_ohm.sum(axis=1)
        # Without any resistance both ways are alike, and each takes half.
        return np.where(
            ways > 0.0, (self.end_ohm * whole + along) / np.where(ways > 0.0, ways, 1.0), whole / 2.0
        )

    def _together(self, amps: Array) -> Array:
        """The amps of all runs on the same lead."""
        if self.lead_of[-1] == len(self.lead_of) - 1:
            return amps
        summed = np.zeros((int(self.lead_of[-1]) + 1, amps.shape[1]))
        np.add.at(summed, self.lead_of, amps)
        return summed[self.lead_of]

    def of(self, lead: int) -> "Rails":
        """The runs on one lead alone."""
        runs = np.flatnonzero(self.lead_of == lead)
        return Rails(
            self.supply_v[runs],
            self.segment_ohm[runs],
            self.beyond[runs],
            self.before[runs],
            self.lead_ohm[runs],
            self.end_ohm[runs],
            self.output_ohm[runs],
            self.is_both[runs],
            np.zeros(len(runs), np.intp),
        )

    def first_a(self, amps: Array) -> Array:
        """Amps in each core at the start of each run, or where its one feed is: runs x rails."""
        drawn = _drawn(amps)
        gathered = np.cumsum(drawn, axis=1)
        return np.where(self.is_both[:, None], self._first_share(drawn, gathered), gathered[:, -1, :])


def _drawn(amps: Array) -> Array:
    """What the loads take from each rail: all of them from the common, each its own from its return."""
    drawn = np.empty((amps.shape[0], amps.shape[1], amps.shape[2] + 1))
    amps.sum(axis=2, out=drawn[:, :, 0])
    drawn[:, :, 1:] = amps
    return drawn


def lay_out(networks: Sequence[Network]) -> Rails:
    """The rails of every run of these networks, in their order. All have the same number of emitters."""
    runs = [(number, network, chain) for number, network in enumerate(networks) for chain in network.chains]
    longest = max(chain.pitches for _, _, chain in runs)
    rails = runs[0][2].emitters + 1
    ohms = np.zeros((len(runs), longest, rails))
    beyond = np.zeros_like(ohms)
    before = np.zeros_like(ohms)
    for row, (_, network, chain) in enumerate(runs):
        _fill(ohms[row], chain, warming(network.conductor_degc))
        for rail, feed in enumerate(_feeds(chain)):
            if feed is not None:
                before[row, :feed, rail] = 1.0
                beyond[row, feed:, rail] = 1.0
    leads = [_cores(network.lead, rails) for _, network, _ in runs]
    return Rails(
        supply_v=np.array([network.supply_v for _, network, _ in runs]),
        segment_ohm=ohms,
        beyond=beyond,
        before=before,
        lead_ohm=np.array([to_start for to_start, _, _ in leads]),
        end_ohm=np.array([to_end for _, to_end, _ in leads]),
        output_ohm=np.array([output for _, _, output in leads]),
        is_both=np.array([chain.feed is FeedAt.BOTH for _, _, chain in runs]),
        lead_of=np.array([number for number, _, _ in runs], np.intp),
    )


def _fill(ohms: Array, chain: Chain, warm: float) -> None:
    at = 0
    for section in chain.sections:
        rails = np.array((section.common_ohm_per_m, *section.returns_ohm_per_m))
        ohms[at : at + section.pitches] = rails * (section.pitch_m * warm)
        at += section.pitches


def _feeds(chain: Chain) -> tuple[int | None, ...]:
    """The cut mark at which each rail is fed; None where it is fed at both ends."""
    rails = chain.emitters + 1
    match chain.feed:
        case FeedAt.START:
            return (0,) * rails
        case FeedAt.END:
            return (chain.pitches,) * rails
        case FeedAt.BOTH:
            return (None,) * rails
        case FeedAt.MIDDLE:
            return (_middle(chain),) * rails
        case FeedAt.OPPOSITE:
            return (0, *[chain.pitches] * chain.emitters)


def _middle(chain: Chain) -> int:
    """The cut mark nearest the middle by length; the earlier of two as near."""
    away = np.abs(np.concatenate([[0.0], np.cumsum(pitches_m(chain))]) - chain.length_m / 2.0)
    return int(np.round(away, 9).argmin())


def pitches_m(chain: Chain) -> Array:
    """The length of each segment."""
    return np.repeat([s.pitch_m for s in chain.sections], [s.pitches for s in chain.sections])


def _cores(lead: Lead, rails: int) -> tuple[list[float], list[float], list[float]]:
    common, back = lead.to_end or (lead.common_ohm, lead.return_ohm)
    return (
        [lead.common_ohm] + [lead.return_ohm] * (rails - 1),
        [common] + [back] * (rails - 1),
        [0.0] + [lead.output_ohm] * (rails - 1),
    )
