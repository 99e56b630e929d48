"""The cheapest move of dates, beside trying every day of every show."""

from collections.abc import Sequence
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.season.lines import FAR, Need, Shortage, Stock, shortages, step_line
from service.season.moves import Case, Move, Window, cheapest_move, moved

START = date(2027, 1, 1)
TODAY = START - timedelta(days=1)


def on(day: int) -> date:
    return START + timedelta(days=day)


@st.composite
def _shows(draw: st.DrawFn) -> tuple[list[Need], dict[str, Window]]:
    needs, windows = [], {}
    for who in "ABC":
        first = draw(st.integers(-3, 12))
        load_in = first + draw(st.integers(0, 6))
        strike = load_in + draw(st.integers(0, 6))
        last = strike + draw(st.integers(0, 6))
        windows[who] = Window(who, on(first), on(last), on(load_in), on(strike))
        needs.append(Need(who, on(first), on(last + 1), draw(st.integers(0, 4)), draw(st.integers(0, 2))))
        if draw(st.booleans()):
            own = on(first + draw(st.integers(0, 1))), on(last + draw(st.integers(1, 2)))
            needs.append(Need(who, *own, draw(st.integers(0, 2))))
    return needs, windows


def short_days(needs: Sequence[Need], stock: Stock) -> dict[date, int]:
    line = step_line(needs, [stock], START)
    return {
        on(n): step.short
        for n in range(45)
        for step in line
        if step.from_on <= on(n) < step.until_on and step.short
    }


def worst_of(shorts: Sequence[Shortage], after: dict[date, int]) -> int:
    """The most that each is then short of, over all of them."""
    return sum(
        max([0, *(left for day, left in after.items() if one.from_on <= day < (one.clears_on or FAR))])
        for one in shorts
    )


def every_move(windows: dict[str, Window]) -> list[Move]:
    """Each day by which each show may move to each side."""
    found = []
    for who, window in windows.items():
        for n in range(1, 40):
            later = window.needed_from + timedelta(days=n)
            if window.needed_from > TODAY and later <= window.load_in:
                found.append(Move(who, n, later, None))
            sooner = window.needed_to - timedelta(days=n)
            if sooner >= max(window.strike_end, TODAY):
                found.append(Move(who, n, None, sooner))
    return found


@settings(max_examples=300)
@given(_shows(), st.integers(0, 6))
def test_no_move_by_fewer_days_removes_them_or_leaves_less(
    shows: tuple[list[Need], dict[str, Window]], sound: int
) -> None:
    needs, windows = shows
    stock = Stock(START, sound=sound)
    shorts = shortages(step_line(needs, [stock], START))
    if not shorts:
        return
    tried = []
    for move in every_move(windows):
        after = short_days(moved(needs, windows[move.who], move.needed_from, move.needed_to), stock)
        if worst_of(shorts, after) < sum(short.worst for short in shorts):
            start = windows[move.who].needed_from.toordinal() * -1
            tried.append((bool(after), worst_of(shorts, after), move.days, start))

    found = cheapest_move([Case(one, tuple(needs)) for one in shorts], windows, TODAY)
    if not tried:
        assert found is None
        return
    assert found is not None
    after = short_days(moved(needs, windows[found.who], found.needed_from, found.needed_to), stock)
    assert bool(found.remains) == bool(after)
    assert sum(one.short_days for one in found.remains) == len(after)
    worst = sum(one.worst for one in found.remains)
    start = windows[found.who].needed_from.toordinal() * -1
    assert (bool(after), worst, found.days, start) == min(tried)


def window(who: str, needed_from: str, load_in: str, strike_end: str, needed_to: str) -> Window:
    days = (date.fromisoformat(day) for day in (needed_from, needed_to, load_in, strike_end))
    return Window(who, *days)


# A show that runs to the 19th and one whose gear is wanted from the 4th, load-in on the 25th.
FIRST = window("OLD", "2026-11-09", "2026-11-09", "2027-01-12", "2027-01-19")
SECOND = window("NEW", "2027-01-04", "2027-01-25", "2027-03-30", "2027-04-06")


