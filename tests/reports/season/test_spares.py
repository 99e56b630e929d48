"""Spares of shows that play: one at least, and a tenth, of each model; one longest piece of each tape."""

from datetime import date

import pytest
from sqlalchemy import select

from service.reports import REPORTS, ReportAsk
from service.reports.season.spares import Row
from service.season.records import Production, ProductionStatus
from service.stock.gear import UnitState
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage


def spares(store: Store, day: date = TODAY, code: str | None = None) -> list[Row]:
    with store.reading() as session:
        rows = REPORTS["spares"].rows(session, ReportAsk(day, code, today=TODAY))
    return [row for row in rows if isinstance(row, Row)]


def one(store: Store, item: str, day: date = TODAY, code: str | None = None) -> Row:
    [row] = [row for row in spares(store, day, code) if row.item == item]
    return row


def figures(row: Row) -> tuple[float, float, float, float]:
    return row.in_show, row.needed, row.free, row.short


def test_of_the_sleet_queen_two_models_have_no_spare(season: Store) -> None:
    """On 2026-12-02 no S150L is free (PS-52 is faulty) and no D5; everything else meets the rule."""
    rows = spares(season, date(2026, 12, 2))

    assert {row.production for row in rows} == {"SQ"}
    assert [row.item for row in rows if row.verdict == "short"] == ["S150L", "D5"]
    lost = one(season, "S150L", date(2026, 12, 2))
    assert (figures(lost), lost.away) == ((1, 1, 0, 1), ["PS-52 faulty (trips warm)"])
    assert lost.mend == "mend PS-52; or 1 more S150L, here 2026-12-12 at the earliest"
    assert figures(one(season, "D5", date(2026, 12, 2))) == (3, 1, 0, 1)
    assert one(season, "D12", date(2026, 12, 2)).take == ["DC-31"]


def test_eleven_of_twelve_leave_one_where_two_are_wanted(season: Store) -> None:
    """TL has eleven D4 from 2027-01-20; a tenth of eleven, rounded up, is two."""
    row = one(season, "D4", date(2027, 1, 20), "TL")
    assert (figures(row), row.verdict, row.is_due) == ((11, 2, 1, 1), "short", False)
    assert row.take == ["DC-04"]
    assert row.mend == "get DC-03 back from CO; or mend DC-07; or 1 more D4, ordered by 2027-01-03"


def test_a_piece_longer_than_a_reel_is_joined_again(season: Store) -> None:
    """The longest piece of RGBW24 in SQ is 8 m; its reels are 5 m."""
    row = one(season, "RGBW24", date(2026, 12, 2))
    assert (figures(row), row.take) == ((8.0, 8.0, 31.5, 0.0), ["R-105", "R-104"])


@pytest.fixture
def stage(store: Store) -> Stage:
    """WIN plays, with PS-1 and DC-1 on a window of 2 m; PS-2 is sound and free."""
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=2, decoders=1)
        stage.show.first_preview, stage.show.status = date(2026, 11, 20), ProductionStatus.RUNNING
        plan = build.a_plan(session, stage.show)
        element = stage.element(session, "SQ-1")
        build.an_allotment(session, plan, element.runs[0], stage.supplies[0], decoder=stage.decoders[0])
        return stage


def test_one_sound_free_unit_is_enough_of_few(store: Store, stage: Stage) -> None:
    row = one(store, "S320")
    assert (figures(row), row.verdict, row.is_due, row.take) == ((1, 1, 1, 0), "ok", True, ["PS-2"])
    with store.writing("tests") as session:
        session.merge(stage.supplies[1]).state = UnitState.SUSPECT
    assert one(store, "S320").verdict == "short"


def test_what_a_show_holds_twice_is_one(store: Store, stage: Stage) -> None:
    with store.writing("tests") as session:
        for _ in range(2):
            build.a_hold(session, stage.show, unit_id=stage.supplies[1].id, quantity=1)
    assert figures(one(store, "S320"))[:2] == (2, 1)


def test_exactly_ten_want_one_and_eleven_want_two(store: Store, stage: Stage) -> None:
    for count, needed in ((10, 1), (11, 2)):
        with store.writing("tests") as session:
            show = session.scalars(select(Production).where(Production.tag == "WIN")).one()
            held = count - 1 if count == 10 else 1
            for _ in range(held):
                unit = build.a_supply(session, stage.supply_model)
                build.a_hold(session, show, unit_id=unit.id, quantity=1)
        assert figures(one(store, "S320"))[:2] == (count, needed)


def test_the_spare_of_one_show_is_not_that_of_another(store: Store, stage: Stage) -> None:
    with store.writing("tests") as session:
        other = build.a_production(session, stage.venue, tag="ELF", first_preview=date(2026, 11, 21))
        unit = build.a_supply(session, stage.supply_model, tag="PS-7")
        build.a_hold(session, other, unit_id=unit.id, quantity=1)
    assert one(store, "S320", code="WIN").take == ["PS-2"]
    row = one(store, "S320", code="ELF")
    assert (row.take, row.free, row.verdict) == ([], 0, "short")


def test_what_is_promised_by_model_is_no_spare(store: Store, stage: Stage) -> None:
    with store.writing("tests") as session:
        other = build.a_production(session, stage.venue, tag="ELF", first_preview=date(2027, 1, 1))
        build.a_hold(session, other, model_id=stage.supply_model.id, quantity=1)
    assert one(store, "S320", code="WIN").verdict == "short"


def test_of_tape_one_longest_piece_in_one_length_is_wanted(store: Store, stage: Stage) -> None:
    """The window is 2 m and still uncut: 3.5 m on the shelf leave 1.5 m, 4 m leave enough."""
    with store.writing("tests") as session:
        build.a_reel(session, stage.tape, left_pitches=70, tag="R-1")
    row = one(store, "T-RGBW")
    assert (figures(row), row.mend) == ((2.0, 2.0, 1.5, 0.5), "2 m of T-RGBW in one length")
    with store.writing("tests") as session:
        build.a_reel(session, stage.tape, left_pitches=10, tag="R-2")
    row = one(store, "T-RGBW")
    assert (row.verdict, row.take) == ("ok", ["R-1"])


def test_a_show_that_has_closed_wants_none(store: Store, stage: Stage) -> None:
    assert spares(store, date.fromordinal(stage.show.closing.toordinal() + 1)) == []
