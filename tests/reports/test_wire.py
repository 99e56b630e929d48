"""Wire that leads take: a run that is fed at both ends has two. Figures are worked in the test."""

from typing import Any

import pytest

from service.limits.registry import findings
from service.planning.queries import feed_of
from service.planning.snapshot.house import read_policy
from service.planning.snapshot.season import season_facts
from service.planning.snapshot.show import find_production
from service.reports import REPORTS, ReportAsk
from service.reports.wire import Row
from service.shows.records import ElementStatus, FeedStyle
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, a_stage, kept

M = 1_000_000


def wire(store: Store, **ask: Any) -> list[Row]:
    with store.reading() as session:
        rows = REPORTS["wire"].rows(session, ReportAsk(TODAY, **ask))
    return [row for row in rows if isinstance(row, Row)]


@pytest.fixture
def house(store: Store) -> Store:
    """18 AWG of five cores: SQ-1 one lead of 3 m, SQ-2 two of 6 m, SQ-3 built on 4 m; 10 m are left."""
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=2, decoders=4)
        build.a_wire(session, gauge="18 AWG", cores=5, length_um=10 * M)
        a_lead(stage.element(session, "SQ-1"), 3)
        a_lead(stage.element(session, "SQ-2", runs=((160,),)), 6, FeedStyle.BOTH)
        a_lead(stage.element(session, "SQ-3", status=ElementStatus.BUILT), 4)
    return store


def a_lead(element: Any, metres: int | None, style: FeedStyle = FeedStyle.ONE, cores: int | None = 5) -> None:
    run = element.runs[0]
    run.lead_um, run.lead_cores, run.feed_style = None if metres is None else metres * M, cores, style


def test_two_leads_take_twice_the_wire_and_what_is_built_has_left_the_drum(house: Store) -> None:
    """3 + 2 × 6 + 4 = 19 m in four leads; 15 m to make and 10 m on hand: short 5 m."""
    [row] = wire(house)

    assert (row.gauge, row.cores, row.leads, row.elements) == ("18 AWG", 5, 4, ["SQ-1", "SQ-2", "SQ-3"])
    assert (row.wire_m, row.to_make_m, row.on_hand_m, row.short_m) == (19.0, 15.0, 10.0, 5.0)


def test_a_lead_without_a_length_is_counted_and_not_measured(house: Store) -> None:
    with house.writing("tests") as session:
        a_lead(build.an_element(session, find_production(session, "WIN"), tag="SQ-4"), None, FeedStyle.BOTH)

    [row] = wire(house)
    assert (row.leads, row.unmeasured, row.wire_m) == (6, 2, 19.0)


def test_cores_that_nobody_entered_are_counted_from_what_is_wired(house: Store) -> None:
    """Four colours and the common: five cores; straight on an output: two."""
    with house.writing("tests") as session:
        show = find_production(session, "WIN")
        a_lead(build.an_element(session, show, tag="SQ-4"), 2, cores=None)
        a_lead(build.an_element(session, show, tag="SQ-5", is_dimmed=False), 2, cores=None)

    assert {(row.cores, row.leads) for row in wire(house)} == {(5, 5), (2, 1)}


def test_where_the_cores_are_not_known_nothing_is_said_of_what_is_on_hand(house: Store) -> None:
    with house.writing("tests") as session:
        pixels = build.a_tape(
            session, signal="pixel", emitters=(("PX", 14.4),), pixels_per_m=20.0, slots_per_pixel=3
        )
        show = find_production(session, "WIN")
        a_lead(build.an_element(session, show, tag="SQ-4", tape=pixels), 2, cores=None)

    blank = next(row for row in wire(house) if row.cores is None)
    assert (blank.gauge, blank.wire_m, blank.on_hand_m, blank.short_m) == ("18 AWG", 2.0, None, None)


def test_feed_drop_amps_fuse_and_wire_mean_the_same_two_leads(house: Store) -> None:
    """8 m of RGBW draw 6.4 A: one output and one row of channels carry all of it, each lead 3.2 A."""
    kept(house)
    with house.reading() as session:
        feed = feed_of(session.connection(), "SQ-2")
        [show] = season_facts(session, TODAY, "WIN")
        told = {f.code: f for f in findings(show, read_policy(session)) if f.subject == "SQ-2/1"}
    [run] = feed["runs"]

    assert (run["leads"], run["lead_m"], run["load_a"], len(run["slots"])) == (2, 6.0, 6.4, 4)
    assert len({run["supply"]}) == len(feed["sources"]) == 1
    assert told["lead-amps"].value == pytest.approx(run["load_a"] / run["leads"])
    assert told["lead-drop"].value == pytest.approx(100 * (3.2 + 0.8) * 0.02095 * 6 / 24, rel=1e-3)
    assert told["fuse"].value == pytest.approx(4.0)
