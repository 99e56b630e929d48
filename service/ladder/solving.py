"""Volts and amps along runs: solved, or told why there is no answer."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.errors import NoSteadyState
from service.ladder.loads import Loads, lay_loads, of_runs
from service.ladder.networks import Chain, Draw, Network
from service.ladder.newton import SETTLED_V, is_spent, newton
from service.ladder.rails import Array, Rails, lay_out, pitches_m

ROUNDS = 40
MEND = "Feed the run at both ends, use thicker wire, a shorter run, or tape of a higher voltage."
# Runs of a like length are solved together, so that little is filled up; this many stay in the caches.
TOGETHER = 64


@dataclass(frozen=True, slots=True)
class Along:
    """One run as it settles: segments x emitters, in the order of the tape.

    `at_m`: the middle of each segment from the start. `volts`, `amps`: of each load. `nominal_a`: what it
    would draw at the nominal voltage; nothing where it is off. `ends_v`: between the rails at the start and
    at the end, 2 x emitters. `feed_a`: in each core where the lead joins (at the start, if it is fed at both
    ends), the common first.
    """

    at_m: Array
    volts: Array
    amps: Array
    nominal_a: Array
    ends_v: Array
    nominal_v: float
    supply_v: float
    feed_a: tuple[float, ...]

    @property
    def is_lit(self) -> NDArray[np.bool_]:
        return self.nominal_a > 0.0

    @property
    def least_v(self) -> float:
        """Volts across the worst load that is on."""
        return float(np.where(self.is_lit, self.volts, np.inf).min())

    @property
    def worst(self) -> tuple[int, int]:
        """Segment and emitter of the worst load that is on."""
        flat = int(np.where(self.is_lit, self.volts, np.inf).argmin())
        segment, emitter = divmod(flat, self.volts.shape[1])
        return segment, emitter

    @property
    def worst_at_m(self) -> float:
        return float(self.at_m[self.worst[0]])

    @property
    def total_a(self) -> float:
        """Amps in the common of the supply, all loads together."""
        return float(self.amps.sum())

    @property
    def least_light(self) -> float:
        """Current of the worst load as a share of nominal: light follows the current, to a first order.

        Source: common practice. Holds for: LEDs far from overheating; the eye sees less of it.
        """
        with np.errstate(invalid="ignore", divide="ignore"):
            share = np.where(self.is_lit, self.amps / self.nominal_a, np.inf)
        return float(share.min())

    @property
    def first_to_fall(self) -> int:
        """The emitter that has the fewest volts anywhere on the run."""
        return self.worst[1]


def solve(network: Network) -> tuple[Along, ...]:
    """Each run of a network as it settles.

    Raises: NoSteadyState, when no volts satisfy the loads.
    """
    answer = solve_many([network])[0]
    if isinstance(answer, NoSteadyState):
        raise answer
    return answer


def solve_many(networks: Sequence[Network]) -> list[tuple[Along, ...] | NoSteadyState]:
    """The same for many at once, in their order; a network without an answer has its reason in its place."""
    answers: dict[int, tuple[Along, ...] | NoSteadyState] = {}
    alike: defaultdict[int, list[int]] = defaultdict(list)
    for number, network in enumerate(networks):
        alike[network.chains[0].emitters].append(number)
    for numbers in alike.values():
        numbers.sort(key=lambda number: max(chain.pitches for chain in networks[number].chains))
        for at in range(0, len(numbers), TOGETHER):
            some = numbers[at : at + TOGETHER]
            answers.update(zip(some, _solve_alike([networks[number] for number in some]), strict=True))
    return [answers[number] for number in range(len(networks))]


def _solve_alike(networks: Sequence[Network]) -> list[tuple[Along, ...] | NoSteadyState]:
    rails = lay_out(networks)
    loads = lay_loads(networks, rails.segment_ohm.shape[1])
    volts, is_settled = _settle(rails, loads)
    is_settled &= ~is_spent(rails, loads, volts)
    failed: dict[int, NoSteadyState] = {}
    for number in sorted(set(rails.lead_of[~is_settled].tolist())):
        runs = np.flatnonzero(rails.lead_of == number)
        found = newton(rails.of(number), of_runs(loads, runs))
        if found is None:
            failed[number] = _no_state(networks[number])
        else:
            volts[runs] = found
    amps = loads.amps(volts)
    several = _runs_along(networks, rails, loads, volts, amps)
    return [
        failed.get(number) or _with_volts(network, runs)
        for number, (network, runs) in enumerate(zip(networks, several, strict=True))
    ]


def _settle(rails: Rails, loads: Loads) -> tuple[Array, NDArray[np.bool_]]:
    """Rounds of amps from volts and volts from amps, and which runs a round more would not change."""
    volts = rails.volts(loads.nominal_a)
    is_settled = np.ones(len(volts), bool)
    if loads.is_constant:
        return volts, is_settled
    for _ in range(ROUNDS):
        before, volts = volts, rails.volts(loads.amps(volts))
        is_settled = np.abs(volts - before).max(axis=(1, 2)) < SETTLED_V
        if is_settled.all():
            break
    return volts, is_settled


def _runs_along(
    networks: Sequence[Network], rails: Rails, loads: Loads, volts: Array, amps: Array
) -> list[tuple[Along, ...]]:
    feed_a, ends_v = rails.first_a(amps), rails.ends_v(amps)
    rows = iter(range(len(volts)))
    return [
        tuple(
            Along(
                at_m=_middles(chain),
                volts=volts[row, : chain.pitches],
                amps=amps[row, : chain.pitches],
                nominal_a=loads.nominal_a[row, : chain.pitches],
                ends_v=ends_v[row],
                nominal_v=chain.sections[0].nominal_v,
                supply_v=network.supply_v,
                feed_a=tuple(feed_a[row].tolist()),
            )
            for chain, row in zip(network.chains, rows, strict=False)
        )
        for network in networks
    ]


def _middles(chain: Chain) -> Array:
    lengths = pitches_m(chain)
    return np.cumsum(lengths) - lengths / 2.0


def _with_volts(network: Network, runs: tuple[Along, ...]) -> tuple[Along, ...] | NoSteadyState:
    """The answer, unless the loads would have used up more volts than there are."""
    for run in runs:
        least_v = np.where(run.amps > 0.0, run.volts, np.inf).min(axis=1)
        if least_v.min() > 0.0:
            continue
        if _is_power(network):
            return _no_state(network)
        brink = int(np.where(least_v > 0.0, -np.inf, least_v).argmax())
        at_m = float(run.at_m[brink])
        return NoSteadyState(
            f"rails and lead lose more than the {run.supply_v:g} V there are: none is left at {at_m:.2f} m",
            MEND,
        )
    return runs


def _no_state(network: Network) -> NoSteadyState:
    if _is_power(network):
        return NoSteadyState(
            "no voltage holds: the tape would draw more than its rails and lead can bring it",
            MEND,
        )
    return NoSteadyState("the volts along the run did not settle", f"Check the resistances. {MEND}")


def _is_power(network: Network) -> bool:
    return any(section.draw is Draw.POWER for chain in network.chains for section in chain.sections)
