"""A paper as a spreadsheet: one sheet with a frozen head, or CSV that a spreadsheet program opens well."""

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import Any

import xlsxwriter
from pydantic import BaseModel

from service.paper.out.files import RISKY
from service.store.listing import plain_text

WIDEST = 48  # characters
RUN = ("=", "+", "-", "@", "\t", "\r")  # how a formula starts


def workbook(name: str, heads: Sequence[str], rows: Sequence[Sequence[Any]]) -> bytes:
    """One sheet, ready to print on one page's width; figures stay figures, days stay days."""
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(
        buffer, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    )
    page = book.add_worksheet(name[:31])
    bold = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "bottom"})
    figure, day = book.add_format({"num_format": "0.##"}), book.add_format({"num_format": "yyyy-mm-dd"})
    for n, head in enumerate(heads):
        page.write_string(0, n, head, bold)
        longest = max((len(_text(row[n])) for row in rows), default=0)
        page.set_column(n, n, min(WIDEST, max(len(head), longest) + 2))
    for r, row in enumerate(rows, start=1):
        for n, cell in enumerate(row):
            if isinstance(cell, date):
                page.write_datetime(r, n, cell, day)
            elif isinstance(cell, int | float) and not isinstance(cell, bool):
                page.write_number(r, n, cell, figure if isinstance(cell, float) else None)
            elif cell not in (None, ""):
                page.write_string(r, n, str(cell))
    page.freeze_panes(1, 0)
    page.autofilter(0, 0, max(len(rows), 1), max(len(heads) - 1, 0))
    page.set_landscape()
    page.fit_to_pages(1, 0)
    page.repeat_rows(0)
    book.close()
    return buffer.getvalue()


def csv_bytes(heads: Sequence[str], rows: Iterable[Sequence[Any]]) -> bytes:
    """RFC 4180 in UTF-8 with its mark, and with a quote before what a spreadsheet would run."""
    return csv_text(heads, ([_guarded(cell) for cell in row] for row in rows)).encode("utf-8-sig")


def csv_text(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """RFC 4180, the cells as they are."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(heads)
    writer.writerows(rows)
    return text.getvalue()


def plain_cell(value: Any) -> str:
    """A value as programs read it. A spreadsheet runs a text cell that starts like a formula: a quote in
    front makes it text again."""
    text = plain_text(value)
    return f"'{text}" if isinstance(value, str) and text.startswith(RUN) else text


def report_csv(model: type[BaseModel], rows: Iterable[BaseModel]) -> bytes:
    """The rows of a report as its CSV has them at every door, with the mark that a spreadsheet looks for."""
    heads, cells = grid_of(model, rows)
    return csv_text(heads, ([plain_cell(cell) for cell in row] for row in cells)).encode("utf-8-sig")


def grid_of(
    model: type[BaseModel], rows: Iterable[Mapping[str, Any] | BaseModel]
) -> tuple[list[str], Iterator[list[Any]]]:
    """Heads and cells of a model's rows; several things in one cell stand with blanks between."""
    names = list(model.model_fields)
    plain = (row.model_dump() if isinstance(row, BaseModel) else row for row in rows)
    return names, ([joined(row.get(name)) for name in names] for row in plain)


def joined(value: Any) -> Any:
    """
    >>> joined(["TL 56", "TW 11.7"]), joined(26.2)
    ('TL 56 TW 11.7', 26.2)
    """
    return " ".join(str(one) for one in value) if isinstance(value, list | tuple) else value


def _text(cell: Any) -> str:
    if cell is None:
        return ""
    return f"{cell:g}" if isinstance(cell, float) else str(cell)


def _guarded(cell: Any) -> str:
    text = f"{cell:.6g}" if isinstance(cell, float) else _text(cell)
    return f"'{text}" if isinstance(cell, str) and text.startswith(RISKY) else text
