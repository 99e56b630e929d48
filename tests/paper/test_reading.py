"""Sheets come in from whatever program wrote them; what cannot be read is named, file by file."""

import contextlib
import io
import re
import zipfile
from collections.abc import Mapping
from datetime import date
from pathlib import Path

import pytest
import xlsxwriter
from hypothesis import given
from hypothesis import strategies as st

from service.errors import BadSheets
from service.paper.files import raw
from service.paper.reading import name_key, read_bytes, read_path

KNOWN = {name_key(name): name for name in ("tapes", "reels", "supply models")} | {"tapetypes": "tapes"}
TAPES = "Tape,Volts\nWW24,24\nNW24,24\n"


def refusal(content: bytes, filename: str = "tapes.csv") -> str:
    with pytest.raises(BadSheets) as caught:
        read_bytes(content, filename, KNOWN)
    return "\n".join(map(str, caught.value.errors))


def a_workbook(tabs: dict[str, list[list[object]]]) -> bytes:
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer, {"in_memory": True})
    day = book.add_format({"num_format": "yyyy-mm-dd"})
    for name, rows in tabs.items():
        sheet = book.add_worksheet(name)
        for r, row in enumerate(rows):
            for c, value in enumerate(row):
                if isinstance(value, date):
                    sheet.write_datetime(r, c, value, day)
                else:
                    sheet.write(r, c, value)
    book.close()
    return buffer.getvalue()


