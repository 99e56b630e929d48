"""What was ordered comes: whole, in parts, twice, too much, and at one moment with others."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from threading import Barrier
from typing import Any

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.errors import AlreadyExists, BadQuantity, BadRequest, NotFound, Refused, ServiceError
from service.season.receiving.actions import Received, receive
from service.season.receiving.schemas import DeliveryAsk
from service.season.records import Delivery, OrderLine
from service.stock.gear import Unit, UnitState
from service.stock.records import Cut, CutKind, Place, Reel, ReelState, Tape
from service.store.work import Store
from tests import builders as build

TODAY = date(2026, 12, 18)


@pytest.fixture
def ordered(store: Store) -> Store:
    """PO-1: line 1, four reels of 5 m of T-50 (of which R-108 lies at A3 already); line 2, three S320 hired
    for January (PS-06 lies at B1)."""
    with store.writing("office") as session:
        an_order(session)
    return store


def an_order(session: Session) -> None:
    tape = build.a_tape(session, tag="T-50")
    build.a_reel(session, tape, tag="R-108", place_id=build.a_place(session, tag="A3").id)
    build.an_order_line(
        session, order_number="PO-1", line=1, tape_id=tape.id, model_id=None, quantity=4, reel_pitches=100,
        lot="C-26F",
    )  # fmt: skip
    model = build.a_supply_model(session, tag="S320")
    build.a_supply(session, model, tag="PS-06", home_id=build.a_place(session, tag="B1").id)
    build.an_order_line(
        session, order_number="PO-1", line=2, model_id=model.id, tape_id=None, quantity=3, is_hire=True,
        hire_from=date(2027, 1, 4), hire_until=date(2027, 1, 20),
    )  # fmt: skip


def ask(**given: Any) -> DeliveryAsk:
    plain = {"number": "DN-1", "order": "PO-1", "line": 1, "quantity": 2}
    return DeliveryAsk.model_validate(plain | given)


def got(session: Session, **given: Any) -> Received:
    return receive(session, ask(**given), "gate", TODAY)


def line(session: Session, number: int = 1) -> OrderLine:
    return session.scalars(select(OrderLine).where(OrderLine.line == number)).one()


def reels(session: Session) -> dict[str, Reel]:
    rows = session.scalars(select(Reel).where(Reel.delivery_id.is_not(None)).order_by(Reel.id))
    return {reel.tag: reel for reel in rows}


def test_reels_come_sealed_each_with_a_row_in_parts_until_all_have_come(ordered: Store) -> None:
    with ordered.writing("gate") as session:
        got(session)
        came = reels(session)
        assert list(came) == ["R-109", "R-110"]
        reel = came["R-109"]
        assert (reel.state, reel.lot, reel.left_pitches) == (ReelState.SEALED, "C-26F", 100)
        assert (reel.received_pitches, reel.received_on) == (100, TODAY)
        row = session.scalars(select(Cut).where(Cut.reel_id == reel.id)).one()
        assert (row.kind, row.change_pitches, row.number, row.cut_on) == (CutKind.RECEIVED, 100, None, TODAY)
        assert (line(session).received_quantity, line(session).received_on) == (2, None)
        got(session, number="DN-2", lot="C-26K", tags=["X-1", "x-2"], received_on=date(2026, 12, 17))
        assert (line(session).received_quantity, line(session).received_on) == (4, date(2026, 12, 17))
        came = reels(session)
        assert [(tag, reel.lot) for tag, reel in came.items()][2:] == [("X-1", "C-26K"), ("x-2", "C-26K")]
        assert len({reel.place_id for reel in came.values()}) == 1
        with pytest.raises(Refused, match="all of PO-1 line 1 has come on 2026-12-17"):
            got(session, number="DN-3", quantity=1)


def test_reels_go_where_sealed_ones_of_their_tape_lie(ordered: Store) -> None:
    """Not where the last of them was opened, nor where one lay that is no longer there."""
    with ordered.writing("gate") as session:
        tape = session.scalars(select(Tape)).one()
        bench, gone = (build.a_place(session, tag=tag).id for tag in ("BENCH", "GONE"))
        build.a_reel(session, tape, tag="R-120", place_id=gone).retired_on = TODAY
        build.a_reel(session, tape, tag="R-121", place_id=bench, state=ReelState.OPEN)
        got(session)
        shelf = session.scalars(select(Place.id).where(Place.tag == "A3")).one()
        assert [(tag, reel.place_id) for tag, reel in reels(session).items()] == [
            ("R-122", shelf),
            ("R-123", shelf),
        ]
        for sealed in session.scalars(select(Reel).where(Reel.state == ReelState.SEALED)):
            sealed.state = ReelState.OPEN
        session.scalars(select(Reel).where(Reel.tag == "R-123")).one().place_id = bench
        session.flush()
        got(session, number="DN-2", quantity=1)
        assert reels(session)["R-124"].place_id == bench


def test_units_come_sound_to_the_bin_of_their_kind_with_the_days_of_their_hire(ordered: Store) -> None:
    with ordered.writing("gate") as session:
        got(session, line=2, quantity=3)
        units = session.scalars(select(Unit).where(Unit.delivery_id.is_not(None)).order_by(Unit.id)).all()
        home = session.scalars(select(Unit.home_id).where(Unit.tag == "PS-06")).one()
        assert [unit.tag for unit in units] == ["PS-07", "PS-08", "PS-09"]
        assert {(u.state, u.home_id, u.hired_from, u.hired_until) for u in units} == {
            (UnitState.GOOD, home, date(2027, 1, 4), date(2027, 1, 20))
        }
        assert line(session, 2).received_on == TODAY


def test_the_same_note_is_received_once_and_again_only_with_the_same(ordered: Store) -> None:
    with ordered.writing("gate") as session:
        first = got(session, received_on=TODAY)
        assert not first.is_repeat
        same: tuple[dict[str, Any], ...] = (
            {},
            {"lot": "C-26F"},
            {"number": " dn-1"},
            {"tags": ["r-110", "R-109"]},
            {"received_on": TODAY},
        )
        for more in same:
            again = got(session, **more)
            assert (again.is_repeat, again.delivery.id) == (True, first.delivery.id)
        other: tuple[tuple[dict[str, Any], str], ...] = (
            ({"quantity": 1}, "quantity 2 then, 1 now"),
            ({"lot": "C-26K"}, "lot C-26F then, C-26K now"),
            ({"tags": ["R-109", "R-111"]}, "tags R-109 R-110 then, R-109 R-111 now"),
            ({"received_on": date(2026, 12, 1)}, "day 2026-12-18 then, 2026-12-01 now"),
        )
        for more, why in other:
            with pytest.raises(AlreadyExists, match=f"DN-1 was received already for PO-1 line 1: {why}"):
                got(session, **more)
        assert len(reels(session)) == 2
        assert line(session).received_quantity == 2
        got(session, line=2, quantity=1)  # the same note may be of another line


@pytest.mark.parametrize(
    ("values", "error", "why"),
    [
        ({"quantity": 5}, Refused, "5 came of PO-1 line 1, and 4 of 4 are still to come"),
        ({"order": "PO-9"}, NotFound, "there is no order PO-9"),
        ({"line": 7}, NotFound, "PO-1 has no line 7"),
        ({"received_on": date(2026, 12, 19)}, BadRequest, "2026-12-19 is still to come"),
        ({"tags": ["A-1"]}, BadQuantity, "1 tags for 2"),
        ({"tags": ["A-1", "a-1"]}, BadQuantity, "a tag comes twice"),
        ({"place": "NOWHERE"}, BadRequest, "there is no place NOWHERE"),
    ],
)
def test_what_cannot_have_come_is_refused_with_nothing_stored(
    ordered: Store, values: dict[str, Any], error: type[ServiceError], why: str
) -> None:
    with pytest.raises(error, match=why) as refusal, ordered.writing("gate") as session:
        got(session, **values)
    assert refusal.value.mend
    with ordered.reading() as session:
        assert session.scalar(select(func.count()).select_from(Delivery)) == 0
        assert line(session).received_quantity == 0


def test_a_tag_in_use_is_refused_with_nothing_stored(ordered: Store) -> None:
    with pytest.raises(AlreadyExists, match="that tag is or was in use"), ordered.writing("gate") as session:
        got(session, tags=["N-1", "ps-06"])
    with ordered.reading() as session:
        assert not reels(session)
        assert session.scalar(select(func.count()).select_from(Delivery)) == 0


def test_a_reel_whose_length_nobody_knows_is_not_received(ordered: Store) -> None:
    with ordered.writing("gate") as session:
        tape = build.a_tape(session, tag="T-0", reel_pitches=None)
        build.an_order_line(
            session, order_number="PO-2", line=1, tape_id=tape.id, model_id=None, reel_pitches=None
        )
    with (
        pytest.raises(BadRequest, match="how long a reel of T-0 is is not known"),
        ordered.writing("gate") as s,
    ):
        got(s, order="PO-2", quantity=1)


WRITERS = 8


@pytest.fixture
def gates(database_url: str) -> Iterator[list[Store]]:
    stores = [Store(database_url) for _ in range(WRITERS)]
    with stores[0].writing("office") as session:
        an_order(session)
    yield stores
    for store in stores:
        store.close()


def at_once(gates: list[Store], asked: list[DeliveryAsk]) -> list[str]:
    start = Barrier(WRITERS)

    def take_in(n: int) -> str:
        start.wait()
        try:
            found = gates[n].write(lambda s: receive(s, asked[n], f"gate {n}", TODAY).is_repeat, by="gate")
        except Refused as refusal:
            return refusal.message
        return "repeated" if found else "received"

    with ThreadPoolExecutor(WRITERS) as pool:
        return sorted(pool.map(take_in, range(WRITERS)))


def test_one_note_taken_in_eight_times_at_once_is_received_once(gates: list[Store]) -> None:
    assert at_once(gates, [ask(quantity=4)] * WRITERS) == ["received"] + ["repeated"] * (WRITERS - 1)
    with gates[0].reading() as session:
        assert len(reels(session)) == 4


def test_eight_notes_of_the_last_four_reels_take_in_four(gates: list[Store]) -> None:
    said = at_once(gates, [ask(number=f"DN-{n}", quantity=2) for n in range(WRITERS)])
    assert said == ["all of PO-1 line 1 has come on 2026-12-18"] * 6 + ["received"] * 2
    with gates[0].reading() as session:
        assert sorted(reels(session)) == ["R-109", "R-110", "R-111", "R-112"]
        assert line(session).received_quantity == 4
