"""A draft beside what is kept: what moves, what is lit, what goes dark, and which labels change."""

import pytest

from service.errors import NotFound
from service.planning.actions import find_plan
from service.planning.records import PlanStatus
from service.reports.standing.comparing import Compared, compared
from service.store.types import utc_now
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import Stage, a_stage


@pytest.fixture
def stage(store: Store) -> Stage:
    """Plan 1, kept: A (two runs) and B on PS-1, C dark. Plan 2, a draft: both runs of A on PS-2, B dark, C on
    PS-1; of B it says why."""
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=2, decoders=3)
        elements = {
            tag: stage.element(session, tag, name=f"Window {tag}", runs=runs)
            for tag, runs in (("A", ((20,), (20,))), ("B", ((20,),)), ("C", ((20,),)))
        }
        kept = build.a_plan(session, stage.show)
        draft = build.a_plan(session, stage.show, number=2, status=PlanStatus.DRAFT, kept_at=None)
        feeds = (
            (kept, "A", 0, 0), (kept, "B", 0, 1),
            (draft, "A", 1, 0), (draft, "C", 0, 2),
        )  # fmt: skip
        for plan, tag, supply, decoder in feeds:
            for run in elements[tag].runs:
                build.an_allotment(
                    session, plan, run, stage.supplies[supply], decoder=stage.decoders[decoder]
                )
        for plan in (kept, draft):
            build.a_patch(session, plan, stage.decoders[0], universe=1, start=1)
        return stage


def read(store: Store, number: int) -> Compared:
    with store.reading() as session:
        return compared(session, "win", number)


@pytest.mark.usefixtures("stage")
def test_a_draft_says_what_it_changes_element_by_element(store: Store) -> None:
    found = read(store, 2)

    assert (found.kept, found.is_draft, found.is_under_way) == (1, True, False)
    assert [(m.element, m.runs, m.before, m.after) for m in found.moved] == [
        ("A", "", "PS-1 output 1, DC-1 channel 1-4", "PS-2 output 1, DC-1 channel 1-4")
    ]
    assert [(m.element, m.before) for m in found.dark] == [("B", "PS-1 output 1, DC-2 channel 1-4")]
    assert [(m.element, m.after) for m in found.fed] == [("C", "PS-1 output 1, DC-3 channel 1-4")]
    assert (found.elements, found.lit, found.supplies) == (3, 2, 2)
    assert not found.same
    assert [one.run for one in found.labels] == ["A/1", "A/2", "C/1"]


@pytest.mark.usefixtures("stage")
def test_the_kept_plan_changes_nothing(store: Store) -> None:
    assert read(store, 1).same


@pytest.mark.usefixtures("stage")
def test_where_nothing_is_kept_everything_is_new(store: Store) -> None:
    with store.writing("tests") as session:
        plan = find_plan(session, "WIN", 1)
        plan.status, plan.superseded_at = PlanStatus.SUPERSEDED, utc_now()
    found = read(store, 2)

    assert found.kept is None
    assert [m.element for m in found.fed] == ["A", "C"]
    assert found.moved == found.dark == ()


@pytest.mark.usefixtures("stage")
def test_a_plan_that_is_not_there_is_said(store: Store) -> None:
    with pytest.raises(NotFound):
        read(store, 9)
