"""Every reason for a dark run, each on a house where only that limit binds, with its figures and its mend."""

from dataclasses import replace

import pytest

from service.allocation.model import solve
from service.allocation.problem import Block, Installed, Link, Problem, Signal, Source, Unfed, Unit
from service.allocation.verify import faults
from tests.allocation.problems import a_block, a_decoder_model, a_problem, a_run, a_supply_model


def the_dark_one(problem: Problem, run: str = "SGN.1") -> Unfed:
    answer = solve(problem)
    assert faults(problem, answer) == []
    return next(one for one in answer.unfed if one.run == run)


def figures(one: Unfed) -> tuple[str, float | None, float | None, str]:
    return one.limit, one.value, one.bound, one.unit


def a_sign(*channel_w: float, **other: object) -> Block:
    return a_block("SGN", *(channel_w or (10.0,)), **other)  # type: ignore[arg-type]


def test_in_a_house_with_everything_the_sign_is_fed() -> None:
    """The instances below differ from this one in one thing each."""
    assert solve(a_problem((a_sign(),))).unfed == ()


def test_no_supply_has_the_voltage() -> None:
    one = the_dark_one(a_problem((a_sign(volts=12),)))
    assert figures(one) == ("voltage", 12, 24, "V")
    assert one.because == "12 V tape, and the supplies give 24 V"
    assert one.mend == "a 12 V supply of at least 10 W"


def test_no_decoder_takes_the_voltage() -> None:
    """A 5 V supply is there, but the decoders want 12 to 24 V."""
    five = a_supply_model("S5", 40, (8.0,), volts=5)
    one = the_dark_one(a_problem((a_sign(volts=5),), ((five, 1),)))
    assert figures(one) == ("voltage", 5, 12, "V")
    assert one.because == "5 V tape, and the decoders take 12 to 24 V"


def test_the_polarity_is_the_other() -> None:
    one = the_dark_one(a_problem((a_sign(polarity="negative"),)))
    assert one.limit == "polarity"
    assert one.because == "common negative tape, and D4 is for the other"
    assert one.mend == "a decoder for common negative tape with at least 0.417 A a channel"


def test_the_signal_is_another() -> None:
    one = the_dark_one(a_problem((a_sign(signal=Signal.PIXEL),)))
    assert one.limit == "signal"
    assert one.mend == "a decoder that gives pixel signal with at least 0.417 A a channel"


def test_a_moving_piece_takes_no_wired_decoder() -> None:
    one = the_dark_one(a_problem((a_sign(links=frozenset({Link.WIRELESS})),)))
    assert one.limit == "link"
    assert one.mend == "a wireless decoder with at least 0.417 A a channel, or a travelling cable"


def test_a_moving_piece_takes_no_mains_supply() -> None:
    one = the_dark_one(a_problem((a_sign(sources=frozenset({Source.BATTERY})),)))
    assert one.limit == "source"
    assert one.because == "may be fed from a battery only, and at 24 V there is only a supply"
    assert one.mend == "a 24 V battery that gives at least 0.417 A, or a travelling cable"


def test_the_gear_stands_somewhere_else() -> None:
    problem = replace(a_problem((a_sign(),)), supplies=(Unit("S96-01", "S96", "fly floor"),))
    one = the_dark_one(problem)
    assert one.limit == "site"
    assert one.because == "may be fed from deck, and S96-01 stands at fly floor"
    assert one.mend == "move S96-01 to deck"


def test_an_element_without_a_place_is_not_fed_from_anywhere() -> None:
    one = the_dark_one(a_problem((a_sign(sites=()),)))
    assert (one.limit, one.mend) == ("site", "say where its gear may stand")


@pytest.mark.parametrize(
    "kind", [a_supply_model(watts=None), a_supply_model(outputs_a=(None,))], ids=["watts", "output"]
)
def test_a_supply_of_unknown_limits_is_never_chosen(kind: object) -> None:
    one = the_dark_one(a_problem((a_sign(),), ((kind, 2),)))  # type: ignore[arg-type]
    assert one.limit == "not-known"
    assert one.because == "only S96 would do, and a limit of it is not known"
    assert one.mend == "enter the limits of S96"


