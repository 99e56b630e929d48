"""Text with commas, semicolons or tabs becomes numbered rows, whatever program wrote it."""

import codecs
import csv
import io
import re

from service.kinds.cells import Cell
from service.paper.files.raw import MAX_CELL_CHARS, UnreadableError

_BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
# How files begin that are often taken for a sheet: pages to print, letters, pictures, workbooks of old.
_OTHERS = (
    b"%PDF",
    b"{\\rtf",
    b"\x89PNG",
    b"\xff\xd8\xff",
    b"GIF8",
    b"\x09\x00\x04\x00",
    b"\x09\x02\x06\x00",
    b"\x09\x04\x06\x00",
    b"\x09\x08",
)
_CONTROL = re.compile("[\x00-\x08\x0e-\x19\x1b-\x1f]")
_DELIMITERS = ",;\t"
_GUARDED = frozenset("=+-@\t\r#'")


def _without_bom_utf16(content: bytes) -> str | None:
    """Every second byte of plain text is zero in UTF-16; some programs leave the mark out."""
    start = content[:400]
    if len(start) < 4 or len(content) % 2:
        return None
    if start[1::2].count(0) > len(start) // 2 * 0.8:
        return "utf-16-le"
    if start[0::2].count(0) > len(start) // 2 * 0.8:
        return "utf-16-be"
    return None


def decode(content: bytes) -> tuple[str, str | None]:
    """The text, and a remark when its letters had to be guessed."""
    if content.startswith(_OTHERS):
        raise _no_sheet()
    encoding = next((name for bom, name in _BOMS if content.startswith(bom)), None) or _without_bom_utf16(
        content
    )
    remark = None
    try:
        text = content.decode(encoding or "utf-8")
    except UnicodeDecodeError:
        try:
            text = content.decode("cp1252")
        except UnicodeDecodeError:
            raise _no_sheet() from None
        if _CONTROL.search(text):
            raise _no_sheet() from None
        remark = "is not UTF-8; read as Windows Western (cp1252): check accents and signs such as Ω and ²"
    if "\x00" in text:
        raise _no_sheet()
    return text, remark


def _no_sheet() -> UnreadableError:
    return UnreadableError(
        "is no sheet that can be read",
        "Read are workbooks (.xlsx, .ods), text with commas, semicolons or tabs (.csv, .tsv, .txt) and a "
        ".zip of such texts: save it as one of them.",
    )


def _delimiter(text: str) -> str:
    """The mark that the head row uses most, outside quotes."""
    for line in text.splitlines():
        if not line.strip(" ,;\t") or line.lstrip().startswith("#"):
            continue
        outside = "".join(line.split('"')[0::2])
        return max(_DELIMITERS, key=outside.count)
    return ","


def _bare(cell: str) -> str:
    """Without the quote that keeps a spreadsheet from running a cell."""
    return cell[1:] if cell[:1] == "'" and cell[1:2] in _GUARDED and len(cell) > 1 else cell


def rows_of(content: bytes) -> tuple[list[tuple[int, list[Cell]]], str | None]:
    """Rows with the number a spreadsheet would show, blank ones among them, and the remark of `decode`."""
    text, remark = decode(content)
    skipped = 0
    if text[:4].lower() == "sep=" and text[5:6] in "\r\n":
        delimiter = text[4]
        text = text.split("\n", 1)[1] if "\n" in text else ""
        skipped = 1
    else:
        delimiter = _delimiter(text)
    reader = csv.reader(
        io.StringIO(text, newline=""), delimiter=delimiter, strict=True, skipinitialspace=True
    )
    rows: list[tuple[int, list[Cell]]] = []
    try:
        for number, record in enumerate(reader, start=1 + skipped):
            if any(len(cell) > MAX_CELL_CHARS for cell in record):
                raise UnreadableError(
                    f"has a cell of more than {MAX_CELL_CHARS} characters",
                    "Look for a quotation mark that is never closed.",
                    number,
                )
            rows.append((number, [_bare(cell) for cell in record] or [""]))
    except csv.Error as fault:
        raise UnreadableError(
            f"cannot be split into cells ({fault})",
            'Put text that holds a comma or a quotation mark in "…", and write " inside it twice.',
            len(rows) + 1 + skipped,
        ) from None
    return rows, remark
