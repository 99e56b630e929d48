"""From rows to a plan: lengths of lead between places, and no run fed from farther than its far end bears."""

from random import Random
from typing import Any

import pytest
from sqlalchemy.orm import Session

from service.allocation.problem import Answer, Feed, Reach
from service.limits.findings import Verdict
from service.limits.registry import findings
from service.planning.actions import chosen_over, find_plan, over_as_drafted
from service.planning.asking import Question, question_for
from service.planning.comparing import plan_unfed
from service.planning.snapshot.availability import read_claims
from service.planning.snapshot.facts import show_facts
from service.planning.snapshot.house import read_house
from service.planning.snapshot.reading import read_show
from service.planning.snapshot.show import find_production, window_of
from service.shows.records import FeedStyle, ScenicUnit
from service.stock.records import Place, PlaceKind
from service.stock.records import Reach as ReachRow
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage, kept, worked_out

OF_LEADS = {"lead-drop", "total-drop", "run-length", "lead-amps"}


@pytest.fixture
def stage(session: Session) -> Stage:
    return a_stage(session)


def question(session: Session) -> Question:
    show = find_production(session, "WIN")
    return question_for(session, show, window_of(show), False, TODAY)


def a_pit(session: Session, stage: Stage, lead_um: int | None, tag: str = "PIT") -> Place:
    """A place from which gear feeds the wall on so long a lead."""
    pit = build.a_place(session, tag=tag, kind=PlaceKind.STAGE, venue_id=stage.venue.id)
    session.add(ReachRow(place_id=stage.wall.place_id, gear_place_id=pit.id, lead_um=lead_um))
    return pit


def the_reach(session: Session, stage: Stage) -> Reach | None:
    [block] = stage.question(session).problem.blocks
    return block.runs[0].reach


def dark(store: Store, number: int) -> list[dict[str, Any]]:
    with store.reading() as session:
        return plan_unfed(session, find_plan(session, "WIN", number))


def test_a_lead_that_the_far_end_bears_narrows_nothing(session: Session, stage: Stage) -> None:
    stage.element(session, "SQ-1")

    assert the_reach(session, stage) is None


def test_a_lead_that_is_too_long_keeps_a_run_dark_in_figures(store: Store) -> None:
    """4.8 m of RGBW, 3.84 A + 0.96 A a lead core: 18 AWG loses 10 % within 21 m (Ohm's law)."""
    with store.writing("tests") as session:
        stage = a_stage(session)
        stage.element(session, "SQ-1", runs=((96,),)).runs[0].lead_um = 40_000_000
    [one] = dark(store, worked_out(store))

    assert (one["limit"], one["value"], one["unit"]) == ("lead-length", 40.0, "m")
    assert one["bound"] < 22
    assert one["because"].startswith(
        "its lead is 40 m; with 18 AWG, fed at one end, it keeps within 10 % up to"
    )
    assert one["mend"].startswith("use 14 AWG, good for ")


def test_the_lead_between_two_places_decides_which_of_them_feeds(session: Session, stage: Stage) -> None:
    stage.element(session, "SQ-1", runs=((96,),))
    a_pit(session, stage, 40_000_000)
    [block] = stage.question(session).problem.blocks

    assert block.sites == ("PIT", "WALL")
    assert block.sites_for(block.runs) == ("WALL",)


def test_gear_in_the_pit_is_too_far_off_and_the_plan_says_how_far(store: Store) -> None:
    with store.writing("tests") as session:
        stage = a_stage(session)
        pit = a_pit(session, stage, 40_000_000)
        first = stage.element(session, "SQ-0", runs=((10,),))
        first.runs[0].lead_gauge = "14 AWG"
        plan = build.a_plan(session, stage.show)
        build.an_allotment(session, plan, first.runs[0], stage.supplies[0], decoder=stage.decoders[0])
        for unit in (stage.supplies[0], stage.decoders[0]):
            build.a_placing(session, plan, unit, place_id=pit.id)
        stage.element(session, "SQ-1", runs=((96,),))
    [one] = dark(store, worked_out(store))

    assert "from PIT the lead would be 40 m; with 18 AWG" in one["because"]


def test_a_kept_feed_on_too_long_a_lead_stays_and_is_reported(store: Store) -> None:
    with store.writing("tests") as session:
        stage = a_stage(session)
        element = stage.element(session, "SQ-1", runs=((96,),))
        element.runs[0].lead_um = 40_000_000
        plan = build.a_plan(session, stage.show)
        build.an_allotment(session, plan, element.runs[0], stage.supplies[0], decoder=stage.decoders[0])
        build.a_placing(session, plan, stage.supplies[0], place_id=stage.deck.id)

    for mend in (False, True):
        number = worked_out(store, mend=mend)
        assert dark(store, number) == []
        with store.reading() as session:
            assert any("stays over a limit" in note for note in find_plan(session, "WIN", number).notes or ())


