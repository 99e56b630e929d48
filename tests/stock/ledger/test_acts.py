"""What is done to reels: each act, what it leaves behind, and what is refused."""

from datetime import date
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.errors import (
    BadQuantity,
    InUse,
    NotFound,
    OffCutPitch,
    ReelTooShort,
    Refused,
    ServiceError,
    Stale,
    StepRefused,
)
from service.stock.ledger import acts
from service.stock.ledger.balance import pitches_of
from service.stock.ledger.joints import Joint
from service.stock.ledger.reels import Entry, Held, add_joints, held_reels
from service.stock.records import Cut, CutKind, Reel, ReelJoin, ReelState, Tape
from service.store.work import Store
from tests import builders as build

ENTRY = Entry("bench", date(2026, 11, 25))
FOUND = ENTRY.saying("it was kept")


@pytest.fixture
def tape_of(store: Store) -> str:
    """Two reels of 5 m of one lot, cut every 50 mm."""
    with store.writing("bench") as session:
        tape = build.a_tape(session, tag="T-50")
        for tag in ("R-101", "R-102"):
            build.a_reel(session, tape, tag=tag, lot="A", state=ReelState.SEALED)
    return "T-50"


def one(session: Session, tag: str = "R-101") -> Held:
    return held_reels(session, [tag])[0]


def open_one(session: Session, tag: str = "R-101") -> Held:
    held = one(session, tag)
    acts.open_reel(held)
    return held


def joints(session: Session, reel: Reel) -> list[tuple[int, str]]:
    rows = session.scalars(
        select(ReelJoin).where(ReelJoin.reel_id == reel.id).order_by(ReelJoin.from_hub_pitches)
    )
    return [(row.from_hub_pitches, row.kind.value) for row in rows]


def balances(session: Session) -> dict[str, int]:
    """What is left of every reel, which is always the sum of its undisputed rows."""
    session.expire_all()
    summed = dict(
        session.execute(
            select(Cut.reel_id, func.sum(Cut.change_pitches))
            .where(Cut.is_disputed.is_(False))
            .group_by(Cut.reel_id)
        ).all()
    )
    reels = session.scalars(select(Reel)).all()
    assert {reel.tag: summed.get(reel.id, 0) for reel in reels} == {r.tag: r.left_pitches for r in reels}
    return {reel.tag: reel.left_pitches for reel in reels}


@pytest.mark.usefixtures("tape_of")
def test_a_sealed_reel_is_opened_once_and_by_the_first_cut(store: Store) -> None:
    with store.writing("bench") as session:
        held = open_one(session)
        assert held.reel.state is ReelState.OPEN
        with pytest.raises(StepRefused, match="R-101 is open, not sealed"):
            acts.open_reel(held)
        other = one(session, "R-102")
        acts.take(session, other, CutKind.SCRAP, 3, ENTRY)
        assert other.reel.state is ReelState.OPEN


@pytest.mark.usefixtures("tape_of")
def test_an_offcut_takes_its_length_its_lot_and_the_joints_inside_it(store: Store) -> None:
    with store.writing("bench") as session:
        held = one(session)
        add_joints(session, held.reel, [Joint(30), Joint(60), Joint(90)])
        taken = acts.make_offcut(session, held, 40, ENTRY)
        assert taken.onto is not None
        offcut = taken.onto
        assert (offcut.tag, offcut.lot, offcut.state) == ("R-103", "A", ReelState.OFFCUT)
        assert (offcut.tape_id, offcut.parent_id) == (held.tape.id, held.reel.id)
        assert joints(session, offcut) == [(30, "factory")]
        assert taken.cut.note == "a joint inside, 1500 mm from its inner end; became R-103"
        assert balances(session) == {"R-101": 60, "R-102": 100, "R-103": 40}


@pytest.mark.usefixtures("tape_of")
def test_two_reels_joined_are_one_with_every_joint_at_its_place(store: Store) -> None:
    with store.writing("bench") as session:
        onto, other = held_reels(session, ["R-101", "R-102"])
        add_joints(session, onto.reel, [Joint(10), Joint(80)])
        add_joints(session, other.reel, [Joint(5), Joint(90)])
        acts.take(session, onto, CutKind.SCRAP, 40, ENTRY)  # the joint at 80 goes with it
        acts.take(session, other, CutKind.SCRAP, 80, ENTRY)
        made = acts.join(session, onto, other, ENTRY)
        assert made.from_hub_pitches == 60
        assert joints(session, onto.reel) == [(10, "factory"), (60, "made"), (65, "factory")]
        assert (onto.reel.state, other.reel.state) == (ReelState.OPEN, ReelState.USED_UP)
        assert balances(session) == {"R-101": 80, "R-102": 0}