@pytest.mark.parametrize(
    "kind", [a_decoder_model(channel_a=None), a_decoder_model(banks=((4, None),))], ids=["channel", "bank"]
)
def test_a_decoder_of_unknown_limits_is_never_chosen(kind: object) -> None:
    one = the_dark_one(a_problem((a_sign(),), decoders=((kind, 2),)))  # type: ignore[arg-type]
    assert (one.limit, one.mend) == ("not-known", "enter the limits of D4")


def test_the_figures_that_are_missing_are_named_where_the_kind_says_them() -> None:
    supply = replace(a_supply_model(watts=None), blank=("Full to", "Derate", "Hottest"))
    one = the_dark_one(a_problem((a_sign(),), ((supply, 2),)))
    assert one.because == "only S96 would do, and its Full to, Derate and Hottest are not known"
    assert one.mend == "enter Full to, Derate and Hottest of S96"


def test_a_channel_carries_too_little() -> None:
    """72 W at 24 V is 3 A on one channel of 2.4 A."""
    one = the_dark_one(a_problem((a_sign(72.0),)))
    assert figures(one) == ("channel-current", 3.0, 2.4, "A")
    assert one.because == "3 A > 2.4 A on one channel"
    assert one.mend == "a decoder with at least 3 A a channel, or cut the run in two"


def test_equality_with_a_limit_is_fed_and_a_microwatt_more_is_told_in_full() -> None:
    """57.6 W is 2.4 A exactly."""
    assert solve(a_problem((a_sign(57.6),))).unfed == ()
    one = the_dark_one(a_problem((a_sign(57.6001),)))
    assert one.because == "2.400004 A > 2.400000 A on one channel"


def test_a_bank_has_too_few_channels() -> None:
    one = the_dark_one(a_problem((a_sign(5, 5, 5, 5, 5),)))
    assert figures(one) == ("channel-count", 5, 4, "")
    assert one.because == "5 channels in a row > 4 on one bank"
    assert one.mend == "a decoder with 5 channels on one bank"


def test_channels_of_two_banks_do_not_add_up() -> None:
    """One supply output feeds a bank, and a row lies in one bank."""
    two = a_decoder_model("D8", banks=((4, 9.6), (4, 9.6)))
    one = the_dark_one(a_problem((a_sign(5, 5, 5, 5, 5),), decoders=((two, 1),)))
    assert figures(one) == ("channel-count", 5, 4, "")


def test_a_bank_carries_too_little() -> None:
    """Two channels of 36 W are 3 A together; the bank carries 2 A, each channel 2.4 A."""
    weak = a_decoder_model(banks=((4, 2.0),))
    one = the_dark_one(a_problem((a_sign(36, 36),), decoders=((weak, 1),)))
    assert figures(one) == ("bank-current", 3.0, 2.0, "A")
    assert one.mend == "a decoder with at least 3 A a bank"


def test_an_output_carries_too_little() -> None:
    """60 W at 24 V is 2.5 A; the supply has 96 W on four outputs of 1 A."""
    small = a_supply_model("S4", 96, (1.0, 1.0, 1.0, 1.0))
    one = the_dark_one(a_problem((a_sign(30, 30),), ((small, 1),)))
    assert figures(one) == ("output-current", 2.5, 1.0, "A")
    assert one.because == "2.5 A > 1 A from one output"


def test_a_supply_has_too_few_watts() -> None:
    """An output of 10 A on a supply that may give 50 W."""
    hot = a_supply_model("S50", 50, (10.0,))
    one = the_dark_one(a_problem((a_sign(30, 30),), ((hot, 1),)))
    assert figures(one) == ("supply-watts", 60.0, 50.0, "W")
    assert one.because == "60 W > 50 W from one supply"
    assert one.mend == "a 24 V supply of at least 60 W"


