"""Problems drawn at random: tiny ones for trying everything, and whole shows from a seed."""

from dataclasses import replace
from random import Random

from hypothesis import strategies as st

from service.allocation.model import solve
from service.allocation.problem import (
    Block,
    DecoderModel,
    Link,
    Problem,
    Reach,
    Run,
    Signal,
    Source,
    SupplyModel,
    Unit,
)
from tests.allocation.problems import (
    MICRO,
    a_block,
    a_decoder_model,
    a_run,
    a_supply_model,
    installed_as,
    units,
    without_units,
)

SUPPLIES = (
    a_supply_model("S24", watts=24, outputs_a=(1.0,), cost=600),
    a_supply_model("S48", watts=48, outputs_a=(2.0,), cost=800),
    a_supply_model("S60", watts=60, outputs_a=(1.5, 1.5), cost=1100),
    a_supply_model("S12V", watts=40, outputs_a=(3.0,), volts=12, cost=700),
    a_supply_model("BAT", watts=30, outputs_a=(1.2,), source=Source.BATTERY, cost=900),
)
DECODERS = (
    a_decoder_model("D2", banks=((2, 1.5),), channel_a=1.0, cost=300),
    a_decoder_model("D4", banks=((4, 2.0),), channel_a=0.8, cost=500),
    a_decoder_model("D22", banks=((2, 1.0), (2, 1.0)), channel_a=1.0, cost=450),
    a_decoder_model("D3N", banks=((3, 3.0),), channel_a=1.5, polarity="negative", cost=400),
    a_decoder_model("DW", banks=((2, 1.5),), channel_a=1.0, link=Link.WIRELESS, cost=650),
)
SITES = (("deck",), ("wagon",), ("deck", "wagon"))


def tiny_problems(most_runs: int = 1) -> st.SearchStrategy[Problem]:
    """Problems small enough to try everything; drawn from a seed, so that most of them feed something."""
    return st.integers(0, 10**9).map(lambda seed: a_tiny_problem(seed, most_runs))


def a_tiny_problem(seed: int, most_runs: int = 1) -> Problem:
    """At most four blocks, and up to two units of each of up to two kinds of supply and of decoder."""
    draw = Random(seed)
    made = tuple(_a_tiny_block(draw, f"B{n}", most_runs) for n in range(1, draw.randint(1, 4) + 1))
    plain = draw.random() < 0.7
    supply_models = draw.sample(SUPPLIES[:3] if plain else SUPPLIES, draw.randint(1, 2))
    decoder_models = draw.sample(DECODERS[:3] if plain else DECODERS, draw.randint(1, 2))
    return Problem(
        blocks=made,
        supply_models=tuple(supply_models),
        decoder_models=tuple(decoder_models),
        supplies=tuple(_a_few_units(draw, supply_models)),
        decoders=tuple(_a_few_units(draw, decoder_models)),
    )


def a_tiny_change(seed: int) -> Problem:
    """A tiny problem a day later: part is built, then gear dies, blocks come and go, feeds are locked."""
    draw = Random(seed)
    problem = a_tiny_problem(seed) if draw.random() < 0.3 else _a_tight_problem(draw)
    built = replace(problem, blocks=tuple(block for block in problem.blocks if draw.random() < 0.9))
    answer = solve(built)
    locked = tuple(feed.run for feed in answer.feeds if draw.random() < 0.2)
    after = replace(installed_as(answer, built, locked), blocks=problem.blocks)
    used = sorted({tag for feed in answer.feeds for tag in (feed.supply, feed.decoder) if tag})
    dead = [tag for tag in used if draw.random() < 0.3]
    after = replace(after, blocks=tuple(block for block in after.blocks if draw.random() < 0.9))
    if draw.random() < 0.5:
        watts = [draw.randint(4, 19) for _ in range(draw.choice((1, 2, 3)))]
        new = _a_tiny_block(draw, "NEW", 1) if draw.random() < 0.3 else a_block("NEW", *watts, priority=1)
        after = replace(after, blocks=(*after.blocks, new))
    return without_units(after, *dead)


def _a_tight_problem(draw: Random) -> Problem:
    """Plain tape in one place and barely enough of everything, so that a newcomer makes others move."""
    decoder_models = draw.sample(DECODERS[:3], draw.randint(1, 2))
    supply_models = draw.sample(SUPPLIES[:3], draw.randint(1, 2))
    made = []
    for number in range(1, draw.randint(2, 4) + 1):
        watts = [draw.randint(2, 14) for _ in range(draw.choice((1, 1, 2, 3)))]
        made.append(a_block(f"B{number}", *watts, priority=draw.choice((2, 3))))
    return Problem(
        blocks=tuple(made),
        supply_models=tuple(supply_models),
        decoder_models=tuple(decoder_models),
        supplies=tuple(u for m in supply_models for u in units(m.tag, draw.randint(1, 2))),
        decoders=tuple(u for m in decoder_models for u in units(m.tag, draw.randint(1, 3))),
    )


def _a_tiny_block(draw: Random, tag: str, most_runs: int) -> Block:
    """Mostly plain 24 V common positive tape on the deck."""
    channels, odd = draw.choice((0, 1, 1, 2, 2, 3, 4)), draw.random()
    runs = []
    for number in range(1, draw.randint(1, most_runs) + 1):
        watts = [draw.randint(2, 20) for _ in range(max(1, channels))]
        name = f"{tag}.{number}"
        run = a_run(name, *watts) if channels else a_run(name, direct_w=watts[0])
        runs.append(replace(run, reach=_a_reach(draw)))
    moves = odd < 0.08
    return a_block(
        tag,
        runs=tuple(runs),
        volts=12 if 0.08 <= odd < 0.16 else 24,
        polarity="negative" if 0.16 <= odd < 0.24 else "positive",
        sites=draw.choice((*SITES[:1] * 4, *SITES)),
        sources=frozenset({Source.BATTERY}) if moves else frozenset({Source.SUPPLY}),
        links=frozenset({Link.WIRELESS}) if moves else frozenset(Link),
        priority=draw.randint(1, 3),
    )