@pytest.mark.parametrize(
    ("values", "why"),
    [
        ({"lot": "B"}, "R-101 is A and R-9 is B: their colours differ"),
        ({"lot": ""}, "R-101 is A and R-9 is of no known lot"),
        ({"lot": "A", "tape": "other"}, "R-101 is T-50 and R-9 is other"),
        ({"lot": "A", "state": ReelState.SEALED}, "R-9 is sealed"),
        ({"lot": "A", "state": ReelState.SCRAP}, "R-9 is scrap"),
        ({"lot": "A", "retired_on": date(2026, 11, 1)}, "R-9 was retired on 2026-11-01"),
    ],
)
@pytest.mark.usefixtures("tape_of")
def test_reels_that_are_not_alike_are_not_joined(store: Store, values: dict[str, object], why: str) -> None:
    with store.writing("bench") as session:
        given: dict[str, Any] = {"state": ReelState.OPEN} | values
        name = given.pop("tape", None)
        tape = build.a_tape(session, tag=name) if name else session.scalars(select(Tape)).one()
        build.a_reel(session, tape, tag="R-9", **given)
        open_one(session)
        onto, other = held_reels(session, ["R-101", "R-9"])
        before = balances(session)
        with pytest.raises(Refused, match=why) as refusal:
            acts.join(session, onto, other, ENTRY)
        assert refusal.value.mend
        assert balances(session) == before
        assert joints(session, onto.reel) == []


@pytest.mark.usefixtures("tape_of")
def test_a_reel_is_not_joined_to_itself(store: Store) -> None:
    with store.writing("bench") as session:
        held = open_one(session)
        with pytest.raises(Refused, match="cannot be joined to itself"):
            acts.join(session, held, held, ENTRY)


@pytest.mark.usefixtures("tape_of")
def test_what_is_longer_than_the_reel_is_refused_with_one_that_is_long_enough(store: Store) -> None:
    with store.writing("bench") as session:
        tape = session.scalars(select(Tape)).one()
        build.a_reel(session, tape, tag="R-7", lot="B", left_pitches=101)
        held = one(session)
        acts.take(session, held, CutKind.SCRAP, 90, ENTRY)
        for pitches, mend in (
            (11, "Take it from R-102 (5000 mm left, lot A), or recount R-101."),
            (101, "Take it from R-7 (5050 mm left, lot B), or recount R-101."),
            (102, "Recount R-101 if it looks longer; no other reel of T-50 is long enough."),
        ):
            with pytest.raises(ReelTooShort, match="R-101 has 500 mm left") as refusal:
                acts.make_offcut(session, held, pitches, ENTRY)
            assert refusal.value.mend == mend
        assert balances(session) == {"R-101": 10, "R-102": 100, "R-7": 101}


@pytest.mark.parametrize("state", [ReelState.SCRAP, ReelState.USED_UP, ReelState.WRITTEN_OFF])
@pytest.mark.usefixtures("tape_of")
def test_nothing_is_cut_off_a_reel_that_is_closed(store: Store, state: ReelState) -> None:
    with store.writing("bench") as session:
        held = one(session)
        held.reel.state = state
        with pytest.raises(Refused, match=f"R-101 is {state.value}"):
            acts.take(session, held, CutKind.PIECE, 1, ENTRY)
        with pytest.raises(Refused, match=f"R-101 is {state.value}"):
            acts.make_offcut(session, held, 1, ENTRY)
        with pytest.raises(Refused, match=f"R-101 is {state.value}"):
            acts.scrap_rest(session, held, ENTRY)


@pytest.mark.usefixtures("tape_of")
def test_what_is_left_is_scrapped_with_its_reel_and_may_be_found_again(store: Store) -> None:
    with store.writing("bench") as session:
        held = one(session)
        acts.scrap_rest(session, held, ENTRY)
        assert (held.reel.state, held.left) == (ReelState.SCRAP, 0)
        found = acts.recount(session, held, 12, FOUND)
        assert found is not None
        assert (found.change_pitches, found.note) == (12, "0 mm on the book, 600 mm found; it was kept")
        assert held.reel.state.value == "open"
        assert acts.recount(session, held, 12, ENTRY) is None
        acts.recount(session, held, 0, ENTRY)
        assert held.reel.state.value == "used up"
        balances(session)


