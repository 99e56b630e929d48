"""Cut plans worked out, kept, taken over by others, abandoned."""

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import NotFound, Refused, StaleSnapshot
from service.planning.cutting.actions import (
    CutAsk,
    abandon_cut_plan,
    ask_for_cut_plan,
    find_cut_plan,
    give_up,
    keep_cut_plan,
    under_way,
    work_out_cuts,
)
from service.planning.cutting.doing import do_step
from service.planning.cutting.records import CutPlanStatus
from service.stock.records import Reel
from service.store.work import Store
from tests import builders as build
from tests.planning.cutting.shop import ENTRY, TODAY, Shop, kept, planned, steps_of, told


@pytest.fixture
def shop(store: Store) -> Shop:
    """Window SQ-1 of 2.0 and 1.5 m, an offcut of 2.1 m and a sealed reel."""
    with store.writing("tests") as session:
        shop = Shop(session)
        shop.element(session, "SQ-1", 20, 15)
        shop.reel(session, "R-1", 21, lot="A")
        shop.reel(session, "R-2", lot="A")
    return shop


def keep(store: Store, number: str) -> None:
    store.write(lambda session: keep_cut_plan(session, number, TODAY), "planner")


def status(store: Store, number: str) -> str:
    return told(store, number).status


@pytest.mark.usefixtures("shop")
def test_a_plan_says_what_it_opens_leaves_and_throws_out(store: Store) -> None:
    made = planned(store)
    (tape,) = made.tapes
    assert (made.number, made.status, made.productions, made.keep_mm) == ("CP-001", "draft", ["WIN"], 300.0)
    assert (tape.pieces, tape.met, tape.needed_m, tape.new_reels) == (2, 2, 3.5, 0)
    assert (tape.opened, tape.opened_reels, tape.scrap_m, tape.is_proven) == (1, ["R-2"], 0.0, True)
    assert [o.label for o in tape.offcuts] == ["R-2 · T-100 · lot A · 1500 mm left"]
    assert tape.left_m == 3.6, "2.1 m stay whole and 1.5 m are left of R-2"
    assert [(s.reel, s.label, s.mark_mm, s.left_mm) for s in steps_of(store, "CP-001")] == [
        ("R-2", "SQ-1/1 · 2000 mm · T-100 · lot A", 2000.0, 3000.0),
        ("R-2", "SQ-1/2 · 1500 mm · T-100 · lot A", 3500.0, 1500.0),
    ]


def test_a_sealed_reel_stays_sealed_where_offcuts_do(store: Store) -> None:
    with store.writing("tests") as session:
        shop = Shop(session)
        shop.element(session, "SQ-1", 20, 15)
        shop.reel(session, "R-1", 21, lot="A")
        shop.reel(session, "R-2", 18, lot="B")
        shop.reel(session, "R-3", lot="A")
    made = planned(store)
    assert (made.tapes[0].opened, made.tapes[0].scrap_m) == (0, 0.1)
    assert [(s.reel, s.kind, s.cut_mm) for s in steps_of(store, made.number)] == [
        ("R-1", "piece", 2000.0), ("R-1", "scrap", 100.0), ("R-2", "piece", 1500.0),
    ]  # fmt: skip


def test_what_is_bought_is_told_from_what_is_on_order(store: Store) -> None:
    with store.writing("tests") as session:
        shop = Shop(session)
        shop.element(session, "SQ-1", 45, 45, 45, 45)
        shop.reel(session, "R-1")
        build.an_order_line(session, tape_id=shop.tape.id, reel_pitches=50, quantity=1, due_on=TODAY)
    (tape,) = planned(store).tapes
    assert (tape.new_reels, tape.on_order, tape.to_buy, tape.price) == (3, 1, 2, 160.0)
    (tape,) = planned(store, may_buy=False).tapes
    assert (tape.new_reels, tape.on_order, tape.to_buy, tape.met) == (1, 1, 0, 2)
    assert [(u.element, u.why, u.mend) for u in tape.unmet] == [
        ("SQ-1", "too little tape", "Plan it with reels to be bought, or order T-100.")
    ] * 2


