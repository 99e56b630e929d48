"""Reports as workbooks: what a spreadsheet finds in them."""

import io
from datetime import date
from typing import Any

import pytest
from pydantic import BaseModel, Field
from python_calamine import CalamineWorkbook

from service.paper.out.books import report_book
from service.reports import REPORTS
from service.reports.report import Report, ReportAsk, counted
from service.store.work import Store
from tests.planning.stage import TODAY
from tests.reports.test_every_report import a_show


class Row(BaseModel):
    """A row of a report of this test alone."""

    tag: str = Field(description="its tag")
    load_w: float | None
    run_mm: float
    due_on: date | None
    is_late: bool
    wanted_by: list[str]


FIVE = [
    Row(tag="=1+1", load_w=12.5, run_mm=3, due_on=date(2026, 12, 1), is_late=True, wanted_by=["SQ", "TL"]),
    Row(tag="PS-2", load_w=None, run_mm=0, due_on=None, is_late=False, wanted_by=[]),
]
REPORT = Report("toys", "Toys", Row, lambda _session, _ask: FIVE, counted, cautions=("mind the gap",))
ASK = ReportAsk(date(2026, 11, 25), "SQ", from_on=date(2026, 11, 1))


def tabs(content: bytes) -> dict[str, list[list[Any]]]:
    book = CalamineWorkbook.from_filelike(io.BytesIO(content))
    return {name: book.get_sheet_by_name(name).to_python() for name in book.sheet_names}


def test_figures_are_figures_days_are_days_and_heads_say_their_units() -> None:
    said = tabs(report_book(REPORT, ASK, FIVE, {"rows": 2, "used_m": 1.5}))
    assert said["toys"] == [
        ["tag", "load (W)", "run (mm)", "due on", "is late", "wanted by"],
        ["=1+1", 12.5, 3.0, date(2026, 12, 1), "yes", "SQ TL"],
        ["PS-2", "", 0.0, "", "no", ""],
    ]
    assert said["about"] == [
        ["report", "Toys"],
        ["as of", "2026-11-25"],
        ["from", "2026-11-01"],
        ["production", "SQ"],
        ["rows", 2.0],
        ["used (m)", 1.5],
        ["mind", "mind the gap"],
    ]


def test_the_same_report_gives_the_same_bytes() -> None:
    assert report_book(REPORT, ASK, FIVE, {}) == report_book(REPORT, ASK, FIVE, {})


@pytest.mark.parametrize("name", sorted(REPORTS))
def test_every_report_is_a_workbook_with_all_its_rows(store: Store, name: str) -> None:
    a_show(store, 2)
    report, ask = REPORTS[name], ReportAsk(TODAY, everything=True)
    with store.reading() as session:
        rows = report.rows(session, ask)
        book = report_book(report, ask, rows, report.summary(session, ask, rows))
    said = tabs(book)[name]
    assert len(said) == len(rows) + 1 > 1
    assert len(said[0]) == len(set(said[0])) == len(report.row.model_fields)


def test_a_report_of_nothing_is_a_workbook_with_heads() -> None:
    assert tabs(report_book(REPORT, ASK, [], {}))["toys"] == [
        ["tag", "load (W)", "run (mm)", "due on", "is late", "wanted by"]
    ]