def a_zip(files: Mapping[str, str | bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", method) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return buffer.getvalue()


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_text_is_read_in_every_unicode_a_program_saves(encoding: str) -> None:
    text = "Tape,Resistance (mΩ/m)\nWW24,25\n"

    (sheet,) = read_bytes(text.encode(encoding), "tapes.csv", KNOWN).sheets

    assert sheet.heads == ("Tape", "Resistance (mΩ/m)")
    assert sheet.rows[0].cells == ("WW24", "25")


def test_windows_letters_are_read_with_a_remark() -> None:
    reading = read_bytes("Tape,Colour\nWW24,décor\n".encode("cp1252"), "tapes.csv", KNOWN)

    assert reading.sheets[0].rows[0].cells[1] == "décor"
    assert "cp1252" in reading.remarks[0]


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_the_separator_is_found_from_the_head_row(mark: str) -> None:
    text = f'Tape{mark}Note\r\nWW24{mark}"warm, {mark} white"\r\n'

    (sheet,) = read_bytes(text.encode(), "tapes.csv", KNOWN).sheets

    assert sheet.rows[0].cells == ("WW24", f"warm, {mark} white")


def test_the_separator_may_be_declared_in_the_first_line() -> None:
    (sheet,) = read_bytes(b"sep=;\nTape;a,b,c\nWW24;1\n", "tapes.csv", KNOWN).sheets

    assert sheet.heads == ("Tape", "a,b,c")
    assert sheet.rows[0].number == 3


def test_blank_rows_and_comments_are_skipped_but_counted() -> None:
    """The number named in a refusal is the one the spreadsheet shows."""
    text = "# what we own\n\nTape,Volts\n\nWW24,24\n,\nNW24,24\n"

    (sheet,) = read_bytes(text.encode(), "Tapes.csv", KNOWN).sheets

    assert sheet.head_row == 3
    assert [row.number for row in sheet.rows] == [5, 7]


def test_a_workbook_gives_numbers_dates_and_cached_results() -> None:
    content = a_workbook(
        {
            "Tapes": [
                ["Tape", "Volts", "Bought", "Twice"],
                ["WW24", 24, date(2026, 11, 25), None],
                [None],
                ["NW24", 4.5],
            ]
        }
    )
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer, {"in_memory": True})
    sheet = book.add_worksheet("reels")
    sheet.write_row(0, 0, ["Reel", "Left"])
    sheet.write(1, 0, "R-1")
    sheet.write_formula(1, 1, "=2+3", None, 5)
    book.close()

    tapes = read_bytes(content, "house.xlsx", KNOWN).sheets[0]
    reels = read_bytes(buffer.getvalue(), "house.xlsx", KNOWN).sheets[0]

    assert tapes.rows[0].cells[:3] == ("WW24", 24, date(2026, 11, 25))
    assert (tapes.rows[1].number, tapes.rows[1].cells[1]) == (4, 4.5)
    assert reels.rows[0].cells == ("R-1", 5)


def test_a_table_that_does_not_start_in_the_corner_keeps_its_row_numbers() -> None:
    content = a_workbook({"tapes": [[], [], [None, "Tape"], [None, "WW24"]]})

    (sheet,) = read_bytes(content, "house.xlsx", KNOWN).sheets

    assert (sheet.head_row, sheet.rows[0].number) == (3, 4)


def test_notes_and_underscored_sheets_are_left_aside_with_a_remark() -> None:
    content = a_workbook({"tapes": [["Tape"], ["WW24"]], "_scratch": [["x"]], "Notes on lots": [["y"]]})

    reading = read_bytes(content, "house.xlsx", KNOWN)

    assert [s.name for s in reading.sheets] == ["tapes"]
    assert len(reading.remarks) == 2


def test_names_match_whatever_their_case_and_numbering(tmp_path: Path) -> None:
    (tmp_path / "03 Tape_Types.csv").write_text(TAPES)
    (tmp_path / "11-REELS.csv").write_text("Reel\nR-1\n")
    (tmp_path / "picture.png").write_bytes(b"\x89PNG")

    reading = read_path(tmp_path, KNOWN)

    assert {s.name for s in reading.sheets} == {"tapes", "reels"}


def test_an_unknown_sheet_names_the_nearest_and_the_known() -> None:
    said = refusal(TAPES.encode(), "tapse.csv")

    assert "Did you mean 'tapes'?" in said
    assert "supply models" in said


def test_the_same_sheet_twice_is_refused() -> None:
    said = refusal(a_zip({"tapes.csv": TAPES, "Tape types.csv": TAPES}), "house.zip")

    assert "'tapes' comes twice" in said


def test_every_bad_file_of_a_folder_is_named(tmp_path: Path) -> None:
    (tmp_path / "tapes.csv").write_bytes(b"a,b\n\x00\x01")
    (tmp_path / "reels.csv").write_text('Reel\n"R-1" x\n')

    with pytest.raises(BadSheets) as caught:
        read_path(tmp_path, KNOWN)

    assert [error.sheet for error in caught.value.errors] == ["reels.csv", "tapes.csv"]


def test_an_unclosed_quotation_mark_is_refused_with_its_row() -> None:
    assert "reels.csv, row 2" in refusal(b'Reel,Lot\n"R-1,C\nR-2,C\n', "reels.csv")


@pytest.mark.parametrize(
    ("content", "filename", "message"),
    [
        (bytes.fromhex("D0CF11E0A1B11AE1") + b"\0" * 600, "house.xlsx", "old or password-protected"),
        (b"PK\x03\x04 not really", "house.xlsx", "damaged"),
        (b"", "tapes.csv", "^tapes.csv: holds nothing to read: 'tapes' is empty. "),
        (b" \r\n,\r\n", "tapes.csv", "^tapes.csv: holds nothing to read: 'tapes' is empty. "),
        (b"Tape\nWW24\n", "_old.csv", "^_old.csv: holds nothing to read: left aside. "),
        (b"\xff\xfe\x00\xd8x", "tapes.csv", "no sheet that can be read|cannot be split"),
        (bytes([0x81, 0x8D, 0xFF, 0x0A]), "tapes.csv", "no sheet that can be read"),
    ],
)
def test_a_file_that_is_no_sheet_is_refused_plainly(content: bytes, filename: str, message: str) -> None:
    assert re.search(message, refusal(content, filename))


def test_a_workbook_cut_short_is_refused_plainly() -> None:
    content = a_workbook({"tapes": [["Tape"], ["WW24"]]})

    for keep in (len(content) // 2, len(content) - 30):
        assert "damaged" in refusal(content[:keep], "house.xlsx")


def test_a_workbook_with_a_broken_part_is_refused_plainly() -> None:
    whole = zipfile.ZipFile(io.BytesIO(a_workbook({"tapes": [["Tape"], ["WW24"]]})))
    parts = {name: whole.read(name) for name in whole.namelist()}
    parts["xl/worksheets/sheet1.xml"] = b"<worksheet><sheetData><row r='1'><c r='A1'"

    assert "damaged" in refusal(a_zip(parts), "house.xlsx")


def test_a_zip_that_swells_is_refused_before_it_is_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("service.paper.files.excel.MAX_UNPACKED_BYTES", 3_000_000)

    assert "unpacks to more than 3 MB" in refusal(a_zip({"tapes.csv": b"0" * 4_000_000}), "house.zip")


def test_a_cell_in_the_far_corner_is_refused_before_it_is_laid_out() -> None:
    """One cell in XFD1048576 would make seventeen thousand million of them."""
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer)
    sheet = book.add_worksheet("tapes")
    sheet.write(0, 0, "Tape")
    sheet.write(1_048_575, 16_383, "x")
    book.close()

    assert "XFD1048576" in refusal(buffer.getvalue(), "house.xlsx")


def test_an_encrypted_zip_is_refused() -> None:
    content = bytearray(a_zip({"tapes.csv": TAPES}, zipfile.ZIP_STORED))
    content[6] |= 1  # the flag in the member's own header
    content[content.index(b"PK\x01\x02") + 8] |= 1  # and in the directory

    assert "encrypted" in refusal(bytes(content), "house.zip")


def test_files_larger_than_the_limit_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("service.paper.reading.MAX_FILE_BYTES", 10)

    assert "larger than" in refusal(TAPES.encode())


def test_more_rows_than_the_limit_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(raw, "MAX_ROWS", 1)

    assert "at most 1 are read" in refusal(TAPES.encode())


def test_a_missing_folder_is_refused_plainly(tmp_path: Path) -> None:
    with pytest.raises(BadSheets) as caught:
        read_path(tmp_path / "nowhere", KNOWN)
    assert "no such file" in str(caught.value.errors[0])


def test_a_cell_in_error_is_read_as_blank_or_refused_but_never_as_a_number() -> None:
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer, {"in_memory": True})
    sheet = book.add_worksheet("reels")
    sheet.write_row(0, 0, ["Reel", "Left"])
    sheet.write(1, 0, "R-1")
    sheet.write_formula(1, 1, "=1/0", None, "#DIV/0!")
    book.close()

    (reels,) = read_bytes(buffer.getvalue(), "house.xlsx", KNOWN).sheets

    assert not isinstance(reels.rows[0].cells[1], int | float)