def test_a_piece_longer_than_any_reel_is_told_so(store: Store) -> None:
    with store.writing("tests") as session:
        shop = Shop(session)
        shop.element(session, "SQ-1", 60)
        shop.reel(session, "R-1")
    (unmet,) = planned(store).tapes[0].unmet
    assert (unmet.element, unmet.piece, unmet.cut_mm, unmet.why) == (
        "SQ-1",
        1,
        6000.0,
        "longer than any reel",
    )
    assert unmet.mend == "Allow a joint in SQ-1, or draw it in two: the longest length there is 5000 mm."


def test_a_joint_is_made_only_where_it_is_allowed_and_saves_a_reel(store: Store) -> None:
    with store.writing("tests") as session:
        shop = Shop(session)
        shop.element(session, "SQ-1", 60, join_allowed=True)
        shop.reel(session, "R-1", 40)
        shop.reel(session, "R-2", 30)
    made = planned(store)
    assert (made.tapes[0].joints, made.tapes[0].met) == (1, 1)
    parts = sorted((s.piece, s.cut_mm) for s in steps_of(store, made.number) if s.kind == "piece")
    assert [name for name, _ in parts] == ["1a", "1b"]
    assert sum(length for _, length in parts) == 6000.0
    assert all(length >= 300.0 for _, length in parts)


def test_a_lot_with_more_metres_but_not_the_pieces_is_told_so(store: Store) -> None:
    with store.writing("tests") as session:
        shop = Shop(session)
        group = shop.match_group(session, "attic")
        shop.element(session, "SQ-1", 13, 13, 13, 13, match_group_id=group)
        for n in range(5):
            shop.reel(session, f"R-{n}", 12, lot="SHORT")
        shop.reel(session, "R-9", 27, lot="LONG")
        shop.reel(session, "R-8", 26, lot="LONG")
    (tape,) = planned(store).tapes
    assert [(y.lot, y.on_hand_m, y.yields_all, y.missing_pieces) for y in tape.lots] == [
        ("LONG", 5.3, True, 0), ("SHORT", 6.0, False, 4),
    ]  # fmt: skip
    assert "more metres but not the pieces" in tape.lots[1].says


@pytest.mark.usefixtures("shop")
def test_a_plan_is_kept_once_and_only_while_what_it_rests_on_stands(store: Store) -> None:
    first, second = planned(store).number, planned(store).number
    keep(store, first)
    assert status(store, first) == "kept"
    with pytest.raises(Refused, match="CP-001 is kept; only a draft"):
        keep(store, first)
    with store.writing("tests") as session:
        reel = session.scalars(select(Reel).where(Reel.tag == "R-2")).one()
        build.a_cut(session, reel, 1)
    with pytest.raises(StaleSnapshot, match="CP-002 was worked out"):
        keep(store, second)
    assert (status(store, first), status(store, second)) == ("kept", "draft")


def test_nothing_to_cut_is_no_plan_to_keep(store: Store) -> None:
    with store.writing("tests") as session:
        Shop(session)
    made = planned(store)
    assert (made.tapes, made.steps) == ([], 0)
    with pytest.raises(Refused, match="nothing to cut"):
        keep(store, made.number)


@pytest.mark.usefixtures("shop")
def test_a_kept_plan_takes_the_place_of_the_one_for_the_same_pieces(store: Store) -> None:
    first = kept(store).number
    second = kept(store, tapes=["T-100"]).number
    assert (status(store, first), status(store, second)) == ("superseded", "kept")
    assert len(steps_of(store, first)) == 2, "what was superseded can still be read"


def test_a_plan_for_several_shows_goes_on_with_those_that_another_does_not_take_over(store: Store) -> None:
    with store.writing("tests") as session:
        shop = Shop(session)
        other = shop.production(session, "ROSE")
        shop.element(session, "SQ-1", 20)
        shop.element(session, "RO-1", 28, show=other)
        shop.reel(session, "R-1")
        shop.reel(session, "R-2")
    both = kept(store, "WIN", "ROSE")
    assert [(s.reel, s.element, s.kind) for s in steps_of(store, both.number)] == [
        ("R-1", "RO-1", "piece"), ("R-1", "SQ-1", "piece"), ("R-1", None, "scrap"),
    ]  # fmt: skip
    one = kept(store, "WIN")
    assert [s.element for s in steps_of(store, both.number)] == ["RO-1"]
    assert (status(store, both.number), status(store, one.number)) == ("kept", "kept")
    assert told(store, both.number).note == "CP-002 took over 1 of its cuts"
    assert [(s.reel, s.element) for s in steps_of(store, one.number)][:1] == [("R-1", "SQ-1")]


