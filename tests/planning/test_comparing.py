"""What one plan feeds differently from another, run by run."""

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.planning.actions import find_plan
from service.planning.comparing import Change, changes, in_words, plan_row
from service.planning.records import PlanStatus
from service.planning.snapshot.show import find_production
from service.shows.records import Element, Run
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import Stage, a_stage


@pytest.fixture
def stage(store: Store) -> Stage:
    """Plan 1, kept: SQ-1 to SQ-3 each on PS-1 through a decoder of its own, at 1, 5 and 9."""
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=2, decoders=4)
        plan = build.a_plan(session, stage.show)
        for n in range(3):
            element = stage.element(session, f"SQ-{n + 1}")
            build.an_allotment(session, plan, element.runs[0], stage.supplies[0], decoder=stage.decoders[n])
            build.a_patch(session, plan, stage.decoders[n], start=4 * n + 1)
        stage.element(session, "SQ-4", is_dimmed=False)
        return stage


def draft(store: Store, stage: Stage) -> None:
    """Plan 2: SQ-1 as before, SQ-2 readdressed, SQ-3 left dark, SQ-4 straight on PS-2."""
    with store.writing("tests") as session:
        plan = build.a_plan(session, stage.show, number=2, status=PlanStatus.DRAFT)
        runs = runs_of(session, stage)
        for n, start in ((0, 1), (1, 21)):
            build.an_allotment(
                session, plan, runs[f"SQ-{n + 1}"], stage.supplies[0], decoder=stage.decoders[n]
            )
            build.a_patch(session, plan, stage.decoders[n], start=start)
        build.an_allotment(session, plan, runs["SQ-4"], stage.supplies[1])


def runs_of(session: Session, stage: Stage) -> dict[str, Run]:
    """The only run of each element, by the element's tag."""
    rows = session.execute(
        select(Element.tag, Run)
        .join(Run, Run.element_id == Element.id)
        .where(Element.production_id == stage.show.id)
    )
    return {row[0]: row[1] for row in rows}


def compared(store: Store, before: int | None, after: int) -> list[Change]:
    with store.reading() as session:
        old = find_plan(session, "WIN", before) if before else None
        return changes(session, old, find_plan(session, "WIN", after))


def test_what_is_fed_alike_is_not_told(store: Store, stage: Stage) -> None:
    draft(store, stage)

    assert "SQ-1" not in {change.element for change in compared(store, 1, 2)}
    assert compared(store, 1, 1) == []


def test_each_run_that_differs_says_how(store: Store, stage: Stage) -> None:
    draft(store, stage)

    assert compared(store, 1, 2) == [
        Change("SQ-2", 1, "address", "universe 1 address 5", "universe 1 address 21"),
        Change("SQ-3", 1, "dark", "PS-1 output 1, DC-3 channel 1 to 4", None),
        Change("SQ-4", 1, "fed", None, "PS-2 output 1, straight on"),
    ]


def test_the_other_way_round_is_told_the_other_way_round(store: Store, stage: Stage) -> None:
    draft(store, stage)

    assert [(c.element, c.change) for c in compared(store, 2, 1)] == [
        ("SQ-2", "address"), ("SQ-3", "fed"), ("SQ-4", "dark"),
    ]  # fmt: skip


@pytest.mark.usefixtures("stage")
def test_a_first_plan_feeds_everything_anew(store: Store) -> None:
    assert {change.change for change in compared(store, None, 1)} == {"fed"}


def test_a_move_names_both_places(store: Store, stage: Stage) -> None:
    with store.writing("tests") as session:
        plan = build.a_plan(session, stage.show, number=2, status=PlanStatus.DRAFT)
        run = runs_of(session, stage)["SQ-1"]
        build.an_allotment(session, plan, run, stage.supplies[1], decoder=stage.decoders[3])

    [first, *_] = compared(store, 1, 2)
    assert first == Change(
        "SQ-1", 1, "moved", "PS-1 output 1, DC-1 channel 1 to 4", "PS-2 output 1, DC-4 channel 1 to 4"
    )


def test_a_feed_is_told_on_one_line() -> None:
    base = {"supply": "PS-1", "output": 2, "decoder": "DC-1", "first_channel": 3, "last_channel": 3}

    assert in_words(base) == "PS-1 output 2, DC-1 channel 3"
    assert in_words(base | {"last_channel": 6}) == "PS-1 output 2, DC-1 channel 3 to 6"
    assert in_words(base | {"decoder": None}) == "PS-1 output 2, straight on"


@pytest.mark.parametrize(
    ("cost", "bound", "gap"),
    [(1532, 1532, 0.0), (3064, 1532, 100.0), (0, 0, 0.0), (5, 0, None), (None, None, None)],
)
@pytest.mark.usefixtures("stage")
def test_the_gap_is_the_cost_above_what_is_proven(
    store: Store, cost: int | None, bound: int | None, gap: float | None
) -> None:
    with store.reading() as session:
        show = find_production(session, "WIN")
        plan = find_plan(session, "WIN", 1)
        session.expunge(plan)
        plan.cost, plan.bound = cost, bound
        row = plan_row(plan, show)

    assert row["gap_pct"] == gap


@pytest.mark.parametrize(
    ("unfed_w", "unfed_bound_w", "gap"),
    [(92.16, 92.16, 100.0), (92.16, 80.0, None), (92.16, 0.0, None), (92.16, None, None)],
)
@pytest.mark.usefixtures("stage")
def test_there_is_no_gap_while_a_plan_might_feed_more(
    store: Store, unfed_w: float, unfed_bound_w: float | None, gap: float | None
) -> None:
    """Gear cannot be measured against the least for what is fed when that is not the most."""
    with store.reading() as session:
        show = find_production(session, "WIN")
        plan = find_plan(session, "WIN", 1)
        session.expunge(plan)
        plan.cost, plan.bound, plan.unfed_w, plan.unfed_bound_w = 3064, 1532, unfed_w, unfed_bound_w
        row = plan_row(plan, show)

    assert row["gap_pct"] == gap
