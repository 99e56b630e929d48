"""Deliveries in sheets and out of them, and undone while nothing of them was used."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import BadValues, InUse
from service.kinds import actions
from service.kinds.receiving.deliveries import DELIVERIES
from service.kinds.receiving.joins import REEL_JOINS
from service.kinds.sheets.gear import SUPPLIES
from service.kinds.sheets.season import ORDERS
from service.season.receiving.actions import receive
from service.season.receiving.schemas import DeliveryAsk
from service.season.records import Delivery, OrderLine
from service.shows.ledger import doing
from service.shows.ledger.doing import Doer
from service.shows.ledger.schemas import Act, BackAsk, CutAsk
from service.stock.gear import Unit, UnitState
from service.stock.records import Cut, Reel, Tape
from service.store.listing import one
from service.store.work import Store
from tests import builders as build
from tests.kinds.hands import HAND, changed, made, retired


@pytest.fixture
def came(store: Store) -> Store:
    """DN-1: two reels of T-50 and two supplies of the model S320, of two lines of PO-1."""
    with store.writing("gate") as session:
        tape, model = build.a_tape(session, tag="T-50"), build.a_supply_model(session, tag="S320")
        for number, of in ((1, {"tape_id": tape.id, "model_id": None}), (2, {"model_id": model.id})):
            given: dict[str, Any] = {"order_number": "PO-1", "line": number, "quantity": 2, **of}
            build.an_order_line(session, **given)
            ask = DeliveryAsk(number="DN-1", order="PO-1", line=number, quantity=2, lot="A")
            receive(session, ask, "gate", HAND.today)
    return store


def delivery(session: Session, line: int) -> int:
    return session.scalars(
        select(Delivery.id).join(OrderLine, Delivery.line_id == OrderLine.id).where(OrderLine.line == line)
    ).one()


def test_a_delivery_is_listed_with_what_came(came: Store) -> None:
    with came.reading() as session:
        assert DELIVERIES.listing is not None
        row, _ = one(session, DELIVERIES.listing, delivery(session, 1))
        units, _ = one(session, DELIVERIES.listing, delivery(session, 2))
    assert (row["number"], row["order_number"], row["what"], row["quantity"]) == ("DN-1", "PO-1", "T-50", 2)
    assert ([r["tag"] for r in row["reels"]], row["units"]) == (["R-01", "R-02"], [])
    assert ([u["tag"] for u in units["units"]], units["lot"]) == (["PS-01", "PS-02"], "")


def test_reels_that_were_not_touched_go_again_and_their_ledger_says_why(came: Store) -> None:
    with came.writing("gate") as session:
        retired(session, DELIVERIES, delivery(session, 1))
    with came.reading() as session:
        reels = session.scalars(select(Reel).order_by(Reel.id)).all()
        assert [(r.left_pitches, r.retired_on, r.delivery_id) for r in reels] == [(0, HAND.today, None)] * 2
        rows = session.scalars(select(Cut).where(Cut.number.is_not(None))).all()
        assert [(row.change_pitches, row.note) for row in rows] == [(-100, "delivery DN-1 undone")] * 2
        line = session.scalars(select(OrderLine).where(OrderLine.line == 1)).one()
        assert (line.received_quantity, line.received_on) == (0, None)
    with came.writing("gate") as session:  # and what really came may come under the same note
        ask = DeliveryAsk(number="DN-1", order="PO-1", line=1, quantity=1)
        receive(session, ask, "gate", HAND.today)
        assert session.scalars(select(Reel.tag).where(Reel.delivery_id.is_not(None))).all() == ["R-03"]


def test_a_reel_of_which_every_cut_was_taken_back_goes_again(came: Store) -> None:
    doer = Doer("bench", HAND.today)
    with came.writing("bench") as session:
        for number in ("K-001", "K-003"):
            doing.cut(session, "R-02", CutAsk(length_m=0.5), doer)
            with pytest.raises(InUse, match="R-02 came with it and is open"):
                retired(session, DELIVERIES, delivery(session, 1))
            doing.take_back(session, number, BackAsk(), doer)
    with came.writing("gate") as session:
        retired(session, DELIVERIES, delivery(session, 1))
    with came.reading() as session:
        assert session.scalars(select(Reel.left_pitches).where(Reel.retired_on.is_not(None))).all() == [0, 0]
        changes = session.scalars(
            select(Cut.change_pitches).join(Reel).where(Reel.tag == "R-02").order_by(Cut.id)
        ).all()
        assert changes == [100, -10, 10, -10, 10, -100]


def test_units_that_were_not_touched_go_again(came: Store) -> None:
    with came.writing("gate") as session:
        retired(session, DELIVERIES, delivery(session, 2))
        units = session.scalars(select(Unit)).all()
        assert {(u.state, u.retired_on, u.state_note) for u in units} == {
            (UnitState.RETIRED, HAND.today, "delivery DN-1 undone")
        }


def a_cut(session: Session) -> None:
    doing.cut(session, "R-02", CutAsk(length_m=0.5), Doer("bench", HAND.today))


def an_opening(session: Session) -> None:
    doing.open_reel(session, "R-01", Act(), Doer("bench", HAND.today))


def a_promise(session: Session) -> None:
    reel = session.scalars(select(Reel.id).where(Reel.tag == "R-01")).one()
    build.a_hold(session, build.a_production(session), reel_id=reel, pitches=4, quantity=None, until_on=None)


def a_joint(session: Session) -> None:
    made(session, REEL_JOINS, reel="R-01", from_hub_m=2.5)


@pytest.mark.parametrize(
    ("use", "why"),
    [
        (a_cut, "R-02 came with it and is open"),
        (an_opening, "R-01 came with it and is open"),
        (a_promise, "what came with it is referred to by 1 hold"),
        (a_joint, "what came with it is referred to by 1 reel join"),
    ],
)
def test_what_was_used_stays(came: Store, use: Callable[[Session], None], why: str) -> None:
    with came.writing("bench") as session:
        use(session)
    with pytest.raises(InUse, match=why) as refusal, came.writing("gate") as session:
        retired(session, DELIVERIES, delivery(session, 1))
    assert refusal.value.mend
    with came.reading() as session:
        assert session.scalars(select(Reel.retired_on)).all() == [None, None]


def test_a_promised_unit_stays(came: Store) -> None:
    with came.writing("office") as session:
        unit = session.scalars(select(Unit.id).where(Unit.tag == "PS-02")).one()
        build.a_hold(session, build.a_production(session), unit_id=unit, quantity=1)
        with pytest.raises(InUse, match="1 hold"):
            retired(session, DELIVERIES, delivery(session, 2))


def test_a_joint_lies_on_the_reel_at_whole_pitches(came: Store) -> None:
    with came.writing("bench") as session:
        row = made(session, REEL_JOINS, reel="R-01", from_hub_m=2.5)
        assert (row["from_hub_pitches"], row["kind"], row["is_there"]) == (50, "factory", True)
        for metres, why in (
            (5.0, "R-01 is 5000 mm long and does not reach 5000 mm"),
            (2.52, "2520 mm is not a whole number of 50 mm cut pitches of T-50"),
            (2.5, "this reel join is already in the store"),
        ):
            with pytest.raises(BadValues, match=why):
                made(session, REEL_JOINS, reel="R-01", from_hub_m=metres)
        doing.cut(session, "R-01", CutAsk(length_m=2.5), Doer("bench", HAND.today))
        assert REEL_JOINS.listing is not None
        assert one(session, REEL_JOINS.listing, row["id"])[0]["is_there"] is False


def test_an_order_says_how_much_of_it_has_come(store: Store) -> None:
    with store.writing("office") as session:
        build.a_supply_model(session, tag="S320")
        row = made(session, ORDERS, order_number="PO-1", line=1, what="S320", quantity=3)
        assert (row["received_quantity"], row["is_hire"]) == (0, False)
        row = changed(session, ORDERS, row["id"], received_on="2026-11-20")
        assert row["received_quantity"] == 3
        hire = {"hire_from": "2026-12-01", "hire_to": "2026-12-01", "is_hire": None}
        row = changed(session, ORDERS, row["id"], received_on=None, received_quantity=2, **hire)
        assert (row["received_quantity"], row["is_hire"]) == (2, True)
        assert (row["hire_from"], row["hire_to"]) == (date(2026, 12, 1), date(2026, 12, 1))
        for values, why in (
            ({"received_quantity": 4}, "4 came of 3 ordered"),
            ({"hire_to": "2026-11-30"}, "the hire ends on 2026-11-30, before it begins on 2026-12-01"),
            ({"is_hire": False}, "it has days of hire and is said to be bought"),
            ({"hire_to": None}, "it is a hire, and its last day is not said"),
            ({"is_hire": True, "hire_from": None}, "it is a hire, and its first day is not said"),
        ):
            with pytest.raises(BadValues, match=why):
                changed(session, ORDERS, row["id"], **values)


def test_a_hired_unit_is_here_on_its_days(store: Store) -> None:
    with store.writing("office") as session:
        build.a_supply_model(session, tag="S320")
        build.a_place(session, tag="PERCH")
        hire = {"hired_from": "2026-12-01", "hired_to": "2026-12-20"}
        row = made(session, SUPPLIES, tag="PS-1", model="S320", seen_at="perch", seen_on="2026-12-02", **hire)
        assert (row["hired_to"], row["seen_at"]) == (date(2026, 12, 20), "PERCH")
        assert session.scalars(select(Unit.hired_until)).one() == date(2026, 12, 21)
        with pytest.raises(BadValues, match="the hire ends on 2026-11-30, before it begins on 2026-12-01"):
            changed(session, SUPPLIES, "PS-1", hired_to="2026-11-30")


def test_a_delivery_is_gone_once_it_is_undone(came: Store) -> None:
    with came.writing("gate") as session:
        number = delivery(session, 1)
        retired(session, DELIVERIES, number)
        with pytest.raises(Exception, match="there is no delivery"):
            actions.retire(session, DELIVERIES, number, None, HAND)
        assert session.scalars(select(Tape.tag)).one() == "T-50"