def test_a_second_feed_is_a_lead_of_its_own_from_the_same_channels_and_output(
    session: Session, stage: Stage
) -> None:
    """8 m may not be fed at one end; fed at both, each of two leads carries half of 6.4 A."""
    element = stage.element(session, "SQ-1", runs=((160,),))
    one = the_reach(session, stage)
    assert one is not None
    assert (one.limit, one.longest_um) == ("run-length", -1)
    element.runs[0].feed_style = FeedStyle.BOTH

    assert the_reach(session, stage) is None
    [block] = stage.question(session).problem.blocks
    assert [run.load_uw for run in block.runs] == [153_600_000]  # one run, one output: never two supplies


def test_a_plan_that_would_feed_over_a_limit_is_caught_by_the_limits_themselves(
    session: Session, stage: Stage
) -> None:
    """An answer by hand that no allocator gives: the run is 40 m of lead away."""
    stage.element(session, "SQ-1", runs=((96,),)).runs[0].lead_um = 40_000_000
    asked = stage.question(session)
    sites = dict.fromkeys(("PS-1", "DC-1"), "Main Stage")
    answer = Answer(
        (Feed("SQ-1/1", "PS-1", 1, "DC-1", 1, 4),), (), (), (), (), sites,
        {}, {}, 0, 0, False, False, 1,
    )  # fmt: skip

    [said] = chosen_over(asked, answer, over_as_drafted(asked, answer))
    assert said.startswith("total-drop: SQ-1/1 loses ")


def a_wall_of_windows(session: Session, seed: int, order: int = 0) -> None:
    """Windows of any length on leads of any length and wire, near and far; rows are written in any order."""
    draw, stage = Random(seed), a_stage(session, supplies=6, decoders=10)
    pits = [("PIT", draw.choice((6, 12, 30))), ("LOFT", draw.choice((4, 9, 50)))]
    made = [
        (
            f"SQ-{n:02d}",
            draw.randint(4, 130),
            draw.choice((None, 1, 3, 8, 15, 30)),
            draw.choice(("22 AWG", "20 AWG", "18 AWG", "16 AWG", None)),
            draw.choice((FeedStyle.ONE, FeedStyle.ONE, FeedStyle.BOTH, FeedStyle.MIDDLE)),
            draw.random() < 0.5,
        )
        for n in range(12)
    ]
    balcony = build.a_place(session, tag="BALCONY", kind=PlaceKind.STAGE, venue_id=stage.venue.id)
    arch = build.a_scenic_unit(session, stage.show, name="Arch", place_id=balcony.id)
    mix = Random(order)
    for pit, far_m in mix.sample(pits, len(pits)):
        a_pit(session, stage, far_m * 1_000_000, pit)
    for tag, pitches, lead_m, gauge, style, on_arch in mix.sample(made, len(made)):
        unit: ScenicUnit = arch if on_arch else stage.wall
        element = stage.element(session, tag, runs=((pitches,),), scenic_unit_id=unit.id)
        run = element.runs[0]
        run.lead_um = None if lead_m is None else lead_m * 1_000_000
        run.lead_gauge, run.feed_style = gauge, style


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_nothing_that_was_placed_is_over_by_its_lead_its_drop_its_amps_or_its_length(
    store: Store, seed: int
) -> None:
    with store.writing("tests") as session:
        a_wall_of_windows(session, seed)
    number = kept(store)
    left = {one["limit"] for one in dark(store, number)}
    with store.reading() as session:
        house, claims = read_house(session), read_claims(session, TODAY)
        facts = show_facts(house, read_show(session, find_production(session, "WIN")), claims)
    fed = {run.tag for element in facts.elements for run in element.runs if run.feed is not None}
    told = [f for f in findings(facts, house.policy) if f.code in OF_LEADS and f.verdict is Verdict.OVER]

    assert fed
    assert left & {"lead-length", "lead-amps", "run-length", "total-drop"}
    assert {f.subject for f in told} & fed == set()
    assert {f.subject for f in told}  # what is dark is over all the same: that is why it is


def test_rows_written_in_another_order_get_the_same_plan(store: Store) -> None:
    def told(order: int) -> list[tuple[Any, ...]]:
        with store.supposing("tests") as session:
            a_wall_of_windows(session, 2, order)
            problem = question(session).problem
            return [(b.tag, b.runs, b.sites) for b in problem.blocks]

    assert told(1) == told(2)
