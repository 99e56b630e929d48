"""Plans are worked out in processes of their own, and what a crash leaves is taken up or told."""

import os
import signal
import time
from collections.abc import Callable, Iterator
from concurrent.futures.process import BrokenProcessPool
from typing import TypeVar

import pytest

from service.planning.actions import PlanAsk, ask_for_plan, find_plan
from service.planning.comparing import plan_feeds
from service.planning.cutting.actions import CutAsk, ask_for_cut_plan, find_cut_plan, is_under_way
from service.planning.records import PlanStatus
from service.planning.working import Workshop
from service.store.work import Store
from tests.planning.stage import TODAY, a_stage

T = TypeVar("T")
PATIENCE_S = 60.0  # so that a test that fails ends; a plan takes well under a second


@pytest.fixture
def house(store: Store) -> Store:
    with store.writing("tests") as session:
        a_stage(session).element(session, "SQ-1")
    return store


@pytest.fixture
def workshop(house: Store) -> Iterator[Workshop]:
    workshop = Workshop(house, lambda: TODAY)
    yield workshop
    workshop.close()


def asked(store: Store) -> tuple[int, int]:
    plan = store.write(lambda session: ask_for_plan(session, "WIN", PlanAsk(), "planner"), "planner")
    return plan.id, plan.number


def status(store: Store, number: int) -> PlanStatus:
    with store.reading() as session:
        return find_plan(session, "WIN", number).status


def settled(store: Store, number: int) -> PlanStatus:
    """The status once the plan is no longer under way."""
    return _when(lambda: status(store, number) not in {PlanStatus.QUEUED, PlanStatus.WORKING},
                 lambda: status(store, number))  # fmt: skip


def _when(ready: Callable[[], bool], then: Callable[[], T]) -> T:
    end = time.monotonic() + PATIENCE_S
    while not ready():
        assert time.monotonic() < end, "it did not come about in time"
        time.sleep(0.05)
    return then()


def test_a_plan_is_worked_out_in_another_process(house: Store, workshop: Workshop) -> None:
    plan_id, number = asked(house)
    workshop.submit(plan_id)

    assert settled(house, number) is PlanStatus.DRAFT
    with house.reading() as session:
        assert [f["element"] for f in plan_feeds(session, find_plan(session, "WIN", number))] == ["SQ-1"]


def test_what_was_under_way_when_the_service_stopped_is_taken_up_again(
    house: Store, workshop: Workshop
) -> None:
    queued, at_work, ended = asked(house)[1], asked(house)[1], asked(house)[1]
    with house.writing("tests") as session:
        find_plan(session, "WIN", at_work).status = PlanStatus.WORKING
        find_plan(session, "WIN", ended).status = PlanStatus.CANCELLED

    assert workshop.resume() == 2
    assert (settled(house, queued), settled(house, at_work)) == (PlanStatus.DRAFT, PlanStatus.DRAFT)
    assert status(house, ended) is PlanStatus.CANCELLED


def test_with_nothing_left_there_is_nothing_to_take_up(workshop: Workshop) -> None:
    assert workshop.resume() == 0


def test_a_solver_that_dies_fails_its_plan_and_the_next_gets_a_fresh_one(
    house: Store, workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The solver's process is killed from outside, as the system does when memory runs out."""
    plan_id, number = asked(house)
    with monkeypatch.context() as dying:
        dying.setattr("service.planning.working.work_out_at", _die)
        workshop.submit(plan_id)

        assert settled(house, number) is PlanStatus.FAILED
    with house.reading() as session:
        error = find_plan(session, "WIN", number).error or ""
    assert BrokenProcessPool.__name__ in error
    assert "ask for the plan again" in error
    plan_id, number = asked(house)
    workshop.submit(plan_id)
    assert settled(house, number) is PlanStatus.DRAFT


def test_cut_plans_are_worked_out_in_another_process_too(house: Store, workshop: Workshop) -> None:
    def ask() -> tuple[int, str]:
        made = house.write(lambda s: ask_for_cut_plan(s, CutAsk(["WIN"]), "planner", TODAY), "planner")
        return made.id, made.number or ""

    def status(number: str) -> str:
        with house.reading() as session:
            plan = find_cut_plan(session, number)
            return "at work" if is_under_way(plan) else plan.status.value

    def settled(number: str) -> str:
        return _when(lambda: status(number) != "at work", lambda: status(number))

    (first_id, first), (_, left) = ask(), ask()
    workshop.submit_cuts(first_id)
    assert settled(first) == "draft"
    assert workshop.resume() == 1
    assert settled(left) == "draft"


def test_a_solver_of_cuts_that_dies_says_so_on_its_plan(
    house: Store, workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = house.write(lambda s: ask_for_cut_plan(s, CutAsk(["WIN"]), "planner", TODAY), "planner")

    def error() -> str:
        with house.reading() as session:
            return str(find_cut_plan(session, made.number or "").found.get("error") or "")

    with monkeypatch.context() as dying:
        dying.setattr("service.planning.working.work_out_cuts_at", _die)
        workshop.submit_cuts(made.id)
        said = _when(lambda: bool(error()), error)
    assert BrokenProcessPool.__name__ in said


def _die(*_: object) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def test_a_closed_workshop_leaves_no_process_behind(house: Store) -> None:
    workshop = Workshop(house, lambda: TODAY)
    plan_id, number = asked(house)
    workshop.submit(plan_id)
    settled(house, number)
    pool = workshop._pool
    assert pool is not None
    processes = list(pool._processes.values())
    workshop.close()

    assert len(processes) == 1
    # Asked again and again, for the pool's own thread may take the end of its process from under `join`.
    _when(lambda: not processes[0].is_alive(), lambda: None)


def test_a_workshop_that_closes_leaves_the_solvers_of_another_alone(house: Store, workshop: Workshop) -> None:
    other = Workshop(house, lambda: TODAY)
    at_work = workshop.solved(os.getpid)
    assert other.solved(os.getpid) != at_work
    other.close()

    assert workshop.solved(os.getpid) == at_work


def test_a_solver_that_dies_while_it_has_nothing_to_do_is_replaced(workshop: Workshop) -> None:
    first = workshop.solved(os.getpid)
    os.kill(first, signal.SIGKILL)
    pool = workshop._pool
    assert pool is not None
    _when(lambda: bool(pool._broken), lambda: None)

    assert workshop.solved(os.getpid) != first
