"""Pieces of shows on the ledger: cut once, taken back, settled where entered twice, back after the strike."""

from datetime import date

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import (
    BadQuantity,
    BadRequest,
    InUse,
    NotFound,
    OffCutPitch,
    ReelTooShort,
    Refused,
    ServiceError,
)
from service.season.records import Production
from service.shows.ledger import doing
from service.shows.ledger.doing import Doer
from service.shows.ledger.schemas import (
    Act,
    BackAsk,
    CutAsk,
    JoinAsk,
    OffcutAsk,
    RecountAsk,
    RecoverAsk,
    ScrapAsk,
    SettleAsk,
)
from service.shows.records import Element, ElementStatus, GroupKind, PieceCut
from service.stock.records import Cut, Reel, ReelState, Tape
from service.store.work import Store
from tests import builders as build

DOER = Doer("bench", date(2026, 11, 25))


@pytest.fixture
def bench(store: Store) -> Store:
    """R-119 with 1.1 m left, as the season has it: window 4 was entered twice, the second time disputed.
    Elements SQ-10 (1.3 m) and SQ-11 (two runs, of 200 mm and of 200 mm + 400 mm) of its tape."""
    with store.writing("bench") as session:
        tape = build.a_tape(session, tag="NW24", pitch_um=50_000)
        show = build.a_production(session, tag="SQ")
        window = build.an_element(session, show, ((26,),), tag="SQ-10", tape=tape)
        build.an_element(session, show, ((4,), (4, 8)), tag="SQ-11", tape=tape)
        build.an_element(session, show, ((26,),), tag="SQ-30", tape=build.a_tape(session, tag="RED24"))
        reel = build.a_reel(session, tape, tag="R-119", lot="N-26A", state=ReelState.OPEN)
        piece = window.runs[0].pieces[0]
        for number, pitches, is_disputed in (("K-071", 26, False), ("K-072", 52, False), ("K-074", 26, True)):
            row = build.a_cut(session, reel, pitches, number=number, is_disputed=is_disputed)
            if number != "K-072":
                session.add(PieceCut(piece_id=piece.id, cut_id=row.id))
        build.a_reel(session, tape, tag="R-121", lot="N-26A", left_pitches=86, state=ReelState.OPEN)
    return store


def cut_rows(session: Session, element: str) -> list[tuple[str | None, str, str]]:
    """Number, reel and part of every row that an element's pieces are tied to."""
    rows = session.execute(
        select(Cut.number, Reel.tag, PieceCut.part)
        .join(PieceCut, PieceCut.cut_id == Cut.id)
        .join(Reel, Cut.reel_id == Reel.id)
        .where(PieceCut.piece_id.in_(_pieces(session, element)))
        .order_by(Cut.id)
    )
    return [(number, reel, part) for number, reel, part in rows]


def _pieces(session: Session, tag: str) -> list[int]:
    element = session.scalars(select(Element).where(Element.tag == tag)).one()
    return [piece.id for run in element.runs for piece in run.pieces]


def test_a_piece_is_cut_as_long_as_it_is_drawn_and_only_once(bench: Store) -> None:
    with bench.writing("bench") as session:
        done = doing.cut(session, "r-119", CutAsk(element="sq-11", piece="3"), DOER)
        assert done.said == "400 mm off R-119 for SQ-11 piece 3 (K-075); 700 mm left"
        assert (done.reel.left_pitches, done.reel.left_m, done.rows[0].change_m) == (14, 0.7, -0.4)
        with pytest.raises(Refused, match="SQ-11 piece 3 is cut already: K-075 off R-119") as refusal:
            doing.cut(session, "R-121", CutAsk(element="SQ-11", piece="3"), DOER)
        assert refusal.value.mend == "Take K-075 back first if it is to be cut again."
        doing.take_back(session, "k-075", BackAsk(), DOER)
        assert cut_rows(session, "SQ-11") == []
        doing.cut(session, "R-121", CutAsk(element="SQ-11", piece="3"), DOER)
        assert cut_rows(session, "SQ-11") == [("K-077", "R-121", "")]


def test_a_cut_of_a_piece_that_stands_in_a_show_is_taken_back_only_with_a_reason(bench: Store) -> None:
    with bench.writing("bench") as session:
        window = session.scalars(select(Element).where(Element.tag == "SQ-10")).one()
        for status in (ElementStatus.BUILT, ElementStatus.WORKING, ElementStatus.STRUCK):
            window.status = status
            with pytest.raises(InUse, match=f"K-071 was cut for SQ-10, which is {status.value} in SQ") as no:
                doing.take_back(session, "K-071", BackAsk(), DOER)
            assert "if K-071 was never cut, say so in a note" in no.value.mend
        assert cut_rows(session, "SQ-10") == [("K-071", "R-119", ""), ("K-074", "R-119", "")]
        doing.take_back(session, "K-071", BackAsk(note="cut off R-121"), DOER)
        assert cut_rows(session, "SQ-10") == [("K-074", "R-119", "")]
        window.status = ElementStatus.CUT
        doing.cut(session, "R-121", CutAsk(element="SQ-10"), DOER)
        doing.take_back(session, "K-076", BackAsk(), DOER)


