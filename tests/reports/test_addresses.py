"""What listens to which slots, by universe, with what its line carries and where it is streamed."""

from typing import Any

import pytest
from sqlalchemy import select

from service.planning.records import Patch
from service.reports import REPORTS, ReportAsk
from service.shows.fittings import ControlLine, LineKind
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage


@pytest.fixture
def stage(store: Store) -> Stage:
    """Three decoders on a line: DC-2 at 1 and DC-1 at 41 of universe 300, DC-3 without an address."""
    with store.writing("tests") as session:
        stage = a_stage(session, decoders=3)
        plan = build.a_plan(session, stage.show)
        line = ControlLine(production_id=stage.show.id, name="deck left", kind=LineKind.WIRED, universe=300)
        session.add(line)
        session.flush()
        for number, decoder in enumerate(stage.decoders):
            element = stage.element(session, f"WIN-0{number + 1}")
            build.an_allotment(session, plan, element.runs[0], stage.supplies[0], decoder=decoder)
            build.a_placing(session, plan, decoder, line_id=line.id, place_id=stage.deck.id)
        build.a_patch(session, plan, stage.decoders[0], universe=300, start=41)
        build.a_patch(session, plan, stage.decoders[1], universe=300, start=1)
        return stage


def addresses(store: Store) -> list[dict[str, Any]]:
    with store.reading() as session:
        return [row.model_dump() for row in REPORTS["addresses"].rows(session, ReportAsk(TODAY))]


@pytest.mark.usefixtures("stage")
def test_slots_stand_in_order_and_what_has_none_comes_last(store: Store) -> None:
    rows = addresses(store)
    assert [(row["universe"], row["first_slot"], row["last_slot"]) for row in rows] == [
        (300, 1, 4),
        (300, 41, 44),
        (None, None, None),
    ]
    assert [row["elements"] for row in rows] == [["WIN-02"], ["WIN-01"], ["WIN-03"]]
    assert [row["verdict"] for row in rows] == ["ok", "ok", "unknown"]
    assert "its address" in rows[2]["message"]


@pytest.mark.usefixtures("stage")
def test_the_universe_tells_how_often_and_where_it_is_sent(store: Store) -> None:
    """44 slots: 92 + 12 + 44 x 45 = 2084 µs, 479.85 Hz (ANSI E1.11); 300 = 1 x 256 + 44 (ANSI E1.31)."""
    first = addresses(store)[0]
    assert first["slots_sent"] == 44
    assert first["refresh_hz"] == pytest.approx(479.85, abs=0.005)
    assert first["multicast"] == "239.255.1.44"


@pytest.mark.usefixtures("stage")
def test_the_line_tells_its_unit_loads(store: Store) -> None:
    """Three receivers whose sheets say nothing are three of 32 (EIA-485)."""
    rows = addresses(store)
    assert {(row["line"], row["line_loads"], row["line_limit"]) for row in rows} == {("deck left", 3.0, 32.0)}


def test_slots_that_two_listen_to_are_told_on_both(store: Store, stage: Stage) -> None:
    with store.writing("tests") as session:
        patch = session.scalars(select(Patch).where(Patch.decoder_id == stage.decoders[0].id)).one()
        patch.start = 3
    rows = addresses(store)
    assert [row["verdict"] for row in rows[:2]] == ["over", "over"]
    assert "overlap at 3, 4 in universe 300" in rows[0]["message"]
    assert rows[1]["message"] == rows[0]["message"]


def test_a_footprint_beyond_the_universe_is_told_as_all_of_it(store: Store, stage: Stage) -> None:
    """510 to 513: all 512 slots are sent, 44.1 times a second (ANSI E1.11)."""
    with store.writing("tests") as session:
        patch = session.scalars(select(Patch).where(Patch.decoder_id == stage.decoders[0].id)).one()
        patch.start = 510
    rows = addresses(store)
    assert [row["slots_sent"] for row in rows[:2]] == [512, 512]
    assert rows[0]["refresh_hz"] == pytest.approx(44.10, abs=0.005)
