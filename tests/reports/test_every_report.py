"""What holds for every report, whichever door it goes out of."""

import json
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from sqlalchemy import event, func, select

from service.errors import NotFound
from service.planning.actions import find_plan
from service.planning.cutting.actions import find_cut_plan
from service.planning.cutting.records import CutPlan, CutPlanStatus, CutStep
from service.reports import REPORTS, ReportAsk
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage

NAMES = sorted(REPORTS)


def a_show(store: Store, elements: int) -> Stage:
    """A show with a kept plan and so many elements."""
    with store.writing("tests") as session:
        stage = a_stage(session)
        build.a_plan(session, stage.show)
        build.a_hold(session, stage.show, model_id=stage.supply_model.id, quantity=60)
        session.add(
            CutPlan(
                number="CP-001", status=CutPlanStatus.KEPT, as_of=TODAY, keep_um=300_000, fingerprint="",
                found={}, is_proven=True, seconds=1.0,
            )
        )  # fmt: skip
    more_elements(store, stage, elements)
    return stage


def more_elements(store: Store, stage: Stage, count: int) -> None:
    """So many elements of three runs, each on a supply, a decoder and an address of its own."""
    with store.writing("tests") as session:
        plan = find_plan(session, "WIN", 1)
        cuts = find_cut_plan(session, "CP-001")
        last = session.scalar(select(func.max(CutStep.position))) or 0
        for _ in range(count):
            supply = build.a_supply(session, stage.supply_model)
            decoder = build.a_decoder(session, stage.decoder_model)
            element = stage.element(session, supply.tag.replace("PS", "SQ"), runs=((10,), (10, 10), (20,)))
            for run in element.runs:
                build.an_allotment(session, plan, run, supply, decoder=decoder)
            build.a_placing(session, plan, supply, outlet_id=stage.outlet.id)
            build.a_patch(session, plan, decoder, start=4 * element.id)
            build.a_hold(session, stage.show, unit_id=supply.id, quantity=1)
            reel = build.a_reel(session, stage.tape)
            build.a_stocktake(session, supply, reel)
            build.a_cut(session, reel, 4)
            for piece in (piece for run in element.runs for piece in run.pieces):
                last += 1
                session.add(
                    CutStep(
                        cut_plan_id=cuts.id, position=last, tape_id=stage.tape.id, reel_id=reel.id,
                        piece_id=piece.id, pitches=piece.cut_pitches,
                    )
                )  # fmt: skip


@contextmanager
def counted(store: Store) -> Iterator[list[str]]:
    said: list[str] = []

    def note(_c: object, _k: object, statement: str, *_: object) -> None:
        said.append(statement)

    event.listen(store.engine, "before_cursor_execute", note)
    try:
        yield said
    finally:
        event.remove(store.engine, "before_cursor_execute", note)


@pytest.mark.parametrize("name", NAMES)
def test_a_report_is_called_by_its_name_and_says_what_it_is(name: str) -> None:
    report = REPORTS[name]

    assert report.name == name
    assert report.title
    assert report.row.__doc__


@pytest.mark.parametrize("name", NAMES)
def test_an_empty_house_has_an_empty_report(store: Store, name: str) -> None:
    with store.reading() as session:
        assert list(REPORTS[name].rows(session, ReportAsk(TODAY))) == []


@pytest.mark.parametrize("name", NAMES)
def test_every_row_goes_out_as_json_with_all_its_columns(store: Store, name: str) -> None:
    a_show(store, 3)
    report = REPORTS[name]
    with store.reading() as session:
        ask = ReportAsk(TODAY, everything=True)
        rows = report.rows(session, ask)
        summary = report.summary(session, ask, rows)
    sent = [json.loads(json.dumps(row.model_dump(mode="json"))) for row in rows]

    assert sent
    assert {tuple(row) for row in sent} == {tuple(report.row.model_fields)}
    assert json.loads(json.dumps(summary)) == summary


@pytest.mark.parametrize("name", NAMES)
def test_a_report_takes_as_many_statements_for_many_elements_as_for_few(store: Store, name: str) -> None:
    """Nothing is read once for each element, run or unit."""
    stage = a_show(store, 2)
    few = statements(store, name)
    more_elements(store, stage, 8)

    assert 0 < statements(store, name) == few


def statements(store: Store, name: str) -> int:
    with counted(store) as said, store.reading() as session:
        REPORTS[name].rows(session, ReportAsk(TODAY, everything=True))
    return len(said)


@pytest.mark.parametrize(
    "name", ["loads", "over-limit", "season-line", "shortages", "commitments", "order-list", "stock-use"]
)
def test_a_show_that_is_not_there_is_named(store: Store, name: str) -> None:
    with pytest.raises(NotFound, match="no production has the code 'NONE'"), store.reading() as session:
        REPORTS[name].rows(session, ReportAsk(TODAY, "NONE"))
