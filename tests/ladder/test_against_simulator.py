"""Random networks solved by us and by a circuit simulator (ngspice): within 1 mV and 0.1 % everywhere."""

import os
import shutil
from pathlib import Path
from random import Random

import numpy as np
import pytest

from service.errors import NoSteadyState
from service.ladder.networks import Chain, Draw, FeedAt, Lead, Network, Section
from service.ladder.solving import solve_many
from tests.ladder import spice
from tests.ladder.tapes import a_section, along

NETWORKS, SEED, TOGETHER = 240, 20, 4
WITHIN_V, WITHIN_SHARE = 0.001, 0.001
# A load of constant power past this is near where no voltage holds; there the two searches may differ.
LEAST_SHARE_OF_SUPPLY = 0.6


@pytest.fixture(autouse=True)
def simulator() -> None:
    if shutil.which("ngspice") is None:
        if os.environ.get("CI"):
            pytest.fail("ngspice is missing: apt-get install ngspice")
        pytest.skip("ngspice is not installed")


def a_random_section(draw: Random, emitters: int, pitch_m: float, nominal_v: float) -> Section:
    lit = tuple(draw.random() < 0.8 for _ in range(emitters)) if draw.random() < 0.5 else ()
    return Section(
        pitches=draw.randint(1, 25),
        pitch_m=pitch_m,
        nominal_v=nominal_v,
        emitters_w_per_m=tuple(draw.uniform(1.0, 14.0) / emitters for _ in range(emitters)),
        common_ohm_per_m=draw.uniform(0.005, 0.06),
        returns_ohm_per_m=tuple(draw.uniform(0.01, 0.08) for _ in range(emitters)),
        draw=draw.choice([*Draw]),
        led_drop_v=0.7 * nominal_v,
        lit=lit,
    )


def a_random_network(draw: Random) -> Network:
    """Any feed, any draw, chains of different tapes, one to three runs on a lead, copper cold or warm."""
    emitters, nominal_v = draw.choice((1, 2, 4, 5)), draw.choice((5.0, 12.0, 24.0))
    pitch_m, beside = draw.choice((0.025, 0.05, 0.1)), draw.choice((1, 1, 1, 2, 3))
    feeds = [feed for feed in FeedAt if beside == 1 or feed is not FeedAt.BOTH]
    return Network(
        supply_v=nominal_v,
        chains=tuple(
            Chain(
                tuple(
                    a_random_section(draw, emitters, pitch_m, nominal_v)
                    for _ in range(draw.choice((1, 1, 2)))
                ),
                draw.choice(feeds),
            )
            for _ in range(beside)
        ),
        lead=Lead(
            common_ohm=draw.uniform(0.0, 0.15),
            return_ohm=draw.uniform(0.0, 0.2),
            output_ohm=draw.choice((0.0, 0.02)),
            to_end=draw.choice((None, (0.05, 0.08))),
        ),
        conductor_degc=draw.choice((20.0, 50.0)),
    )


def usable_networks() -> list[Network]:
    """Such networks as have a steady state that is not at the brink of none."""
    draw, found = Random(SEED), list[Network]()
    while len(found) < NETWORKS:
        network = a_random_network(draw)
        (answer,) = solve_many([network])
        if isinstance(answer, NoSteadyState):
            continue
        lit = [run for run in answer if run.is_lit.any()]
        if lit and min(run.least_v for run in lit) > LEAST_SHARE_OF_SUPPLY * network.supply_v:
            found.append(network)
    return found


def test_random_networks_agree_with_the_simulator(tmp_path: Path) -> None:
    networks = usable_networks()
    compared = 0
    for at in range(0, NETWORKS, TOGETHER):
        some = networks[at : at + TOGETHER]
        simulated = spice.simulate(some, tmp_path)
        for network, ours, theirs in zip(some, solve_many(some), simulated, strict=True):
            assert not isinstance(ours, NoSteadyState)
            for run, volts in zip(ours, theirs, strict=True):
                # A rail on which nothing is lit carries nothing; what is across a dark emitter is no load.
                off_v = np.abs(run.volts - np.array(volts))[run.is_lit]
                allowed_v = np.minimum(WITHIN_V, WITHIN_SHARE * np.abs(run.volts[run.is_lit]))
                assert (off_v <= allowed_v).all(), network
                compared += off_v.size
    assert compared > 10_000
    kinds = {(c.feed, s.draw) for n in networks for c in n.chains for s in c.sections}
    assert kinds == {(feed, draw) for feed in FeedAt for draw in Draw}


def test_the_simulator_gives_the_published_figure_too(tmp_path: Path) -> None:
    """The netlist that the others are compared with is itself right: case S1, 23.25 V."""
    network = Network(24.0, (Chain((a_section(0.05),)),))
    ((run,),) = spice.simulate([network], tmp_path)
    assert run[-1][0] == pytest.approx(23.25, abs=1e-4)
    assert along(a_section(0.05)).volts[:, 0] == pytest.approx([v for (v,) in run], abs=1e-4)


def test_a_line_that_the_simulator_does_not_print_fails(tmp_path: Path) -> None:
    networks = [Network(24.0, (Chain((a_section(pitches=4),)),))]
    netlist = spice.netlist_of(networks)
    assert "print n0c0s2e0" in netlist
    said = spice.run([line for line in netlist if line != "print n0c0s2e0"], tmp_path)
    with pytest.raises(spice.MissingLine, match="no line for n0c0s2e0"):
        spice.read(said, networks)


def test_a_netlist_that_the_simulator_refuses_fails(tmp_path: Path) -> None:
    networks = [Network(24.0, (Chain((a_section(pitches=4),)),))]
    broken = [line.replace("Rn0c0r0a2", "Qn0c0r0a2") for line in spice.netlist_of(networks)]
    with pytest.raises(spice.MissingLine, match="no line for n0c0s0e0"):
        spice.read(spice.run(broken, tmp_path), networks)
