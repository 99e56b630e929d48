"""What would feed a dark run: told by the label, checked against what is free, and with what binds next."""

from dataclasses import replace

import pytest

from service.allocation.model import solve
from service.allocation.problem import Block, Installed, Link, Problem, Run, Shares, Source, Unfed
from service.allocation.verify import faults
from tests.allocation.problems import a_block, a_decoder_model, a_problem, a_run, a_supply_model

HOUSE = Shares(supply=0.8, output=0.8, channel=0.8, bank=0.75)


def the_dark_one(problem: Problem, run: str = "SGN.1") -> Unfed:
    answer = solve(problem)
    assert faults(problem, answer) == []
    return next(one for one in answer.unfed if one.run == run)


def a_sign(*channel_w: float, **other: object) -> Block:
    return a_block("SGN", *channel_w, **other)  # type: ignore[arg-type]


def cut_at(pitches: int, *channel_w: float) -> Block:
    run = a_run("SGN.1", *channel_w)
    return a_block("SGN", runs=(replace(run, pitches=pitches),))


def test_watts_are_told_as_the_label_says_them() -> None:
    """92.16 W at a share of 0.80 is 115.2 W on the label."""
    problem = a_problem((a_sign(46.08, 46.08),), ((a_supply_model("S50", 50, (10.0,)), 1),))
    one = the_dark_one(replace(problem, shares=HOUSE))

    assert one.because == "92.16 W > 50 W from one supply"
    assert one.mend == "a 24 V supply of at least 115.2 W on the label (92.16 W at 0.80)"


def test_amps_of_an_output_are_told_as_the_label_says_them() -> None:
    """60 W at 24 V is 2.5 A, and 3.125 A on the label."""
    small = a_supply_model("S4", 96, (1.0, 1.0, 1.0, 1.0))
    one = the_dark_one(replace(a_problem((a_sign(30, 30),), ((small, 1),)), shares=HOUSE))

    assert one.mend == (
        "a 24 V supply of at least 75 W on the label (60 W at 0.80) "
        "and at least 3.125 A an output on the label (2.5 A at 0.80)"
    )


def test_a_decoder_is_told_with_every_figure_that_one_of_the_kinds_lacks() -> None:
    """72 W a channel is 3 A, and both together 6 A: 3.75 A at 0.80 and 8 A at 0.75 on the label."""
    kinds = (
        (a_decoder_model(banks=((4, 9.6),), channel_a=2.4), 1),
        (a_decoder_model("D5", banks=((4, 5.0),), channel_a=4.0), 1),
    )
    problem = a_problem((cut_at(1, 72, 72),), ((a_supply_model("S200", 200, (8.0,)), 1),), kinds)
    one = the_dark_one(replace(problem, shares=HOUSE))

    assert one.because == "6 A > 5 A through one bank"
    assert one.mend == (
        "a decoder with at least 3.75 A a channel on the label (3 A at 0.80) "
        "and at least 8 A a bank on the label (6 A at 0.75)"
    )


@pytest.mark.parametrize(
    ("needed_w", "label"),
    [(9.6, "12 W on the label (9.6 W at 0.80)"), (1.0001, "1.251 W on the label (1.001")],
)
def test_a_label_is_rounded_up(needed_w: float, label: str) -> None:
    one = the_dark_one(replace(a_problem((a_sign(needed_w),), ((a_supply_model(), 0),)), shares=HOUSE))
    assert f"a 24 V supply of at least {label}" in one.mend


def on_batteries(sign: Block) -> Block:
    return replace(sign, sources=frozenset({Source.BATTERY}), links=frozenset({Link.WIRELESS}))


WIRELESS = a_decoder_model("DW", link=Link.WIRELESS)


def test_what_takes_batteries_only_is_told_a_battery_by_its_amps() -> None:
    """A battery's amps are not derated: no label figure. 17.28 W at 24 V is 0.72 A."""
    battery = a_supply_model("B24", 24, (1.0,), source=Source.BATTERY)
    problem = a_problem((on_batteries(a_sign(17.28)),), ((battery, 0),), ((WIRELESS, 1),))
    one = the_dark_one(replace(problem, shares=HOUSE))

    assert one.because == "needs 1 of B24 (17.28 W); 0 left"
    assert one.mend == "one more B24, or a 24 V battery that gives at least 0.72 A"


