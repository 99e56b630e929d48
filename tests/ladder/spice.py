"""The same networks for a circuit simulator (ngspice), written part by part and read back line by line.

The netlist knows nothing of sums along a run: it names every resistor and every load.
"""

import re
import subprocess
from collections.abc import Iterator, Sequence
from pathlib import Path

from service.ladder.networks import Chain, Draw, FeedAt, Network, Section

# Far below any resistance of a tape or lead, where a part is wanted that has none.
NEARLY_NOTHING_OHM = 1e-6


class MissingLine(AssertionError):
    """The simulator did not print a value that was asked for."""


def simulate(networks: Sequence[Network], folder: Path) -> list[list[list[list[float]]]]:
    """Volts of each load: network, run, segment, emitter. One call of the simulator for all of them."""
    return read(run(netlist_of(networks), folder), networks)


def run(netlist: Sequence[str], folder: Path) -> str:
    """What the simulator says of a netlist, its complaints included."""
    file = folder / "networks.cir"
    file.write_text("\n".join(netlist) + "\n", encoding="ascii")
    ran = subprocess.run(
        ["ngspice", "-b", str(file)], capture_output=True, text=True, timeout=120, check=False
    )
    return ran.stdout + ran.stderr


def read(said: str, networks: Sequence[Network]) -> list[list[list[list[float]]]]:
    """The volts of all loads of these networks.

    Raises: MissingLine, if one of them was not printed, whatever the simulator's exit code.
    """
    found = dict(re.findall(r"^(n\w+) = ([-+.\de]+)\s*$", said, re.MULTILINE))

    def volts(name: str) -> float:
        if name not in found:
            raise MissingLine(f"no line for {name} in: {said[-2000:]}")
        return float(found[name])

    return [
        [
            [
                [volts(_probe(n, c, segment, e)) for e in range(chain.emitters)]
                for segment in range(chain.pitches)
            ]
            for c, chain in enumerate(network.chains)
        ]
        for n, network in enumerate(networks)
    ]


def _probe(n: int, c: int, segment: int, emitter: int) -> str:
    return f"n{n}c{c}s{segment}e{emitter}"


def netlist_of(networks: Sequence[Network]) -> list[str]:
    """The parts of all networks, and an order to print every load."""
    return list(_lines(networks))


def _lines(networks: Sequence[Network]) -> Iterator[str]:
    yield "runs of tape"
    for n, network in enumerate(networks):
        yield from _network(n, network)
    yield ".control"
    yield "set numdgt=12"
    yield "op"
    for n, network in enumerate(networks):
        for c, chain in enumerate(network.chains):
            for segment in range(chain.pitches):
                for e in range(chain.emitters):
                    name = _probe(n, c, segment, e)
                    yield f"let {name} = v(n{n}c{c}r0m{segment}) - v(n{n}c{c}r{e + 1}m{segment})"
                    yield f"print {name}"
    yield "quit"
    yield ".endc"
    yield ".options reltol=1e-6 vntol=1e-8 abstol=1e-9 gmin=1e-15 itl1=1000"
    yield ".end"


def _network(n: int, network: Network) -> Iterator[str]:
    rails = network.chains[0].emitters + 1
    lead = network.lead
    yield f"Vn{n} n{n}r0out 0 {network.supply_v!r}"
    for rail in range(1, rails):
        yield f"Rn{n}r{rail}output n{n}r{rail}out 0 {_ohm(lead.output_ohm)}"
    for rail in range(rails):
        lead_ohm = lead.return_ohm if rail else lead.common_ohm
        yield f"Rn{n}r{rail}lead n{n}r{rail}out n{n}r{rail}far {_ohm(lead_ohm)}"
    for c, chain in enumerate(network.chains):
        yield from _chain(f"n{n}c{c}", f"n{n}", chain, network)


def _chain(name: str, lead: str, chain: Chain, network: Network) -> Iterator[str]:
    warm = 1.0 + 0.00393 * (network.conductor_degc - 20.0)
    segment = 0
    for section in chain.sections:
        for _ in range(section.pitches):
            # A load of constant power has a second state, at almost no volts: start from the first.
            yield f".nodeset v({name}r0m{segment})={network.supply_v!r}"
            for rail in range(chain.emitters + 1):
                ohm = section.returns_ohm_per_m[rail - 1] if rail else section.common_ohm_per_m
                half = _ohm(ohm * section.pitch_m * warm / 2.0)
                yield f"R{name}r{rail}a{segment} {name}r{rail}x{segment} {name}r{rail}m{segment} {half}"
                yield f"R{name}r{rail}b{segment} {name}r{rail}m{segment} {name}r{rail}x{segment + 1} {half}"
            for emitter in range(chain.emitters):
                yield from _load(f"{name}s{segment}e{emitter}", name, segment, emitter, section)
            segment += 1
    for rail in range(chain.emitters + 1):
        yield from _feed(f"{name}r{rail}", f"{lead}r{rail}", chain, rail, network)


def _feed(rail_name: str, lead: str, chain: Chain, rail: int, network: Network) -> Iterator[str]:
    at = {
        FeedAt.START: 0,
        FeedAt.BOTH: 0,
        FeedAt.END: chain.pitches,
        FeedAt.OPPOSITE: chain.pitches if rail else 0,
        FeedAt.MIDDLE: chain.pitches // 2,  # the networks fed here are of one pitch
    }[chain.feed]
    yield f"V{rail_name}at {lead}far {rail_name}x{at} 0"
    if chain.feed is FeedAt.BOTH:
        common, back = network.lead.to_end or (network.lead.common_ohm, network.lead.return_ohm)
        yield f"R{rail_name}end {lead}out {rail_name}x{chain.pitches} {_ohm(back if rail else common)}"


def _load(name: str, rails: str, segment: int, emitter: int, section: Section) -> Iterator[str]:
    plus, minus = f"{rails}r0m{segment}", f"{rails}r{emitter + 1}m{segment}"
    amps, volts = section.emitters_a[emitter], section.nominal_v
    if amps == 0.0:
        return
    match section.draw:
        case Draw.CURRENT:
            yield f"I{name} {plus} {minus} {amps!r}"
        case Draw.RESISTOR:
            yield f"R{name} {plus} {minus} {volts / amps!r}"
        case Draw.POWER:
            yield f"B{name} {plus} {minus} I={amps * volts!r}/max(v({plus},{minus}),{0.02 * volts!r})"
        case Draw.LED:
            ohm = (volts - section.led_drop_v) / amps
            yield f"B{name} {plus} {minus} I=max(v({plus},{minus})-{section.led_drop_v!r},0)/{ohm!r}"


def _ohm(value: float) -> str:
    return repr(max(value, NEARLY_NOTHING_OHM))
