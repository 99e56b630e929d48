"""A report as a workbook: its rows with the units in the heads, and what it is of on a second tab."""

import io
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

import xlsxwriter
from pydantic import BaseModel

from service.paper.out.grids import joined
from service.reports.report import Report, ReportAsk
from service.store.listing import plain_text
from service.units import ENDINGS, ending_of, unit_text

WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
WIDEST = 60


def report_book(
    report: Report, ask: ReportAsk, rows: Sequence[BaseModel], summary: Mapping[str, object]
) -> bytes:
    """Figures as figures and days as days, so that a spreadsheet sorts and sums them; no cell is a formula.
    The same report gives the same bytes."""
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer, {"in_memory": True})
    book.set_properties({"title": report.title, "created": _at(ask.as_of)})
    bold, day = book.add_format({"bold": True}), book.add_format({"num_format": "yyyy-mm-dd"})
    _rows(book.add_worksheet(report.name[:31]), report.row, rows, bold, day)
    _about(book.add_worksheet("about"), report, ask, summary, bold)
    book.close()
    return buffer.getvalue()


def head(name: str) -> str:
    """A column's head: its name in words, with the unit that its name ends in.

    >>> head("used_m"), head("tape_scrap_pct"), head("cut_mm"), head("wanted_by"), head("short")
    ('used (m)', 'tape scrap (%)', 'cut (mm)', 'wanted by', 'short')
    """
    ending = ending_of(name)
    unit = ENDINGS.get(ending)
    if unit is None or name == ending.lstrip("_"):
        return name.replace("_", " ")
    shown = "mm" if ending == "_mm" else unit_text(unit[0])
    return f"{name.removesuffix(ending).replace('_', ' ')} ({shown})"


def _rows(page: Any, row_of: type[BaseModel], rows: Sequence[BaseModel], bold: Any, day: Any) -> None:
    page.freeze_panes(1, 1)
    for n, (name, field) in enumerate(row_of.model_fields.items()):
        title = head(name)
        page.write_string(0, n, title, bold)
        if field.description:
            page.write_comment(0, n, field.description)
        cells = [_plain(getattr(row, name)) for row in rows]
        for r, cell in enumerate(cells, start=1):
            _write(page, r, n, cell, day)
        longest = max([len(title), *(len(str(cell)) for cell in cells if cell is not None)])
        page.set_column(n, n, min(WIDEST, max(10, longest + 2)))
    if rows:
        page.autofilter(0, 0, len(rows), len(row_of.model_fields) - 1)


def _plain(value: Any) -> Any:
    return joined(getattr(value, "value", value))


def _write(page: Any, row: int, column: int, cell: Any, day: Any) -> None:
    if cell is None or cell == "":
        return
    if isinstance(cell, bool):
        page.write_string(row, column, "yes" if cell else "no")
    elif isinstance(cell, int | float):
        page.write_number(row, column, cell)
    elif type(cell) is date:
        page.write_datetime(row, column, _at(cell), day)
    else:
        page.write_string(row, column, plain_text(cell))


def _at(day: date) -> datetime:
    return datetime(day.year, day.month, day.day)


def _about(page: Any, report: Report, ask: ReportAsk, summary: Mapping[str, object], bold: Any) -> None:
    span = [(name, on) for name, on in (("from", ask.from_on), ("to", ask.to_on)) if on is not None]
    said: list[tuple[str, object]] = [
        ("report", report.title),
        ("as of", ask.as_of),
        *span,
        ("production", ask.production or "all"),
        *((head(name), value) for name, value in summary.items()),
        *(("mind", caution) for caution in report.cautions),
    ]
    page.set_column(0, 0, 24)
    page.set_column(1, 1, WIDEST)
    for n, (name, value) in enumerate(said):
        page.write_string(n, 0, name, bold)
        if isinstance(value, int | float) and not isinstance(value, bool):
            page.write_number(n, 1, value)
        else:
            page.write_string(n, 1, "" if value is None else str(value))
