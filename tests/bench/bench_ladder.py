"""Volts along runs: one run of 200 segments, 10,000 runs at once, and one simulator run each beside ours.

    .venv/bin/python -m tests.bench.bench_ladder

The simulator (ngspice) is called once a network, with the same networks; its share of starting a process is
part of the price of asking it.
"""

import tempfile
import time
from pathlib import Path
from random import Random
from statistics import median

from service.errors import NoSteadyState
from service.ladder.networks import Chain, Draw, FeedAt, Lead, Network, Section
from service.ladder.solving import solve, solve_many
from tests.ladder.spice import netlist_of, run

RUNS, BESIDE, WARM = 10_000, 100, 200


def a_network(draw: Random, most_pitches: int) -> Network:
    emitters = draw.choice((1, 1, 2, 4))
    section = Section(
        pitches=draw.randint(5, most_pitches),
        pitch_m=0.05,
        nominal_v=24.0,
        emitters_w_per_m=(14.4 / emitters,) * emitters,
        common_ohm_per_m=0.025,
        returns_ohm_per_m=(0.05,) * emitters,
        draw=draw.choice([*Draw]),
        led_drop_v=18.0,
    )
    return Network(24.0, (Chain((section,), draw.choice([*FeedAt])),), Lead(0.1, 0.1))


def one_run() -> None:
    for draw in Draw:
        for emitters in (1, 4):
            watts = (14.4 / emitters,) * emitters
            ohms = (0.05,) * emitters
            section = Section(200, 0.025, 24.0, watts, 0.05, ohms, draw, led_drop_v=18.0)
            network = Network(24.0, (Chain((section,)),))
            took = []
            for _ in range(WARM):
                began = time.perf_counter()
                solve(network)
                took.append(time.perf_counter() - began)
            print(f"200 segments, {emitters} emitters, {draw.value:>8}: {1000.0 * median(took):.3f} ms warm")


def many_runs() -> None:
    draw = Random(1)
    networks = [a_network(draw, 100) for _ in range(RUNS)]
    began = time.perf_counter()
    answers = solve_many(networks)
    took = time.perf_counter() - began
    without = sum(isinstance(answer, NoSteadyState) for answer in answers)
    print(f"{RUNS} runs of 5 to 100 segments: {took:.2f} s, {without} without a steady state")


def beside_the_simulator() -> None:
    draw = Random(2)
    networks = [a_network(draw, 100) for _ in range(BESIDE)]
    netlists = [netlist_of([network]) for network in networks]
    with tempfile.TemporaryDirectory() as folder:
        began = time.perf_counter()
        for netlist in netlists:
            run(netlist, Path(folder))
        theirs = time.perf_counter() - began
    began = time.perf_counter()
    for network in networks:
        solve_many([network])
    singly = time.perf_counter() - began
    began = time.perf_counter()
    solve_many(networks)
    ours = time.perf_counter() - began
    print(
        f"{BESIDE} networks: simulator {theirs:.2f} s; "
        f"ours one by one {singly:.3f} s ({theirs / singly:.0f} x), "
        f"together {ours:.3f} s ({theirs / ours:.0f} x)"
    )


if __name__ == "__main__":
    one_run()
    many_runs()
    beside_the_simulator()