@pytest.mark.usefixtures("tape_of")
def test_a_row_is_taken_back_once_and_only_where_that_can_be(store: Store) -> None:
    with store.writing("bench") as session:
        held = one(session)
        cut = acts.take(session, held, CutKind.SCRAP, 30, ENTRY).cut
        back = acts.take_back(session, held, cut, ENTRY)
        assert (back.kind, back.change_pitches, back.undoes_id) == (CutKind.RETURNED, 30, cut.id)
        offcut = acts.make_offcut(session, held, 5, ENTRY).cut
        opening = session.scalars(select(Cut).where(Cut.reel_id == held.reel.id, Cut.number.is_(None))).one()
        disputed = build.a_cut(session, held.reel, 20, number="K-900", is_disputed=True)
        for row, error, why in (
            (cut, Refused, f"{cut.number} is taken back already, by {back.number}"),
            (back, Refused, "took another row back"),
            (offcut, InUse, "made an offcut"),
            (opening, InUse, "it is the row that R-101 came with"),
            (disputed, Refused, "K-900 is disputed"),
        ):
            with pytest.raises(error, match=why):
                acts.take_back(session, held, row, ENTRY)
        more = acts.recount(session, held, held.left + 4, FOUND)
        assert more is not None
        acts.take(session, held, CutKind.SCRAP, held.left - 2, ENTRY)
        with pytest.raises(ReelTooShort, match="R-101 has 100 mm left and 200 mm is asked of it"):
            acts.take_back(session, held, more, ENTRY)
        balances(session)


@pytest.mark.usefixtures("tape_of")
def test_what_was_cut_before_a_recount_is_taken_back_only_once_the_recount_is(store: Store) -> None:
    with store.writing("bench") as session:
        held = one(session)
        cut = acts.take(session, held, CutKind.SCRAP, 30, ENTRY).cut
        counted = acts.recount(session, held, 60, ENTRY)
        assert counted is not None
        with pytest.raises(Refused, match=f"R-101 was counted after {cut.number}, in {counted.number}") as no:
            acts.take_back(session, held, cut, ENTRY)
        assert no.value.mend == f"Take the recount {counted.number} back first."
        assert held.left == 60
        acts.take_back(session, held, counted, ENTRY)
        acts.take_back(session, held, cut, ENTRY)
        assert balances(session)["R-101"] == 100


@pytest.mark.usefixtures("tape_of")
def test_more_than_came_less_what_was_cut_is_found_only_with_a_reason(store: Store) -> None:
    with store.writing("bench") as session:
        held = one(session)
        acts.take(session, held, CutKind.SCRAP, 30, ENTRY)
        acts.recount(session, held, 50, ENTRY)
        for pitches in (71, 9000):
            with pytest.raises(
                Refused, match="is more than R-101 can have: what came of it less what was cut is 3500 mm"
            ) as refusal:
                acts.recount(session, held, pitches, ENTRY)
            assert refusal.value.mend == "Measure again; if it is so, say why in a note."
        assert held.left == 50
        acts.recount(session, held, 70, ENTRY)
        acts.recount(session, held, 71, FOUND)
        acts.recount(session, held, 70, ENTRY)  # less than the book says needs no reason
        assert balances(session)["R-101"] == 70


@pytest.mark.usefixtures("tape_of")
def test_a_reel_that_came_into_use_with_less_than_it_was_received_with_may_hold_that(store: Store) -> None:
    with store.writing("bench") as session:
        held = one(session)
        held.reel.received_pitches = 110
        assert acts.recount(session, held, 110, ENTRY) is not None
        with pytest.raises(Refused, match="is more than R-101 can have"):
            acts.recount(session, held, 111, ENTRY)


@pytest.mark.usefixtures("tape_of")
def test_nothing_is_cut_off_a_reel_before_it_was_received(store: Store) -> None:
    with store.writing("bench") as session:
        held = one(session)
        held.reel.received_on = date(2026, 11, 26)
        with pytest.raises(Refused, match="R-101 was received on 2026-11-26, so nothing was cut off it"):
            acts.take(session, held, CutKind.SCRAP, 1, ENTRY)
        acts.take(session, held, CutKind.SCRAP, 1, Entry("bench", date(2026, 11, 26)))