def test_the_limit_that_would_bind_next_is_told_as_well() -> None:
    """Neither the battery nor the wireless decoder is there."""
    battery = a_supply_model("B24", 24, (1.0,), source=Source.BATTERY)
    one = the_dark_one(a_problem((on_batteries(a_sign(17.28)),), ((battery, 0),), ((WIRELESS, 0),)))

    assert one.mend == "one more B24, or a 24 V battery that gives at least 0.72 A"
    assert one.then == "needs 1 of DW (1 channel × 0.72 A); 0 left: one more DW"


def test_once_the_decoder_is_there_the_supply_may_be_too_small() -> None:
    """120 W is 5 A on a channel of 2.4 A; the supplies give 96 W."""
    one = the_dark_one(a_problem((a_sign(120),), ((a_supply_model(outputs_a=(8.0,)), 1),)))

    assert one.because == "5 A > 2.4 A on one channel"
    assert one.mend == "a decoder with at least 5 A a channel"
    assert one.then == "120 W > 96 W from one supply: a 24 V supply of at least 120 W"


def test_a_decoder_that_hangs_on_a_full_supply_does_not_count_as_free_beside_a_new_one() -> None:
    """The sign wants a supply; the one bank with room hangs on the supply that is full."""
    blocks = (a_block("WIN", 48, 48, priority=1), a_sign(10))
    one = the_dark_one(a_problem(blocks, ((a_supply_model(), 1),), ((a_decoder_model(), 1),)))

    assert one.because == "needs 1 of S96 (10 W); 0 left"
    assert one.then == "needs 1 of D4 (1 channel × 0.417 A); 0 left: one more D4"


@pytest.mark.parametrize(
    ("pitches", "supplies", "is_offered"),
    [(0, 2, True), (10, 2, True), (0, 1, False), (1, 2, False), (3, 2, False)],
    ids=["halves", "5 of 10 pitches", "no room for the second", "one pitch", "2 of 3 pitches"],
)
def test_a_run_is_told_to_be_cut_only_where_both_parts_would_fit(
    pitches: int, supplies: int, is_offered: bool
) -> None:
    """90 W on supplies of 50 W: two halves of 45 W fit, two thirds (60 W) do not."""
    problem = a_problem((cut_at(pitches, 45, 45),), ((a_supply_model("S50", 50, (2.1,)), supplies),))
    one = the_dark_one(problem)

    assert one.limit == "output-current"
    assert one.mend.endswith(", or cut the run in two") == is_offered


def test_what_is_offered_to_be_cut_is_fed_once_it_is_cut() -> None:
    """The mend is carried out: the same sign in two runs."""
    supplies = ((a_supply_model("S50", 50, (2.1,)), 2),)
    assert the_dark_one(a_problem((cut_at(10, 45, 45),), supplies)).mend.endswith("cut the run in two")

    halves = tuple(Run(f"SGN.{n}", 45_000_000, (22_500_000, 22_500_000), 5) for n in (1, 2))
    assert solve(a_problem((a_block("SGN", runs=halves),), supplies)).unfed == ()


def test_room_for_a_cut_run_is_looked_for_beside_what_is_fed() -> None:
    """The second small supply is full of something that comes first."""
    blocks = (a_block("WIN", 45, priority=1), cut_at(10, 45, 45))
    one = the_dark_one(a_problem(blocks, ((a_supply_model("S50", 50, (2.1,)), 2),)))
    assert one.mend == ("a 24 V supply of at least 90 W and at least 3.75 A an output")


def test_a_supply_is_not_offered_where_the_only_free_channels_hang_on_a_full_one() -> None:
    """And is, where a decoder that nothing feeds stands apart from the supply with room."""
    deck, wagon = ("deck",), ("wagon",)
    problem = a_problem((a_block("SGN", 20, sites=(*deck, *wagon)), a_block("WIN", 90, sites=wagon)))
    here = replace(
        problem,
        supplies=tuple(
            replace(unit, site=site) for unit, site in zip(problem.supplies, ("deck", "wagon"), strict=False)
        ),
        decoders=tuple(replace(unit, site="wagon") for unit in problem.decoders[:2]),
        installed=(Installed("WIN.1", "S96-02", 1, "D4-01", 1),),
    )
    models = (a_decoder_model(channel_a=4.0),)
    one = the_dark_one(replace(here, decoder_models=models))

    assert (one.limit, one.mend) == ("packing", "one more D4 or S96")
    assert one.because == "20 W: one output has 96 W left and a bank has 1 channel left, but not on the same"
