"""The command line, run as a script runs it: by its arguments, judged by what it prints and its exit code."""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg
import pytest

from service.cli import run
from service.config import describe
from tests.api.conftest import serving

ROOT = Path(__file__).resolve().parents[2]
AS_OF = ("--as-of", "2026-11-25")
SEED = str(ROOT / "seed_demo")


@dataclass(frozen=True, slots=True)
class Ran:
    code: int
    out: str
    err: str

    @property
    def document(self) -> Any:
        return json.loads(self.out)


Command = Callable[..., Ran]


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


@dataclass(frozen=True, slots=True)
class Twins:
    """The demonstration season twice: in a database, and behind a service that says it is the same day."""

    wattwright: Command
    database: str
    server: str

    def here(self, *args: str) -> Ran:
        return self.wattwright(*args, "--database", self.database)

    def far(self, *args: str) -> Ran:
        return self.wattwright(*args, "--server", self.server)


@pytest.fixture(scope="session", params=["sqlite", "postgresql"])
def season_kept(request: pytest.FixtureRequest) -> str:
    """The season on each database, to be copied."""
    if request.param == "sqlite":
        path: Path = request.getfixturevalue("season_template")
        return f"sqlite:///{path}"
    server = request.getfixturevalue("postgres_template")
    with psycopg.connect(f"postgresql://{server}/template1", autocommit=True) as admin:
        admin.execute("CREATE DATABASE season_kept TEMPLATE clean STRATEGY file_copy")
    url = f"postgresql://{server}/season_kept"
    ran = outcome(a_process("import", SEED, *AS_OF, "--database", url))
    assert ran.code == 0, ran.err
    return url


@contextmanager
def a_copy(url: str, folder: Path, name: str) -> Iterator[str]:
    if url.startswith("sqlite"):
        shutil.copy(url.removeprefix("sqlite:///"), folder / f"{name}.db")
        yield f"sqlite:///{folder / name}.db"
        return
    server = url.rpartition("/")[0]
    with psycopg.connect(f"{server}/template1", autocommit=True) as admin:
        admin.execute(f"CREATE DATABASE {name} TEMPLATE season_kept STRATEGY file_copy".encode())
        yield f"{server}/{name}"
        admin.execute(f"DROP DATABASE {name} WITH (FORCE)".encode())


@pytest.fixture
def twins(
    wattwright: Command, season_kept: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Twins]:
    # The service has the day set; so has who asks the database, and so both see the same season.
    monkeypatch.setenv("WATTWRIGHT_TODAY", "2026-11-25")
    with (
        a_copy(season_kept, tmp_path, "twin_here") as here,
        a_copy(season_kept, tmp_path, "twin_far") as far,
        serving(far) as server,
    ):
        yield Twins(wattwright, here, server)
