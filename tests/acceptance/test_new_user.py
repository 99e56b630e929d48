"""A first evening: a workbook in the user's own words comes in, is worked out, kept, reported and looked up.

The workbook is written here as somebody would who has never seen the service: few sheets, heads with units of
their own choice, leads in feet, lengths in centimetres. Everything else goes through the command line.
"""

import json
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter

from service.cli import run
from service.config import describe

AS_OF = "2027-03-01"
SHEETS: dict[str, list[list[Any]]] = {
    "Stages": [["Stage", "Mains volts"], ["Old Tram Shed", 230]],
    "Tape types": [
        ["Type", "Voltage (V)", "Power (W/m)", "Cut pitch (mm)", "Reel (m)", "Longest run (m)",
         "Common rail (mΩ/m)", "Return rail (mΩ/m)"],
        ["WARM", 24, "W=14.4", 50, 5, 5, 25, 25],
        ["COLOUR", 24, "R=5; G=5; B=5; W=5", 100, 5, 5, 25, 50],
    ],
    "Supply types": [
        ["Type", "Volts (V)", "Watts (W)", "Full to (°C)", "Derate (%/K)", "Max (°C)"],
        ["BRICK", 24, 200, 45, 2.5, 70],
    ],
    "Dimmer models": [
        ["Type", "Channels", "Amps per channel (A)", "Total amps (A)", "Min (V)", "Max (V)"],
        ["FOUR", 4, 5, 16, 12, 24],
    ],
    "Supply": [["Tag", "Type"], ["B1", "BRICK"], ["B2", "BRICK"]],
    "Dimmers": [["Tag", "Type"], ["F1", "FOUR"], ["F2", "FOUR"]],
    "Circuits": [["Circuit", "Breaker (A)", "Volts (V)"], ["WALL", 16, 230]],
    "Shows": [
        ["Show", "Title", "Load-in", "Preview", "Close"],
        ["RAIN", "Rain on Tin", date(2027, 3, 8), date(2027, 3, 12), "2027-03-27"],
    ],
    "Elements": [
        ["Code", "Show", "Name", "Tape", "Segments (cm)", "Leads (ft)", "Wire", "Chained"],
        ["RN-1", "RAIN", "Gutter", "COLOUR", "250; 200", 10, "1.5 mm²", "yes"],
        ["RN-2", "RAIN", "Door frame", "WARM", 213, 20, "18 AWG", "no"],
        ["RN-3", "RAIN", "Skylight", "WARM", "3 x 100", 6, "18 AWG", "no"],
    ],
}  # fmt: skip
# Metres cut × watts a metre: 4.50 × 20; 42 pitches of 50 mm × 14.4; 3 × 1.00 × 14.4.
WATTS = {"RN-1": 90.0, "RN-2": 30.24, "RN-3": 43.2}


@pytest.fixture
def workbook(tmp_path: Path) -> Path:
    path = tmp_path / "what we have.xlsx"
    with xlsxwriter.Workbook(path, {"default_date_format": "dd/mm/yyyy"}) as book:
        for name, rows in SHEETS.items():
            sheet = book.add_worksheet(name)
            for number, row in enumerate(rows):
                sheet.write_row(number, 0, row)
        book.add_worksheet("notes").write(0, 0, "ask Friday about the second ladder")
    return path


@pytest.fixture
def wattwright(
    database_url: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., tuple[int, Any]]:
    """Run a command with --json: its exit code and what it answers."""
    for name, *_ in describe():
        monkeypatch.delenv(name, raising=False)

    def call(*args: str) -> tuple[int, Any]:
        capsys.readouterr()
        code = run([*args, "--database", database_url, "--json"])
        said = capsys.readouterr()
        return code, json.loads(said.out or said.err)

    return call


@pytest.fixture
def first_evening(workbook: Path, wattwright: Callable[..., tuple[int, Any]]) -> Any:
    """The workbook is in, and a plan of RAIN is worked out and kept."""
    code, said = wattwright("import", str(workbook), "--as-of", AS_OF)
    assert code == 0, said
    code, plan = wattwright("allocate", "RAIN", "--keep", "--as-of", AS_OF)
    assert code == 0, plan
    return plan


def test_the_workbook_comes_in_as_it_was_written(
    workbook: Path, wattwright: Callable[..., tuple[int, Any]]
) -> None:
    code, said = wattwright("import", str(workbook), "--as-of", AS_OF)

    assert code == 0, said
    assert said["counts"] == {
        "venues": 1, "tapes": 2, "supply models": 1, "decoder models": 1, "supplies": 2, "decoders": 2,
        "outlets": 1, "productions": 1, "elements": 3,
    }  # fmt: skip
    assert any("notes" in remark for remark in said["remarks"])


def test_the_show_is_worked_out_and_kept(first_evening: Any) -> None:
    assert first_evening["plan"]["status"] == "kept"
    assert first_evening["unfed"] == []
    assert first_evening["plan"]["is_proven"] is True
    loads = dict.fromkeys(WATTS, 0.0)
    for feed in first_evening["feeds"]:
        loads[feed["element"]] += feed["load_w"]
    assert loads == pytest.approx(WATTS)


def test_one_supply_is_not_enough_and_two_are(first_evening: Any) -> None:
    """163.44 W in all and 160 W (200 × 0.80) from one."""
    assert {feed["supply"] for feed in first_evening["feeds"]} == {"B1", "B2"}
    assert {feed["decoder"] for feed in first_evening["feeds"]} == {"F1", "F2"}


@pytest.mark.usefixtures("first_evening")
def test_nothing_is_over_and_the_loads_are_what_the_sums_say(
    wattwright: Callable[..., tuple[int, Any]],
) -> None:
    code, limits = wattwright("report", "over-limit", "--as-of", AS_OF)
    _, loads = wattwright("report", "loads", "--as-of", AS_OF)

    assert (code, limits["summary"]["over"]) == (0, 0)
    assert sum(row["output_w"] for row in loads["rows"]) == pytest.approx(sum(WATTS.values()))
    assert {row["limit_w"] for row in loads["rows"]} == {160.0}
    assert {row["verdict"] for row in loads["rows"]} == {"ok"}


@pytest.mark.usefixtures("first_evening")
def test_the_gutter_is_looked_up_by_its_tag(wattwright: Callable[..., tuple[int, Any]]) -> None:
    """Ten feet of lead are 3.048 m (exactly, international foot)."""
    code, feed = wattwright("feed", "rn-1")

    [run_] = feed["runs"]
    assert code == 0
    assert (feed["name"], feed["load_w"], run_["lead_m"]) == ("Gutter", 90.0, 3.048)
    assert [slot["emitter"] for slot in run_["slots"]] == ["R", "G", "B", "W"]
    assert feed["sources"][0]["outlet"] == "WALL"
    assert all(slot["universe"] and slot["slot"] for slot in run_["slots"])


@pytest.mark.usefixtures("first_evening")
def test_a_tag_that_is_not_on_anything_is_refused_plainly(
    wattwright: Callable[..., tuple[int, Any]],
) -> None:
    code, said = wattwright("feed", "RN-9")

    assert code == 1
    assert "RN-9" in json.dumps(said)