@pytest.mark.usefixtures("tape_of")
def test_a_disputed_row_is_void_for_good_or_counted_once(store: Store) -> None:
    with store.writing("bench") as session:
        held = one(session)
        twice = [
            build.a_cut(session, held.reel, 60, number=f"K-{n}", is_disputed=True) for n in (901, 902, 903)
        ]
        with pytest.raises(BadQuantity, match="why K-901 is void is not said"):
            acts.void(session, held, twice[0], ENTRY)
        acts.void(session, held, twice[0], Entry("bench", ENTRY.on, "entered twice"))
        assert held.left == 100
        again = acts.count(session, held, twice[1], ENTRY)
        assert (again.kind, again.is_disputed, held.left) == (CutKind.PIECE, False, 40)
        with pytest.raises(ReelTooShort, match="counted, K-903 would leave R-101 at -1000 mm"):
            acts.count(session, held, twice[2], ENTRY)
        for row in twice[:2]:
            with pytest.raises(Refused, match=f"{row.number} was settled already"):
                acts.count(session, held, row, ENTRY)
        with pytest.raises(Refused, match="is not disputed"):
            acts.void(session, held, again, Entry("bench", ENTRY.on, "no"))
        balances(session)


@pytest.mark.usefixtures("tape_of")
def test_a_reel_is_found_in_any_letter_case_and_at_the_version_meant(store: Store) -> None:
    with store.writing("bench") as session:
        assert held_reels(session, ["r-102", "R-101"], frozenset({1}))[0].tag == "R-102"
        with pytest.raises(Stale, match="R-101 was changed"):
            held_reels(session, ["R-101"], frozenset({7}))
        with pytest.raises(NotFound, match="there is no reel R-9"):
            held_reels(session, ["R-101", "R-9"])


@given(some.integers(1, 5_000_000), some.integers(1, 200_000))
def test_a_length_is_whole_pitches_or_is_refused_with_the_nearest_that_are(
    length_um: int, pitch_um: int
) -> None:
    """As near as a length is read off: 1.6 mm, and never more than a quarter of a pitch."""
    whole, near_um = length_um // pitch_um, min(1_600, pitch_um // 4)
    for count in (whole, whole + 1):
        if count and abs(length_um - count * pitch_um) <= near_um:
            assert pitches_of(length_um, pitch_um, "T") == count
            return
    with pytest.raises(OffCutPitch) as refusal:
        pitches_of(length_um, pitch_um, "T")
    assert refusal.value.mend.count("mm") == (2 if whole else 1)


ACTS = ("scrap", "piece", "offcut", "join", "recount", "back")


@settings(deadline=None, max_examples=40)
@given(
    some.lists(some.tuples(some.sampled_from(ACTS), some.integers(0, 9), some.integers(1, 70)), max_size=14)
)
def _random_acts(asked: list[tuple[str, int, int]]) -> None:
    store = _random_acts.store  # type: ignore[attr-defined]
    with store.supposing("bench") as session:
        for what, which, pitches in asked:
            _act(session, what, which, pitches)
            found = balances(session)
            assert min(found.values()) >= 0
        _ledger_adds_up(session)


def _act(session: Session, what: str, which: int, pitches: int) -> None:
    tags = session.scalars(select(Reel.tag).order_by(Reel.id)).all()
    held = one(session, tags[which % len(tags)])
    try:
        with session.begin_nested():
            if what in ("scrap", "piece"):
                acts.take(session, held, CutKind(what), pitches, ENTRY)
            elif what == "offcut":
                acts.make_offcut(session, held, pitches, ENTRY)
            elif what == "recount":
                acts.recount(session, held, pitches, FOUND)
            elif what == "join":
                onto, other = held_reels(session, [held.tag, tags[pitches % len(tags)]])
                acts.join(session, onto, other, ENTRY)
            else:
                rows = session.scalars(select(Cut).where(Cut.reel_id == held.reel.id).order_by(Cut.id)).all()
                acts.take_back(session, held, rows[pitches % len(rows)], ENTRY)
    except ServiceError:
        return


def _ledger_adds_up(session: Session) -> None:
    """What was received is what is left and what went out of the house; joints lie inside their reels."""
    rows = session.execute(select(Cut.kind, Cut.change_pitches, Reel.parent_id).join(Reel)).all()
    moved = sum(n for kind, n, _ in rows if kind in (CutKind.OFFCUT, CutKind.JOINED))
    opened = sum(n for kind, n, parent in rows if kind is CutKind.OPENING and parent is not None)
    assert moved + opened == 0
    places = session.execute(select(ReelJoin.reel_id, ReelJoin.from_hub_pitches).order_by(ReelJoin.id)).all()
    assert all(a != b for a, b in pairwise(sorted(places)))


@pytest.mark.usefixtures("tape_of")
def test_whatever_is_done_no_reel_falls_below_nothing_and_no_length_is_lost(store: Store) -> None:
    with store.writing("bench") as session:
        for tag in ("R-101", "R-102"):
            add_joints(session, open_one(session, tag).reel, [Joint(33), Joint(66)])
    _random_acts.store = store  # type: ignore[attr-defined]
    _random_acts()