def test_a_cut_that_is_not_as_drawn_is_made_and_told_with_a_reason_only(bench: Store) -> None:
    with bench.writing("bench") as session:
        with pytest.raises(Refused, match="SQ-11 piece 3 is 400 mm as drawn, not 450 mm") as refusal:
            doing.cut(session, "R-119", CutAsk(element="SQ-11", piece="3", length_m=0.45), DOER)
        assert refusal.value.mend == "Correct it; if it is meant so, say why in a note."
        with pytest.raises(Refused, match="SQ-11 piece 3a is 400 mm as drawn, not 450 mm"):
            doing.cut(session, "R-119", CutAsk(element="SQ-11", piece="3a", length_m=0.45), DOER)
        assert cut_rows(session, "SQ-11") == []
        ask = CutAsk(element="SQ-11", piece="3", length_m=0.45, note="the frame is wider")
        done = doing.cut(session, "R-119", ask, DOER)
        assert done.said.endswith("650 mm left; SQ-11 piece 3 is 400 mm as drawn, not 450 mm")


def test_a_cut_of_another_lot_than_its_match_group_is_made_and_told_with_a_reason_only(bench: Store) -> None:
    with bench.writing("bench") as session:
        group = None
        for tag in ("SQ-10", "SQ-11"):
            element = session.scalars(select(Element).where(Element.tag == tag)).one()
            show = session.get_one(Production, element.production_id)
            group = group or build.a_group(session, show, kind=GroupKind.MATCH)
            element.match_group_id = group.id
        tape = session.scalars(select(Tape).where(Tape.tag == "NW24")).one()
        build.a_reel(session, tape, tag="R-130", lot="N-26B", state=ReelState.OPEN)
        other = "R-130 is of lot N-26B, and the match group of SQ-11 is cut from N-26A"
        with pytest.raises(Refused, match=other):
            doing.cut(session, "R-130", CutAsk(element="SQ-11", piece="3"), DOER)
        done = doing.cut(session, "R-121", CutAsk(element="SQ-11", piece="1"), DOER)
        assert done.said.endswith("left")
        done = doing.cut(session, "R-130", CutAsk(element="SQ-11", piece="3", note="all that is left"), DOER)
        assert done.said.endswith(other)


def test_the_figure_measured_is_kept_where_it_is_no_whole_number_of_pitches(bench: Store) -> None:
    with bench.writing("bench") as session:
        row = doing.recount(session, "R-119", RecountAsk(length_m=0.93), DOER).rows[0]
        assert (row.change_m, row.note) == (-0.2, "1100 mm on the book, 900 mm found, 930 mm measured")


def test_a_piece_with_a_join_is_cut_part_by_part(bench: Store) -> None:
    with bench.writing("bench") as session:
        for part, reel in (("3a", "R-119"), ("3b", "R-121")):
            doing.cut(session, reel, CutAsk(element="SQ-11", piece=part, length_m=0.2), DOER)
        assert cut_rows(session, "SQ-11") == [("K-075", "R-119", "a"), ("K-076", "R-121", "b")]
        for again in ("3a", "3"):
            with pytest.raises(Refused, match="is cut already"):
                doing.cut(session, "R-121", CutAsk(element="SQ-11", piece=again), DOER)


REFUSED: list[tuple[CutAsk, type[ServiceError], str]] = [
    (CutAsk(element="SQ-11", piece="4"), NotFound, "SQ-11 has no piece 4"),
    (CutAsk(element="SQ-11", piece="one"), NotFound, "SQ-11 has no piece one"),
    (CutAsk(element="SQ-99"), NotFound, "there is no element SQ-99"),
    (CutAsk(element="SQ-30"), Refused, "R-119 is NW24, which is not the tape of SQ-30"),
    (CutAsk(element="SQ-11", kind="scrap"), BadRequest, "scrap goes into no element"),
    (CutAsk(), BadRequest, "how much is cut is not said"),
    (CutAsk(length_m=0), BadQuantity, "it says nothing was cut"),
    (CutAsk(length_m=1.15), ReelTooShort, "R-119 has 1100 mm left and 1150 mm is asked of it"),
    (CutAsk(length_m=0.12), OffCutPitch, "120 mm is not a whole number of 50 mm cut pitches of NW24"),
    (CutAsk(length_m=1, on=date(2026, 11, 26)), BadRequest, "2026-11-26 is still to come"),
]


@pytest.mark.parametrize(("ask", "error", "why"), REFUSED)
def test_a_cut_that_cannot_be_is_refused_whole(
    bench: Store, ask: CutAsk, error: type[ServiceError], why: str
) -> None:
    with bench.writing("bench") as session:
        with pytest.raises(error, match=why) as refusal:
            doing.cut(session, "R-119", ask, DOER)
        assert refusal.value.mend
        assert not session.new
        assert not session.dirty
        assert session.scalars(select(Reel.left_pitches).where(Reel.tag == "R-119")).one() == 22


