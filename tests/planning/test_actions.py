"""What is done with plans: asked for, worked out, kept, superseded, cancelled. Nothing is ever half done."""

from datetime import date
from typing import Any

import pytest
from sqlalchemy import func, select, text
from sqlalchemy.exc import IntegrityError

from service.allocation.model import Progress
from service.errors import BadRequest, NotFound, Refused, StaleSnapshot
from service.planning.actions import (
    PlanAsk,
    ask_for_plan,
    cancel_plan,
    find_plan,
    keep_plan,
    progress_row,
    work_out,
)
from service.planning.comparing import changes, plan_feeds, plan_row
from service.planning.records import Allotment, Patch, Placing, Plan, PlanStatus, UnfedRun
from service.planning.snapshot.show import find_production, kept_plan
from service.season.records import ProductionStatus
from service.shows.records import Element, ElementStatus, Piece
from service.stock.gear import Unit, UnitState
from service.store.audit import AuditEntry
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, a_stage, kept, worked_out


@pytest.fixture
def house(store: Store) -> Store:
    """One element of 38.4 W, and room for it twice over."""
    with store.writing("tests") as session:
        a_stage(session, supplies=2, decoders=2).element(session, "SQ-1")
    return store


def asked(store: Store, **how: Any) -> tuple[int, int]:
    plan = store.write(lambda session: ask_for_plan(session, "WIN", PlanAsk(**how), "planner"), "planner")
    return plan.id, plan.number


def status(store: Store, number: int) -> str:
    with store.reading() as session:
        return find_plan(session, "win", number).status.value


def keep(store: Store, number: int) -> Plan:
    return store.write(lambda session: keep_plan(session, "WIN", number, TODAY), "planner")


def rows_of_plans(store: Store) -> int:
    with store.reading() as session:
        return sum(
            session.scalar(select(func.count()).select_from(record)) or 0
            for record in (Allotment, Placing, Patch, UnfedRun)
        )


def test_plans_of_a_show_are_numbered_in_order_and_wait_in_the_queue(house: Store) -> None:
    assert [asked(house)[1] for _ in range(3)] == [1, 2, 3]
    assert status(house, 3) == "queued"


def test_a_plan_is_for_the_show_s_own_days_unless_others_are_given(house: Store) -> None:
    asked(house)
    asked(house, from_on=date(2026, 12, 1), to_on=date(2026, 12, 10))
    with house.reading() as session:
        rows = [plan_row(find_plan(session, "WIN", n), find_production(session, "WIN")) for n in (1, 2)]

    # Days as shown are inclusive: build start through return by.
    assert (rows[0]["from_on"], rows[0]["to_on"]) == (date(2026, 9, 1), date(2026, 12, 18))
    assert (rows[1]["from_on"], rows[1]["to_on"]) == (date(2026, 12, 1), date(2026, 12, 10))


def test_days_in_the_wrong_order_are_refused(house: Store) -> None:
    with pytest.raises(BadRequest, match="would end on 2026-12-09 before it starts on 2026-12-10"):
        asked(house, from_on=date(2026, 12, 10), to_on=date(2026, 12, 9))


def test_one_day_is_enough(house: Store) -> None:
    assert asked(house, from_on=date(2026, 12, 10), to_on=date(2026, 12, 10))[1] == 1


@pytest.mark.parametrize(("code", "number"), [("NONE", 1), ("WIN", 9)])
def test_a_plan_that_is_not_there_is_not_found(house: Store, code: str, number: int) -> None:
    with pytest.raises(NotFound), house.reading() as session:
        find_plan(session, code, number)


def test_a_plan_is_worked_out_to_a_draft_with_what_is_proven_about_it(house: Store) -> None:
    number = worked_out(house)
    with house.reading() as session:
        plan = find_plan(session, "WIN", number)
        row = plan_row(plan, find_production(session, "WIN"))
        feeds = plan_feeds(session, plan)

    assert (row["status"], row["is_proven"], row["stopped_early"]) == ("draft", True, False)
    assert (row["unfed_w"], row["moved"], row["gap_pct"]) == (0.0, 0, 0.0)
    assert row["started_at"] <= row["finished_at"]
    assert [f["element"] for f in feeds] == ["SQ-1"]


def test_a_draft_feeds_nobody_until_it_is_kept(house: Store) -> None:
    worked_out(house)
    with house.reading() as session:
        assert kept_plan(session, find_production(session, "WIN").id) is None


def test_a_kept_plan_supersedes_the_one_before(house: Store) -> None:
    first = kept(house)
    second = kept(house)

    assert (status(house, first), status(house, second)) == ("superseded", "kept")
    with house.reading() as session:
        assert find_plan(session, "WIN", first).superseded_at is not None


