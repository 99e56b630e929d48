"""Sheets as files: a folder or zip of CSV, or one workbook."""

import csv
import io
import zipfile
from collections.abc import Iterable
from pathlib import Path

import xlsxwriter

from service.kinds.columns import Column, Form
from service.paper.out.tables import Written

RISKY = ("=", "+", "-", "@", "\t", "\r", "#", "'")
_STAMP = (1980, 1, 1, 0, 0, 0)  # the same content gives the same bytes, whenever it is written


def csv_text(sheet: Written) -> str:
    """RFC 4180, with a quote before what a spreadsheet would run; reading takes it off again."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(sheet.heads)
    for row in sheet.rows:
        writer.writerow([guarded(column, cell) for column, cell in zip(sheet.columns, row, strict=True)])
    return text.getvalue()


def guarded(column: Column, cell: str) -> str:
    return f"'{cell}" if column.form is Form.TEXT and cell.startswith(RISKY) else cell


def file_name(sheet: Written) -> str:
    return sheet.kind.name.replace(" ", "_") + ".csv"


def into_folder(sheets: Iterable[Written], folder: Path, is_template: bool = False) -> None:
    """One CSV file a sheet; sheets with nothing in them are left out, unless they are to be filled in."""
    folder.mkdir(parents=True, exist_ok=True)
    for sheet in sheets:
        if sheet.rows or is_template:
            (folder / file_name(sheet)).write_text(csv_text(sheet), encoding="utf-8", newline="")


def as_zip(sheets: Iterable[Written], is_template: bool = False) -> bytes:
    """Sheets with nothing in them are left out, unless they are there to be filled in."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for sheet in sheets:
            if sheet.rows or is_template:
                archive.writestr(zipfile.ZipInfo(file_name(sheet), _STAMP), csv_text(sheet))
    return buffer.getvalue()


def as_workbook(sheets: Iterable[Written], is_template: bool = False) -> bytes:
    """One tab a sheet, units in the heads, what a column is in the note of its head, choices as lists."""
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(
        buffer, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    )
    bold, must = book.add_format({"bold": True}), book.add_format({"bold": True, "underline": True})
    for sheet in sheets:
        if not sheet.rows and not is_template:
            continue
        page = book.add_worksheet(sheet.kind.name[:31])
        page.freeze_panes(1, 1)
        for n, (column, head) in enumerate(zip(sheet.columns, sheet.heads, strict=True)):
            page.write_string(0, n, head, must if column.required else bold)
            page.write_comment(0, n, note_of(column))
            page.set_column(n, n, max(10, len(head) + 2))
            if column.form is Form.CHOICE and not column.many and len(",".join(column.values)) < 250:
                page.data_validation(1, n, 10_000, n, {"validate": "list", "source": list(column.values),
                                                       "error_type": "warning"})  # fmt: skip
        for r, row in enumerate(sheet.rows, start=1):
            for n, cell in enumerate(row):
                if cell:
                    page.write_string(r, n, cell)
    if not book.worksheets():
        book.add_worksheet("_empty")
    book.close()
    return buffer.getvalue()


def note_of(column: Column) -> str:
    """What a head means, for the person who fills the column in."""
    said = [column.doc]
    if column.required:
        said.append("Must be filled in.")
    if column.default:
        said.append(f"Blank: {column.default}.")
    if column.values:
        said.append(f"One of: {', '.join(column.values)}.")
    if column.example:
        said.append(f"For example: {column.example}.")
    return "\n".join(said)
