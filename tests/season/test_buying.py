"""What to order by when, and whether to hire instead, beside trying every number of things."""

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.season.buying import Choice, Hire, Terms, buy_or_hire, order_by, order_quantity, weeks
from service.season.lines import FAR, Need, Step, step_line

START = date(2027, 1, 4)


def on(day: int) -> date:
    return START + timedelta(days=day)


def short_of(*needs: tuple[int, int, int]) -> Sequence[Step]:
    """A line short of so many from one day up to another."""
    return step_line([Need(f"S{n}", on(a), on(b), k) for n, (k, a, b) in enumerate(needs)], [], START)


@given(
    st.lists(st.tuples(st.integers(1, 3), st.integers(0, 30), st.integers(1, 60)), max_size=4),
    st.integers(1, 40),
    st.integers(1, 12),
    st.integers(1, 3),
    st.integers(1, 5),
)
def test_no_other_number_bought_is_cheaper(
    stretches: list[tuple[int, int, int]], price: int, weekly: int, pack: int, least: int
) -> None:
    line = short_of(*((k, a, a + length) for k, a, length in stretches))
    short = {on(n): s.short for n in range(100) for s in line if s.from_on <= on(n) < s.until_on}
    worst = max(short.values(), default=0)

    def costs(bought: int) -> int:
        """Each further thing is hired for every stretch of days on which it is missing, week by week."""
        packs = -(-max(bought, least) // pack) * pack if bought else 0
        paid = packs * price
        for level in range(bought + 1, worst + 1):
            days = 0
            for n in range(101):
                if short.get(on(n), 0) >= level:
                    days += 1
                else:
                    paid += -(-days // 7) * weekly
                    days = 0
        return paid

    terms = Terms(price=Decimal(price), pack=pack, least=least, hire_price_per_week=Decimal(weekly))
    found = buy_or_hire(line, terms)
    assert found.cost == min(costs(n) for n in range(worst + 1))
    assert found.cost == costs(found.buy)
    assert found.all_bought == costs(worst)
    assert found.all_hired == costs(0)
    for day, missing in short.items():
        hired = sum(hire.quantity for hire in found.hires if hire.from_on <= day < hire.until_on)
        assert found.buy + hired >= missing


def test_what_is_short_for_a_fortnight_is_hired_and_what_is_short_for_a_quarter_bought() -> None:
    """Two are missing for 12 weeks, two more for two of them: hire 2 x 2 x 20, buy 2 x 150."""
    line = short_of((2, 0, 84), (2, 14, 28))

    found = buy_or_hire(line, Terms(price=Decimal(150), hire_price_per_week=Decimal(20)))
    assert found == Choice(
        2, (Hire(2, on(14), on(28), Decimal(80)),), Decimal(380), Decimal(600), Decimal(560)
    )


def test_what_is_short_for_good_is_never_hired_for_good() -> None:
    line = step_line([Need("ICE", START, FAR, 2)], [], START)

    found = buy_or_hire(line, Terms(price=Decimal(150), hire_price_per_week=Decimal(1)))
    assert (found.buy, found.hires, found.cost, found.all_hired) == (2, (), Decimal(300), None)


@pytest.mark.parametrize(
    ("terms", "cost"),
    [
        (Terms(), None),
        (Terms(price=Decimal(10)), Decimal(30)),
        (Terms(hire_price_per_week=Decimal(1)), None),
    ],
    ids=["no price at all", "no hire", "no price"],
)
def test_without_both_prices_all_are_bought_and_an_unknown_price_is_not_nothing(
    terms: Terms, cost: Decimal | None
) -> None:
    found = buy_or_hire(short_of((3, 0, 7)), terms)

    assert (found.buy, found.hires, found.cost) == (3, (), cost)


def test_a_week_begun_is_a_week() -> None:
    assert [weeks(START, on(n)) for n in (1, 7, 8, 14)] == [1, 1, 2, 2]


def test_the_last_day_to_order_leaves_time_to_deliver_and_to_receive() -> None:
    assert order_by(date(2027, 1, 4), 21, 3) == date(2026, 12, 11)
    assert order_by(date(2027, 1, 4), None, 3) is None


@pytest.mark.parametrize(
    ("needed", "pack", "least", "ordered"),
    [(1, None, None, 1), (6, 5, None, 10), (5, 5, None, 5), (2, None, 6, 6), (7, 4, 10, 12), (0, 5, 10, 0)],
)
def test_whole_packs_and_no_less_than_the_shop_sells(
    needed: int, pack: int | None, least: int | None, ordered: int
) -> None:
    assert order_quantity(needed, pack, least) == ordered