def test_no_supply_is_left() -> None:
    """40 W is left of 96 W; the sign wants 50 W."""
    blocks = (a_block("WIN", 28, 28, priority=1), a_sign(25, 25))
    one = the_dark_one(a_problem(blocks, ((a_supply_model(), 1),)))
    assert figures(one) == ("supply-stock", 50.0, 40.0, "W")
    assert one.because == "needs 1 of S96 (50 W); 0 left; the most left on one output is 40 W"
    assert one.mend == "one more S96, or a 24 V supply of at least 50 W"


def test_no_decoder_is_left() -> None:
    """Three kinds would do; every unit is taken by what is fed first."""
    blocks = (a_block("WIN", 5, 5, priority=1), a_sign(5, 5, 5, 5))
    kinds = [a_decoder_model(tag, cost=cost) for tag, cost in (("D4", 500), ("D5", 600), ("D12", 900))]
    problem = a_problem(blocks, decoders=tuple((kind, 1 if kind.tag == "D4" else 0) for kind in kinds))
    one = the_dark_one(problem)
    assert figures(one) == ("decoder-stock", 1, 0, "")
    assert one.because == "needs 1 of D12, D4 or D5 (4 channels × 0.208 A); 0 left"
    assert one.mend == "one more D4"


def test_a_lock_is_in_the_way() -> None:
    """The small run is locked on the large supply; unlocked, it would leave room for the sign."""
    small = a_supply_model("S24", 24, (1.0,))
    blocks = (a_block("WIN", 10), a_sign(45, 45))
    problem = a_problem(blocks, ((a_supply_model(), 1), (small, 1)))
    held = Installed("WIN.1", "S96-01", 1, "D4-01", 1, locked=True)
    stands = tuple(
        replace(unit, site="deck") if unit.tag in ("S96-01", "D4-01") else unit for unit in problem.supplies
    )
    one = the_dark_one(replace(problem, installed=(held,), supplies=stands))
    assert one.limit == "lock"
    assert one.because == "WIN.1 is locked to D4-01 from channel 1, on S96-01/1"
    assert one.mend == "unlock WIN.1: it has room elsewhere"


def test_room_that_is_left_in_two_places_is_not_room() -> None:
    """40 W is left on the output that feeds the full bank; the bank with room hangs on a full output."""
    blocks = (
        a_block("A", 14, 14, 14, 14, priority=1),
        a_block("B", 48, 48, priority=1),
        a_sign(20, 20),
    )
    one = the_dark_one(a_problem(blocks, ((a_supply_model(), 2),), ((a_decoder_model(), 2),)))
    assert figures(one) == ("packing", 40.0, 40.0, "W")
    assert one.because == (
        "40 W: one output has 40 W left and a bank has 2 channels left, but not on the same"
    )
    assert one.mend == "one more D4"


def test_a_run_straight_on_an_output_wants_no_decoder() -> None:
    straight = a_block("SGN", runs=(a_run("SGN.1", direct_w=120),))
    one = the_dark_one(replace(a_problem((straight,)), decoders=()))
    assert figures(one) == ("output-current", 5.0, 4.0, "A")


def test_each_run_of_a_dark_block_is_told() -> None:
    both = a_block("SGN", runs=(a_run("SGN.1", 10), a_run("SGN.2", 10)), volts=12)
    assert [one.run for one in solve(a_problem((both,))).unfed] == ["SGN.1", "SGN.2"]


def test_runs_that_nothing_could_feed_are_told_one_by_one() -> None:
    """60 W and 62.4 W on channels of 2.4 A: 2.5 A and 2.6 A, not their sum."""
    both = a_block("SGN", runs=(a_run("SGN.1", 60), a_run("SGN.2", 62.4)))
    assert [one.value for one in solve(a_problem((both,))).unfed] == [2.5, 2.6]


def test_the_room_of_a_plan_over_two_places_is_told_for_the_right_one() -> None:
    """The full supply stands where the sign may not be fed from; where it may, there is none."""
    blocks = (a_block("WIN", 10, 10, sites=("fly floor",), priority=1), a_sign(20, sites=("deck",)))
    one = the_dark_one(a_problem(blocks, ((a_supply_model(), 1),)))
    assert figures(one) == ("supply-stock", 20.0, 0.0, "W")
    assert one.because == "needs 1 of S96 (20 W); 0 left"