def test_what_another_kept_plan_cuts_is_not_planned_again(store: Store) -> None:
    with store.writing("tests") as session:
        shop = Shop(session)
        other = shop.production(session, "ROSE")
        shop.element(session, "SQ-1", 30)
        shop.element(session, "RO-1", 30, show=other)
        shop.reel(session, "R-1")
    kept(store, "WIN")
    made = planned(store, "ROSE")
    assert (made.tapes[0].new_reels, [s.reel for s in steps_of(store, made.number)]) == (1, ["new 1"])
    store.write(lambda session: abandon_cut_plan(session, "1"), "planner")
    made = planned(store, "ROSE")
    assert [s.reel for s in steps_of(store, made.number)] == ["R-1"]


@pytest.mark.usefixtures("shop")
def test_what_is_left_for_other_shows_is_said(store: Store) -> None:
    with store.writing("tests") as session:
        shop = tape_and_show(session)
        build.a_hold(session, shop, tape_id=session.scalars(select(Reel.tape_id)).first(), pitches=100)
    (tape,) = planned(store).tapes
    assert (tape.left_m, tape.others, tape.others_m, tape.short_for_others_m) == (3.6, ["ROSE"], 10.0, 6.4)


def tape_and_show(session: Session):  # type: ignore[no-untyped-def]
    return build.a_production(session, tag="ROSE")


@pytest.mark.usefixtures("shop")
def test_a_plan_under_way_can_be_abandoned_and_one_that_broke_says_why(store: Store) -> None:
    def ask() -> int:
        plan = store.write(lambda s: ask_for_cut_plan(s, CutAsk(["WIN"]), "planner", TODAY), "planner")
        return plan.id

    first, second, third = ask(), ask(), ask()
    with store.reading() as session:
        assert under_way(session) == [first, second, third]
    store.write(lambda session: abandon_cut_plan(session, "CP-001"), "planner")
    assert work_out_cuts(store, first, TODAY) is CutPlanStatus.ABANDONED
    assert give_up(store, second, "the solver ended") is CutPlanStatus.ABANDONED
    assert told(store, "cp-002").error == "the solver ended"
    with store.reading() as session:
        assert under_way(session) == [third]
    with pytest.raises(Refused, match="CP-001 is abandoned already"):
        store.write(lambda session: abandon_cut_plan(session, "1"), "planner")
    with pytest.raises(Refused, match="still being worked out"):
        keep(store, "3")
    with pytest.raises(NotFound, match="no cut plan 9"):
        keep(store, "9")


def test_what_changes_while_it_is_worked_out_ends_it(shop: Shop, store: Store) -> None:
    plan = store.write(lambda s: ask_for_cut_plan(s, CutAsk(["WIN"]), "planner", TODAY), "planner")

    def draw_another(_done: int, _tapes: int) -> None:
        with store.writing("somebody") as session:
            shop.element(session, "SQ-2", 10)

    assert work_out_cuts(store, plan.id, TODAY, draw_another) is CutPlanStatus.ABANDONED
    assert told(store, "1").error == (
        "pieces, reels or promises changed while it was worked out. Ask for the plan again."
    )


def test_one_that_is_kept_at_once_reads_again_what_changed(shop: Shop, store: Store) -> None:
    ask = CutAsk(["WIN"], keeps=True)
    plan = store.write(lambda s: ask_for_cut_plan(s, ask, "planner", TODAY), "planner")
    drawn: list[str] = []

    def draw_another_once(_done: int, _tapes: int) -> None:
        if not drawn:
            with store.writing("somebody") as session:
                drawn.append(shop.element(session, "SQ-2", 10).tag)

    assert work_out_cuts(store, plan.id, TODAY, draw_another_once) is CutPlanStatus.KEPT
    assert {step.element for step in steps_of(store, "1")} == {"SQ-1", "SQ-2"}


@pytest.mark.usefixtures("shop")
def test_a_draft_is_not_cut_from(store: Store) -> None:
    number = planned(store).number
    with pytest.raises(Refused, match="CP-001 is a draft"):
        store.write(lambda s: do_step(s, number, 1, None, None, ENTRY), "bench")
    with store.reading() as session:
        assert find_cut_plan(session, number).status is CutPlanStatus.DRAFT
