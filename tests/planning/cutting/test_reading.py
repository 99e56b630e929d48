"""What a cut plan is asked: pieces that are not cut, and tape that nobody else was promised."""

from datetime import date
from typing import Any

import pytest
from sqlalchemy.orm import Session

from service.cutting.problem import Buyable
from service.errors import NotFound
from service.planning.cutting.reading import read_question
from service.season.records import ProductionStatus
from service.shows.records import ElementStatus, PieceCut
from service.stock.records import PlaceKind, PolicyRow, ReelJoin, ReelState
from tests import builders as build
from tests.planning.cutting.shop import TODAY, Shop, asked


@pytest.fixture
def shop(session: Session) -> Shop:
    return Shop(session)


def cut(session: Session, shop: Shop, element: Any, run: int, part: str = "", **given: Any) -> None:
    """A piece of the element on the record as cut: whole, or `pitches` of it as a part."""
    piece = element.runs[run].pieces[0]
    reel = given.pop("reel", None) or shop.reel(session, given.pop("tag", "R-0"), lot=given.pop("lot", "L1"))
    row = build.a_cut(session, reel, given.pop("pitches", piece.cut_pitches), **given)
    session.add(PieceCut(piece_id=piece.id, cut_id=row.id, part=part))
    session.flush()


def wanted(session: Session, *codes: str, **how: Any) -> dict[str, int]:
    return {piece.key: piece.pitches for piece in asked(session, *codes, **how).problem.wanted}


def shelf(session: Session, *codes: str) -> dict[str, int]:
    return {reel.tag: reel.pitches for reel in asked(session, *codes).problem.stock}


def test_pieces_that_are_cut_are_left_and_a_part_leaves_the_rest(session: Session, shop: Shop) -> None:
    element = shop.element(session, "SQ-1", 20, 30, 12)
    cut(session, shop, element, 0)
    cut(session, shop, element, 1, "a", pitches=18, tag="R-2")
    question = asked(session)
    assert {p.key: p.pitches for p in question.problem.wanted} == {"SQ-1/002": 12, "SQ-1/003": 12}
    assert question.pieces["SQ-1/002"].parts == 1


def test_a_disputed_cut_cuts_nothing(session: Session, shop: Shop) -> None:
    element = shop.element(session, "SQ-1", 20)
    cut(session, shop, element, 0, is_disputed=True)
    assert wanted(session) == {"SQ-1/001": 20}


def test_what_is_struck_cut_from_the_show_or_built_is_left(session: Session, shop: Shop) -> None:
    shop.element(session, "SQ-1", 20)
    shop.element(session, "SQ-2", 21, status=ElementStatus.STRUCK)
    shop.element(session, "SQ-3", 22, status=ElementStatus.CUT_FROM_SHOW)
    shop.element(session, "SQ-4", 23, status=ElementStatus.BUILT)
    build.an_element(session, shop.show, tag="SQ-5", tape_id=None)
    assert wanted(session) == {"SQ-1/001": 20}
    assert read_question(session, ["WIN"], TODAY).notes == (
        "The tape is not decided for SQ-5: not planned.",
        "Built already without a cut on record, so not planned: SQ-4.",
    )


def test_a_match_group_that_is_cut_in_part_stays_with_its_lot(session: Session, shop: Shop) -> None:
    group = shop.match_group(session, "attic")
    first = shop.element(session, "SQ-1", 20, match_group_id=group, status=ElementStatus.BUILT)
    shop.element(session, "SQ-2", 20, match_group_id=group)
    assert asked(session).problem.lot_of_group == {}
    cut(session, shop, first, 0, lot="L7")
    assert asked(session).problem.lot_of_group == {"WIN attic": "L7"}


def test_reels_promised_to_others_by_name_are_theirs_until_they_have_cut_them(
    session: Session, shop: Shop
) -> None:
    other = shop.production(session, "ROSE")
    shop.element(session, "SQ-1", 20)
    reel = shop.reel(session, "R-1")
    shop.reel(session, "R-2", 30)
    hold = build.a_hold(session, other, reel_id=reel.id, pitches=35)
    build.a_hold(session, shop.show, reel_id=reel.id, pitches=10)
    assert shelf(session) == {"R-1": 15, "R-2": 30}
    theirs = shop.element(session, "RO-1", 20, show=other)
    hold.created_at = hold.created_at.replace(year=2020)
    session.flush()
    cut(session, shop, theirs, 0, reel=reel)
    assert shelf(session) == {"R-1": 15, "R-2": 30}, "30 are left, 15 of them still promised"
    other.status = ProductionStatus.CLOSED
    session.flush()
    assert shelf(session) == {"R-1": 30, "R-2": 30}


