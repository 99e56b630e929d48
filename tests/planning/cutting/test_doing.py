"""A cut plan done cut by cut: marks in any order, taken back, two at once, reels that come and reels that are
short."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

import pytest
from sqlalchemy import func, select

from service.errors import NotFound, OffCutPitch, ReelTooShort, Refused, StepRefused
from service.planning.cutting.actions import work_out_cuts
from service.planning.cutting.doing import Marked, do_step, report_short, undo_step
from service.planning.cutting.records import CutPlanStatus
from service.shows.ledger import pieces
from service.shows.records import Element, ElementStatus, PieceCut
from service.stock.ledger import acts
from service.stock.ledger.reels import held_reels
from service.stock.records import Cut, CutKind, Reel, ReelJoin, Tape
from service.store.work import Store
from tests import builders as build
from tests.planning.cutting.shop import ENTRY, TODAY, Shop, kept, left, planned, steps_of, told

PHONES = 8


@pytest.fixture
def plan(store: Store) -> str:
    """Windows SQ-1 (2.0 m and 1.5 m) and SQ-2 (1.4 m) off the sealed reel R-1; 100 mm of it are scrap."""
    with store.writing("tests") as session:
        shop = Shop(session)
        shop.element(session, "SQ-1", 20, 15)
        shop.element(session, "SQ-2", 14)
        shop.reel(session, "R-1", lot="A")
    return kept(store).number


def mark(store: Store, number: str, step: int, reel: str | None = None, **more: Any) -> Marked:
    offcut = more.get("offcut")
    return store.write(lambda s: do_step(s, number, step, reel, offcut, ENTRY), "bench 1")


def undo(store: Store, number: str, step: int) -> Marked:
    return store.write(lambda s: undo_step(s, number, step, ENTRY), "bench 1")


def short(store: Store, number: str, reel: str, found_mm: int) -> str:
    """Says so, and works the new plan out; its number."""
    made = store.write(lambda s: report_short(s, number, reel, found_mm * 1000, ENTRY, TODAY), "bench 1")
    assert work_out_cuts(store, made.id, TODAY) is CutPlanStatus.KEPT
    return made.number or ""


def recounted(store: Store, pitches: int) -> None:
    """R-1 is measured without a word of the plan."""
    store.write(lambda s: acts.recount(s, held_reels(s, ["R-1"])[0], pitches, ENTRY), "bench 1")


def ledger(store: Store, tag: str = "R-1") -> list[tuple[str, int]]:
    with store.reading() as session:
        query = select(Cut.kind, Cut.change_pitches).join(Reel).where(Reel.tag == tag).order_by(Cut.id)
        rows = [(kind.value, change) for kind, change in session.execute(query)]
        balance = session.scalar(select(Reel.left_pitches).where(Reel.tag == tag))
    assert sum(change for _, change in rows) == balance, "what is left is the sum of the rows"
    return rows


def element(store: Store, tag: str) -> tuple[str, str]:
    with store.reading() as session:
        found = session.scalars(select(Element).where(Element.tag == tag)).one()
        return found.status.value, found.status_note


def test_each_mark_is_a_row_of_the_ledger_and_opens_the_reel(store: Store, plan: str) -> None:
    marked = mark(store, plan, 1)
    assert (marked.pieces_left, ledger(store)) == (2, [("opening", 50), ("piece", -20)])
    assert left(store, "R-1") == (30, "open")
    with store.reading() as session:
        cut = session.scalars(select(Cut).where(Cut.kind == CutKind.PIECE)).one()
        link = session.scalars(select(PieceCut)).one()
        assert (cut.entered_by, cut.cut_on, link.cut_id) == ("bench 1", TODAY, cut.id)
    first, second, third, scrap = steps_of(store, plan)
    assert (first.is_done, first.cut, first.mark_mm, first.left_mm) == (True, "K-001", None, 3000.0)
    assert (second.mark_mm, second.left_mm) == (1500.0, 1500.0), "marked from the end as it is now"
    assert (third.mark_mm, third.left_mm, scrap.left_mm) == (2900.0, 100.0, 0.0)


def test_marks_may_come_in_any_order_and_the_rest_is_told_from_what_stands(store: Store, plan: str) -> None:
    mark(store, plan, 3)
    mark(store, plan, 1)
    steps = steps_of(store, plan)
    assert [(s.step, s.is_done, s.left_mm) for s in steps] == [
        (1, True, 1600.0), (2, False, 100.0), (3, True, 3600.0), (4, False, 0.0),
    ]  # fmt: skip
    assert told(store, plan).done == 2


def test_an_element_is_cut_when_all_its_pieces_are_and_the_plan_when_all_are(store: Store, plan: str) -> None:
    mark(store, plan, 1)
    assert element(store, "SQ-1") == ("drawn", "")
    marked = mark(store, plan, 2)
    assert marked.element is not None
    assert marked.element.status is ElementStatus.CUT
    assert element(store, "SQ-1") == ("cut", "every piece is cut")
    assert (told(store, plan).status, mark(store, plan, 3).pieces_left) == ("kept", 0)
    assert told(store, plan).status == "done"
    mark(store, plan, 4)
    assert left(store, "R-1") == (0, "scrap")
    assert ledger(store)[-1] == ("scrap", -1)


def test_what_is_scrap_only_once_the_rest_is_cut_is_refused_before(store: Store, plan: str) -> None:
    mark(store, plan, 1)
    with pytest.raises(Refused, match="R-1 has 3000 mm left, not the 100 mm"):
        mark(store, plan, 4)
    assert len(ledger(store)) == 2


def test_a_step_is_done_once(store: Store, plan: str) -> None:
    mark(store, plan, 1)
    with pytest.raises(StepRefused, match="step 1 of CP-001 is done already: K-001 off R-1, by bench 1"):
        mark(store, plan, 1)
    with pytest.raises(NotFound, match="no step 9"):
        mark(store, plan, 9)
    with pytest.raises(Refused, match="cut off R-1, not R-7"):
        mark(store, plan, 2, "R-7")
    assert ledger(store) == [("opening", 50), ("piece", -20)]


def test_of_eight_phones_that_mark_one_step_at_once_one_wins(store: Store, plan: str) -> None:
    start = Barrier(PHONES)

    def one(_phone: int) -> str:
        start.wait()
        try:
            mark(store, plan, 1)
        except StepRefused as refusal:
            return refusal.message
        return "done"

    with ThreadPoolExecutor(PHONES) as pool:
        said = list(pool.map(one, range(PHONES)))
    assert said.count("done") == 1
    assert {text for text in said if text != "done"} == {
        f"step 1 of CP-001 is done already: K-001 off R-1, by bench 1 on {TODAY}"
    }
    assert ledger(store) == [("opening", 50), ("piece", -20)]


def test_phones_that_mark_different_steps_at_once_all_win(store: Store, plan: str) -> None:
    start = Barrier(3)

    def one(step: int) -> int:
        start.wait()
        return mark(store, plan, step).position

    with ThreadPoolExecutor(3) as pool:
        assert sorted(pool.map(one, (1, 2, 3))) == [1, 2, 3]
    assert left(store, "R-1") == (1, "open")
    assert told(store, plan).status == "done"


def test_the_last_mark_of_a_reel_is_taken_back(store: Store, plan: str) -> None:
    for step in (1, 2):
        mark(store, plan, step)
    with pytest.raises(StepRefused, match="K-001 is not the last cut of R-1: K-002 is"):
        undo(store, plan, 1)
    assert undo(store, plan, 2).pieces_left == 2
    assert element(store, "SQ-1") == ("drawn", "")
    undo(store, plan, 1)
    assert ledger(store) == [
        ("opening", 50), ("piece", -20), ("piece", -15), ("returned", 15), ("returned", 20),
    ]  # fmt: skip
    with pytest.raises(StepRefused, match="step 1 of CP-001 is not done"):
        undo(store, plan, 1)
    mark(store, plan, 1)
    assert left(store, "R-1") == (30, "open")


def test_a_plan_that_was_done_goes_on_when_its_last_mark_is_taken_back(store: Store, plan: str) -> None:
    for step in (1, 2, 3):
        mark(store, plan, step)
    undo(store, plan, 3)
    assert (told(store, plan).status, element(store, "SQ-2")) == ("kept", ("drawn", ""))


def test_an_element_that_was_set_to_cut_by_hand_stays_so(store: Store, plan: str) -> None:
    mark(store, plan, 3)
    with store.writing("tests") as session:
        session.scalars(select(Element).where(Element.tag == "SQ-2")).one().status_note = "cut at home"
    undo(store, plan, 3)
    assert element(store, "SQ-2") == ("cut", "cut at home")


def test_a_cut_taken_back_in_the_ledger_is_to_be_made_again(store: Store, plan: str) -> None:
    mark(store, plan, 1)
    store.write(lambda s: pieces.take_back(s, "K-001", ENTRY)[1].id, "bench 1")
    assert [step.is_done for step in steps_of(store, plan)] == [False] * 4
    mark(store, plan, 1)
    assert steps_of(store, plan)[0].cut == "K-003"


def test_a_piece_that_was_cut_without_the_plan_is_not_cut_twice(store: Store, plan: str) -> None:
    def by_hand(session: Any) -> None:
        want = pieces.wanted(session, "SQ-2", "1")
        pieces.cut_piece(session, held_reels(session, ["R-1"])[0], want, None, ENTRY)

    store.write(by_hand, "bench 2")
    with pytest.raises(Refused, match="SQ-2 piece 1 is cut already: K-001 off R-1"):
        mark(store, plan, 3)
    assert ledger(store) == [("opening", 50), ("piece", -14)]
    third = steps_of(store, plan)[2]
    assert (third.mark_mm, third.warning) == (None, "cut already, without this plan: leave it out")
    mark(store, plan, 1)
    assert (mark(store, plan, 2).pieces_left, told(store, plan).status) == (0, "done")


def test_what_is_cut_from_the_show_is_left_out_and_its_tape_is_free(store: Store, plan: str) -> None:
    with store.writing("tests") as session:
        element = session.scalars(select(Element).where(Element.tag == "SQ-1")).one()
        element.status = ElementStatus.CUT_FROM_SHOW
        other = build.a_production(session, tag="ROSE")
        tape = session.scalars(select(Tape)).one()
        build.an_element(session, other, ((36,),), tag="RO-1", tape=tape)
    first, second, third, _ = steps_of(store, plan)
    assert (first.warning, second.mark_mm) == ("SQ-1 is cut from show: leave it out", None)
    assert third.mark_mm == 1400.0
    made = planned(store, "ROSE")
    assert [(s.reel, s.cut_mm) for s in steps_of(store, made.number)] == [("R-1", 3600.0)]


def test_more_than_the_reel_has_is_refused_with_the_way_on(store: Store, plan: str) -> None:
    with store.writing("tests") as session:
        build.a_cut(session, session.scalars(select(Reel)).one(), 34)
    with pytest.raises(ReelTooShort, match="R-1 has 1600 mm left and 2000 mm is asked of it") as refusal:
        mark(store, plan, 1)
    assert refusal.value.mend.startswith("Say how much is found on R-1 (short)")
    assert steps_of(store, plan)[1].warning == (
        "R-1 is 1900 mm short of this and what stands before it: say how much is found on it"
    )


def test_a_reel_that_turns_out_short_is_counted_and_the_rest_planned_again(store: Store, plan: str) -> None:
    with store.writing("tests") as session:
        tape_id = session.scalars(select(Reel.tape_id)).one()
        build.a_reel(session, tag="R-2", tape_id=tape_id, left_pitches=14)
    mark(store, plan, 1)
    again = short(store, plan, "R-1", 1600)
    assert ledger(store) == [("opening", 50), ("piece", -20), ("recount", -14)]
    new = told(store, again)
    assert (new.status, new.supersedes, new.steps) == ("kept", "CP-001", 3)
    assert new.note == "R-1 was short: 1600 mm found"
    assert [(s.reel, s.element, s.piece, s.kind) for s in steps_of(store, again)] == [
        ("R-1", "SQ-1", "2", "piece"), ("R-1", None, None, "scrap"), ("R-2", "SQ-2", "1", "piece"),
    ]  # fmt: skip
    old = told(store, plan)
    assert (old.status, old.superseded_by, old.done) == ("superseded", "CP-002", 1)
    assert steps_of(store, plan)[0].cut == "K-001", "what is cut stays cut"
    with pytest.raises(Refused, match="CP-001 is superseded"):
        mark(store, plan, 2)
    mark(store, again, 1)
    assert element(store, "SQ-1")[0] == "cut"


def test_a_reel_that_was_recounted_too_short_for_the_plan_is_planned_again_at_that_length(
    store: Store, plan: str
) -> None:
    """The plan cuts 2000, 1500 and 1400 mm off R-1: with 4900 mm it goes on, with 4800 mm it does not."""
    recounted(store, 49)
    with pytest.raises(Refused, match="4900 mm is not short of that"):
        short(store, plan, "R-1", 4900)
    recounted(store, 48)
    again = short(store, plan, "R-1", 4800)
    assert ledger(store) == [("opening", 50), ("recount", -1), ("recount", -1)]
    new = told(store, again)
    assert (new.status, new.supersedes) == ("kept", "CP-001")
    assert 0 < sum(s.cut_mm for s in steps_of(store, again) if s.reel == "R-1") <= 4800


def test_pieces_that_cannot_match_any_more_are_told_with_the_lot_to_buy(store: Store) -> None:
    with store.writing("tests") as session:
        shop = Shop(session)
        group = shop.match_group(session, "attic")
        shop.element(session, "SQ-1", 20, 20, 20, match_group_id=group)
        shop.reel(session, "R-1", 40, lot="A")
        shop.reel(session, "R-2", 30, lot="A")
        shop.reel(session, "R-3", 50, lot="B")
    number = kept(store).number
    first = steps_of(store, number)[0]
    mark(store, number, first.step)
    other = next(s for s in steps_of(store, number) if s.kind == "piece" and s.reel != first.reel)
    (tape,) = told(store, short(store, number, other.reel, 500)).tapes
    assert [(u.element, u.why) for u in tape.unmet] == [("SQ-1", "no lot yields all of its match group")] * 2
    assert tape.unmet[0].mend == (
        "Buy 1 of lot A, which some of WIN attic is cut from; or cut the whole group again of another lot."
    )


def test_what_is_found_must_be_whole_pitches_and_less_than_the_book(store: Store, plan: str) -> None:
    with pytest.raises(OffCutPitch, match="3333 mm is not a whole number of 100 mm") as refusal:
        short(store, plan, "R-1", 3333)
    assert refusal.value.mend == "Nearest: 3300 mm and 3400 mm."
    for found_mm in (5000, 5100):
        with pytest.raises(Refused, match=f"R-1 has 5000 mm on its book; {found_mm} mm is not short"):
            short(store, plan, "R-1", found_mm)
    with pytest.raises(NotFound, match="no reel R-9"):
        short(store, plan, "R-9", 100)
    with store.writing("tests") as session:
        build.a_reel(session, tag="R-2", tape_id=session.scalars(select(Reel.tape_id)).one())
    with pytest.raises(Refused, match="CP-001 cuts nothing more off R-2"):
        short(store, plan, "R-2", 100)
    assert ledger(store) == [("opening", 50)]


def test_a_plan_of_two_tapes_keeps_the_other_when_one_is_planned_again(store: Store) -> None:
    with store.writing("tests") as session:
        shop = Shop(session)
        other = build.a_tape(session, tag="U-50")
        shop.element(session, "SQ-1", 20)
        shop.element(session, "SQ-2", 30, tape=other)
        shop.reel(session, "R-1")
        build.a_reel(session, other, tag="R-2")
    number = kept(store).number
    again = short(store, number, "R-1", 2500)
    assert [s.tape for s in steps_of(store, number)] == ["U-50"]
    assert [s.tape for s in steps_of(store, again)] == ["T-100"]
    assert (told(store, number).status, told(store, again).status) == ("kept", "kept")


@pytest.fixture
def bought(store: Store) -> str:
    """A plan that cuts 4.8 m off a reel still to come; 200 mm of that are scrap."""
    with store.writing("tests") as session:
        shop = Shop(session)
        group = shop.match_group(session, "attic")
        shop.element(session, "SQ-1", 48, match_group_id=group)
        shop.element(session, "SQ-2", 20, 20, match_group_id=group)
        for tag, lot in (("R-1", "A"), ("R-2", "B")):
            shop.reel(session, tag, 45, lot=lot)
    return kept(store).number


def arrived(store: Store, tag: str, pitches: int = 50, **given: Any) -> None:
    with store.writing("tests") as session:
        tape = session.scalars(select(Tape).where(Tape.tag == "T-100")).one()
        build.a_reel(session, tape, pitches, tag=tag, **given)


def test_a_reel_that_came_takes_the_place_of_the_new_one(store: Store, bought: str) -> None:
    assert [(s.reel, s.element, s.kind) for s in steps_of(store, bought)] == [
        ("new 1", "SQ-1", "piece"), ("new 1", None, "scrap"),
        ("new 2", "SQ-2", "piece"), ("new 2", "SQ-2", "piece"),
    ]  # fmt: skip
    with pytest.raises(Refused, match="step 1 is cut off new 1, which is still to come"):
        mark(store, bought, 1)
    with pytest.raises(ReelTooShort, match="R-1 has 4500 mm that no plan counts on"):
        mark(store, bought, 1, "R-1")
    arrived(store, "R-7", lot="N")
    mark(store, bought, 1, "r-7")
    assert [s.reel for s in steps_of(store, bought)] == ["R-7", "R-7", "new 2", "new 2"]
    assert left(store, "R-7") == (2, "open")


def test_a_reel_of_another_lot_is_refused_where_pieces_must_match(store: Store, bought: str) -> None:
    arrived(store, "R-7", lot="N")
    mark(store, bought, 1, "R-7")
    with pytest.raises(Refused, match="R-1 is of lot A, and pieces that it must match") as refusal:
        mark(store, bought, 3, "R-1")
    assert "Name a reel of lot N" in refusal.value.mend
    arrived(store, "R-8", 60, lot="N")
    mark(store, bought, 3, "R-8")
    assert left(store, "R-8") == (40, "open")


def test_a_reel_that_is_longer_than_planned_leaves_no_scrap(store: Store, bought: str) -> None:
    arrived(store, "R-7", 60, lot="N")
    mark(store, bought, 1, "R-7")
    assert [(s.reel, s.kind) for s in steps_of(store, bought)][:2] == [("R-7", "piece"), ("new 2", "piece")]
    arrived(store, "R-8", 41, lot="N")
    mark(store, bought, 3, "R-8")


def test_a_reel_of_another_tape_is_refused(store: Store, bought: str) -> None:
    with store.writing("tests") as session:
        build.a_reel(session, build.a_tape(session, tag="U-50"), tag="R-9")
    with pytest.raises(Refused, match="R-9 is U-50, not T-100"):
        mark(store, bought, 1, "R-9")


def test_what_is_left_may_be_taken_off_with_the_last_cut_and_gets_its_tag(store: Store) -> None:
    with store.writing("tests") as session:
        shop = Shop(session)
        shop.element(session, "SQ-1", 20, 15)
        shop.reel(session, "R-1", lot="A")
    number = kept(store).number
    with pytest.raises(Refused, match="step 2 is still to be cut off R-1"):
        mark(store, number, 1, offcut="R-1-1")
    assert ledger(store) == [("opening", 50)], "nothing of a refused mark is kept"
    mark(store, number, 1)
    assert mark(store, number, 2, offcut="R-1-1").offcut == "R-1-1"
    assert (left(store, "R-1"), left(store, "R-1-1")) == ((0, "used up"), (15, "offcut"))
    with pytest.raises(StepRefused, match="is not the last cut of R-1"):
        undo(store, number, 2)


def test_a_joint_of_the_factory_is_told_where_it_falls(store: Store, plan: str) -> None:
    with store.writing("tests") as session:
        reel = session.scalars(select(Reel)).one()
        session.add(ReelJoin(reel_id=reel.id, from_hub_pitches=18, kind="factory"))
    second = steps_of(store, plan)[1]
    # 50 - 20 = 30 are left when the second is cut; the joint, 18 from the hub, lies 12 into it.
    assert (second.joint_mm, second.warning) == (1200.0, "a factory joint falls 1200 mm into this piece")
    assert [s.joint_mm for s in steps_of(store, plan)].count(None) == 3
    with store.writing("tests") as session:
        session.scalars(select(ReelJoin)).one().from_hub_pitches = 30
    assert [s.joint_mm for s in steps_of(store, plan)] == [None] * 4, "one at the very mark is cut through"


def test_parts_of_a_joined_piece_are_cut_each_by_itself(store: Store) -> None:
    with store.writing("tests") as session:
        shop = Shop(session)
        shop.element(session, "SQ-1", 60, join_allowed=True)
        shop.reel(session, "R-1", 40)
        shop.reel(session, "R-2", 35)
    number = kept(store).number
    parts = [s for s in steps_of(store, number) if s.kind == "piece"]
    assert sorted(s.piece or "" for s in parts) == ["1a", "1b"]
    mark(store, number, parts[0].step)
    assert element(store, "SQ-1")[0] == "drawn"
    reel, length_mm = parts[1].reel, round(parts[1].cut_mm)
    again = short(store, number, reel, length_mm - 100)
    rest = [s for s in steps_of(store, again) if s.kind == "piece"]
    assert [(s.piece, s.cut_mm) for s in rest] == [("1b", parts[1].cut_mm)]
    assert rest[0].reel != reel, "it is cut off another reel, in one length"
    with store.reading() as session:
        assert session.scalar(select(func.count(PieceCut.id))) == 1
