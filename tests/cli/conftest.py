"""The command line, run as a script runs it: by its arguments, judged by what it prints and its exit code."""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from service.cli import run
from service.config import describe
from tests.api.conftest import serving

ROOT = Path(__file__).resolve().parents[2]
AS_OF = ("--as-of", "2026-11-25")


@dataclass(frozen=True, slots=True)
class Ran:
    code: int
    out: str
    err: str

    @property
    def document(self) -> Any:
        return json.loads(self.out)


@pytest.fixture(autouse=True)
def bare_environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """No setting of the machine gets in, and what is written without a name lands in a folder of its own."""
    for name, *_ in describe():
        monkeypatch.delenv(name, raising=False)
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def wattwright(capsys: pytest.CaptureFixture[str]) -> Callable[..., Ran]:
    """Run one command in this process."""

    def call(*args: str) -> Ran:
        capsys.readouterr()
        code = run(args)
        said = capsys.readouterr()
        return Ran(code, said.out, said.err)

    return call


def a_process(*args: str, **how: Any) -> "subprocess.Popen[str]":
    """The same in a process of its own, as installed."""
    environment = {n: v for n, v in os.environ.items() if not n.startswith("WATTWRIGHT_")}
    return subprocess.Popen(
        [sys.executable, "-m", "service", *args],
        env={**environment, "PYTHONPATH": str(ROOT), **how.pop("env", {})},
        stdout=how.pop("stdout", subprocess.PIPE),
        stderr=subprocess.PIPE,
        text=True,
        **how,
    )


def outcome(process: "subprocess.Popen[str]") -> Ran:
    out, err = process.communicate()
    return Ran(process.returncode, out or "", err)


@pytest.fixture(scope="session")
def season_template(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration season, brought in once by the command itself."""
    path = tmp_path_factory.mktemp("season") / "season.db"
    shutil.copy(sqlite_template, path)
    ran = outcome(a_process("import", str(ROOT / "seed_demo"), *AS_OF, "--database", f"sqlite:///{path}"))
    assert ran.code == 0, ran.err
    return path


@pytest.fixture
def season(season_template: Path, tmp_path: Path) -> str:
    """A copy of the demonstration season that this test has to itself."""
    path = tmp_path / "season.db"
    shutil.copy(season_template, path)
    return f"sqlite:///{path}"


@pytest.fixture(params=["database", "server"])
def where(request: pytest.FixtureRequest, season: str) -> Iterator[tuple[str, str]]:
    """The demonstration season, as a database or behind a running service."""
    if request.param == "database":
        yield ("--database", season)
        return
    with serving(season) as base:
        yield ("--server", base)