def test_more_promised_by_name_than_there_is_is_said_with_what_could_stand_in(
    session: Session, shop: Shop
) -> None:
    shop.element(session, "SQ-1", 20)
    reel = shop.reel(session, "R-111", 36, lot="A")
    shop.reel(session, "R-112", lot="B")
    build.a_hold(session, shop.show, reel_id=reel.id, pitches=32)
    build.a_hold(session, shop.production(session, "ROSE"), reel_id=reel.id, pitches=8)
    assert asked(session).notes == (
        "R-111 is promised to ROSE 800 mm and WIN 3200 mm and has 3600 mm left: 400 mm short; "
        "R-112 has 5000 mm and is of another lot (B).",
    )


def test_reels_set_aside_in_quarantine_or_scrapped_are_not_used(session: Session, shop: Shop) -> None:
    shop.element(session, "SQ-1", 20)
    quarantine = build.a_place(session, kind=PlaceKind.QUARANTINE)
    shop.reel(session, "R-1", place_id=quarantine.id)
    shop.reel(session, "R-2", state=ReelState.HELD)
    shop.reel(session, "R-3", state=ReelState.SCRAP)
    shop.reel(session, "R-4", 0, state=ReelState.USED_UP)
    own = shop.reel(session, "R-5", state=ReelState.HELD)
    build.a_hold(session, shop.show, reel_id=own.id, pitches=10)
    assert shelf(session) == {"R-5": 50}
    assert asked(session).notes == ("R-1 is in quarantine: not used.", "R-2 is set aside: not used.")


def test_reels_on_order_count_if_they_come_before_the_show_begins(session: Session, shop: Shop) -> None:
    show = shop.production(session, "ROSE", build_start=date(2026, 12, 10), load_in=date(2026, 12, 11))
    shop.element(session, "RO-1", 20, show=show)
    coming = {"tape_id": shop.tape.id, "reel_pitches": 50}
    build.an_order_line(session, quantity=3, received_quantity=1, due_on=date(2026, 12, 10), **coming)
    build.an_order_line(session, quantity=4, due_on=date(2026, 12, 11), order_number="PO-2", **coming)
    question = asked(session, "ROSE", may_buy=False)
    assert question.problem.buyable == (Buyable(50, 1, 2, is_one_lot=True),)
    assert question.notes == ("PO-2 line 1 (4 reels) is due 2026-12-11: not counted on.",)
    assert asked(session, "ROSE").problem.buyable == (Buyable(50, 8000, None, is_one_lot=True),)


def test_rules_of_the_house_say_what_is_kept_and_how_it_is_joined(session: Session, shop: Shop) -> None:
    shop.element(session, "SQ-1", 20, join_allowed=True)
    rules = asked(session).problem.rules
    assert (rules.keep_pitches, rules.shortest_joined_pitches, rules.most_joints) == (3, 3, 1)
    for name, value in (("keep_offcut_m", "0.45"), ("join_min_piece_m", "0.2")):
        session.add(PolicyRow(name=name, value=value))
    session.flush()
    rules = asked(session).problem.rules
    assert (rules.keep_pitches, rules.shortest_joined_pitches) == (5, 2)
    assert asked(session).problem.wanted[0].may_join


def test_joints_are_told_from_the_inner_end_of_what_is_free(session: Session, shop: Shop) -> None:
    shop.element(session, "SQ-1", 20)
    reel = shop.reel(session, "R-1")
    session.add_all(ReelJoin(reel_id=reel.id, from_hub_pitches=at, kind="factory") for at in (5, 30, 60))
    build.a_hold(session, shop.production(session, "ROSE"), reel_id=reel.id, pitches=20)
    assert asked(session).problem.stock[0].joins == (10,)


def test_a_show_or_tape_that_is_not_known_is_refused(session: Session, shop: Shop) -> None:
    shop.element(session, "SQ-1", 20)
    with pytest.raises(NotFound, match="no production NONE"):
        read_question(session, ["WIN", "NONE"], TODAY)
    with pytest.raises(NotFound, match="no tape T-0"):
        read_question(session, ["WIN"], TODAY, ["T-0"])
    assert read_question(session, ["win"], TODAY, ["t-100"]).codes == ("WIN",)