@pytest.mark.usefixtures("house")
def test_the_database_itself_allows_one_kept_plan_a_show(store: Store) -> None:
    kept(store)
    with pytest.raises((IntegrityError, Refused)), store.writing("tests") as session:
        columns = (
            "production_id, status, origin, by, from_on, until_on, mend, effort, seed, cancel_asked, version,"
            " created_at, changed_at"
        )
        session.execute(
            text(
                f"INSERT INTO plans (number, {columns}) SELECT 99, {columns} FROM plans WHERE status = 'kept'"
            )
        )


@pytest.mark.parametrize("state", ["queued", "kept", "superseded", "cancelled"])
def test_only_a_draft_can_be_kept(house: Store, state: str) -> None:
    number = asked(house)[1]
    with house.writing("tests") as session:
        find_plan(session, "WIN", number).status = PlanStatus(state)

    with pytest.raises(Refused, match=f"plan 1 is {state}; only a draft can be kept"):
        keep(house, number)


def test_a_draft_is_stale_once_its_stock_has_changed(house: Store) -> None:
    """A supply that the draft counted on turns out faulty before it is kept."""
    number = worked_out(house)
    with house.writing("tests") as session:
        session.scalars(select(Unit).where(Unit.tag == "PS-2")).one().state = UnitState.FAULTY

    with pytest.raises(StaleSnapshot, match="changed since plan 1 was worked out"):
        keep(house, number)
    assert status(house, number) == "draft"


def test_a_draft_is_stale_once_another_show_has_taken_the_gear(house: Store) -> None:
    number = worked_out(house)
    with house.writing("tests") as session:
        other = build.a_production(session, tag="ICE", build_start=date(2026, 8, 1))
        unit = session.scalars(select(Unit).where(Unit.tag == "DC-1")).one()
        build.a_hold(session, other, unit_id=unit.id, quantity=1)

    with pytest.raises(StaleSnapshot):
        keep(house, number)


def test_of_two_drafts_only_the_first_that_is_kept_counts(house: Store) -> None:
    """The second was worked out for a show that had nothing kept yet."""
    first, second = worked_out(house), worked_out(house)
    keep(house, first)

    with pytest.raises(StaleSnapshot):
        keep(house, second)


def test_a_note_on_a_unit_does_not_make_a_draft_stale(house: Store) -> None:
    number = worked_out(house)
    with house.writing("tests") as session:
        session.scalars(select(Unit).where(Unit.tag == "PS-1")).one().state_note = "new label"

    assert keep(house, number).status is PlanStatus.KEPT


def test_a_queued_plan_is_cancelled_at_once(house: Store) -> None:
    plan_id, number = asked(house)
    house.write(lambda session: cancel_plan(session, "WIN", number), "planner")

    assert status(house, number) == "cancelled"
    assert work_out(house, plan_id, TODAY) is PlanStatus.CANCELLED
    assert rows_of_plans(house) == 0


def test_a_plan_at_work_ends_at_its_next_look_and_stores_nothing(house: Store) -> None:
    plan_id, number = asked(house)

    def cancel_meanwhile(_: object) -> None:
        with house.reading() as session:
            if find_plan(session, "WIN", number).cancel_asked:
                return
        house.write(lambda session: cancel_plan(session, "WIN", number), "planner")

    assert work_out(house, plan_id, TODAY, tell=cancel_meanwhile) is PlanStatus.CANCELLED
    assert status(house, number) == "cancelled"
    assert rows_of_plans(house) == 0


@pytest.mark.parametrize("state", ["draft", "kept", "cancelled", "failed"])
def test_there_is_nothing_to_cancel_once_a_plan_has_ended(house: Store, state: str) -> None:
    number = asked(house)[1]
    with house.writing("tests") as session:
        find_plan(session, "WIN", number).status = PlanStatus(state)

    with pytest.raises(Refused, match=f"plan 1 is {state}; there is nothing to cancel"):
        house.write(lambda session: cancel_plan(session, "WIN", number), "planner")


def test_a_plan_whose_stock_changes_while_it_is_worked_out_fails_and_says_why(house: Store) -> None:
    plan_id, number = asked(house)

    def break_a_supply(_: object) -> None:
        with house.writing("tests") as session:
            session.scalars(select(Unit).where(Unit.tag == "PS-2")).one().state = UnitState.FAULTY

    assert work_out(house, plan_id, TODAY, tell=break_a_supply) is PlanStatus.FAILED
    with house.reading() as session:
        error = find_plan(session, "WIN", number).error
    assert error == "stock, dates or feeds changed while it was worked out. Ask for the plan again."
    assert rows_of_plans(house) == 0


