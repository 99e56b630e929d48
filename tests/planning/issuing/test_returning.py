"""Units that come back: to their bins, set aside, late, lost and found; and what was a mistake."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date
from threading import Barrier

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import BadRequest, NotOut
from service.planning.issuing.books import Hand
from service.planning.issuing.returning import set_missing
from service.planning.issuing.undoing import undo
from service.planning.snapshot.availability import read_claims
from service.season.records import Hold
from service.shows.faults import Fault
from service.stock.gear import Unit, UnitState
from service.stock.records import Place, PlaceKind
from service.store.work import Store
from tests import builders as build
from tests.planning.issuing.crew import FIRST, LAST, another, issued, promise, promise_model, returned
from tests.planning.stage import TODAY, Stage, a_stage
from tests.reports.test_every_report import counted

HAND = Hand("bench", TODAY)
WRITERS = 8


@pytest.fixture
def stage(session: Session) -> Stage:
    """Four supplies in bin B1; a quarantine place Q1; WIN wants gear from 20 November to 20 December."""
    stage = a_stage(session, supplies=4, decoders=2, needed_from=FIRST, needed_to=LAST)
    home = build.a_place(session, tag="B1")
    for unit in stage.supplies:
        unit.home_id = home.id
    build.a_place(session, tag="Q2", kind=PlaceKind.QUARANTINE)
    build.a_place(session, tag="Q1", kind=PlaceKind.QUARANTINE)
    session.flush()
    return stage


def place_of(session: Session, unit_place: int | None) -> str:
    return session.get_one(Place, unit_place).tag


def test_what_comes_back_ends_its_hold_and_is_in_its_bin(session: Session, stage: Stage) -> None:
    hold = promise(session, stage.show, stage.supplies[0])
    issued(session, "WIN", "PS-1", day=date(2026, 11, 21))
    (row,) = returned(session, "ps-1").done

    assert (row.production, row.hold, row.returned_on, row.days_late) == ("WIN", hold.number, TODAY, 0)
    assert (row.state, row.place, row.fault) == ("good", "B1", None)
    assert (hold.returned_on, hold.returned_by) == (TODAY, "bench")
    unit = stage.supplies[0]
    assert (place_of(session, unit.seen_place_id), unit.seen_on, unit.where_note) == ("B1", TODAY, "")


def test_what_is_bad_is_set_aside_with_what_was_found(session: Session, stage: Stage) -> None:
    issued(session, "WIN", "PS-1", "PS-2")
    rows = returned(session, "PS-1", "PS-2", found="fan does not turn", state=UnitState.SUSPECT).done

    assert [(row.state, row.place) for row in rows] == [("suspect", "Q1")] * 2
    faults = session.scalars(select(Fault).order_by(Fault.id)).all()
    assert [(f.number, f.unit_id, f.symptom, f.found_by, f.found_on, f.mended_on) for f in faults] == [
        (row.fault, unit.id, "fan does not turn", "bench", TODAY, None)
        for row, unit in zip(rows, stage.supplies, strict=False)
    ]
    assert stage.supplies[0].state_note == "fan does not turn"


def test_what_went_bad_while_it_was_out_is_set_aside_too(session: Session, stage: Stage) -> None:
    issued(session, "WIN", "PS-1")
    stage.supplies[0].state, stage.supplies[0].state_note = UnitState.FAULTY, "hums"
    session.flush()

    assert [(row.state, row.place) for row in returned(session, "PS-1").done] == [("faulty", "Q1")]
    assert session.scalars(select(Fault)).all() == []


@pytest.mark.usefixtures("stage")
def test_what_is_bad_does_not_come_back_without_what_was_found(session: Session) -> None:
    issued(session, "WIN", "PS-1")
    for state in (UnitState.FAULTY, UnitState.SUSPECT):
        with pytest.raises(BadRequest, match=f"{state.value} without a word of what was found") as refused:
            returned(session, "PS-1", state=state)
        assert refused.value.mend == "Say what was found."
    assert session.scalars(select(Hold.returned_on)).all() == [None]
    assert [row.state for row in returned(session, "PS-1", found="hums").done] == ["faulty"]


@pytest.mark.usefixtures("stage")
def test_it_may_be_put_elsewhere(session: Session) -> None:
    build.a_place(session, tag="DOCK")
    issued(session, "WIN", "PS-1")
    assert returned(session, "PS-1", place="dock").done[0].place == "DOCK"
    with pytest.raises(BadRequest, match="there is no place NOWHERE"):
        returned(session, "PS-2", place="NOWHERE")


def test_what_was_not_out_is_refused_with_where_the_book_has_it(session: Session, stage: Stage) -> None:
    promise(session, stage.show, stage.supplies[1], date(2026, 12, 1))
    issued(session, "WIN", "PS-4")
    with pytest.raises(NotOut) as refused:
        returned(session, "PS-1", "PS-2", "PS-4")
    assert [error.message for error in refused.value.errors] == [
        "PS-1 was not out: the book has it in its bin B1",
        "PS-2 was not out: the book has it in its bin B1; WIN is to have it from 2026-12-01",
    ]
    assert "issue it to its show first" in refused.value.mend
    assert session.scalars(select(Hold).where(Hold.returned_on.is_not(None))).all() == []

    assert [row.tag for row in returned(session, "PS-1", "PS-4", each=True).done] == ["PS-4"]
    with pytest.raises(NotOut, match="PS-4 was not out: the book has it at B1, seen 2026-11-25"):
        returned(session, "PS-4")


def test_a_hold_whose_days_have_begun_is_out_though_nobody_wrote_that_it_went(
    session: Session, stage: Stage
) -> None:
    """The earlier show has it, late; the later one keeps its promise."""
    late = promise(session, stage.show, stage.supplies[0], FIRST, date(2026, 11, 22))
    other = promise(session, another(session, stage), stage.supplies[0], date(2026, 11, 24))
    (row,) = returned(session, "PS-1").done

    assert (row.production, row.days_late) == ("WIN", 3)
    assert (late.returned_on, other.returned_on) == (TODAY, None)


@pytest.mark.usefixtures("stage")
def test_it_cannot_come_back_before_it_went_or_tomorrow(session: Session) -> None:
    issued(session, "WIN", "PS-1", day=date(2026, 11, 24))
    with pytest.raises(NotOut, match="PS-1 went out to WIN on 2026-11-24, after 2026-11-23"):
        returned(session, "PS-1", day=date(2026, 11, 23))
    with pytest.raises(BadRequest, match="2026-11-26 is still to come"):
        returned(session, "PS-1", day=date(2026, 11, 26))


def test_what_came_back_is_free_from_that_day_on(session: Session, stage: Stage) -> None:
    issued(session, "WIN", "PS-1", day=date(2026, 11, 21))
    returned(session, "PS-1", day=date(2026, 11, 24))
    (claim,) = read_claims(session, TODAY).of_unit(stage.supplies[0].id)
    assert (claim.from_on, claim.until_on) == (date(2026, 11, 21), date(2026, 11, 24))
    another(session, stage)
    assert [row.how for row in issued(session, "ICE", "PS-1").done] == ["new"]


def test_what_nobody_can_find_is_missing_until_it_turns_up(session: Session, stage: Stage) -> None:
    plan = build.a_plan(session, stage.show)
    build.a_placing(session, plan, stage.supplies[0], place_id=stage.deck.id)
    issued(session, "WIN", "PS-1")
    rows = set_missing(session, ["PS-1", "PS-2"], "", HAND).done

    assert [(row.tag, row.production, row.what) for row in rows] == [
        ("PS-1", "WIN", "not back from WIN, due 2026-12-20; placed at DECK; issued by deck"),
        ("PS-2", None, "not found; the book has it in its bin B1"),
    ]
    with pytest.raises(NotOut, match="PS-1 is missing already"):
        set_missing(session, ["PS-1"], "", HAND)
    found = returned(session, "PS-1", "PS-2").done
    assert [(row.production, row.state, row.place) for row in found] == [
        ("WIN", "good", "B1"),
        (None, "good", "B1"),
    ]


def in_turn(store: Store) -> Stage:
    with store.writing("tests") as session:
        return a_stage(session, supplies=3, needed_from=FIRST, needed_to=LAST)


def test_a_return_by_mistake_is_taken_back_with_its_fault(store: Store) -> None:
    stage = in_turn(store)
    with store.writing("tests") as session:
        hold = promise(session, stage.show, stage.supplies[0])
    store.write(lambda s: issued(s, "WIN", "PS-1"), "deck")
    store.write(lambda s: returned(s, "PS-1", found="fan does not turn"), "bench")
    (row,) = store.write(lambda s: undo(s, "return", ["ps-1"], HAND), "bench").done

    assert (row.undone, row.production, row.with_production) == ("return", "WIN", "WIN")
    with store.reading() as session:
        again, unit = session.get_one(Hold, hold.id), session.get_one(Unit, stage.supplies[0].id)
        assert (again.returned_on, again.returned_by, again.issued_on) == (None, "", TODAY)
        assert (unit.state, unit.state_note, unit.seen_place_id) == (UnitState.GOOD, "", None)
        assert unit.where_note == "out with WIN"
        assert session.scalars(select(Fault)).all() == []


def test_an_issue_by_mistake_is_taken_back_and_its_promise_stands_again(store: Store) -> None:
    stage = in_turn(store)
    with store.writing("tests") as session:
        promise(session, stage.show, stage.supplies[0])
        promise_model(session, stage, stage.show, 1)
    store.write(lambda s: issued(s, "WIN", "PS-1", "PS-2", "PS-3"), "deck")
    done = store.write(lambda s: undo(s, "issue", ["PS-1", "PS-2", "PS-3"], HAND, "win"), "deck").done

    # The hold that had begun is out by its days, as it was before.
    assert [row.with_production for row in done] == ["WIN", None, None]
    with store.reading() as session:
        holds = session.scalars(select(Hold).order_by(Hold.id)).all()
        assert [(hold.unit_id is None, hold.issued_on, hold.issued_by) for hold in holds] == [
            (False, None, ""),
            (True, None, ""),
        ]
        assert [want.quantity for want in read_claims(session, TODAY).models] == [1]


def test_what_is_missing_by_mistake_is_as_it_was_before(store: Store) -> None:
    """One that is out stays out, also where its return was taken back; one that was faulty is so again."""
    stage = in_turn(store)
    with store.writing("tests") as session:
        unit = session.get_one(Unit, stage.supplies[1].id)
        unit.state, unit.state_note = UnitState.FAULTY, "hums"
    store.write(lambda s: issued(s, "WIN", "PS-1"), "deck")
    store.write(lambda s: set_missing(s, ["PS-1", "PS-2"], "", HAND), "bench")
    store.write(lambda s: returned(s, "PS-1"), "bench")
    store.write(lambda s: undo(s, "return", ["PS-1"], HAND), "bench")
    done = store.write(lambda s: undo(s, "return", ["ps-1", "PS-2"], HAND), "bench").done

    assert [(row.tag, row.undone, row.production, row.with_production) for row in done] == [
        ("PS-1", "missing", "WIN", "WIN"),
        ("PS-2", "missing", None, None),
    ]
    with store.reading() as session:
        first, second = (session.get_one(Unit, one.id) for one in stage.supplies[:2])
        assert (first.state, first.state_note, first.where_note) == (UnitState.GOOD, "", "out with WIN")
        assert (second.state, second.state_note) == (UnitState.FAULTY, "hums")
        assert session.scalars(select(Hold.returned_on)).all() == [None]
    with pytest.raises(NotOut, match="PS-1 has not come back: there is nothing to take back"):
        store.write(lambda s: undo(s, "return", ["PS-1"], HAND), "bench")


def test_what_was_faulty_went_missing_and_was_found_is_faulty_again(store: Store) -> None:
    """Its return taken back, and then that it was missing: two steps back, not one."""
    stage = in_turn(store)
    store.write(lambda s: issued(s, "WIN", "PS-1"), "deck")
    with store.writing("tests") as session:
        unit = session.get_one(Unit, stage.supplies[0].id)
        unit.state, unit.state_note = UnitState.FAULTY, "hums"
    store.write(lambda s: set_missing(s, ["PS-1"], "not on the truck", HAND), "bench")
    store.write(lambda s: returned(s, "PS-1"), "bench")
    undone = [store.write(lambda s: undo(s, "return", ["PS-1"], HAND), "bench").done[0] for _ in range(2)]

    assert [row.undone for row in undone] == ["return", "missing"]
    with store.reading() as session:
        unit = session.get_one(Unit, stage.supplies[0].id)
        assert (unit.state, unit.state_note) == (UnitState.FAULTY, "hums")


def test_what_is_missing_and_was_written_about_since_is_not_taken_back(store: Store) -> None:
    stage = in_turn(store)
    store.write(lambda s: set_missing(s, ["PS-1"], "", HAND), "bench")
    with store.writing("Ada") as session:
        session.get_one(Unit, stage.supplies[0].id).state_note = "the police know"
    with pytest.raises(NotOut, match="PS-1 was changed by Ada since: the note on its state"):
        store.write(lambda s: undo(s, "return", ["PS-1"], HAND), "bench")


def test_what_moved_on_since_is_not_taken_back(store: Store) -> None:
    stage = in_turn(store)
    with store.writing("tests") as session:
        another(session, stage)
    store.write(lambda s: issued(s, "WIN", "PS-1", "PS-2", "PS-3"), "deck")
    store.write(lambda s: returned(s, "PS-1", "PS-2"), "bench")
    store.write(lambda s: issued(s, "ICE", "PS-1"), "deck")

    def why(deed: str, tag: str) -> str:
        with pytest.raises(NotOut) as refused:
            store.write(lambda s: undo(s, deed, [tag], HAND, None), "bench")  # type: ignore[arg-type]
        return refused.value.message

    assert why("return", "PS-1") == "PS-1 went out to ICE since, on 2026-11-25"
    assert why("return", "PS-3") == "PS-3 has not come back: there is nothing to take back"
    assert why("issue", "PS-2") == "PS-2 came back from WIN on 2026-11-25"
    with store.writing("Ada") as session:
        unit = session.get_one(Unit, stage.supplies[1].id)
        unit.where_note = "in the van"
    assert why("return", "PS-2") == "PS-2 was changed by Ada since: the note on its whereabouts"


def test_of_eight_who_bring_one_back_one_does_and_the_others_hear_where_it_is(store: Store) -> None:
    in_turn(store)
    store.write(lambda s: issued(s, "WIN", "PS-1"), "deck")
    start = Barrier(WRITERS)

    def bring(_n: int) -> str:
        start.wait()
        try:
            return store.write(lambda s: returned(s, "PS-1"), "bench").done[0].state
        except NotOut as refused:
            return refused.message

    with ThreadPoolExecutor(WRITERS) as pool:
        said = sorted(pool.map(bring, range(WRITERS)))
    assert said == ["PS-1 was not out: the book has no bin for it"] * (WRITERS - 1) + ["good"]


def test_more_units_are_read_with_no_more_statements(store: Store) -> None:
    """Of a list that comes back, and of one that is taken back."""
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=25, needed_from=FIRST, needed_to=LAST)
    tags = [unit.tag for unit in stage.supplies]

    def cost(*which: str) -> list[int]:
        found = []
        for act in (
            lambda s: issued(s, "WIN", *which),
            lambda s: returned(s, *which, found="hums"),
            lambda s: undo(s, "return", which, HAND),
            lambda s: undo(s, "issue", which, HAND),
        ):
            with counted(store) as said:
                store.write(act, "deck")
            found.append(sum(one.lstrip().startswith("SELECT") for one in said))
        return found

    few = cost(tags[0])
    assert cost(*tags[1:]) == few
