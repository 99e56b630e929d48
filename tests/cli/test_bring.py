"""Sheets from the command line: all of them or none, and every row to be mended is named."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
import xlsxwriter

from tests.cli.conftest import AS_OF, ROOT, Ran

Command = Callable[..., Ran]
SEED = ROOT / "seed_demo"


def test_a_folder_of_sheets_comes_in_on_both_databases(wattwright: Command, database_url: str) -> None:
    """85 elements; SQ-09 hangs on PS-25 through channel 3 of DC-32 (the feeds sheet of the demonstration)."""
    ran = wattwright("import", str(SEED), *AS_OF, "--database", database_url, "--json")
    assert ran.code == 0, ran.err
    assert ran.document["counts"]["elements"] == 85
    feed = wattwright("feed", "sq-09", "--database", database_url, "--json").document
    assert feed["runs"][0]["supply"] == "PS-25"
    assert feed["runs"][0]["slots"] == [{"emitter": "W", "channel": 3, "universe": 3, "slot": 53}]


def test_a_dry_run_says_what_would_come_in_and_stores_nothing(wattwright: Command, database_url: str) -> None:
    ran = wattwright("import", str(SEED), *AS_OF, "--database", database_url, "--dry-run")
    assert ran.code == 0
    assert "Would come in" in ran.out
    assert wattwright("feed", "SQ-09", "--database", database_url).code == 1


def test_the_same_sheets_twice_bring_nothing_new(wattwright: Command, season: str) -> None:
    told = wattwright("import", str(SEED), *AS_OF, "--database", season, "--json").document
    assert (sum(told["counts"].values()), told["changes"]) == (0, [])
    assert told["same"]["elements"] == 85


def test_a_sheet_that_differs_is_refused_with_the_rows_unless_changes_are_wanted(
    wattwright: Command, season: str, tmp_path: Path
) -> None:
    sheet = tmp_path / "supplies.csv"
    sheet.write_text("Tag,Model,Bin\nPS-13,S384,A1\n")
    ran = wattwright("import", str(sheet), "--database", season, "--json")
    assert ran.code == 1
    told = json.loads(ran.err)
    assert told["code"] == "bad-sheets"
    assert {"sheet", "row", "column", "message", "mend"} == set(told["errors"][0])
    looked = wattwright(
        "import", str(sheet), "--change", "--dry-run", "--database", season, "--json"
    ).document
    done = wattwright("import", str(sheet), "--change", "--database", season, "--json").document
    (change,) = done["changes"]
    assert looked["changes"] == [change]
    assert (change["thing"], change["column"], change["before"], change["after"]) == (
        "PS-13",
        "Bin",
        "B2",
        "A1",
    )


def test_every_wrong_row_is_named_with_its_sheet_row_and_column(
    wattwright: Command, season: str, tmp_path: Path
) -> None:
    sheet = tmp_path / "supplies.csv"
    sheet.write_text("Tag,Model\nPS-61,S320\nPS-62,S999\nPS-63,S321\n")
    ran = wattwright("import", str(sheet), *AS_OF, "--database", season)
    assert ran.code == 1
    lines = ran.err.splitlines()
    assert lines[0].startswith("  supplies, row 3, column 'Model':")
    assert lines[1].startswith("  supplies, row 4, column 'Model':")
    assert "nothing was stored" in lines[2]
    assert wattwright("feed", "PS-61", "--database", season).code == 1


def test_a_sheet_may_come_in_only_one_of_the_files(wattwright: Command, season: str, tmp_path: Path) -> None:
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "supplies.csv").write_text(f"Tag,Model\nPS-{name},S320\n")
    ran = wattwright("import", "one", "two", *AS_OF, "--database", season)
    assert ran.code == 1
    assert "'supplies' comes twice" in ran.err


def test_a_file_that_is_not_there_is_refused(wattwright: Command, season: str) -> None:
    ran = wattwright("import", "none.xlsx", "--database", season)
    assert ran.code == 1
    assert "none.xlsx: there is no such file or folder" in ran.err


def test_the_sheets_and_their_columns_are_listed(wattwright: Command) -> None:
    listed = wattwright("sheets").out
    for name in ("tapes", "supplies", "decoders", "productions", "elements", "feeds"):
        assert f"\n{name} " in f"\n{listed}"
    assert "  Element*:" in wattwright("sheets", "Elements").out
    columns = wattwright("sheets", "elements", "--json").document[0]["columns"]
    assert all(column["doc"] for column in columns)


def test_a_workbook_of_ones_own_is_worked_out_and_reported(wattwright: Command, tmp_path: Path) -> None:
    """Eight sheets as a newcomer would write them; then a plan, a feed and the loads.

    0.50 m of 10 W/m is 5.00 W on a 96 W supply that may give 76.80 W (96 W x 0.80, common practice).
    """
    _own_workbook(tmp_path / "own.xlsx")
    assert wattwright("db", "upgrade").code == 0
    ran = wattwright("import", "own.xlsx", "--as-of", "2027-03-01")
    assert ran.code == 0, ran.err

    plan = wattwright("allocate", "LH", "--keep", "--as-of", "2027-03-01", "--json")
    assert plan.code == 0, plan.err + plan.out
    assert plan.document["plan"]["status"] == "kept"
    feed = wattwright("feed", "LH-1", "--json").document
    assert (feed["runs"][0]["supply"], feed["runs"][0]["decoder"]) == ("P1", "D1")
    loads = wattwright("report", "loads", "--as-of", "2027-03-01", "--json").document["rows"]
    [row] = loads
    assert (row["supply"], row["supply_w"], row["limit_w"]) == ("P1", 5.0, 76.8)
    # Little enough; but whether it is marked Class 2, nobody has entered yet.
    assert (row["verdict"], row["binds"]) == ("unknown", "class-2")
    assert row["message"].startswith("cannot check P1 output 1")


def _own_workbook(path: Path) -> None:
    sheets: dict[str, list[list[str | float]]] = {
        "venues": [["Venue", "Mains V"], ["Barn", 120]],
        "tapes": [["Tape", "Volts", "Emitters", "Pitch mm", "Reel length m"], ["T1", 24, "W=10 W/m", 50, 5]],
        "supply models": [
            ["Model", "Volts", "Rated W", "Full to", "Derate", "Hottest"], ["S96", 24, 96, 40, 2.5, 70],
        ],
        "decoder models": [["Model", "Channels", "Channel A", "Total A", "Lowest", "Highest"],
                           ["D4", 4, 5, 15, 12, 24]],
        "supplies": [["Tag", "Model"], ["P1", "S96"]],
        "decoders": [["Tag", "Model"], ["D1", "D4"]],
        "productions": [["Code", "Load-in", "Closing"], ["LH", "2027-03-08", "2027-04-01"]],
        "elements": [["Element", "Production", "Tape", "Length mm"], ["LH-1", "LH", "T1", 500]],
    }  # fmt: skip
    with xlsxwriter.Workbook(path) as book:
        for name, rows in sheets.items():
            sheet = book.add_worksheet(name)
            for number, row in enumerate(rows):
                sheet.write_row(number, 0, row)


@pytest.mark.parametrize("name", ["elements", "feeds", "tapes"])
def test_a_sheets_columns_are_found_by_any_way_of_writing_its_name(wattwright: Command, name: str) -> None:
    assert wattwright("sheets", name.upper()).out == wattwright("sheets", name).out