WORKBOOK = a_workbook(
    {"tapes": [["Tape", "Volts"], ["WW24", 24], ["NW24", 24.5]], "reels": [["Reel"], ["R-1"]]}
)


@given(
    spoiled=st.lists(
        st.tuples(st.integers(0, len(WORKBOOK) - 1), st.integers(0, 255)), min_size=1, max_size=30
    )
)
def test_a_workbook_with_any_bytes_spoiled_is_read_or_refused(spoiled: list[tuple[int, int]]) -> None:
    content = bytearray(WORKBOOK)
    for position, byte in spoiled:
        content[position] = byte

    with contextlib.suppress(BadSheets):  # and nothing else
        read_bytes(bytes(content), "house.xlsx", KNOWN)


PARTS = {
    name: zipfile.ZipFile(io.BytesIO(WORKBOOK)).read(name)
    for name in zipfile.ZipFile(io.BytesIO(WORKBOOK)).namelist()
}


@given(part=st.sampled_from(sorted(PARTS)), start=st.integers(0, 3000), put=st.binary(max_size=12))
def test_a_workbook_with_any_part_spoiled_is_read_or_refused(part: str, start: int, put: bytes) -> None:
    """The zip is sound and the XML within is not, which reaches further into the reader."""
    text = PARTS[part]
    start %= len(text)
    spoiled = PARTS | {part: text[:start] + put + text[start + len(put) :]}

    with contextlib.suppress(BadSheets):  # and nothing else
        read_bytes(a_zip(spoiled), "house.xlsx", KNOWN)


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(content: bytes) -> None:
    with contextlib.suppress(BadSheets):  # and nothing else
        read_bytes(content, "tapes.csv", KNOWN)
