"""The ledger of every reel: what goes in, what comes back, and that no row of it is ever changed."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.errors import BadValues, InUse
from service.kinds.kind import Kind
from service.kinds.sheets.cuts import CUTS
from service.kinds.sheets.tape import REELS
from service.shows.records import Element, ElementStatus, PieceCut
from service.stock.records import Cut, Reel, ReelState, Tape
from service.store.listing import Row, everything
from service.store.work import Store
from tests import builders as build
from tests.kinds.hands import changed, made, retired
from tests.paper.house import bring, the_fault

WRITERS = 8


def a_reel(session: Session) -> Reel:
    """5 m, cut every 50 mm."""
    return build.a_reel(session, build.a_tape(session, tag="T-50"), tag="R-1")


def listed(session: Session, kind: Kind) -> list[Row]:
    assert kind.listing is not None
    return [row for _, _, row in everything(session, kind.listing)]


def left_m(session: Session) -> float:
    """What is left on the reel, which is always the sum of its undisputed rows."""
    session.expire_all()
    reel = session.scalars(select(Reel)).one()
    rows = select(func.sum(Cut.change_pitches)).where(Cut.reel_id == reel.id, Cut.is_disputed.is_(False))
    assert session.scalar(rows) == reel.left_pitches
    return reel.left_pitches * 0.05


def test_of_many_who_take_the_last_metre_at_once_one_gets_it(store: Store) -> None:
    with store.writing("bench") as session:
        build.a_reel(session, build.a_tape(session), tag="R-1", left_pitches=20)
    start = Barrier(WRITERS)

    def cut(number: int) -> str:
        start.wait()
        try:
            row = store.write(lambda s: made(s, CUTS, reel="R-1", length_m=1), by=f"bench {number}")
        except BadValues as refusal:
            return refusal.errors[0].message
        return str(row["number"])

    with ThreadPoolExecutor(WRITERS) as pool:
        said = sorted(pool.map(cut, range(WRITERS)))

    assert said == ["K-001"] + ["R-1 has 0 mm left and 1000 mm is asked of it"] * (WRITERS - 1)
    with store.reading() as session:
        assert left_m(session) == 0


def test_many_who_cut_several_reels_at_once_are_given_numbers_of_their_own(store: Store) -> None:
    with store.writing("bench") as session:
        tape = build.a_tape(session)
        for n in range(WRITERS):
            build.a_reel(session, tape, tag=f"R-{n}")
    start = Barrier(WRITERS)

    def cut(n: int) -> str:
        start.wait()
        return str(store.write(lambda s: made(s, CUTS, reel=f"R-{n}", length_m=1), by="bench")["number"])

    with ThreadPoolExecutor(WRITERS) as pool:
        assert sorted(pool.map(cut, range(WRITERS))) == [f"K-{n:03}" for n in range(1, WRITERS + 1)]


def test_a_cut_without_a_number_takes_the_next_after_the_highest(store: Store) -> None:
    with store.writing("bench") as session:
        build.a_cut(session, a_reel(session), 2, number="K-041")
        assert made(session, CUTS, reel="R-1", length_m=0.1)["number"] == "K-042"
        with pytest.raises(BadValues, match="this cut is already in the store"):
            made(session, CUTS, number="k-041", reel="R-1", length_m=0.1)


@pytest.mark.parametrize(
    ("kind", "length_m", "left"),
    [
        ("scrap", 1, 4.0),
        ("received", 1, 6.0),
        ("recount", 0.1, 5.1),
        ("recount", -0.1, 4.9),
    ],
)
def test_each_kind_of_row_moves_what_is_left_its_own_way(
    store: Store, kind: str, length_m: float, left: float
) -> None:
    with store.writing("bench") as session:
        a_reel(session)
        row = made(session, CUTS, reel="r-1", length_m=length_m, kind=kind)
        assert (row["kind"], row["length_m"]) == (kind, length_m)
        assert left_m(session) == pytest.approx(left)


@pytest.mark.parametrize(
    ("values", "why"),
    [
        ({"length_m": 5.05}, "R-1 has 5000 mm left and 5050 mm is asked of it"),
        ({"length_m": 0.12}, "120 mm is not a whole number of 50 mm cut pitches"),
        ({"length_m": 0, "kind": "recount"}, "it says nothing was cut"),
        ({"length_m": -1, "kind": "scrap"}, "a length of -1000 mm cannot be scrap"),
        ({"length_m": -6, "kind": "recount"}, "R-1 has 5000 mm left and 6000 mm is asked of it"),
        ({"length_m": 1, "kind": "received", "element": "SQ-9"}, "received goes into no element"),
        ({"length_m": 1, "undoes": "K-99"}, "K-99 is not a cut that is known here"),
    ],
)
def test_a_row_that_cannot_be_is_refused(store: Store, values: dict[str, object], why: str) -> None:
    with store.writing("bench") as session:
        reel = a_reel(session)
        build.an_element(session, tag="SQ-9", tape_id=reel.tape_id)
        with pytest.raises(BadValues, match=why):
            made(session, CUTS, reel="R-1", **values)
        assert left_m(session) == 5.0


def test_a_cut_taken_back_frees_its_piece_and_opens_its_reel_again(store: Store) -> None:
    with store.writing("bench") as session:
        reel = a_reel(session)
        build.an_element(session, tag="SQ-9", tape=session.get_one(Tape, reel.tape_id), runs=((100,),))
        row = made(session, CUTS, reel="R-1", length_m=5, element="SQ-9")
        assert (row["kind"], row["piece"], row["number"]) == ("piece", "1", "K-001")
        session.refresh(reel)
        assert reel.state is ReelState.USED_UP
    with store.writing("bench") as session:
        with pytest.raises(BadValues, match="K-001 moved 5000 mm, and this does not take it back"):
            made(session, CUTS, reel="R-1", length_m=4, undoes="K-001")
        back = made(session, CUTS, reel="R-1", length_m=5, undoes="k-001")
        assert (back["kind"], back["undoes"]) == ("returned", "K-001")
        assert session.scalars(select(PieceCut)).all() == []
        assert left_m(session) == 5.0
        assert session.scalars(select(Reel.state)).one() is ReelState.OPEN
        with pytest.raises(BadValues, match="K-001 is taken back already, by K-002"):
            made(session, CUTS, reel="R-1", length_m=5, kind="returned", undoes="K-001")


def test_a_row_of_another_reel_or_a_disputed_one_cannot_be_taken_back(store: Store) -> None:
    with store.writing("bench") as session:
        reel = a_reel(session)
        build.a_reel(session, session.get_one(Tape, reel.tape_id), tag="R-2")
        build.a_cut(session, reel, 20, number="K-1")
        build.a_cut(session, reel, 20, number="K-2", is_disputed=True)
        with pytest.raises(BadValues, match="K-1 is not a row of R-2"):
            made(session, CUTS, reel="R-2", length_m=1, undoes="K-1")
        with pytest.raises(BadValues, match="K-2 is disputed: nothing was taken off for it"):
            made(session, CUTS, reel="R-1", length_m=1, undoes="K-2")


def test_a_second_entry_of_one_cut_stands_outside_the_balance(store: Store) -> None:
    with store.writing("bench") as session:
        a_reel(session)
        row = made(session, CUTS, reel="R-1", length_m=9, status="dispute")
        assert (row["is_disputed"], left_m(session)) == (True, 5.0)


def test_a_row_of_the_ledger_is_never_changed_nor_taken_out(store: Store) -> None:
    with store.writing("bench") as session:
        a_reel(session)
        row = made(session, CUTS, reel="R-1", length_m=1, note="for the boat")
    with store.writing("bench") as session:
        assert changed(session, CUTS, row["id"], length_m=1, note="for the boat") == row
        for values in ({"length_m": 2}, {"note": None}, {"status": "dispute"}, {"entered_by": "somebody"}):
            with pytest.raises(BadValues) as refusal:
                changed(session, CUTS, row["id"], **values)
            (error,) = refusal.value.errors
            assert error.message == "K-001 is a row of the ledger, and those are never changed"
            assert "returned" in error.mend
        with pytest.raises(InUse, match="never taken out"):
            retired(session, CUTS, row["id"])


def test_the_row_that_opens_a_reel_comes_with_it(store: Store) -> None:
    with store.writing("bench") as session:
        tape = build.a_tape(session, tag="T-50")
        made(session, REELS, tag="R-1", tape=tape.tag, received_m=5, opening_m=4)
        made(session, REELS, tag="R-2", tape=tape.tag, received_m=5, opening_m=0)
        later = made(session, CUTS, reel="R-2", length_m=1, kind="received")
        rows = {row["reel"]: row for row in listed(session, CUTS) if row["opens_reel"]}
        assert {reel: row["change_m"] for reel, row in rows.items()} == {"R-1": 4.0}
        assert not CUTS.is_exported(rows["R-1"])
        assert CUTS.is_exported(later)
        assert {row["tag"]: row["opening_m"] for row in listed(session, REELS)} == {"R-1": 4.0, "R-2": 0.0}


def test_a_disputed_row_is_void_once_a_disputed_row_takes_it_back(store: Store) -> None:
    with store.writing("bench") as session:
        build.a_cut(session, a_reel(session), 20, number="K-1", is_disputed=True)
        taken_back = {"reel": "R-1", "length_m": 1, "undoes": "K-1", "kind": "returned"}
        with pytest.raises(BadValues, match="K-1 is disputed: nothing was taken off for it") as refusal:
            made(session, CUTS, **taken_back)
        assert "write dispute under Status" in refusal.value.mend
        row = made(session, CUTS, **taken_back, status="dispute")
        assert (row["is_disputed"], row["undoes"], left_m(session)) == (True, "K-1", 5.0)
        made(session, CUTS, number="K-5", reel="R-1", length_m=1)
        with pytest.raises(BadValues, match="K-5 is counted, so what takes it back is counted too"):
            made(session, CUTS, reel="R-1", length_m=1, undoes="K-5", status="dispute")


@pytest.mark.parametrize(
    ("kind", "length_m", "mend"),
    [
        ("offcut", 1, "Make the offcut instead"),
        ("joined", 1, "Join the two reels instead"),
        ("joined", -1, "Join the two reels instead"),
        ("returned", 1, "Name the row that it undoes"),
    ],
)
@pytest.mark.parametrize("status", ["counted", "dispute"])
def test_a_row_that_has_a_partner_on_another_reel_is_not_entered_alone(
    store: Store, kind: str, length_m: float, mend: str, status: str
) -> None:
    with store.writing("bench") as session:
        a_reel(session)
        with pytest.raises(BadValues, match=f"{kind} is no row that stands alone") as refusal:
            made(session, CUTS, reel="R-1", length_m=length_m, kind=kind, status=status)
        assert refusal.value.errors[0].mend.startswith(mend)
        assert left_m(session) == 5.0


def test_sheets_carry_rows_that_have_a_partner_with_their_sign_and_their_element(store: Store) -> None:
    with store.writing("bench") as session:
        build.an_element(session, runs=((20,),), tag="SQ-9", tape_id=a_reel(session).tape_id)
    rows = ("joined,1,", "joined,-0.5,", "offcut,1,", "returned,2,", "returned,1,SQ-9")
    bring(store, cuts="Reel,Kind,Length (m),Element\n" + "\n".join(f"R-1,{row}" for row in rows))
    with store.reading() as session:
        found = [(row["length_m"], row["element"], row["piece"]) for row in listed(session, CUTS)[1:]]
        assert found[:3] == [(1.0, None, None), (-0.5, None, None), (1.0, None, None)]
        assert found[3:] == [(2.0, None, None), (1.0, "SQ-9", "1")]
        assert left_m(session) == 7.5


def a_cut_piece(session: Session) -> None:
    """SQ-9 has two pieces of 1 m; the first is cut off R-1, as K-001, and its second entry is disputed."""
    tape = session.get_one(Tape, a_reel(session).tape_id)
    build.an_element(session, runs=((20, 20),), tag="SQ-9", tape=tape)
    build.a_reel(session, tape, tag="R-2", left_pitches=40)
    made(session, CUTS, reel="R-1", length_m=1, element="SQ-9")
    made(session, CUTS, reel="R-1", length_m=1, element="SQ-9", status="dispute")


def test_a_piece_is_cut_once_by_hand_too(store: Store) -> None:
    with store.writing("bench") as session:
        a_cut_piece(session)
    for piece in ("1", "1a"):
        with store.writing("bench") as session:
            with pytest.raises(BadValues, match=f"SQ-9 piece {piece} is cut already: K-001 off R-1") as no:
                made(session, CUTS, reel="R-2", length_m=1, element="SQ-9", piece=piece)
            assert no.value.errors[0].mend.startswith("Take K-001 back first")
    with store.writing("bench") as session:
        made(session, CUTS, reel="R-2", length_m=0.5, element="SQ-9", piece="2a")
        made(session, CUTS, reel="R-2", length_m=0.5, element="SQ-9", piece="2b")
    with store.writing("bench") as session:
        made(session, CUTS, reel="R-1", length_m=1, undoes="K-001")
        assert made(session, CUTS, reel="R-2", length_m=1, element="SQ-9")["piece"] == "1"


def test_a_piece_is_cut_once_in_sheets_unless_a_row_is_disputed_or_taken_back(store: Store) -> None:
    with store.writing("bench") as session:
        a_cut_piece(session)
    head = "Cut,Reel,Length (m),Element,Piece,Undoes,Status\n"
    fault = the_fault(store, cuts=f"{head}K-9,R-2,1,SQ-9,1,,\n")
    assert fault.message == "SQ-9 piece 1 is cut already: K-001 off R-1"
    twice = head + "K-9,R-2,1,SQ-9,2,,\nK-10,R-1,1,SQ-9,2,,{0}\n"
    fault = the_fault(store, cuts=twice.format(""))
    assert (fault.row, fault.message) == (3, "SQ-9 piece 2 is cut already: K-9 off R-2")
    bring(store, cuts=twice.format("dispute") + "K-11,R-2,1,,,K-9,\nK-12,R-2,1,SQ-9,2,,\n")


def test_of_many_who_cut_one_piece_off_reels_of_their_own_one_does(store: Store) -> None:
    with store.writing("bench") as session:
        tape = build.a_tape(session)
        build.an_element(session, runs=((20,),), tag="SQ-9", tape=tape)
        for n in range(WRITERS):
            build.a_reel(session, tape, tag=f"R-{n}")
    start = Barrier(WRITERS)

    def cut(n: int) -> str:
        start.wait()
        try:
            values = {"reel": f"R-{n}", "length_m": 1, "element": "SQ-9"}
            return str(store.write(lambda s: made(s, CUTS, **values), by="bench")["number"])
        except BadValues as refusal:
            return refusal.errors[0].message.partition(":")[0]

    with ThreadPoolExecutor(WRITERS) as pool:
        said = sorted(pool.map(cut, range(WRITERS)))

    assert said == ["K-001"] + ["SQ-9 piece 1 is cut already"] * (WRITERS - 1)


def test_what_was_counted_since_or_stands_in_a_show_is_not_taken_back_by_hand(store: Store) -> None:
    with store.writing("bench") as session:
        a_cut_piece(session)
        element = session.scalars(select(Element)).one()
        element.status = ElementStatus.WORKING
    with store.writing("bench") as session:
        with pytest.raises(BadValues, match="K-001 was cut for SQ-9, which is working"):
            made(session, CUTS, reel="R-1", length_m=1, undoes="K-001")
        made(session, CUTS, number="K-9", reel="R-1", length_m=-1, kind="recount")
    with store.writing("bench") as session:
        with pytest.raises(BadValues, match="R-1 was counted after K-001, in K-9"):
            made(session, CUTS, reel="R-1", length_m=1, undoes="K-001", note="never cut")
        made(session, CUTS, reel="R-1", length_m=1, undoes="K-9")
        made(session, CUTS, reel="R-1", length_m=1, undoes="K-001", note="never cut")
        assert session.scalars(select(Reel.left_pitches).where(Reel.tag == "R-1")).one() == 100