def _a_reach(draw: Random) -> Reach | None:
    """Mostly none; else a lead that is short enough from some of the places, from none, or whatever it is."""
    if draw.random() < 0.7:
        return None
    far = tuple((site, draw.randint(1, 12)) for site in ("deck", "wagon") if draw.random() < 0.6)
    return Reach(
        draw.choice((-1, 0, 6, 6, 6, 9)), draw.choice((None, 3, 8)), far, because="so far and no farther"
    )


def _a_few_units(draw: Random, models: list[SupplyModel] | list[DecoderModel]) -> list[Unit]:
    return [
        Unit(f"{model.tag}-{number}", model.tag, draw.choice(("", "", "", "", "deck", "wagon")))
        for model in models
        for number in range(1, draw.choice((1, 1, 2, 2, 2, 0)) + 1)
    ]


HOUSE_SUPPLIES = (
    a_supply_model("P60", watts=48, outputs_a=(2.0,), cost=700),
    a_supply_model("P150", watts=120, outputs_a=(5.0,), cost=1000),
    a_supply_model("P320", watts=256, outputs_a=(4.0, 4.0, 4.0), cost=1900),
    a_supply_model("P100L", watts=80, outputs_a=(6.4,), volts=12, cost=900),
    a_supply_model("P30L", watts=24, outputs_a=(2.0,), volts=12, cost=600),
    a_supply_model("B24", watts=60, outputs_a=(2.5,), source=Source.BATTERY, cost=1200),
    a_supply_model("B12", watts=36, outputs_a=(3.0,), volts=12, source=Source.BATTERY, cost=1100),
)
HOUSE_DECODERS = (
    a_decoder_model("D3", banks=((3, 9.6),), channel_a=3.2, cost=400),
    a_decoder_model("D4", banks=((4, 12.8),), channel_a=4.0, cost=500),
    a_decoder_model("D12", banks=((6, 12.0), (6, 12.0)), channel_a=2.4, cost=1100),
    a_decoder_model("D24", banks=((24, 16.0),), channel_a=2.4, cost=1600),
    a_decoder_model("D4N", banks=((4, 8.0),), channel_a=2.4, polarity="negative", cost=550),
    a_decoder_model("DX", banks=((1, 6.0), (1, 6.0)), channel_a=6.0, signal=Signal.PIXEL, cost=800),
    a_decoder_model("DR", banks=((4, 8.0),), channel_a=2.4, link=Link.WIRELESS, cost=900),
)
TAPES = ((4.8,), (9.6,), (5.0, 5.0), (4.0, 4.0, 4.0), (4.0, 4.0, 4.0, 4.0), (3.0, 3.0, 3.0, 3.0, 3.0))


def a_show(seed: int, elements: int, stock: float = 4.0) -> Problem:
    """A whole show: fixed places, moving units on batteries, three voltages of gear less one, groups, pixels.

    `stock` is how generous the store is: 1 is about what is needed, less is short.
    """
    draw = Random(seed)
    places = [f"place {n}" for n in range(1, 2 + elements // 15)]
    made = tuple(_an_element(draw, n, places) for n in range(1, elements + 1))
    ratio = stock * elements / 40
    return Problem(
        blocks=made,
        supply_models=HOUSE_SUPPLIES,
        decoder_models=HOUSE_DECODERS,
        supplies=tuple(u for m in HOUSE_SUPPLIES for u in units(m.tag, round(ratio * draw.randint(1, 6)))),
        decoders=tuple(u for m in HOUSE_DECODERS for u in units(m.tag, round(ratio * draw.randint(2, 9)))),
    )


def _an_element(draw: Random, number: int, places: list[str]) -> Block:
    tag, moves = f"E{number:04d}", draw.random() < 0.15
    pixel = not moves and draw.random() < 0.1
    watts = (12.0,) if pixel else draw.choice(TAPES)
    runs: list[Run] = []
    for at in range(1, draw.choice((1, 1, 1, 2, 3)) + 1):
        metres = draw.randint(5, 40) / 10
        each_uw = tuple(round(w * metres * MICRO) for w in watts)
        straight = len(watts) == 1 and not pixel and number % 9 == 0
        runs.append(Run(f"{tag}.{at}", sum(each_uw), () if straight else each_uw))
    if any(run.channel_uw == () for run in runs):
        runs = [Run(run.tag, run.load_uw, ()) for run in runs]
    site = draw.sample(places, min(len(places), draw.choice((1, 1, 1, 2))))
    return a_block(
        tag,
        runs=tuple(runs),
        volts=12 if draw.random() < 0.25 else 24,
        polarity="negative" if not moves and not pixel and draw.random() < 0.1 else "positive",
        signal=Signal.PIXEL if pixel else Signal.LEVEL,
        sites=(f"unit {draw.randint(1, 3)}",) if moves else tuple(site),
        sources=frozenset({Source.BATTERY}) if moves else frozenset({Source.SUPPLY}),
        links=frozenset({Link.WIRELESS}) if moves else frozenset(Link),
        priority=draw.choice((1, 2, 3, 3)),
    )
