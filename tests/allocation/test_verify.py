"""The rules of feeding, told by answers that break one each."""

from dataclasses import replace

import pytest

from service.allocation.facts import over_limits
from service.allocation.problem import Answer, Block, Feed, Installed, Link, Problem, Signal, Source, Unit
from service.allocation.verify import faults
from tests.allocation.problems import a_block, a_decoder_model, a_problem, a_run, a_supply_model, an_answer

# 24 V, 96 W on one output of 4 A; 4 channels of 2.4 A.
WINDOW = a_block("WIN", 10, 10, 10, 10)
HEARTH = a_block("HEA", 20)
TWO_BANKS = a_decoder_model("D8", banks=((4, 9.6), (4, 9.6)))
TWO_OUTPUTS = a_supply_model("S2", watts=192, outputs_a=(4.0, 4.0))


def feed(
    run: str,
    decoder: str = "D8-01",
    first: int = 1,
    channels: int = 4,
    supply: str = "S2-01",
    output: int = 1,
) -> Feed:
    return Feed(run, supply, output, decoder, first, channels)


def a_good_plan() -> tuple[Problem, Answer]:
    """The window on the first bank and output, the hearth on the second."""
    problem = a_problem((WINDOW, HEARTH), ((TWO_OUTPUTS, 2),), ((TWO_BANKS, 2),))
    feeds = (feed("WIN.1"), feed("HEA.1", first=5, channels=1, output=2))
    return problem, an_answer(problem, feeds, cost=1500)


def told(problem: Problem, answer: Answer) -> str:
    found = faults(problem, answer)
    assert len(found) == 1, found
    return found[0]


def test_a_good_plan_has_no_faults() -> None:
    assert faults(*a_good_plan()) == []


def test_two_banks_of_a_decoder_may_have_different_outputs() -> None:
    problem, answer = a_good_plan()
    assert {f.output for f in answer.feeds} == {1, 2}
    assert faults(problem, answer) == []


def with_feeds(answer: Answer, *feeds: Feed, cost: int = 1500, sites: dict[str, str] | None = None) -> Answer:
    used = {tag for f in feeds for tag in (f.supply, f.decoder) if tag}
    return replace(answer, feeds=feeds, cost=cost, sites=sites or dict.fromkeys(used, "deck"))


def test_a_run_is_not_fed_twice() -> None:
    problem, answer = a_good_plan()
    twice = with_feeds(answer, *answer.feeds, feed("HEA.1", first=6, channels=1, output=2))
    assert "HEA.1: told 2 times" in faults(problem, twice)[0]


def test_a_run_is_not_forgotten() -> None:
    problem, answer = a_good_plan()
    assert told(problem, with_feeds(answer, answer.feeds[0])) == (
        "HEA.1: told 0 times, must be fed once or left dark once"
    )


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (feed("GONE", first=6), "there is no such run"),
        (feed("HEA.1", supply="S2-09", first=5, channels=1), "there is no supply S2-09"),
        (feed("HEA.1", output=3, first=5, channels=1), "S2-01 has no output 3"),
        (feed("HEA.1", decoder="D8-09", first=5, channels=1), "there is no decoder D8-09"),
    ],
)
def test_only_what_exists_is_named(wrong: Feed, says: str) -> None:
    problem, answer = a_good_plan()
    assert says in told(problem, with_feeds(answer, answer.feeds[0], wrong))


@pytest.mark.parametrize(
    ("hearth", "says"),
    [
        (a_block("HEA", 20, volts=12), "12000 mV tape on 24000 mV supply"),
        (a_block("HEA", 20, polarity="negative"), "negative tape on positive decoder"),
        (a_block("HEA", 20, signal=Signal.PIXEL), "pixel tape on level decoder"),
        (a_block("HEA", 20, links=frozenset({Link.WIRELESS})), "a wired decoder may not feed it"),
        (a_block("HEA", 20, sources=frozenset({Source.BATTERY})), "supply S2-01 may not feed it"),
        (a_block("HEA", 10, 10), "1 channels, needs 2"),
    ],
)
def test_kinds_that_do_not_go_together(hearth: Block, says: str) -> None:
    problem, answer = a_good_plan()
    assert says in " | ".join(faults(replace(problem, blocks=(WINDOW, hearth)), answer))


def test_a_voltage_outside_the_decoder_is_a_fault() -> None:
    problem, answer = a_good_plan()
    low = replace(TWO_BANKS, max_mv=12_000)
    assert (
        "24000 mV is outside what D8-01 takes" in faults(replace(problem, decoder_models=(low,)), answer)[0]
    )


def test_a_unit_with_no_place_or_the_wrong_one_is_a_fault() -> None:
    problem, answer = a_good_plan()
    away = replace(answer, sites={"S2-01": "fly floor", "D8-01": "deck"})
    found = faults(problem, away)
    assert "WIN.1: may not be fed from S2-01 at fly floor" in found
    assert "WIN.1: S2-01 and D8-01 stand in different places" in found
    assert "WIN.1: D8-01 has no place" in faults(problem, replace(answer, sites={"S2-01": "deck"}))


