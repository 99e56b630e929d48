"""Sheets sent from a script: a folder, a file, a workbook; all of it or nothing, and once."""

from pathlib import Path

import pytest
import xlsxwriter

from service.client import Wattwright
from service.errors import BadSheets
from tests.api.conftest import Service
from tests.client.proxy import UNANSWERED, Line

VENUES = "Name,Mains V\nMain Stage,230\n"
PLACES = "Tag,Kind,Name\nA1,bin,upper shelf\nA2,bin,lower shelf\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Two sheets, and beside them what is no sheet."""
    made = tmp_path / "sheets"
    made.mkdir()
    (made / "venues.csv").write_text(VENUES)
    (made / "places.csv").write_text(PLACES)
    (made / "read me.md").write_text("# Ours")
    (made / ".hidden.csv").write_text("no sheet")
    (made / "old.zip").write_bytes(b"PK")
    return made


def test_a_folder_comes_in_and_what_is_left_aside_is_named(wattwright: Wattwright, folder: Path) -> None:
    said = wattwright.bring_in(folder)
    assert (said["dry_run"], said["counts"]) == (False, {"venues": 1, "places": 2})
    assert said["remarks"] == ["old.zip: left aside; name the file itself to bring it in"]
    assert [row["name"] for row in wattwright.list("places")] == ["upper shelf", "lower shelf"]


def test_of_a_folder_only_its_sheets_are_sent(line: Line, over_the_line: Wattwright, folder: Path) -> None:
    over_the_line.bring_in(folder)
    (sent,) = line.seen
    for name in (b"venues.csv", b"places.csv"):
        assert name in sent.body
    for name in (b".hidden", b"read me", b"old.zip"):
        assert name not in sent.body


def test_several_files_come_in_together(wattwright: Wattwright, folder: Path) -> None:
    """A place may name a venue only if both are there, whichever file comes first."""
    (folder / "places.csv").write_text("Tag,Kind,Venue\nL1,stage,Main Stage\n")
    said = wattwright.bring_in(folder / "places.csv", str(folder / "venues.csv"))
    assert said["counts"] == {"venues": 1, "places": 1}


def test_a_workbook_comes_in(wattwright: Wattwright, tmp_path: Path) -> None:
    with xlsxwriter.Workbook(tmp_path / "own.xlsx") as book:
        sheet = book.add_worksheet("places")
        sheet.write_row(0, 0, ["Tag", "Kind"])
        sheet.write_row(1, 0, ["A1", "bin"])
    assert wattwright.bring_in(tmp_path / "own.xlsx")["counts"] == {"places": 1}


def test_a_file_of_any_name_is_named_in_what_is_wrong_with_it(wattwright: Wattwright, tmp_path: Path) -> None:
    (tmp_path / "Größe.csv").write_text("Tag\nA1\n")
    with pytest.raises(BadSheets) as refused:
        wattwright.bring_in(tmp_path / "Größe.csv")
    assert refused.value.errors[0].sheet == "Größe.csv"


def test_a_dry_run_stores_nothing(wattwright: Wattwright, folder: Path) -> None:
    said = wattwright.bring_in(folder, dry_run=True, as_of="2026-11-01")
    assert (said["dry_run"], said["counts"]) == (True, {"venues": 1, "places": 2})
    assert list(wattwright.list("places")) == []


def test_a_sheet_changes_what_is_there_only_if_it_may(wattwright: Wattwright, folder: Path) -> None:
    wattwright.bring_in(folder)
    (folder / "places.csv").write_text(PLACES.replace("lower shelf", "floor"))
    with pytest.raises(BadSheets):
        wattwright.bring_in(folder)
    said = wattwright.bring_in(folder, may_change=True)
    assert [(one["thing"], one["before"], one["after"]) for one in said["changes"]] == [
        ("A2", "lower shelf", "floor")
    ]
    assert [row["name"] for row in wattwright.list("places")] == ["upper shelf", "floor"]


def test_everything_written_out_says_what_the_house_says_already(
    wattwright: Wattwright, folder: Path, tmp_path: Path
) -> None:
    wattwright.bring_in(folder)
    (tmp_path / "all.zip").write_bytes(wattwright.export())
    said = wattwright.bring_in(tmp_path / "all.zip", may_change=True)
    assert (said["same"]["venues"], said["same"]["places"]) == (1, 2)
    assert said["changes"] == []


@pytest.mark.parametrize("times", [1, 3])
def test_sheets_whose_answer_was_lost_come_in_once(
    service: Service, line: Line, over_the_line: Wattwright, folder: Path, times: int
) -> None:
    """A second time they would be refused, or be there twice."""
    line.breaks(*[UNANSWERED] * times)
    assert over_the_line.bring_in(folder)["counts"] == {"venues": 1, "places": 2}
    assert len({request.body for request in line.seen}) == 1
    assert [row["what"] for row in service.get("/history").json()].count("made") == 3


def test_every_row_to_be_mended_is_named_and_nothing_comes_in(wattwright: Wattwright, folder: Path) -> None:
    (folder / "places.csv").write_text("Tag,Kind\nA1,bin\nA2,cupboard\nA3,drawer\n")
    with pytest.raises(BadSheets) as refused:
        wattwright.bring_in(folder)
    assert [(row.sheet, row.row, row.column) for row in refused.value.errors] == [
        ("places", 3, "Kind"), ("places", 4, "Kind"),
    ]  # fmt: skip
    assert list(wattwright.list("venues")) == []


def test_a_path_where_nothing_is_is_refused_and_nothing_is_sent(
    line: Line, over_the_line: Wattwright, tmp_path: Path
) -> None:
    with pytest.raises(BadSheets, match="nothing was stored") as refused:
        over_the_line.bring_in(tmp_path / "none.xlsx")
    assert [str(row) for row in refused.value.errors] == [
        "none.xlsx: there is no such file or folder. Check the path."
    ]
    with pytest.raises(BadSheets) as refused:
        over_the_line.bring_in(tmp_path)
    assert "nothing to read was found" in str(refused.value.errors[0])
    assert line.seen == []
