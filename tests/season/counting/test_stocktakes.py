"""A place counted: what differs from the book is accepted or looked for; nothing is overwritten unseen."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date, timedelta
from threading import Barrier
from typing import Any

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import BookChanged, InUse, NotFound, RefusedTags, Stale, StepRefused
from service.planning.issuing.books import Hand as Deck
from service.planning.issuing.issuing import issue
from service.season.counting.records import Outcome, StocktakeLine, StocktakeStatus
from service.season.counting.settling import Settled, accept, look_for
from service.season.counting.taking import Counted, Hand, begin, close, count, find_stocktake, outcomes
from service.season.counting.telling import lines_out
from service.season.records import Hold, ProductionStatus
from service.stock.gear import Unit, UnitState
from service.stock.records import Cut, CutKind, Place, Reel, ReelState
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage
from tests.reports.test_every_report import counted as statements

HAND = Hand("Ada", TODAY)
WRITERS = 8
TO_COUNT, AGREES, DIFFERS = Outcome.TO_COUNT, Outcome.AGREES, Outcome.DIFFERS


@dataclass
class Shelf:
    """A store S with bins B1 (PS-1, PS-2, R-1 of 100 pitches of 50 mm) and B2 (PS-3); PS-4 is in bin B9."""

    stage: Stage
    reel: Reel


def a_shelf(session: Session) -> Shelf:
    stage = a_stage(session, supplies=4)
    top = build.a_place(session, tag="S")
    first = build.a_place(session, tag="B1", parent_id=top.id)
    second = build.a_place(session, tag="B2", parent_id=top.id)
    other = build.a_place(session, tag="B9")
    for unit, home in zip(stage.supplies, (first, first, second, other), strict=True):
        unit.home_id = home.id
    session.flush()
    return Shelf(stage, build.a_reel(session, stage.tape, tag="R-1", place_id=first.id))


@pytest.fixture
def shelf(store: Store) -> Shelf:
    with store.writing("tests") as session:
        return a_shelf(session)


def started(store: Store, place: str = "S") -> str:
    return str(store.write(lambda session: begin(session, place, HAND).number, "Ada"))


def counts(store: Store, *found: Counted, name: str = "ST-001") -> list[Outcome]:
    lines = store.write(lambda session: count(session, name, found, HAND), "Ada")
    return [line.outcome for line in lines]


def accepted(store: Store, *tags: str, by: str = "Ada", each: bool = False) -> Settled:
    hand = Hand(by, TODAY)
    return store.write(lambda session: accept(session, "ST-001", tags, hand, each), by)


def lines_of(store: Store) -> dict[str, StocktakeLine]:
    with store.reading() as session:
        return {line.thing_key: line for line in session.scalars(select(StocktakeLine))}


def unit_of(store: Store, tag: str) -> Unit:
    with store.reading() as session:
        return session.scalars(select(Unit).where(Unit.tag_key == tag)).one()


@pytest.mark.usefixtures("shelf")
def test_a_stocktake_begins_with_what_the_book_has_at_the_place_and_inside_it(store: Store) -> None:
    with store.writing("tests") as session:
        session.scalars(select(Unit).where(Unit.tag == "PS-2")).one().state = UnitState.MISSING
        session.scalars(select(Unit).where(Unit.tag == "PS-3")).one().retired_on = TODAY
        elsewhere = session.scalars(select(Place).where(Place.tag == "B2")).one()
        session.scalars(select(Unit).where(Unit.tag == "PS-4")).one().seen_place_id = elsewhere.id
    assert started(store) == "ST-001"
    lines = lines_of(store)

    assert sorted(lines) == ["PS-1", "PS-4", "R-1"]
    assert {line.outcome for line in lines.values()} == {TO_COUNT}
    assert (lines["R-1"].book_pitches, lines["R-1"].book_state, lines["PS-1"].is_found) == (
        100,
        "sealed",
        None,
    )


def test_what_is_out_is_not_expected(store: Store, shelf: Shelf) -> None:
    with store.writing("tests") as session:
        build.a_hold(session, shelf.stage.show, unit_id=shelf.stage.supplies[0].id, quantity=1)
        issue(session, "WIN", ["PS-2"], Deck("deck", TODAY), TODAY)
    started(store)
    assert sorted(lines_of(store)) == ["PS-3", "R-1"]


@pytest.mark.usefixtures("shelf")
def test_one_stocktake_counts_a_place_at_a_time(store: Store) -> None:
    started(store, "b1")
    for place in ("S", "B1"):
        with pytest.raises(InUse, match="ST-001 counts B1 already, begun by Ada"):
            started(store, place)
    assert started(store, "B2") == "ST-002"
    store.write(lambda session: close(session, "ST-001", HAND, abandon=True), "Ada")
    assert started(store, "B1") == "ST-003"


@pytest.mark.usefixtures("shelf")
def test_what_is_inside_a_place_that_is_counted_is_counted_with_it(store: Store) -> None:
    started(store, "S")
    with pytest.raises(InUse, match="ST-001 counts S already, begun by Ada"):
        started(store, "B2")


@pytest.mark.usefixtures("shelf")
def test_what_was_counted_agrees_or_differs(store: Store) -> None:
    started(store)
    assert counts(store, Counted("ps-1"), Counted("PS-2", is_found=False)) == [AGREES, DIFFERS]
    assert counts(store, Counted("PS-3", state="faulty", note="hums")) == [DIFFERS]
    assert counts(store, Counted("R-1")) == [AGREES]
    assert counts(store, Counted("R-1", length_mm=5000)) == [AGREES]
    assert counts(store, Counted("R-1", pitches=97)) == [DIFFERS]
    assert counts(store, Counted("PS-4")) == [DIFFERS]
    line = lines_of(store)["PS-4"]
    assert (line.is_expected, line.is_found, line.counted_by) == (False, True, "Ada")
    assert counts(store, Counted("PS-4", is_found=False)) == [AGREES]


@pytest.mark.parametrize(
    ("one", "why"),
    [
        ({"tag": "PS-99"}, "no unit or reel has the tag PS-99"),
        ({"tag": "S320"}, "no unit or reel has the tag S320"),
        (
            {"tag": "R-1", "length_mm": 4970},
            "R-1: 4970 mm is not a whole number of 50 mm cut pitches of T-RGBW",
        ),
        ({"tag": "R-1", "length_mm": 4950, "pitches": 99}, "R-1 is given two lengths"),
        ({"tag": "PS-1", "pitches": 3}, "PS-1 is no reel and has no length"),
        ({"tag": "PS-1", "state": "sealed"}, "sealed is no state of PS-1"),
        ({"tag": "PS-1", "state": "missing"}, "PS-1 was found and cannot be missing"),
        ({"tag": "PS-1", "state": "faulty"}, "PS-1 is faulty without a word why"),
    ],
)
@pytest.mark.usefixtures("shelf")
def test_a_count_that_cannot_be_is_refused_and_nothing_of_it_is_kept(
    store: Store, one: dict[str, Any], why: str
) -> None:
    started(store)
    with pytest.raises(RefusedTags) as refused:
        counts(store, Counted("PS-2"), Counted(**one))
    assert [(error.row, error.message) for error in refused.value.errors] == [(1, why)]
    assert refused.value.mend
    assert {line.outcome for line in lines_of(store).values()} == {TO_COUNT}


@pytest.mark.usefixtures("shelf")
def test_what_is_counted_as_found_and_as_not_found_at_once_is_refused(store: Store) -> None:
    started(store)
    for both in ((Counted("PS-1"), Counted(" ps-1", False)), (Counted("R-1", False), Counted("R-1"))):
        with pytest.raises(RefusedTags) as refused:
            counts(store, Counted("PS-2"), *both)
        tag = both[0].tag
        assert [(error.row, error.message) for error in refused.value.errors] == [
            (1, f"{tag} is counted as found and as not found"),
            (2, f"{tag} is counted as found and as not found"),
        ]
        assert refused.value.mend == "Send one of the two."
    assert {line.outcome for line in lines_of(store).values()} == {TO_COUNT}
    assert counts(store, Counted("PS-1"), Counted("ps-1")) == [AGREES]


def test_accepted_differences_put_the_book_right(store: Store, shelf: Shelf) -> None:
    started(store)
    counts(
        store, Counted("PS-1"), Counted("PS-2", is_found=False, note="looked twice"),
        Counted("PS-3", state="faulty", note="hums"), Counted("PS-4"), Counted("R-1", length_mm=4850),
    )  # fmt: skip
    assert [line.thing_key for line in accepted(store).lines] == ["PS-2", "PS-3", "R-1", "PS-4"]

    gone, bad, moved = unit_of(store, "PS-2"), unit_of(store, "PS-3"), unit_of(store, "PS-4")
    assert (gone.state, gone.state_note) == (UnitState.MISSING, "not found at S, ST-001; looked twice")
    assert (bad.state, bad.state_note) == (UnitState.FAULTY, "hums")
    with store.reading() as session:
        assert session.get_one(Place, moved.seen_place_id).tag == "S"
        reel = session.get_one(Reel, shelf.reel.id)
        assert (reel.left_pitches, reel.state) == (97, ReelState.OPEN)
        rows = session.scalars(select(Cut).where(Cut.reel_id == reel.id).order_by(Cut.id)).all()
        assert [(row.kind, row.change_pitches) for row in rows][1:] == [(CutKind.RECOUNT, -3)]
        assert sum(row.change_pitches for row in rows) == reel.left_pitches
    assert unit_of(store, "PS-1").version == 2  # made, and given its bin: a count that agrees changes nothing


def test_a_reel_that_is_not_there_is_written_off_and_one_that_turns_up_is_back(
    store: Store, shelf: Shelf
) -> None:
    started(store)
    counts(store, Counted("R-1", is_found=False))
    accepted(store, "r-1")
    with store.reading() as session:
        reel = session.get_one(Reel, shelf.reel.id)
        assert (reel.left_pitches, reel.state) == (0, ReelState.WRITTEN_OFF)

    with pytest.raises(RefusedTags, match="R-1 is written off by the book and was found"):
        counts(store, Counted("R-1"))
    assert counts(store, Counted("R-1", pitches=40)) == [DIFFERS]
    accepted(store, "R-1")
    with store.reading() as session:
        reel = session.get_one(Reel, shelf.reel.id)
        assert (reel.left_pitches, reel.state) == (40, ReelState.OPEN)


def test_what_the_book_has_out_and_is_here_comes_back_by_it(store: Store, shelf: Shelf) -> None:
    with store.writing("tests") as session:
        issue(session, "WIN", ["PS-1"], Deck("deck", TODAY), TODAY)
        show = build.a_production(session, shelf.stage.venue, tag="ICE")
        late = {"until_on": TODAY - timedelta(days=3)}
        build.a_hold(session, show, unit_id=shelf.stage.supplies[1].id, quantity=1, **late)
        # Promised to a show that is still building, begun, and in its bin: nothing to put right.
        new = build.a_production(session, shelf.stage.venue, tag="NEW", status=ProductionStatus.BUILDING)
        build.a_hold(session, new, unit_id=shelf.stage.supplies[2].id, quantity=1)
    started(store)
    assert counts(store, Counted("PS-1"), Counted("PS-2"), Counted("PS-3")) == [DIFFERS, DIFFERS, AGREES]
    accepted(store)
    with store.reading() as session:
        holds = session.scalars(select(Hold).order_by(Hold.unit_id)).all()
        assert [(hold.returned_on, hold.returned_by) for hold in holds] == [
            (TODAY, "Ada"), (TODAY, "Ada"), (None, ""),
        ]  # fmt: skip


@pytest.mark.parametrize(
    "status", [ProductionStatus.IN_TECH, ProductionStatus.RUNNING, ProductionStatus.CLOSED]
)
def test_what_a_show_at_work_has_is_away_though_nobody_wrote_that_it_went(
    store: Store, shelf: Shelf, status: ProductionStatus
) -> None:
    started(store)
    with store.writing("tests") as session:
        show = build.a_production(session, shelf.stage.venue, tag="ICE", status=status)
        until_on = TODAY + timedelta(days=10)
        for unit in shelf.stage.supplies[:2]:
            build.a_hold(session, show, unit_id=unit.id, quantity=1, from_on=TODAY, until_on=until_on)
    assert counts(store, Counted("PS-1"), Counted("PS-2", is_found=False)) == [DIFFERS, AGREES]
    with store.reading() as session:
        told = lines_out(session, [find_stocktake(session, "ST-001")], TODAY)
    assert {line.tag: line.differences for line in told if line.found is not None} == {
        "PS-1": [f"here; by the book it is with ICE until {until_on - timedelta(days=1)}"],
        "PS-2": [],
    }


@pytest.mark.usefixtures("shelf")
def test_what_was_missing_and_is_here_is_good_again(store: Store) -> None:
    with store.writing("tests") as session:
        session.scalars(select(Unit).where(Unit.tag == "PS-2")).one().state = UnitState.MISSING
    started(store)
    counts(store, Counted("PS-2"))
    accepted(store, "PS-2")
    assert unit_of(store, "PS-2").state is UnitState.GOOD


@pytest.mark.usefixtures("shelf")
def test_what_changed_since_it_was_counted_is_not_overwritten(store: Store) -> None:
    started(store)
    counts(
        store, Counted("PS-1", is_found=False), Counted("PS-2", is_found=False), Counted("R-1", pitches=90)
    )
    with store.writing("Bo") as session:
        session.scalars(select(Unit).where(Unit.tag == "PS-1")).one().state_note = "on the bench"
        build.a_cut(session, session.scalars(select(Reel)).one(), 5)

    with pytest.raises(BookChanged) as refused:
        accepted(store)
    assert [error.message for error in refused.value.errors] == [
        "PS-1 was changed by Bo since it was counted: the note on its state is now on the bench",
        "R-1 was changed by Bo since it was counted: its length is now 4750 mm, its state is now open",
    ]
    assert refused.value.mend == "Count PS-1 again."
    assert unit_of(store, "PS-2").state is UnitState.GOOD
    assert [line.thing_key for line in accepted(store, each=True).lines] == ["PS-2"]

    counts(store, Counted("PS-1", is_found=False), Counted("R-1", pitches=90))
    accepted(store)
    assert unit_of(store, "PS-1").state is UnitState.MISSING
    with store.reading() as session:
        assert session.scalars(select(Reel.left_pitches)).one() == 90


@pytest.mark.usefixtures("shelf")
def test_what_went_out_since_it_was_not_found_is_not_called_missing(store: Store) -> None:
    started(store)
    counts(store, Counted("PS-1", is_found=False), Counted("PS-2", is_found=False))
    with store.writing("deck") as session:
        issue(session, "WIN", ["PS-1"], Deck("deck", TODAY), TODAY)
        # A hold written by hand leaves the unit itself as it was.
        show, unit = session.scalars(select(Hold)).one().production_id, unit_of(store, "PS-2")
        session.add(
            Hold(production_id=show, unit_id=unit.id, quantity=1, from_on=TODAY, issued_on=TODAY,
                 until_on=date(2026, 12, 19))
        )  # fmt: skip
    with pytest.raises(BookChanged) as refused:
        accepted(store)
    assert [error.message for error in refused.value.errors] == [
        "PS-1 is with WIN until 2026-12-18 by now",
        "PS-2 is with WIN until 2026-12-18 by now",
    ]


@pytest.mark.usefixtures("shelf")
def test_it_closes_when_nothing_is_left_to_count_or_to_settle(store: Store) -> None:
    started(store)
    counts(store, Counted("PS-1"), Counted("PS-2", is_found=False), Counted("PS-3"))

    def closed(expected: frozenset[int] | None = None) -> StocktakeStatus:
        return store.write(lambda session: close(session, "S", HAND, expected), "Ada").status

    with pytest.raises(StepRefused, match="1 thing is still to count in ST-001"):
        closed()
    counts(store, Counted("R-1"))
    with pytest.raises(StepRefused, match="1 difference is not settled in ST-001"):
        closed()
    with pytest.raises(RefusedTags, match="PS-1 agrees with the book: there is nothing to settle"):
        store.write(lambda session: look_for(session, "ST-001", ["PS-1"]), "Ada")
    store.write(lambda session: look_for(session, "ST-001", ["PS-2"]), "Ada")
    assert unit_of(store, "PS-2").state is UnitState.GOOD
    with pytest.raises(Stale, match="ST-001 was changed"):
        closed(frozenset({99}))
    assert closed() is StocktakeStatus.CLOSED
    with pytest.raises(StepRefused, match="ST-001 is closed"):
        counts(store, Counted("PS-1"))
    with pytest.raises(NotFound, match="there is no stocktake S"), store.reading() as session:
        find_stocktake(session, "S")
    with store.reading() as session:
        number = find_stocktake(session, "1").id
        assert outcomes(session, [number])[number] == {AGREES: 3, Outcome.TO_LOOK_FOR: 1}


def test_more_things_are_read_with_no_more_statements(store: Store, shelf: Shelf) -> None:
    def cost(place: str, name: str, *tags: str) -> list[int]:
        hand = HAND
        found = []
        for act in (
            lambda s: begin(s, place, hand),
            lambda s: count(s, name, [Counted(tag, is_found=False) for tag in tags], hand),
            lambda s: accept(s, name, [], hand),
        ):
            with statements(store) as said:
                store.write(act, "Ada")
            found.append(sum(one.lstrip().startswith("SELECT") for one in said))
        return found

    few = cost("B2", "ST-001", "PS-3")
    with store.writing("tests") as session:
        home = session.scalars(select(Place).where(Place.tag == "B9")).one()
        made = [build.a_supply(session, shelf.stage.supply_model, home_id=home.id) for _ in range(20)]
        tags = [unit.tag for unit in made]
    many = cost("B9", "ST-002", "PS-4", *tags)
    assert many == few


@pytest.mark.usefixtures("shelf")
def test_of_eight_who_begin_at_one_place_one_does_and_the_others_hear_of_it(store: Store) -> None:
    start = Barrier(WRITERS)

    def take(n: int) -> str:
        start.wait()
        try:
            return started(store, ("S", "B1", "B2")[n % 2])
        except InUse as refused:
            return refused.message.partition(" already")[0]

    with ThreadPoolExecutor(WRITERS) as pool:
        said = list(pool.map(take, range(WRITERS)))
    assert said.count("ST-001") == 1
    assert {one for one in said if one != "ST-001"} <= {"ST-001 counts S", "ST-001 counts B1"}
