"""Workbooks and zip files are opened only after their true size is known to be harmless.

A zip can hold a thousand times its own size, and a worksheet with one cell in its last corner
makes a reader lay out seventeen thousand million empty ones. Both are weighed first.
"""

import io
import re
import zipfile
from datetime import datetime, time, timedelta
from xml.etree import ElementTree

from python_calamine import CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

from service.kinds.cells import Cell
from service.paper.files.raw import (
    MAX_COLUMNS,
    MAX_ROWS,
    MAX_SHEETS,
    MAX_UNPACKED_BYTES,
    UnreadableError,
)

OLE_START = bytes.fromhex("D0CF11E0A1B11AE1")  # the container of old and of encrypted workbooks
ZIP_START = b"PK"
_CHUNK = 1 << 20
_CELL = re.compile(rb"<(?:\w+:)?c\b[^>]*?\br=[\"']([A-Z]{1,3})(\d{1,7})[\"'][^>]*>")
_SHEET_PART = re.compile(r"xl/worksheets/[^/]+\.xml", re.I)

OPEN_DOCUMENT = b"application/vnd.oasis.opendocument.spreadsheet"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"

# Room for a title, comments and blank rows above and between the rows that count.
_LAST_ROW = 2 * MAX_ROWS


def open_zip(content: bytes) -> zipfile.ZipFile:
    """The archive, once every member has been unpacked to a count and none is encrypted."""
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
        members = archive.infolist()
        if len(members) > 20 * MAX_SHEETS:
            raise UnreadableError(f"holds {len(members)} files", f"At most {20 * MAX_SHEETS} are opened.")
        if any(member.flag_bits & 0x1 for member in members):
            raise UnreadableError("is encrypted", "Save it without a password.")
        _weigh(archive, members)
    except UnreadableError:
        raise
    except Exception as fault:  # a spoiled zip raises a dozen kinds: of zipfile, of zlib, of struct
        raise UnreadableError(
            f"is damaged and cannot be opened ({fault})", "Save it again and retry."
        ) from None
    return archive


def _weigh(archive: zipfile.ZipFile, members: list[zipfile.ZipInfo]) -> None:
    """Reads every member in pieces: the sizes a zip states about itself need not be true."""
    weight = 0
    for member in members:
        with archive.open(member) as stream:
            while piece := stream.read(_CHUNK):
                weight += len(piece)
                if weight > MAX_UNPACKED_BYTES:
                    raise UnreadableError(
                        f"unpacks to more than {MAX_UNPACKED_BYTES // 1_000_000} MB",
                        "Bring in fewer sheets at a time, without pictures.",
                    )


def is_workbook(archive: zipfile.ZipFile) -> bool:
    return "xl/workbook.xml" in archive.namelist() or is_open_document(archive)


def is_open_document(archive: zipfile.ZipFile) -> bool:
    """Whether it is a spreadsheet of the open format that office programs share (ISO/IEC 26300)."""
    names = archive.namelist()
    return (
        "content.xml" in names and "mimetype" in names and archive.read("mimetype").startswith(OPEN_DOCUMENT)
    )


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - ord("A") + 1
    return number


def _refuse_far_repeats(archive: zipfile.ZipFile) -> None:
    """An open document writes a cell once and says how often it stands there: that is counted before a
    reader lays it all out."""
    row = column = 0
    with archive.open("content.xml") as stream:
        for event, element in ElementTree.iterparse(stream, events=("start", "end")):
            name = element.tag.removeprefix(_TABLE)
            if event == "start":
                row = 0 if name == "table" else row
                column = 0 if name == "table-row" else column
            elif name in ("table-cell", "covered-table-cell"):
                column += int(element.get(f"{_TABLE}number-columns-repeated", "1"))
                if len(element) and (column > MAX_COLUMNS or row >= _LAST_ROW):
                    raise _far(f"row {row + 1}, column {column}")
                element.set("filled", "1" if len(element) else "")
            elif name == "table-row":
                row += int(element.get(f"{_TABLE}number-rows-repeated", "1"))
                if row > _LAST_ROW and any(cell.get("filled") for cell in element):
                    raise _far(f"row {row}")
                element.clear()


def _far(where: str) -> UnreadableError:
    return UnreadableError(
        f"has something in {where}, far from any table",
        f"Clear it; {MAX_ROWS} rows and {MAX_COLUMNS} columns are read.",
    )


def _refuse_far_cells(archive: zipfile.ZipFile) -> None:
    for name in archive.namelist():
        if not _SHEET_PART.fullmatch(name):
            continue
        for match in _CELL.finditer(archive.read(name)):
            if match[0].endswith(b"/>"):
                continue  # formatted but empty: readers leave it out
            if int(match[2]) > _LAST_ROW or _column_number(match[1]) > MAX_COLUMNS:
                raise _far(f"cell {match[1].decode()}{match[2].decode()}")


def _cell(value: object) -> Cell:
    """Calamine gives times of day and spans too; a sheet of ours has none, so they stay as text."""
    if isinstance(value, datetime):
        return value.date() if value.time() == time() else value.isoformat(sep=" ")
    if isinstance(value, time | timedelta):
        return str(value)
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return int(value)
    return value  # type: ignore[return-value]


def sheets_of(
    archive: zipfile.ZipFile, content: bytes
) -> list[tuple[str, bool, list[tuple[int, list[Cell]]]]]:
    """Each worksheet's name, whether it is shown, and its rows numbered as the program shows them."""
    try:
        if is_open_document(archive):
            _refuse_far_repeats(archive)
        else:
            _refuse_far_cells(archive)
        return _sheets(CalamineWorkbook.from_filelike(io.BytesIO(content)))
    except UnreadableError:
        raise
    except BaseException as fault:
        # Calamine raises several kinds, and on some damaged files a panic that is no Exception.
        if not isinstance(fault, Exception) and type(fault).__name__ != "PanicException":
            raise
        raise UnreadableError(
            f"is damaged and cannot be opened ({fault})",
            "Open it in a spreadsheet program and save it again.",
        ) from None


def _sheets(workbook: CalamineWorkbook) -> list[tuple[str, bool, list[tuple[int, list[Cell]]]]]:
    found = []
    for sheet in workbook.sheets_metadata:
        if sheet.typ is SheetTypeEnum.WorkSheet:
            shown = sheet.visible is SheetVisibleEnum.Visible
            grid = workbook.get_sheet_by_name(sheet.name).to_python(skip_empty_area=False) if shown else []
            rows = [(n, [_cell(value) for value in row]) for n, row in enumerate(grid, start=1)]
            found.append((sheet.name, shown, rows))
    return found