def test_a_setting_that_is_no_number_fails_the_plan_and_names_it(house: Store) -> None:
    with house.writing("tests") as session:
        session.execute(
            text(
                "INSERT INTO policies (name, value, unit, reason, version, created_at, changed_at)"
                " VALUES ('load_factor', 'most', '', '', 1, :now, :now)"
            ),
            {"now": "2026-11-25 00:00:00+00:00"},
        )
    plan_id, number = asked(house)

    assert work_out(house, plan_id, TODAY) is PlanStatus.FAILED
    with house.reading() as session:
        error = find_plan(session, "WIN", number).error or ""
    assert "load_factor is 'most'" in error
    assert "0.8" in error


def test_a_plan_is_worked_out_once(house: Store) -> None:
    plan_id, number = asked(house)
    work_out(house, plan_id, TODAY)

    assert work_out(house, plan_id, TODAY) is PlanStatus.CANCELLED
    assert status(house, number) == "draft"


def test_keeping_draws_holds_down_and_does_not_add_to_them(house: Store) -> None:
    """WIN holds one S320 by model and uses one: the other stays free for somebody else."""
    with house.writing("tests") as session:
        win = find_production(session, "WIN")
        model_id = session.scalars(select(Unit).where(Unit.tag == "PS-1")).one().model_id
        build.a_hold(session, win, model_id=model_id, quantity=1)
    kept(house)
    with house.writing("tests") as session:
        other = build.a_production(session, tag="ICE")
        tape = build.a_tape(session)
        build.an_element(session, other, tag="IC-1", tape=tape)

    number = worked_out(house, "ICE")
    with house.reading() as session:
        [feed] = plan_feeds(session, find_plan(session, "ICE", number))
    assert (feed["supply"], feed["decoder"]) == ("PS-2", "DC-2")


def test_every_step_leaves_a_row_that_says_who_took_it(house: Store) -> None:
    kept(house)
    with house.reading() as session:
        took = session.execute(
            select(AuditEntry.by, AuditEntry.what).where(AuditEntry.kind == "plans").order_by(AuditEntry.id)
        ).all()

    assert (took[0].by, took[0].what) == ("planner", "made")
    assert {row.by for row in took} == {"planner", "allocator"}


def test_progress_is_told_in_numbers_that_can_be_stored() -> None:
    said = progress_row(Progress(parts_done=1, parts=2, cost=3, bound=4, unfed=0, seconds=1.23456))
    assert said == {"parts_done": 1, "parts": 2, "cost": 3, "bound": 4, "unfed": 0, "seconds": 1.235}


@pytest.mark.parametrize(
    "over", [ProductionStatus.CLOSED, ProductionStatus.RETURNED, ProductionStatus.CANCELLED]
)
def test_a_show_that_is_over_is_not_planned_again(house: Store, over: ProductionStatus) -> None:
    """Its kept plan is the record of what was where."""
    number = kept(house)
    with house.writing("tests") as session:
        find_production(session, "WIN").status = over

    with pytest.raises(Refused, match=r"WIN is .*nothing left to feed"):
        asked(house)
    assert status(house, number) == "kept"


def test_what_is_struck_keeps_its_feed_in_the_record(house: Store) -> None:
    kept(house)
    with house.writing("tests") as session:
        session.scalars(select(Element)).one().status = ElementStatus.STRUCK

    number = worked_out(house)

    with house.reading() as session:
        before = kept_plan(session, find_production(session, "WIN").id)
        assert changes(session, before, find_plan(session, "WIN", number)) == []


def test_a_plan_says_itself_that_something_stays_over_a_limit(house: Store) -> None:
    """The kept feed of SQ-1 grows to 400 W on 256 W: without mend it stays, and the plan says so."""
    kept(house)
    with house.writing("tests") as session:
        session.scalars(select(Piece)).one().cut_pitches = 417

    number = worked_out(house)

    with house.reading() as session:
        notes = find_plan(session, "WIN", number).notes or []
    assert any("over a limit with this plan" in note for note in notes)


def test_a_plan_that_was_told_to_stop_before_it_began_ends_cancelled(house: Store) -> None:
    """A plan at work when the service stopped, and cancelled meanwhile, does not stay at work for ever."""
    plan_id, number = asked(house)
    with house.writing("tests") as session:
        plan = session.get_one(Plan, plan_id)
        plan.status, plan.cancel_asked = PlanStatus.WORKING, True

    assert work_out(house, plan_id, TODAY) is PlanStatus.CANCELLED
    assert status(house, number) == "cancelled"
