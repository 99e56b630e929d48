"""Every door of one house at once: the service as JSON, as CSV and as a workbook, and the command line."""

import csv
import io
import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import httpx
from python_calamine import CalamineWorkbook

from service.paper.out.books import WORKBOOK
from tests.cli.conftest import Command

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Doors:
    """A client of the running service, and the command line beside its database."""

    client: httpx.Client
    database: str
    wattwright: Command

    def asked(self, path: str, command: str, **query: Any) -> list[Row]:
        """The rows of an answer, once its JSON, its CSV and the command's JSON say the same."""
        document = self.document(path, command, **query)
        rows: list[Row] = document if isinstance(document, list) else rows_in(document)
        assert self.sheet(path, **query) == [in_cells(row) for row in rows]
        return rows

    def document(self, path: str, command: str, **query: Any) -> Any:
        """A JSON document, the same from the service and from the command."""
        said = self.client.get(path, params=query)
        assert said.status_code == 200, said.text
        document = said.json()
        typed = self.wattwright(*shlex.split(command), "--json", "--database", self.database)
        assert typed.code in (0, 1), typed.err
        printed = typed.document
        if isinstance(document, dict):
            for head, value in document.items():
                assert printed[head] == value, head
        else:
            assert printed == document
        return document

    def sheet(self, path: str, **query: Any) -> list[dict[str, str]]:
        said = self.client.get(path, params=query, headers={"Accept": "text/csv"})
        assert said.headers["content-type"].startswith("text/csv")
        return list(csv.DictReader(io.StringIO(said.text, newline="")))

    def report(self, name: str, **query: Any) -> list[Row]:
        """The rows of a report, once JSON, CSV, workbook and the command agree about them."""
        options = " ".join(f"--{key.replace('_', '-')} {value}" for key, value in query.items())
        path = f"/reports/{name}"
        rows = self.asked(path, f"report {name} {options}", **query)
        said = self.client.get(path, params=query, headers={"Accept": WORKBOOK})
        assert said.headers["content-type"] == WORKBOOK
        book = CalamineWorkbook.from_filelike(io.BytesIO(said.content))
        heads, *lines = book.get_sheet_by_name(book.sheet_names[0]).to_python()
        assert len(lines) == len(rows)
        for line, row in zip(lines, rows, strict=True):
            assert [from_book(cell) for cell in line] == [in_book(value) for value in row.values()]
        assert not rows or len(heads) == len(rows[0])
        return rows


def rows_in(document: Mapping[str, Any]) -> list[Row]:
    found: list[Row] = document["rows"] if "rows" in document else document["steps"]
    return found


def in_cells(row: Mapping[str, Any]) -> dict[str, str]:
    """What the CSV of a JSON row is; a text that a spreadsheet would run is quoted in front."""
    cells = {}
    for name, value in row.items():
        text = _text(value)
        cells[name] = "'" + text if isinstance(value, str) and text[:1] in {"=", "+", "-", "@"} else text
    return cells


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return " ".join(map(str, value)) if isinstance(value, list) else str(value)


def in_book(value: Any) -> str:
    """A JSON value as `from_book` gives it: a workbook has no whole numbers of its own."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return f"{float(value):.9g}"
    return _text(value)


def from_book(cell: Any) -> str:
    if isinstance(cell, datetime):
        return cell.isoformat()
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, float):
        return f"{cell:.9g}"
    return str(cell)


def only(rows: Sequence[Row], **wanted: Any) -> Row:
    """The one row that has these values."""
    [row] = [row for row in rows if all(row[name] == value for name, value in wanted.items())]
    return row
