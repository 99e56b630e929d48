"""The line of one thing through time, beside counting it day by day."""

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from service.season.lines import FAR, Need, Step, Stock, least_free, shortages, step_line

START = date(2027, 1, 1)
DAYS = 24
_day = st.integers(-3, DAYS + 3).map(lambda n: START + timedelta(days=n))
_span = st.tuples(_day, _day).map(sorted)
_few = st.integers(0, 4)
_needs = st.lists(
    st.builds(
        lambda who, span, promised, used: Need(who, span[0], span[1], promised, used),
        st.sampled_from("ABC"), _span, _few, _few,
    ),
    max_size=7,
)  # fmt: skip
_stocks = st.lists(
    st.builds(
        lambda span, figures: Stock(span[0], span[1], *figures), _span, st.tuples(*[st.integers(0, 3)] * 6)
    ),
    max_size=5,
)


def day_by_day(needs: Sequence[Need], stocks: Sequence[Stock], day: date) -> dict[str, object]:
    """Everything about one day, counted from nothing."""
    wanted = {}
    for who in {need.who for need in needs}:
        mine = [n for n in needs if n.who == who and n.from_on <= day < n.until_on]
        most = max(sum(n.promised for n in mine), sum(n.used for n in mine))
        if most:
            wanted[who] = most
    here = [s for s in stocks if s.from_on <= day < s.until_on]
    sound, late = sum(s.sound for s in here), sum(s.late for s in here)
    usable = sound - late + sum(s.recovered for s in here)
    left = usable + sum(s.due for s in here) - sum(wanted.values())
    return {
        "owned": sum(s.owned for s in here),
        "wanted_by": tuple(sorted(wanted.items())),
        "free": max(0, left),
        "short": max(0, -left),
        "short_undelivered": max(0, sum(wanted.values()) - usable),
        "short_if_back": max(0, -left - late),
    }


def of_day(line: Sequence[Step], day: date) -> Step:
    [step] = [step for step in line if step.from_on <= day < step.until_on]
    return step


@given(_needs, _stocks)
def test_the_line_says_of_every_day_what_counting_that_day_says(
    needs: list[Need], stocks: list[Stock]
) -> None:
    line = step_line(needs, stocks, START, START + timedelta(days=DAYS))

    for n in range(DAYS):
        day = START + timedelta(days=n)
        counted = day_by_day(needs, stocks, day)
        assert {name: getattr(of_day(line, day), name) for name in counted} == counted


@given(_needs, _stocks)
def test_steps_follow_one_another_and_no_two_neighbours_are_alike(
    needs: list[Need], stocks: list[Stock]
) -> None:
    line = step_line(needs, stocks, START)

    assert (line[0].from_on, line[-1].until_on) == (START, FAR)
    for before, after in pairwise(line):
        assert before.until_on == after.from_on
        assert before[2:] != after[2:]


@given(_needs, _stocks)
def test_a_shortage_is_every_day_on_which_more_is_wanted_than_there_is(
    needs: list[Need], stocks: list[Stock]
) -> None:
    found = shortages(step_line(needs, stocks, START))

    short = {}
    for n in range(DAYS + 10):
        day = START + timedelta(days=n)
        short[day] = day_by_day(needs, stocks, day)["short"]
    inside = {day for one in found for day in short if one.from_on <= day < (one.clears_on or FAR)}
    assert inside == {day for day, quantity in short.items() if quantity}
    for one in found:
        of_it = [short[day] for day in short if one.from_on <= day < (one.clears_on or FAR)]
        assert one.worst == max(of_it)  # type: ignore[type-var]
        assert short[one.worst_on] == one.worst
        assert all(short[day] != one.worst for day in short if one.from_on <= day < one.worst_on)


def test_what_is_held_and_what_is_used_are_never_added() -> None:
    """ICE holds three and its plan uses two; FOG holds one and uses two: three and two are wanted."""
    end = START + timedelta(days=9)
    needs = [Need("ICE", START, end, 3, 2), Need("FOG", START, end, 1, 2)]

    [step] = step_line(needs, [Stock(START, sound=4)], START, end)
    assert (step.wanted_by, step.short) == ((("FOG", 2), ("ICE", 3)), 1)


def test_a_unit_wanted_again_on_the_day_after_it_is_back_is_not_wanted_twice() -> None:
    back = date(2027, 1, 10)
    needs = [Need("ICE", START, back, 1), Need("FOG", back, date(2027, 1, 20), 1)]

    assert shortages(step_line(needs, [Stock(START, sound=1)], START)) == ()


def test_a_shortage_that_never_ends_does_not_clear() -> None:
    [short] = shortages(step_line([Need("ICE", date(2027, 1, 4), FAR, 40)], [Stock(START, sound=36)], START))

    assert (short.from_on, short.worst, short.clears_on) == (date(2027, 1, 4), 4, None)


def test_what_comes_later_in_the_line_does_not_make_a_span_worse_than_it_is() -> None:
    """Short of one until the tenth, of three from then to the twentieth: asked up to the tenth, of one."""
    needs = [Need("ICE", START, date(2027, 1, 20), 1), Need("FOG", date(2027, 1, 10), date(2027, 1, 20), 2)]

    [short] = shortages(step_line(needs, [], START), date(2027, 1, 10))
    assert (short.worst, short.clears_on) == (1, date(2027, 1, 20))


def test_the_least_to_spare_is_found_on_its_first_day() -> None:
    needs = [Need("ICE", date(2027, 1, 5), date(2027, 1, 9), 2), Need("FOG", date(2027, 1, 20), FAR, 2)]

    assert least_free(step_line(needs, [Stock(START, sound=3)], START)).from_on == date(2027, 1, 5)


def test_no_days_are_no_line() -> None:
    assert step_line([Need("ICE", START, FAR, 1)], [], START, START) == ()