def test_a_unit_that_stands_already_is_not_carried_off() -> None:
    problem, answer = a_good_plan()
    standing = replace(problem, decoders=(Unit("D8-01", "D8", "trap room"), *problem.decoders[1:]))
    assert "D8-01: stands at trap room, planned at deck" in faults(standing, answer)


def test_a_row_does_not_lie_across_two_banks() -> None:
    problem, answer = a_good_plan()
    across = with_feeds(answer, feed("WIN.1", first=3), feed("HEA.1", first=8, channels=1, output=2))
    assert told(problem, across) == "WIN.1: channels from 3 do not lie in one bank of D8-01"


def test_rows_of_different_blocks_do_not_cross() -> None:
    problem, answer = a_good_plan()
    crossed = with_feeds(answer, feed("WIN.1"), feed("HEA.1", first=4, channels=1))
    assert told(problem, crossed) == "D8-01 channel 4: HEA and WIN cross"


def test_two_outputs_never_meet_in_a_bank() -> None:
    """One supply output per decoder power bank."""
    problem, answer = a_good_plan()
    two = a_problem((a_block("WIN", 10, 10, 10), HEARTH), ((TWO_OUTPUTS, 2),), ((TWO_BANKS, 2),))
    met = with_feeds(answer, feed("WIN.1", channels=3), feed("HEA.1", first=4, channels=1, output=2))
    assert told(two, met) == "D8-01, bank from channel 1: S2-01/1 and S2-01/2 meet"
    assert problem.blocks != two.blocks


def whole_and_over(load_w: float) -> tuple[Problem, Answer]:
    """One run alone on everything, exactly at a limit or one microwatt over."""
    problem = a_problem((a_block("HEA", load_w),))
    return problem, an_answer(problem, (Feed("HEA.1", "S96-01", 1, "D4-01", 1, 1),), cost=1500)


def test_a_channel_at_its_limit_is_whole_and_a_microwatt_more_is_a_fault() -> None:
    """2.4 A at 24 V is 57.6 W."""
    assert faults(*whole_and_over(57.6)) == []
    assert told(*whole_and_over(57.600001)) == "D4-01 channel 1: 57600001 uW at 24000 mV, limit 2400000 uA"


def test_runs_on_the_same_channels_add_up() -> None:
    """Two runs of 30 W on one channel are 60 W; the channel carries 57.6 W."""
    both = a_block("SGN", runs=(a_run("SGN.1", 30), a_run("SGN.2", 30)))
    problem = a_problem((both,))
    feeds = tuple(Feed(f"SGN.{n}", "S96-01", 1, "D4-01", 1, 1) for n in (1, 2))
    assert "D4-01 channel 1: 60000000 uW" in told(problem, an_answer(problem, feeds, cost=1500))


@pytest.mark.parametrize(("amps", "fault"), [(1.0, "limit 1000000 uA"), (None, "limit None uA")])
def test_a_bank_over_its_current_or_of_unknown_current(amps: float | None, fault: str) -> None:
    problem = a_problem((a_block("HEA", 30),), decoders=((a_decoder_model(banks=((4, amps),)), 1),))
    answer = an_answer(problem, (Feed("HEA.1", "S96-01", 1, "D4-01", 1, 1),), cost=1500)
    assert told(problem, answer) == f"D4-01, bank from channel 1: 30000000 uW at 24000 mV, {fault}"


@pytest.mark.parametrize(("amps", "fault"), [(1.0, "limit 1000000 uA"), (None, "limit None uA")])
def test_an_output_over_its_current_or_of_unknown_current(amps: float | None, fault: str) -> None:
    problem = a_problem((a_block("HEA", 30),), ((a_supply_model(outputs_a=(amps,)), 1),))
    answer = an_answer(problem, (Feed("HEA.1", "S96-01", 1, "D4-01", 1, 1),), cost=1500)
    assert told(problem, answer) == f"S96-01/1: 30000000 uW at 24000 mV, {fault}"


@pytest.mark.parametrize(("watts", "fault"), [(29.0, "limit 29000000 uW"), (None, "limit None uW")])
def test_a_supply_over_its_watts_or_of_unknown_watts(watts: float | None, fault: str) -> None:
    problem = a_problem((a_block("HEA", 30),), ((a_supply_model(watts=watts), 1),))
    answer = an_answer(problem, (Feed("HEA.1", "S96-01", 1, "D4-01", 1, 1),), cost=1500)
    assert told(problem, answer) == f"S96-01: 30000000 uW, {fault}"