def both_want(old: int, new: int, sound: int) -> tuple[Case, ...]:
    needs = [
        Need("OLD", FIRST.needed_from, date(2027, 1, 20), old),
        Need("NEW", SECOND.needed_from, date(2027, 4, 7), new),
    ]
    found = shortages(step_line(needs, [Stock(START, sound=sound)], START))
    return tuple(Case(short, tuple(needs)) for short in found)


def test_the_later_show_waits_until_the_gear_is_back() -> None:
    move = cheapest_move(both_want(8, 11, 12), {"OLD": FIRST, "NEW": SECOND}, TODAY)

    assert move == Move("NEW", 16, date(2027, 1, 20), None)


def test_a_show_that_would_miss_its_load_in_does_not_move_past_it() -> None:
    early = window("NEW", "2027-01-04", "2027-01-10", "2027-03-30", "2027-04-06")

    assert cheapest_move(both_want(8, 11, 12), {"OLD": FIRST, "NEW": early}, TODAY) is None


def test_what_remains_with_the_move_is_said() -> None:
    """NEW alone wants one more than there is."""
    move = cheapest_move(both_want(8, 13, 12), {"OLD": FIRST, "NEW": SECOND}, TODAY)

    assert move is not None
    assert (move.who, move.needed_from, move.days) == ("NEW", date(2027, 1, 20), 16)
    [left] = move.remains
    assert (left.worst, left.from_on, left.clears_on, left.short_days) == (
        1, date(2027, 1, 20), date(2027, 4, 7), 77,
    )  # fmt: skip


def test_what_has_days_of_its_own_does_not_move_with_its_show() -> None:
    """Eleven are held from the 4th as the show is, or from the day before it."""
    needs = [
        Need("OLD", FIRST.needed_from, date(2027, 1, 20), 8),
        Need("NEW", date(2027, 1, 3), date(2027, 4, 7), 11),
    ]
    [short] = shortages(step_line(needs, [Stock(START, sound=12)], START))

    assert cheapest_move([Case(short, tuple(needs))], {"NEW": SECOND}, TODAY) is None


def test_what_is_wanted_to_a_day_of_its_own_does_not_come_back_sooner() -> None:
    needs = [Need("OLD", FIRST.needed_from, date(2027, 1, 20), 8), Need("OLD", START, date(2027, 1, 19), 1)]

    assert moved(needs, FIRST, None, date(2027, 1, 12)) == (
        Need("OLD", FIRST.needed_from, date(2027, 1, 13), 8), Need("OLD", START, date(2027, 1, 19), 1),
    )  # fmt: skip


def test_what_one_show_wants_alone_beyond_what_there_is_no_date_mends() -> None:
    whole = window("NEW", "2027-01-04", "2027-01-04", "2027-04-06", "2027-04-06")

    assert cheapest_move(both_want(0, 5, 4), {"NEW": whole}, TODAY) is None


def test_a_show_that_has_begun_does_not_begin_later() -> None:
    begun = date(2027, 1, 4)

    move = cheapest_move(both_want(8, 11, 12), {"NEW": SECOND}, begun)
    assert move is None


def test_tape_is_used_up_so_that_no_show_brings_it_back_sooner() -> None:
    shorts = both_want(8, 11, 12)
    struck = window("OLD", "2026-11-09", "2026-11-09", "2027-01-02", "2027-01-19")

    assert cheapest_move(shorts, {"OLD": struck}, TODAY) == Move("OLD", 16, None, date(2027, 1, 3))
    assert cheapest_move(shorts, {"OLD": struck}, TODAY, is_lent=False) is None


@pytest.mark.parametrize("sound", [11, 12])
def test_one_move_removes_what_several_things_are_short_of(sound: int) -> None:
    shorts = (*both_want(8, 11, 12), *both_want(4, 4, 5), *both_want(1, 11, sound - 1))

    move = cheapest_move(shorts, {"OLD": FIRST, "NEW": SECOND}, TODAY)
    assert move is not None
    assert [one.number for one in move.remains] == ([] if sound == 12 else [2])
