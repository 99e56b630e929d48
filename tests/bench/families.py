"""Seeded families of problems for the benchmarks: made here, with invented weights and no real gear.

Tape figures are ordinary ones (4.8 to 24 W/m, cut pitch 50 and 100 mm; common practice). Weights of
gear are invented, so gaps, not costs, carry over to a real store.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from random import Random

from service.allocation.problem import (
    Bank,
    Block,
    DecoderModel,
    Problem,
    Run,
    Signal,
    Source,
    SupplyModel,
    Unit,
)

PLENTY = 4000
UW = 1_000_000


def a_decoder(
    tag: str, channels: int, channel_a: float, total_a: float, cost: int, low_v: int = 5
) -> DecoderModel:
    """One bank; currents already derated."""
    bank = Bank(1, channels, round(total_a * UW))
    return DecoderModel(tag, (bank,), round(channel_a * UW), low_v * 1000, 24_000, "positive", cost=cost)


def a_supply(tag: str, volts: int, output_w: Sequence[float], total_w: float, cost: int) -> SupplyModel:
    """Outputs told by their watts."""
    outputs = tuple(math.ceil(watts * UW / volts) for watts in output_w)
    return SupplyModel(tag, Source.SUPPLY, volts * 1000, round(total_w * UW), outputs, cost)


SHOP_DECODERS = (
    a_decoder("DA", 4, 5, 15, 1000),
    a_decoder("DB", 12, 3, 20, 2200),
    a_decoder("DC", 24, 2, 30, 4000),
)


def shop_supplies(volts: int) -> tuple[SupplyModel, ...]:
    """Three supplies: small, medium, and one with four outputs and less than four times their watts."""
    return (
        a_supply("SA", volts, (76.8,), 76.8, 1500),
        a_supply("SB", volts, (120,), 120, 2000),
        a_supply("SC", volts, (76.8,) * 4, 256, 4500),
    )


HOUSE_DECODERS = tuple(
    a_decoder(f"D{channels:02d}-{each_a}", channels, each_a, total_a, cost * 100, low_v)
    for channels, each_a, total_a, low_v, cost in (
        (1, 8, 8, 5, 22),
        (3, 5, 15, 5, 30),
        (4, 5, 20, 5, 38),
        (4, 2, 6, 5, 24),
        (5, 4, 20, 12, 48),
        (8, 5, 30, 12, 80),
        (12, 3, 30, 5, 95),
        (24, 2, 40, 12, 150),
        (30, 2, 40, 12, 180),
    )
)
HOUSE_SUPPLIES = tuple(
    a_supply(
        f"S{volts:02d}-{sum(watts)}x{len(watts)}",
        volts,
        watts,
        sum(watts),
        100 * int(12 + 0.22 * rated + 4 * (len(watts) - 1)),
    )
    for volts, rated, watts in (
        (5, 60, (48,)),
        (5, 150, (120,)),
        (5, 300, (240,)),
        (12, 36, (28,)),
        (12, 60, (48,)),
        (12, 150, (120,)),
        (12, 320, (256,)),
        (12, 240, (48,) * 4),
        (24, 60, (48,)),
        (24, 96, (76,)),
        (24, 150, (120,)),
        (24, 320, (256,)),
        (24, 480, (384,)),
        (24, 600, (480,)),
        (24, 400, (80,) * 4),
    )
)


def a_row(tag: str, channels: int, load_mw: int, volts: int, sites: tuple[str, ...] = ("deck",)) -> Block:
    """One run of so many emitters, each with an equal share of the load."""
    share = -(-load_mw * 1000 // channels)
    run = Run(f"{tag}.1", load_mw * 1000, (share,) * channels)
    return Block(tag, (run,), volts * 1000, "positive", Signal.LEVEL, sites)


def stocked(
    blocks: Sequence[Block],
    supply_models: Sequence[SupplyModel],
    decoder_models: Sequence[DecoderModel],
    stock: dict[str, int] | None = None,
) -> Problem:
    """A problem with so many units of each model (as many as anyone could want, unless told)."""
    most = sum(len(block.runs) for block in blocks)

    def made(models: Sequence[SupplyModel] | Sequence[DecoderModel]) -> tuple[Unit, ...]:
        return tuple(
            Unit(f"{model.tag}/{number:04d}", model.tag)
            for model in models
            for number in range((stock or {}).get(model.tag, min(most, PLENTY)))
        )

    return Problem(
        tuple(blocks), tuple(supply_models), tuple(decoder_models), made(supply_models), made(decoder_models)
    )


def few_distinct(count: int, seed: int) -> Problem:
    """One place at 24 V, lengths from a short list: at most 60 kinds of load."""
    random = Random(seed)
    blocks = []
    for number in range(count):
        channels = random.choices((1, 2, 3, 4), (4, 2, 2, 3))[0]
        w_per_m = random.choice((4.8, 9.6, 14.4)) if channels == 1 else 19.2 if channels == 4 else 14.4
        length_m = random.choice((0.3, 0.5, 0.8, 1, 1.2, 1.5, 2, 2.5, 3, 4, 5))
        load_mw = round(min(w_per_m * length_m, 92) * 1000)
        blocks.append(a_row(f"E{number:04d}", channels, load_mw, 24))
    return stocked(blocks, shop_supplies(24), SHOP_DECODERS)


def all_distinct(count: int, seed: int, volts: int = 24) -> Problem:
    """One place, lengths on a 10 mm grid, up to five emitters: nearly every load its own kind."""
    random = Random(1000 + seed)
    blocks = []
    for number in range(count):
        channels = random.choices((1, 2, 3, 4, 5), (4, 2, 2, 3, 1))[0]
        w_per_m = {1: random.choice((4.8, 9.6, 14.4)), 2: 14.4, 3: 14.4, 4: 19.2, 5: 24.0}[channels]
        # What the amps of a channel and of a decoder, and one output, can carry at this voltage.
        most_w = min((3 if channels > 4 else 5) * volts * channels * 0.95, 14 * volts, 76)
        load_mw = round(min(w_per_m * random.randint(30, 500) / 100, most_w) * 100) * 10
        blocks.append(a_row(f"E{number:04d}", channels, load_mw, volts))
    return stocked(blocks, shop_supplies(volts), SHOP_DECODERS)


@dataclass(frozen=True, slots=True)
class Tape:
    volts: int
    channels: int
    w_per_m: float
    pitch_mm: int
    weight: int


TAPES = tuple(
    Tape(*row)
    for row in (
        (12, 1, 4.8, 50, 6),
        (12, 1, 9.6, 50, 6),
        (24, 1, 9.6, 100, 10),
        (24, 1, 19.2, 100, 5),
        (24, 2, 14.4, 100, 8),
        (12, 3, 7.2, 50, 7),
        (12, 3, 14.4, 50, 10),
        (24, 3, 14.4, 100, 9),
        (12, 4, 19.2, 50, 8),
        (24, 4, 19.2, 100, 18),
        (24, 5, 24.0, 100, 6),
        (5, 1, 6.0, 50, 4),
        (5, 3, 9.0, 50, 3),
    )
)


def whole_show(count: int, seed: int, stock: dict[str, int] | None = None) -> Problem:
    """Elements over fixed areas of about sixty and over scenic units that move and feed themselves."""
    random = Random(seed * 1_000_003 + count)
    units = [f"unit {n:03d}" for n in range(max(2, count // 22))]
    areas = [f"area {n:03d}" for n in range(max(1, round(count * 0.55 / 60)))]
    sizes = [random.lognormvariate(0, 0.7) for _ in units]
    weights = [tape.weight for tape in TAPES]
    palette: dict[str, list[Tape]] = {}
    elements: dict[tuple[str, int], list[list[Run]]] = {}
    for number in range(count):
        moves = random.random() < 0.45
        place = random.choices(units, sizes)[0] if moves else random.choice(areas)
        own = palette.setdefault(place, random.choices(TAPES, weights, k=2 if moves else 4))
        tape = random.choice(own) if random.random() < 0.9 else random.choices(TAPES, weights)[0]
        runs = _some_runs(random, f"E{number:04d}", tape)
        elements.setdefault((place, TAPES.index(tape)), []).append(runs)
    blocks = [
        block
        for (place, tape), own in sorted(elements.items())
        for block in _grouped(random, place, TAPES[tape], own)
    ]
    return stocked(blocks, HOUSE_SUPPLIES, HOUSE_DECODERS, stock)


def _some_runs(random: Random, tag: str, tape: Tape) -> list[Run]:
    """One to eight runs, often of one length."""
    same = random.choice((None, None, random.choice((500, 1000, 1500, 2000, 2500))))
    runs = []
    for number in range(min(8, 1 + int(random.expovariate(0.9)))):
        length_mm = same or min(max(random.lognormvariate(math.log(900), 0.7), tape.pitch_mm), 5000)
        pitches = max(1, round(length_mm / tape.pitch_mm))
        load_uw = round(pitches * tape.pitch_mm * tape.w_per_m * 1000)
        runs.append(Run(f"{tag}.{number + 1}", load_uw, (-(-load_uw // tape.channels),) * tape.channels))
    return runs


def _grouped(random: Random, place: str, tape: Tape, elements: list[list[Run]]) -> list[Block]:
    """A quarter of the elements share their channels in control groups of two to six, up to 60 W."""
    blocks, waiting = [], list(elements)
    random.shuffle(waiting)
    while waiting:
        runs = waiting.pop()
        if random.random() < 0.25:
            for _ in range(random.randint(1, 5)):
                if waiting and sum(run.load_uw for run in runs + waiting[-1]) <= 60 * UW:
                    runs = runs + waiting.pop()
        tag = f"B{runs[0].tag}"
        blocks.append(Block(tag, tuple(runs), tape.volts * 1000, "positive", Signal.LEVEL, (place,)))
    return blocks


def scarce(problem: Problem, used: dict[str, int], share: float) -> Problem:
    """The five most used models at a share of what is used with plenty, the others half, and two more."""
    most = sorted(used, key=lambda tag: (-used[tag], tag))[:5]
    models = [model.tag for model in problem.supply_models] + [model.tag for model in problem.decoder_models]
    stock = {
        tag: max(1, int(used.get(tag, 0) * share)) if tag in most else int(used.get(tag, 0) * 0.5) + 2
        for tag in models
    }

    def kept(units: tuple[Unit, ...]) -> tuple[Unit, ...]:
        return tuple(unit for unit in units if int(unit.tag.rpartition("/")[2]) < stock[unit.model])

    return replace(problem, supplies=kept(problem.supplies), decoders=kept(problem.decoders))
