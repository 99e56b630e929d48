"""What every command has in common: help, version, misuse, the form of a refusal."""

import importlib
import json
import os
import subprocess
import sys
from collections.abc import Callable

import click
import pytest

from service import __version__
from service.cli import COMMANDS
from service.cli.terminal.refusals import tell_fault
from tests.cli.conftest import ROOT, Ran, a_process, outcome

Command = Callable[..., Ran]


def test_the_version_is_the_packages(wattwright: Command) -> None:
    ran = wattwright("--version")
    assert (ran.code, ran.out) == (0, f"wattwright {__version__}\n")


def test_help_names_every_command_and_loads_none_of_them() -> None:
    """Asking for help must not wait for the database library or the solver to load."""
    code = "import sys; from service.cli import run; run(['--help']); print(*sys.modules)"
    ran = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env=dict(os.environ),
        capture_output=True,
        text=True,
        check=True,
    )
    for name, (_, said) in COMMANDS.items():
        assert f"  {name} " in ran.stdout
        assert said in ran.stdout
    loaded = set(ran.stdout.splitlines()[-1].split())
    assert "service.cli.terminal.group" in loaded
    assert not loaded & {
        "sqlalchemy",
        "pydantic",
        "fastapi",
        "rich",
        "numpy",
        "ortools",
        "highspy",
        "alembic",
    }


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_named_is_there_and_says_what_it_does(wattwright: Command, name: str) -> None:
    command = importlib.import_module(COMMANDS[name][0]).command
    assert isinstance(command, click.Command)
    ran = wattwright(name, "--help")
    assert ran.code == 0
    assert ran.out.startswith(f"Usage: wattwright {name}")


@pytest.mark.parametrize(
    ("args", "said", "mend"),
    [
        (["alocate", "TW"], "There is no command 'alocate'. Did you mean 'allocate'?", "wattwright --help"),
        (["allocate"], "wattwright allocate: Missing argument 'CODE'.", "wattwright allocate --help"),
        (["feed", "SQ-09", "--jsno"], "No such option '--jsno'", "wattwright feed --help"),
        (["serve", "--port", "eight"], "'eight' is not a valid integer", "wattwright serve --help"),
        (["report", "loads", "--csv", "--json"], "Give only one of", "wattwright report --help"),
        (["serve", "--port", "70000"], "--port is '70000'; allowed is a whole number", "start again"),
        (["serve", "--host", "0.0.0.0"], "--host is '0.0.0.0'; allowed is a loopback", "start again"),
        (["feed", "X", "--database", "house.db"], "--database is 'house.db'; allowed is", "start again"),
        (["report", "loads", "--as-of", "today"], "--as-of is 'today'; allowed is a day", "start again"),
        (["report", "lodes"], "there is no report 'lodes'", "loads, over-limit, stock-use"),
        (["sheets", "lamps"], "there is no sheet 'lamps'", "wattwright sheets"),
    ],
)
def test_misuse_is_one_line_and_how_to_mend_it(
    wattwright: Command, args: list[str], said: str, mend: str
) -> None:
    ran = wattwright(*args)
    assert ran.code == 2
    assert ran.out == ""
    what, how = (ran.err if "--json" not in args else "\n".join(_told(ran))).splitlines()
    assert said in what
    assert mend in how


def _told(ran: Ran) -> tuple[str, str]:
    told = json.loads(ran.err)
    return told["message"], told["mend"]


@pytest.mark.parametrize("command", [["feed"], ["allocate"], ["report"], ["import"]])
def test_bytes_that_are_no_text_are_misuse(wattwright: Command, command: list[str]) -> None:
    """A byte 0xff at the shell reaches Python as the surrogate U+DCFF."""
    ran = wattwright(*command, "SQ\udcff")
    assert (ran.code, ran.out) == (2, "")
    assert "'SQ?' is not text in UTF-8." in ran.err


def test_with_json_a_refusal_is_one_json_object(wattwright: Command, season: str) -> None:
    ran = wattwright("feed", "SQ-99", "--json", "--database", season)
    assert (ran.code, ran.out) == (1, "")
    told = json.loads(ran.err)
    assert told["code"] == "not-found"
    assert "SQ-99" in told["message"]
    assert told["mend"]


def test_a_fault_of_the_program_is_told_in_one_line_without_a_traceback(
    capsys: pytest.CaptureFixture[str],
) -> None:
    try:
        raise KeyError("width")
    except KeyError as error:
        tell_fault(error, as_json=False)
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 2
    assert "KeyError: 'width'" in lines[0]


def test_without_a_command_the_help_is_shown(wattwright: Command) -> None:
    ran = wattwright()
    assert ran.code == 2
    assert "Commands:" in ran.err


def test_a_reader_that_leaves_is_no_fault() -> None:
    """`wattwright sheets NAME | head -1` must not end in a complaint."""
    process = a_process("sheets", "elements")
    assert process.stdout is not None
    process.stdout.close()
    process.stdout = None
    ran = outcome(process)
    assert ran.err == ""


@pytest.mark.parametrize("command", [["settings"], ["sheets"], ["settings", "--json"]])
def test_a_full_disk_behind_a_redirection_is_told(command: list[str]) -> None:
    """/dev/full answers every write as a full disk does (Linux, full(4))."""
    with open("/dev/full", "w") as full:  # noqa: PTH123
        ran = outcome(a_process(*command, stdout=full))
    assert ran.code == 1
    assert "No space left on device" in ran.err
    assert len(ran.err.splitlines()) <= 2


def test_settings_are_listed_with_what_they_are_now(
    wattwright: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("WATTWRIGHT_PORT", "9001")
    rows = {row["name"]: row for row in wattwright("settings", "--json").document}
    assert rows["WATTWRIGHT_PORT"]["now"] == "9001"
    assert rows["WATTWRIGHT_PORT"]["default"] == "8042"
    assert "WATTWRIGHT_PORT" in wattwright("settings").out


def test_an_unknown_setting_stops_every_command(wattwright: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WATTWRIGHT_PROT", "9001")
    ran = wattwright("db", "check")
    assert ran.code == 2
    assert "the nearest is WATTWRIGHT_PORT" in ran.err