def test_a_run_without_channels_goes_straight_on_an_output() -> None:
    straight = a_block("SGN", runs=(a_run("SGN.1", direct_w=30),))
    problem = a_problem((straight,))
    assert faults(problem, an_answer(problem, (Feed("SGN.1", "S96-01", 1, "", 0, 0),), cost=1000)) == []
    through = an_answer(problem, (Feed("SGN.1", "S96-01", 1, "D4-01", 1, 0),), cost=1500)
    assert "SGN.1: goes straight on an output" in faults(problem, through)


def an_overloaded_output(mend: bool = False, locked: bool = False) -> tuple[Problem, Answer]:
    """90 W and 30 W installed on one output of 96 W, as they stand."""
    blocks = (a_block("WIN", 30, 30, 30), a_block("HEA", 30))
    rows = tuple(
        Installed(run, "S96-01", 1, decoder, 1, locked)
        for run, decoder in (("WIN.1", "D4-01"), ("HEA.1", "D4-02"))
    )
    problem = a_problem(blocks, installed=rows, mend=mend)
    feeds = (Feed("WIN.1", "S96-01", 1, "D4-01", 1, 3), Feed("HEA.1", "S96-01", 1, "D4-02", 1, 1))
    return problem, an_answer(problem, feeds, cost=0)


def test_what_was_over_and_stays_is_let_off() -> None:
    assert faults(*an_overloaded_output()) == []


def test_nothing_is_added_to_what_is_over() -> None:
    problem, answer = an_overloaded_output()
    more = replace(problem, blocks=(*problem.blocks, a_block("NEW", 1)))
    feeds = (*answer.feeds, Feed("NEW.1", "S96-01", 1, "D4-02", 2, 1))
    assert any("S96-01/1: 121000000 uW" in fault for fault in faults(more, replace(answer, feeds=feeds)))


def test_mending_lets_off_only_what_is_locked() -> None:
    assert len(faults(*an_overloaded_output(mend=True))) == 2
    assert faults(*an_overloaded_output(mend=True, locked=True)) == []


def test_a_locked_feed_is_never_changed() -> None:
    problem, answer = an_overloaded_output(locked=True)
    away = Feed("HEA.1", "S96-02", 1, "D4-02", 1, 1)
    moved = replace(answer, feeds=(answer.feeds[0], away), moved=("HEA.1",), cost=1000)
    moved = replace(moved, sites={**moved.sites, "S96-02": "deck"})
    assert told(problem, moved) == "HEA.1: locked, but not fed as it was"


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"moved": ("WIN.1",)}, "moved"),
        ({"refed": ("WIN.1",)}, "refed"),
        ({"cost": 1}, "cost"),
        ({"bound": 7}, "bound 7"),
    ],
)
def test_what_the_answer_says_of_itself_is_counted_again(wrong: dict[str, object], says: str) -> None:
    problem, answer = an_overloaded_output()
    assert says in faults(problem, replace(answer, **wrong))[0]  # type: ignore[arg-type]


def test_a_block_on_two_rows_is_told() -> None:
    both = a_block("SGN", runs=(a_run("SGN.1", 30), a_run("SGN.2", 30)))
    problem = a_problem((both,))
    feeds = tuple(Feed(f"SGN.{n}", "S96-01", 1, "D4-01", n, 1) for n in (1, 2))
    assert "split" in told(problem, an_answer(problem, feeds, cost=1500))
    assert faults(problem, an_answer(problem, feeds, cost=1500, split=("SGN",))) == []


@pytest.mark.parametrize("current_a", [2.0, 2.4, 2.401])
def test_the_limits_of_the_house_say_of_a_channel_what_the_rules_of_feeding_say(current_a: float) -> None:
    """One run on a channel of 2.4 A: at the limit both are content, a milliampere over both are not."""
    problem = a_problem((a_block("ONE", current_a * 24),))
    answer = an_answer(problem, (Feed("ONE.1", "S96-01", 1, "D4-01", 1, 1),), cost=1500)

    codes = {finding.code for finding in over_limits(problem, answer)}

    assert codes == ({"channel-amps"} if current_a > 2.4 else set())
    assert bool(faults(problem, answer)) == bool(codes)


def test_the_limits_of_the_house_know_an_output_a_supply_and_a_bank_that_carry_too_much() -> None:
    problem, answer = an_overloaded_output(mend=True)

    assert {f.code for f in over_limits(problem, answer)} == {"output-amps", "supply-watts"}


def test_a_source_above_what_a_decoder_takes_is_told_by_both() -> None:
    """25.6 V in the 24 V class, and a decoder that takes 24 V at most."""
    pack = replace(a_supply_model("B256"), output_mv=25_600)
    problem = a_problem((a_block("ONE", 10),), ((pack, 1),), ((a_decoder_model("D24"), 1),))
    answer = an_answer(problem, (Feed("ONE.1", "B256-01", 1, "D24-01", 1, 1),), cost=1500)

    assert {f.code for f in over_limits(problem, answer)} == {"decoder-volts"}
    assert faults(problem, answer) == ["ONE.1: 25600 mV is outside what D24-01 takes"]
