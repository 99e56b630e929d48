"""Units that go out to a show: on which promise, and why not."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from threading import Barrier

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.errors import BadRequest, NotFound, NotFree, Refused
from service.planning.snapshot.availability import read_claims
from service.season.records import Hold, ProductionStatus
from service.stock.gear import UnitState
from service.store.audit import AuditEntry
from service.store.work import Store
from tests import builders as build
from tests.planning.issuing.crew import FIRST, LAST, another, issued, promise, promise_model
from tests.planning.stage import TODAY, Stage, a_stage
from tests.reports.test_every_report import counted

WRITERS = 8


@pytest.fixture
def stage(session: Session) -> Stage:
    """Four supplies PS-1 to PS-4, two decoders; WIN wants gear from 20 November to 20 December."""
    return a_stage(session, supplies=4, decoders=2, needed_from=FIRST, needed_to=LAST)


def refusal(session: Session, code: str, *tags: str, day: date = TODAY) -> tuple[str, str]:
    with pytest.raises(NotFree) as refused:
        issued(session, code, *tags, day=day)
    assert session.scalars(select(Hold.id).where(Hold.issued_on.is_not(None))).all() == []
    return refused.value.message, refused.value.mend


def test_a_unit_goes_out_on_its_own_hold_whatever_the_case_of_its_tag(session: Session, stage: Stage) -> None:
    hold = promise(session, stage.show, stage.supplies[0], number="H-7")
    answer = issued(session, "win", " ps-1 ", "PS-1")

    (row,) = answer.done
    assert (row.tag, row.hold, row.how, row.issued_on, row.due_on) == ("PS-1", "H-7", "its hold", TODAY, LAST)
    assert (hold.issued_on, hold.issued_by, hold.returned_on) == (TODAY, "deck", None)
    assert stage.supplies[0].where_note == "out with WIN"


def test_a_unit_is_drawn_from_what_the_show_was_promised_of_its_model(session: Session, stage: Stage) -> None:
    whole = promise_model(session, stage, stage.show, 2)
    answer = issued(session, "WIN", "PS-2", "PS-3", "PS-4", each=True)

    assert [(row.tag, row.how, row.drawn_from) for row in answer.done] == [
        ("PS-2", "drawn", whole.number),
        ("PS-3", "drawn", whole.number),
        ("PS-4", "new", None),
    ]
    drawn = session.scalars(select(Hold).where(Hold.drawn_from_id == whole.id).order_by(Hold.id)).all()
    assert [(h.from_on, h.until_on, h.quantity) for h in drawn] == [(TODAY, whole.until_on, 1)] * 2
    claims = read_claims(session, TODAY)
    assert [(w.quantity, w.from_on, w.until_on) for w in claims.models] == [(1, FIRST, TODAY)] * 2
    assert len(claims.units) == 3


@pytest.mark.usefixtures("stage")
def test_without_a_promise_it_is_out_for_the_days_of_the_show(session: Session) -> None:
    (row,) = issued(session, "WIN", "PS-4", day=date(2026, 11, 23)).done
    hold = session.scalars(select(Hold)).one()

    assert (row.how, row.due_on, hold.number) == ("new", LAST, row.hold)
    assert (hold.from_on, hold.until_on) == (date(2026, 11, 23), LAST + timedelta(days=1))
    assert str(row.hold).startswith("H-")


@pytest.mark.parametrize(
    ("state", "why"),
    [
        (UnitState.FAULTY, "PS-1 is faulty (hums)"),
        (UnitState.SUSPECT, "PS-1 is suspect (hums)"),
        (UnitState.REPAIR, "PS-1 is away for repair (hums)"),
        (UnitState.MISSING, "PS-1 is missing (hums)"),
        (UnitState.RETIRED, "PS-1 is retired"),
    ],
)
def test_what_is_not_sound_stays_in(session: Session, stage: Stage, state: UnitState, why: str) -> None:
    promise(session, stage.show, stage.supplies[0])
    stage.supplies[0].state, stage.supplies[0].state_note = state, "hums"
    session.flush()

    assert refusal(session, "WIN", "PS-1") == (why, "Take PS-2, PS-3, PS-4 instead.")


def overdue(session: Session, stage: Stage) -> None:
    promise(session, another(session, stage), stage.supplies[0], FIRST, date(2026, 11, 22))


def elsewhere(session: Session, stage: Stage) -> None:
    promise(session, another(session, stage), stage.supplies[0], FIRST, date(2026, 12, 1))


def promised_before(session: Session, stage: Stage) -> None:
    promise(session, another(session, stage), stage.supplies[0], date(2026, 12, 1), date(2027, 1, 9))


def planned(session: Session, stage: Stage) -> None:
    """The kept plan of a show uses it; nobody holds it."""
    show = another(session, stage, first=date(2026, 12, 1))
    plan = build.a_plan(session, show, from_on=date(2026, 12, 1), until_on=date(2027, 1, 21))
    element = build.an_element(session, show, tape=stage.tape)
    build.an_allotment(session, plan, element.runs[0], stage.supplies[0])


@pytest.mark.parametrize(
    ("given", "why"),
    [
        (overdue, "PS-1 is with ICE, 3 days overdue (due 2026-11-22)"),
        (elsewhere, "PS-1 is with ICE until 2026-12-01"),
        (promised_before, "PS-1 is promised to ICE from 2026-12-01 until 2027-01-09"),
        (planned, "PS-1 is used in the kept plan of ICE from 2026-12-01 until 2027-01-20"),
    ],
)
def test_what_somebody_else_has_or_is_to_have_is_refused_with_who_and_until_when(
    session: Session, stage: Stage, given: Callable[[Session, Stage], None], why: str
) -> None:
    given(session, stage)
    said, mend = refusal(session, "WIN", "PS-1")

    assert said == why
    assert mend == "Take PS-2, PS-3, PS-4 instead."


def test_what_is_promised_twice_goes_to_the_show_whose_days_begin_first(
    session: Session, stage: Stage
) -> None:
    promise(session, stage.show, stage.supplies[0])
    ice = another(session, stage, first=date(2026, 12, 1))
    promise(session, ice, stage.supplies[0], date(2026, 12, 1))

    with pytest.raises(NotFree, match="PS-1 is with WIN until 2026-12-20"):
        issued(session, "ICE", "PS-1")
    assert [row.how for row in issued(session, "WIN", "PS-1").done] == ["its hold"]


def test_the_last_that_others_were_promised_of_a_model_stay_in(session: Session, stage: Stage) -> None:
    """ICE is promised three of four from an earlier day on: WIN may have one, and no second."""
    promise_model(session, stage, another(session, stage, first=date(2026, 11, 10)), 3, date(2026, 11, 10))
    promise_model(session, stage, stage.show, 2)
    said, mend = refusal(session, "WIN", "PS-1", "PS-2")

    assert said == "PS-2 is one of the last 3 S320, and 3 are promised to ICE"
    assert mend == (
        "No other S320 is free on every day from 2026-11-25 to 2026-12-20: "
        "hire or buy one, or move the dates."
    )
    assert [row.tag for row in issued(session, "WIN", "PS-1", "PS-2", each=True).done] == ["PS-1"]


def test_a_promise_of_a_model_from_a_later_day_does_not_stop_an_earlier_one(
    session: Session, stage: Stage
) -> None:
    promise_model(session, stage, stage.show, 4)
    promise_model(session, stage, another(session, stage), 3, date(2026, 12, 1))

    assert len(issued(session, "WIN", "PS-1", "PS-2", "PS-3", "PS-4").done) == 4


@pytest.mark.usefixtures("stage")
def test_what_is_out_with_the_show_already_is_told_with_who_gave_it_out(session: Session) -> None:
    issued(session, "WIN", "PS-1")
    with pytest.raises(NotFree) as refused:
        issued(session, "WIN", "PS-1")
    assert refused.value.message == "PS-1 is already out to WIN, issued on 2026-11-25 by deck"
    assert refused.value.mend == "Leave it out of the list; if it came back meanwhile, return it first."


def test_a_hired_unit_goes_out_only_while_it_is_hired(session: Session, stage: Stage) -> None:
    stage.supplies[0].hired_from, stage.supplies[0].hired_until = date(2026, 12, 1), date(2026, 12, 9)
    stage.supplies[1].hired_from, stage.supplies[1].hired_until = date(2026, 11, 1), TODAY
    session.flush()
    answer = issued(session, "WIN", "PS-1", "PS-2", each=True)

    assert [row.message for row in answer.refused] == [
        "PS-1 is hired from 2026-12-01",
        "PS-2 was hired until 2026-11-24 and has gone back",
    ]


def test_all_of_a_list_goes_out_or_nothing(session: Session, stage: Stage) -> None:
    stage.supplies[1].state = UnitState.FAULTY
    session.flush()
    with pytest.raises(NotFree) as refused:
        issued(session, "WIN", "PS-1", "PS-2", "PS-99", "S320")
    assert [(error.row, error.message) for error in refused.value.errors] == [
        (1, "PS-2 is faulty"),
        (2, "nothing has the tag PS-99"),
        (3, "S320 is the tag of a model, not of a unit"),
    ]
    assert refused.value.message == "PS-2 is faulty; 2 more; nothing was issued"
    assert session.scalar(select(func.count(Hold.id))) == 0

    answer = issued(session, "WIN", "PS-1", "PS-2", "PS-99", each=True)
    assert ([row.tag for row in answer.done], [row.tag for row in answer.refused]) == (
        ["PS-1"],
        ["PS-2", "PS-99"],
    )


def test_what_cannot_be_asked_is_refused_before_anything(session: Session, stage: Stage) -> None:
    with pytest.raises(BadRequest, match="2026-11-26 is still to come"):
        issued(session, "WIN", "PS-1", day=date(2026, 11, 26))
    with pytest.raises(BadRequest, match="1 to 500 tags"):
        issued(session, "WIN", " ")
    with pytest.raises(NotFound, match="no production has the code 'NONE'"):
        issued(session, "NONE", "PS-1")
    stage.show.status = ProductionStatus.RETURNED
    session.flush()
    with pytest.raises(Refused, match="WIN is returned: nothing goes out to it"):
        issued(session, "WIN", "PS-1")


def test_a_show_whose_days_are_over_gets_nothing_that_it_was_not_promised(
    session: Session, stage: Stage
) -> None:
    stage.show.needed_to = date(2026, 11, 24)
    session.flush()
    assert refusal(session, "WIN", "PS-1")[0] == (
        "PS-1 is not promised to WIN, whose days ended on 2026-11-24"
    )


def test_every_issue_is_on_record(session: Session, stage: Stage) -> None:
    promise(session, stage.show, stage.supplies[0])
    issued(session, "WIN", "PS-1", "PS-2")
    entries = session.scalars(select(AuditEntry).where(AuditEntry.kind == "holds").order_by(AuditEntry.id))

    assert [(e.what, (e.after or {}).get("issued_on")) for e in entries][1:] == [
        ("changed", "2026-11-25"),
        ("made", "2026-11-25"),
    ]


def test_eight_who_race_for_the_last_supply_get_it_once_and_the_others_hear_who_has_it(store: Store) -> None:
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=1, needed_from=FIRST, needed_to=LAST)
        for n in range(WRITERS):
            another(session, stage, f"S{n}")
    start = Barrier(WRITERS)

    def take(n: int) -> str:
        start.wait()
        try:
            store.write(lambda session: issued(session, f"S{n}", "PS-1"), by=f"deck {n}")
        except NotFree as refused:
            return refused.message
        return f"S{n}"

    with ThreadPoolExecutor(WRITERS) as pool:
        said = list(pool.map(take, range(WRITERS)))

    winners = [one for one in said if one.startswith("S")]
    assert len(winners) == 1
    assert sorted(said) == ["PS-1 is with " + winners[0] + " until 2027-01-20"] * (WRITERS - 1) + winners
    with store.reading() as session:
        holds = session.scalars(select(Hold)).all()
        assert [(hold.issued_on, hold.quantity) for hold in holds] == [(TODAY, 1)]


def test_eight_who_race_for_different_units_leave_what_others_were_promised(store: Store) -> None:
    """Ten supplies, nine of them promised by model to a show that begins first: one of eight gets one."""
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=10, needed_from=FIRST, needed_to=LAST)
        promise_model(session, stage, stage.show, 9, date(2026, 11, 1))
        for n in range(WRITERS):
            another(session, stage, f"S{n}")
    start = Barrier(WRITERS)

    def take(n: int) -> str:
        start.wait()
        try:
            store.write(lambda session: issued(session, f"S{n}", f"PS-{n + 1}"), by=f"deck {n}")
        except NotFree as refused:
            return refused.message
        return "went out"

    with ThreadPoolExecutor(WRITERS) as pool:
        said = list(pool.map(take, range(WRITERS)))

    assert said.count("went out") == 1
    assert all("is one of the last 9 S320, and 9 are promised to WIN" in one for one in said if "is" in one)


def test_more_stock_costs_no_more_statements(store: Store) -> None:
    def cost(tag: str) -> int:
        with counted(store) as said, store.writing("deck") as session:
            issued(session, "WIN", tag)
        return len(said)

    with store.writing("tests") as session:
        stage = a_stage(session, supplies=4, needed_from=FIRST, needed_to=LAST)
    few = cost("PS-1")
    with store.writing("tests") as session:
        for n in range(20):
            promise(session, another(session, stage, f"S{n}"), build.a_supply(session, stage.supply_model))
    assert 0 < cost("PS-2") == few
