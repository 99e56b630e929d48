"""Spreadsheets in the open format that office programs share."""

import io
import zipfile

import pytest

from service.errors import BadSheets
from service.paper.reading import name_key, read_bytes

KNOWN = {name_key("tapes"): "tapes"}
SPACES = (
    'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"'
)


def document(rows: str, name: str = "tapes") -> bytes:
    """A document with one table of these rows (ISO/IEC 26300, parts that every writer gives)."""
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {SPACES} office:version="1.2">'
        f'<office:body><office:spreadsheet><table:table table:name="{name}">{rows}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", content)
        archive.writestr("META-INF/manifest.xml", "<manifest/>")
    return buffer.getvalue()


def cell(value: object, repeated: int = 1) -> str:
    times = f' table:number-columns-repeated="{repeated}"' if repeated > 1 else ""
    if value is None:
        return f"<table:table-cell{times}/>"
    if isinstance(value, float):
        kind = f'office:value-type="float" office:value="{value}"'
    else:
        kind = 'office:value-type="string"'
    return f"<table:table-cell {kind}{times}><text:p>{value}</text:p></table:table-cell>"


def row(*cells: str, repeated: int = 1) -> str:
    times = f' table:number-rows-repeated="{repeated}"' if repeated > 1 else ""
    return f"<table:table-row{times}>{''.join(cells)}</table:table-row>"


def test_figures_and_words_come_as_they_stand_and_rows_keep_their_numbers() -> None:
    rows = [
        row(cell("Tape"), cell("Volts"), cell(None, 16_000)),
        row(cell(None, 16_002), repeated=2),
        row(cell("WW24"), cell(24.0), cell(None, 16_000)),
        row(cell(None, 16_002), repeated=1_000_000),
    ]
    [sheet] = read_bytes(document("".join(rows)), "season.ods", KNOWN).sheets
    assert sheet.heads[:2] == ("Tape", "Volts")
    assert [(one.number, one.cells[:2]) for one in sheet.rows] == [(4, ("WW24", 24))]


@pytest.mark.parametrize(
    "rows",
    [
        row(cell("Tape"), cell("x", 16_000)),
        row(cell("Tape")) + row(cell("x"), repeated=1_000_000),
        row(cell("Tape")) + row(cell(None), repeated=1_000_000) + row(cell("x")),
        row(cell("Tape"), cell(None, 16_000), cell("x")),
    ],
)
def test_what_would_lay_out_millions_of_cells_is_refused(rows: str) -> None:
    with pytest.raises(BadSheets) as refused:
        read_bytes(document(rows), "season.ods", KNOWN)
    assert "far from any table" in str(refused.value.errors[0])


def test_a_damaged_document_is_refused() -> None:
    with pytest.raises(BadSheets) as refused:
        read_bytes(document("<table:table-row>"), "season.ods", KNOWN)
    assert "is damaged" in str(refused.value.errors[0])
