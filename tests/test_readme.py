"""The README says what is so: its commands, its settings and its sheets are those of the program."""

import re
import subprocess
from pathlib import Path

import pytest

from service.cli import COMMANDS
from service.config import describe
from service.paper.bring_in import describe as describe_sheets

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(kind: str) -> list[list[str]]:
    return [block.strip().splitlines() for block in re.findall(rf"```{kind}\n(.*?)```", README, re.S)]


def setups() -> list[str]:
    """The commands that start from a machine with nothing but Python and Debian's package manager."""
    lines = [line for block in blocks("sh") for line in block if "apt-get" in line]
    assert all([line] in blocks("sh") for line in lines), "a set-up command is one line in a block of its own"
    return lines


def test_two_commands_set_everything_up_one_to_see_it_and_one_to_test_it() -> None:
    see, test = setups()
    assert see.endswith("&& .venv/bin/wattwright demo")
    assert ".venv/bin/pytest" in test
    for line in (see, test):
        assert "python3-venv" in line
        assert "/work" not in line


@pytest.mark.parametrize("number", [0, 1])
def test_a_set_up_command_is_sound_shell(number: int) -> None:
    checked = subprocess.run(["bash", "-n", "-c", setups()[number]], capture_output=True, check=False)
    assert checked.returncode == 0, checked.stderr


def test_ci_runs_the_very_command_that_is_printed() -> None:
    """.ci/run finds it with this expression; it must find that line and no other."""
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    (expression,) = re.findall(r"grep -E '([^']+)' README\.md", script)
    found = subprocess.run(
        ["grep", "-E", expression, "README.md"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert found.stdout.splitlines() == [setups()[1]]


def test_every_setting_stands_in_the_table_as_the_program_has_it() -> None:
    rows = [line for line in README.splitlines() if line.startswith("| `WATTWRIGHT_")]
    assert rows == [f"| `{n}` | {default} | {what} | {allowed} |" for n, default, what, allowed in describe()]


def test_every_command_stands_in_the_table() -> None:
    for name in COMMANDS:
        assert re.search(rf"^\| `{name}\b", README, re.M), name


def test_every_sheet_is_listed_with_what_it_must_have() -> None:
    (listed,) = [block for block in blocks("text") if block[0].startswith("people ")]
    assert [line.split("  ")[0] for line in listed] == [sheet.name for sheet in describe_sheets()]
    for line, sheet in zip(listed, describe_sheets(), strict=True):
        must = ", ".join(column.name for column in sheet.columns if column.required)
        assert line.endswith(f"must have: {must}")


def test_what_changed_comes_last() -> None:
    heads = re.findall(r"^## (.+)$", README, re.M)
    assert heads[-1] == "What changed"


@pytest.mark.parametrize(
    "caution",
    ["Scope", "Mains", "Fire", "Joints", "Heat", "Class 2", "Wet, water, skin", "Batteries",
     "Soldering and cutting", "Egress", "Earthing and control", "People", "Figures"],
)  # fmt: skip
def test_every_caution_is_printed(caution: str) -> None:
    assert f"- **{caution}.** " in README
