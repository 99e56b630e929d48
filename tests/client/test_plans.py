"""Plans asked for, waited for and kept from a script."""

import itertools
import time
from collections.abc import Iterator
from typing import Any

import pytest

import seed_demo
from service.client import Plan, Refusal, Wattwright
from service.errors import BadRequest, Busy, NotFound, Refused, StaleSnapshot
from service.planning.records import PlanStatus
from service.season.records import ProductionStatus
from service.tables import METADATA
from tests import builders as build
from tests.api.conftest import Service
from tests.client.proxy import LOST, PASS, SILENT, UNANSWERED, Line

UNDER_WAY = {"queued", "working"}


@pytest.fixture(autouse=True)
def show(service: Service) -> build.House:
    """The small house with a second window that nothing feeds yet, and nothing kept."""
    with service.store.writing("tests") as session:
        house = build.a_house(session)
        house.plan.status = PlanStatus.SUPERSEDED
        build.an_element(
            session, house.production, tag="SQ-2", tape=house.tape, scenic_unit_id=house.scenic_unit.id
        )
        build.a_supply(session, tag="PS-2")
        build.a_decoder(session, tag="DC-2")
    return house


def numbers(service: Service) -> list[int]:
    return [plan["number"] for plan in service.get("/productions/WIN/plans").json()]


def test_a_plan_is_worked_out_to_its_end_and_kept(wattwright: Wattwright) -> None:
    told: list[Plan] = []
    plan = wattwright.allocate("win", seed=3, told=told.append)
    assert (plan["status"], plan["seed"], plan["by"], plan["unfed"]) == ("draft", 3, "night crew", [])
    assert [feed["element"] for feed in plan["feeds"]] == ["SQ-1", "SQ-2"]
    assert told[-1] == plan
    kept = wattwright.keep("WIN", plan["number"])
    assert (kept["status"], kept["feeds"]) == ("kept", plan["feeds"])
    assert wattwright.feed("SQ-2")["plan"] == plan["number"]


@pytest.mark.parametrize("loss", [LOST, UNANSWERED, SILENT])
def test_a_plan_whose_answer_was_lost_is_asked_for_once(
    service: Service, line: Line, hasty: Wattwright, loss: str
) -> None:
    line.breaks(loss, loss)
    plan = hasty.allocate("WIN")
    assert numbers(service) == [1, plan["number"]] == [1, 2]


@pytest.mark.parametrize("loss", [LOST, UNANSWERED, SILENT])
def test_a_plan_whose_answer_was_lost_is_kept_once(line: Line, hasty: Wattwright, loss: str) -> None:
    number = hasty.allocate("WIN")["number"]
    line.breaks(PASS, loss)
    assert hasty.keep("WIN", number)["status"] == "kept"


def test_a_plan_that_is_kept_already_is_refused(wattwright: Wattwright) -> None:
    number = wattwright.allocate("WIN")["number"]
    wattwright.keep("WIN", number)
    with pytest.raises(Refused, match="only a draft can be kept"):
        wattwright.keep("WIN", number)
    with pytest.raises(NotFound, match="no plan 99"):
        wattwright.keep("WIN", 99)


def test_a_draft_that_no_longer_fits_the_house_is_not_kept(service: Service, wattwright: Wattwright) -> None:
    number = wattwright.allocate("WIN")["number"]
    with service.store.writing("tests") as session:
        build.a_supply(session, tag="PS-3")
    with pytest.raises(StaleSnapshot):
        wattwright.keep("WIN", number)


@pytest.fixture
def season(service: Service, wattwright: Wattwright) -> Iterator[dict[str, object]]:
    """A show of the demonstration season, and how to ask for a plan of it that takes far longer than any
    test waits. Whatever is at work afterwards is stopped, or it would be at work in the next test's house."""
    for table in reversed(METADATA.sorted_tables):
        with service.store.writing("tests") as session:
            session.execute(table.delete())
    wattwright.bring_in(seed_demo.folder(), as_of=seed_demo.AS_OF)
    yield {"code": "TL", "mend": True, "effort": 20.0, "deadline_s": 600.0}
    for plan in service.get("/productions/TL/plans").json():
        if plan["status"] in UNDER_WAY:
            service.client.post(f"/api/v1/productions/TL/plans/{plan['number']}/cancel")
    for plan in service.get("/productions/TL/plans").json():
        ended(service, plan["number"])


def ended(service: Service, number: int) -> str:
    for _ in range(600):
        status: str = service.get(f"/productions/TL/plans/{number}").json()["status"]
        if status not in UNDER_WAY:
            return status
        time.sleep(0.05)
    raise AssertionError("the plan never ended")


def test_who_waits_no_longer_than_he_said_is_told_where_the_plan_will_be(
    service: Service, wattwright: Wattwright, season: dict[str, Any]
) -> None:
    with pytest.raises(Busy, match=r"plan 2 of TL is (queued|working) after 0 s") as told:
        wattwright.allocate(**season, wait_s=0)
    assert "/api/v1/productions/TL/plans/2" in told.value.mend
    assert service.get("/productions/TL/plans/2").json()["status"] in UNDER_WAY


def test_interrupted_it_asks_the_service_to_stop(
    service: Service, wattwright: Wattwright, season: dict[str, Any]
) -> None:
    def interrupt(_plan: Plan) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        wattwright.allocate(**season, told=interrupt)
    assert ended(service, 2) == "cancelled"


def test_a_plan_that_somebody_cancels_is_refused(
    service: Service, wattwright: Wattwright, season: dict[str, Any]
) -> None:
    looks = itertools.count()

    def cancel(plan: Plan) -> None:
        if next(looks) == 0:
            service.client.post(f"/api/v1/productions/TL/plans/{plan['number']}/cancel")

    with pytest.raises(Refused, match="plan 2 of TL cancelled: no reason given") as refused:
        wattwright.allocate(**season, told=cancel)
    assert refused.value.mend


def test_what_cannot_be_planned_is_refused_as_the_house_refuses_it(
    service: Service, wattwright: Wattwright, show: build.House
) -> None:
    with pytest.raises(BadRequest, match="before it starts"):
        wattwright.allocate("WIN", from_on="2027-03-01", to_on="2027-02-01")
    with pytest.raises(BadRequest) as refused:
        wattwright.allocate("WIN", effort=0)
    assert isinstance(refused.value, Refusal)
    assert refused.value.errors[0].column == "effort"
    with service.store.writing("tests") as session:
        session.merge(show.production).status = ProductionStatus.CLOSED
    with pytest.raises(Refused, match="nothing left to feed"):
        wattwright.allocate("WIN")
