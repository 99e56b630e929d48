"""What to order so that no show is short: pieces to be bought or hired, and reels counted cut by cut."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy.orm import Session

from service.planning.season.ordering import read_orders
from service.planning.season.reels import suggested_orders
from service.planning.season.schemas import OrderOut
from service.season.records import Production
from service.stock.records import PolicyRow
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage

FIRST, LAST = date(2027, 1, 4), date(2027, 3, 28)  # 12 weeks
WIN: dict[str, Any] = {
    "build_start": FIRST, "load_in": FIRST, "closing": LAST, "strike_end": LAST, "return_by": LAST,
}  # fmt: skip


@pytest.fixture
def stage(session: Session) -> Stage:
    """Two supplies; WIN begins in 40 days and may not begin later."""
    return a_stage(session, supplies=2, **WIN)


def wants(
    session: Session, stage: Stage, quantity: int, show: Production | None = None, **days: date
) -> None:
    build.a_hold(session, show or stage.show, model_id=stage.supply_model.id, quantity=quantity, **days)


def sold(stage: Stage, **terms: Any) -> None:
    for name, value in terms.items():
        assert getattr(stage.supply_model, name) is None
        setattr(stage.supply_model, name, value)


def orders(session: Session) -> list[OrderOut]:
    session.flush()
    return suggested_orders(read_orders(session, TODAY))


def test_what_is_enough_is_not_ordered(session: Session, stage: Stage) -> None:
    wants(session, stage, 2)

    assert orders(session) == []


def test_what_is_short_is_ordered_a_lead_time_and_three_days_before(session: Session, stage: Stage) -> None:
    wants(session, stage, 7)
    sold(stage, lead_days=14, price=Decimal("61.50"))

    [row] = orders(session)
    assert (row.act, row.item, row.quantity, row.cost) == ("buy", "S320", 5, 307.5)
    assert (row.order_by, row.late_days, row.comes_on) == (date(2026, 12, 18), 0, date(2026, 12, 12))
    assert (row.wanted, row.usable, row.short, row.wanted_by) == (7.0, 2.0, 5.0, ["WIN"])


def test_the_house_may_take_longer_to_receive(session: Session, stage: Stage) -> None:
    wants(session, stage, 3)
    sold(stage, lead_days=14)
    session.add(PolicyRow(name="receiving_days", value="10"))

    assert orders(session)[0].order_by == date(2026, 12, 11)


def test_packs_and_the_least_a_shop_sells_are_counted_and_paid(session: Session, stage: Stage) -> None:
    wants(session, stage, 7)
    sold(stage, pack_quantity=4, price=Decimal(10))

    [row] = orders(session)
    assert (row.quantity, row.packs, row.cost) == (8, 2, 80.0)


def test_what_nobody_entered_is_said_and_never_taken_for_nothing(session: Session, stage: Stage) -> None:
    wants(session, stage, 3)

    [row] = orders(session)
    assert (row.order_by, row.late_days, row.comes_on, row.cost) == (None, None, None, None)
    assert row.unknown == "lead time, price, hire price"


def test_an_order_that_comes_while_it_is_short_is_late_and_says_by_how_many_days(
    session: Session, stage: Stage
) -> None:
    wants(session, stage, 3)
    sold(stage, lead_days=40)

    [row] = orders(session)
    assert (row.act, row.quantity, row.late_days, row.order_by) == ("buy", 1, 3, date(2026, 11, 22))


def test_an_order_that_comes_when_the_shortage_is_over_is_not_made(session: Session, stage: Stage) -> None:
    wants(session, stage, 3)
    sold(stage, lead_days=200)

    [row] = orders(session)
    assert (row.act, row.quantity, row.late_days, row.cost) == ("too late", 0, 163, None)


@pytest.mark.parametrize("lead_days", [14, 200])
def test_what_an_overdue_unit_would_end_says_to_take_it_back_instead(
    session: Session, stage: Stage, lead_days: int
) -> None:
    wants(session, stage, 2)
    late = build.a_production(session, stage.venue, tag="LATE")
    build.a_hold(
        session, late, unit_id=stage.supplies[1].id, quantity=1, from_on=date(2026, 9, 8),
        until_on=date(2026, 11, 4),
    )  # fmt: skip
    sold(stage, lead_days=lead_days)

    assert [row.instead for row in orders(session)] == ["take PS-2 back from LATE"]


def test_a_short_peak_is_hired_and_what_lasts_is_bought(session: Session, stage: Stage) -> None:
    """Two are missing for twelve weeks, two more for two: 150 to buy, 20 a week to hire."""
    wants(session, stage, 4)
    peak = {"from_on": date(2027, 1, 18), "until_on": date(2027, 2, 1)}
    wants(session, stage, 2, build.a_production(session, stage.venue, tag="ICE"), **peak)
    sold(stage, lead_days=14, price=Decimal(150), hire_price_per_week=Decimal(20), hire_lead_days=2)

    rows = {row.act: row for row in orders(session)}
    bought, hired = rows["buy"], rows["hire"]
    assert (bought.quantity, bought.cost, bought.order_by) == (2, 300.0, date(2026, 12, 18))
    assert (hired.quantity, hired.hire_weeks, hired.cost, hired.order_by) == (2, 2, 80.0, date(2027, 1, 13))
    assert (hired.needed_from, hired.needed_to) == (date(2027, 1, 18), date(2027, 1, 31))
    assert hired.instead == "all bought: 600.00"


def test_what_is_on_order_in_time_is_not_ordered_again(session: Session, stage: Stage) -> None:
    wants(session, stage, 5)
    build.an_order_line(session, model_id=stage.supply_model.id, quantity=2, due_on=FIRST)

    assert [(row.quantity, row.due_in) for row in orders(session)] == [(1, 2.0)]


@pytest.mark.parametrize(
    ("due_on", "said"),
    [(date(2026, 11, 18), "2 on PO-1 are late since 2026-11-18 and not counted"),
     (None, "2 on PO-1 have no day and are not counted"), (FIRST, None)],
)  # fmt: skip
@pytest.mark.parametrize("of", ["gear", "drawn", "metres"])
def test_what_is_late_and_would_be_ordered_twice_is_named(
    session: Session, stage: Stage, of: str, due_on: date | None, said: str | None
) -> None:
    """Four pieces want four reels; metres alone two and a half."""
    if of == "gear":
        wants(session, stage, 7)
        what = {"model_id": stage.supply_model.id}
    else:
        what = {"tape_id": stage.tape.id}
        if of == "drawn":
            tape(session, stage, 60, 60, 60, 60)
        else:
            build.a_hold(session, stage.show, tape_id=stage.tape.id, pitches=250)
    build.an_order_line(session, **what, quantity=2, due_on=due_on, order_number="PO-1")

    assert [row.late_orders for row in orders(session)] == [[said] if said else []]


def tape(session: Session, stage: Stage, *lengths: int, **given: Any) -> None:
    """Pieces of so many pitches of 50 mm, on reels of 100."""
    show = given.pop("show", stage.show)
    for n, pitches in enumerate(lengths):
        build.an_element(session, show, tag=f"{show.tag}-{n}", tape=stage.tape, runs=((pitches,),), **given)


def test_reels_are_counted_in_pieces_and_not_in_metres(session: Session, stage: Stage) -> None:
    """Three pieces of 3 m are 9 m, less than two reels of 5 m, and want three; the spare is a fourth."""
    build.a_reel(session, stage.tape)
    build.a_reel(session, stage.tape)
    tape(session, stage, 60, 60, 60)
    stage.tape.lead_days, stage.tape.price = 21, Decimal(84)

    [row] = orders(session)
    assert (row.item, row.short, row.least_reels) == ("T-RGBW", 0.0, 1)
    assert (row.quantity, row.spare, row.cost) == (2, 1, 168.0)
    assert (row.order_by, row.wanted, row.usable) == (date(2026, 12, 11), 9.0, 10.0)


def test_the_spare_is_not_bought_where_what_is_left_yields_it(session: Session, stage: Stage) -> None:
    build.a_reel(session, stage.tape)
    build.a_reel(session, stage.tape)
    tape(session, stage, 60)

    assert orders(session) == []


def test_the_first_show_that_would_be_without_says_when(session: Session, stage: Stage) -> None:
    """ICE begins a week before and takes the reel; WIN is the one without. Alone, ICE says when."""
    early = FIRST - timedelta(days=7)
    ice = build.a_production(session, stage.venue, tag="ICE", **WIN | {"build_start": early})
    build.a_reel(session, stage.tape)
    build.a_reel(session, stage.tape, lot="L2")
    tape(session, stage, 90, 90)
    tape(session, stage, 80, show=ice)
    stage.tape.lead_days = 21

    [row] = orders(session)
    assert (row.needed_from, row.order_by) == (FIRST, date(2026, 12, 11))
    assert row.order_by_alone == date(2026, 12, 4)


def test_reels_on_order_count_if_they_come_in_time(session: Session, stage: Stage) -> None:
    tape(session, stage, 90, 90)
    build.an_order_line(session, tape_id=stage.tape.id, quantity=1, reel_pitches=100, due_on=FIRST)

    [row] = orders(session)
    assert (row.least_reels, row.quantity, row.spare) == (2, 2, 1)


def test_tape_that_is_held_and_not_drawn_is_counted_in_whole_lengths(session: Session, stage: Stage) -> None:
    """12 m held beyond the one piece of 1 m that is drawn: 5, 5 and 2 m, and 1 m: three reels."""
    tape(session, stage, 20)
    build.a_hold(session, stage.show, tape_id=stage.tape.id, pitches=260)

    [row] = orders(session)
    assert (row.wanted, row.least_reels, row.quantity, row.spare) == (13.0, 3, 4, 1)


def test_tape_of_which_nothing_is_drawn_is_counted_in_metres(session: Session, stage: Stage) -> None:
    build.a_hold(session, stage.show, tape_id=stage.tape.id, pitches=260)

    [row] = orders(session)
    assert (row.quantity, row.short, row.unknown) == (3, 13.0, "lead time, price")


def test_tape_without_a_length_of_reel_says_so(session: Session, stage: Stage) -> None:
    stage.tape.reel_pitches = None
    tape(session, stage, 20)

    [row] = orders(session)
    assert (row.quantity, row.short, row.cost) == (0, 1.0, None)
    assert "length of a reel" in row.unknown