def test_the_second_entry_of_one_cut_is_not_counted_below_nothing_and_may_be_void(bench: Store) -> None:
    """R-119: counted, the second entry for SQ-10 leaves -0.2 m; outside the balance 1.1 m are left."""
    with bench.writing("bench") as session:
        with pytest.raises(ReelTooShort, match="counted, K-074 would leave R-119 at -200 mm") as refusal:
            doing.settle(session, "K-074", SettleAsk(counts=True), DOER)
        assert refusal.value.mend == "Void K-074 if it is a second entry of K-071, or take K-071 back."
        doing.recount(session, "R-119", RecountAsk(length_m=2, note="measured twice"), DOER)
        with pytest.raises(Refused, match="K-074 and K-071 are both for one piece"):
            doing.settle(session, "K-074", SettleAsk(counts=True), DOER)
        with pytest.raises(BadQuantity, match="why K-074 is void is not said"):
            doing.settle(session, "K-074", SettleAsk(counts=False), DOER)
        done = doing.settle(session, "k-074", SettleAsk(counts=False, note="entered twice"), DOER)
        assert (done.said, done.rows[0].is_disputed) == (
            "K-074 is void, by K-076; R-119 has 2000 mm left",
            True,
        )
        assert cut_rows(session, "SQ-10") == [("K-071", "R-119", "")]


def test_a_disputed_cut_of_a_piece_that_is_not_cut_otherwise_is_counted_with_its_piece(bench: Store) -> None:
    with bench.writing("bench") as session:
        doing.take_back(session, "K-071", BackAsk(note="was K-074"), DOER)
        done = doing.settle(session, "K-074", SettleAsk(counts=True), DOER)
        assert done.reel.left_m == pytest.approx(1.1)
        assert cut_rows(session, "SQ-10") == [(done.rows[0].number, "R-119", "")]
        assert done.rows[0].note == "was K-074, disputed; counted by bench"


def test_a_struck_piece_comes_back_as_an_offcut_of_its_reel(bench: Store) -> None:
    with bench.writing("bench") as session:
        with pytest.raises(InUse, match="SQ-10 is drawn in SQ, which is running") as refusal:
            doing.recover(session, "SQ-10", RecoverAsk(), DOER)
        assert refusal.value.mend.startswith("Take SQ-10 to struck first")
        session.scalars(select(Element).where(Element.tag == "SQ-10")).one().status = ElementStatus.STRUCK
        with pytest.raises(
            BadQuantity, match="SQ-10 piece 1 was cut 1300 mm long, so 1350 mm cannot come back"
        ):
            doing.recover(session, "SQ-10", RecoverAsk(length_m=1.35), DOER)
        done = doing.recover(session, "SQ-10", RecoverAsk(length_m=1.2), DOER)
        assert done.said == "SQ-10 piece 1 is back as R-122, 1200 mm left (K-075)"
        assert (done.reel.lot, done.reel.state, done.rows[0].kind) == ("N-26A", "offcut", "returned")
        with pytest.raises(Refused, match=r"SQ-10 piece 1 came back already, as R-122 \(K-075\)"):
            doing.recover(session, "SQ-10", RecoverAsk(), DOER)
        session.scalars(select(Element).where(Element.tag == "SQ-11")).one().status = ElementStatus.STRUCK
        with pytest.raises(NotFound, match="no reel is on record that SQ-11 piece 1 was cut from"):
            doing.recover(session, "SQ-11", RecoverAsk(), DOER)


def test_what_the_other_acts_did_is_told(bench: Store) -> None:
    with bench.writing("bench") as session:
        build.a_place(session, tag="A9")
        done = doing.make_offcut(session, "R-121", OffcutAsk(length_m=0.3, place="a9", tag="X-1"), DOER)
        assert done.other is not None
        assert (done.said, done.other.place) == ("300 mm off R-121 are X-1 (K-075); 4000 mm left", "A9")
        done = doing.join(session, "R-121", JoinAsk(other="R-119"), DOER)
        assert done.said == "R-119 is joined on to R-121, 4000 mm from its hub; 5100 mm left"
        assert [(row.reel, row.change_m) for row in done.rows] == [("R-119", -1.1), ("R-121", 1.1)]
        assert [(j.from_hub_m, j.kind, j.is_there) for j in done.joints] == [(4.0, "made", True)]
        done = doing.scrap(session, "R-121", ScrapAsk(length_m=1.2, note="burnt"), DOER)
        assert done.rows[0].note == "a joint inside, 100 mm from its inner end; burnt"
        assert [j.is_there for j in done.joints] == [False]
        done = doing.scrap(session, "R-121", ScrapAsk(), DOER)
        assert (done.reel.state, done.reel.left_m) == ("scrap", 0.0)
        done = doing.recount(session, "X-1", RecountAsk(length_m=0.33), DOER)
        assert (done.said, done.rows) == ("X-1 has 300 mm as the book says", [])
        build.a_reel(session, tag="R-900")
        assert doing.open_reel(session, "R-900", Act(), DOER).said == "R-900 is open; 5000 mm on it"
