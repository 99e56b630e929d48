"""What is installed works from any folder: the wheel holds its migrations and the demonstration sheets."""

import os
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

from service import __version__
from service.store import schema

ROOT = Path(__file__).resolve().parents[1]


def _python(*args: str | Path, cwd: Path, path: Path | None = None) -> "subprocess.CompletedProcess[str]":
    environment = {n: v for n, v in os.environ.items() if not n.startswith(("WATTWRIGHT_", "PYTHONPATH"))}
    if path is not None:
        environment["PYTHONPATH"] = str(path)
    return subprocess.run(
        [sys.executable, *args], cwd=cwd, env=environment, capture_output=True, text=True, check=False
    )


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built by the locked build backend; nothing is fetched."""
    folder = tmp_path_factory.mktemp("wheel")
    options = ("--no-deps", "--no-build-isolation", "--no-index", "--quiet", "--wheel-dir")
    built = _python("-m", "pip", "wheel", *options, folder, ROOT, cwd=folder)
    assert built.returncode == 0, built.stderr
    (path,) = folder.glob("*.whl")
    return path


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with what the wheel holds and nothing of the source tree."""
    folder = tmp_path_factory.mktemp("installed")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(folder)
    return folder


def test_the_wheel_holds_the_package_its_migrations_and_the_demonstration(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
        commands = archive.read(f"wattwright-{__version__}.dist-info/entry_points.txt").decode()
    for path in (ROOT / "migrations" / "versions").glob("*.py"):
        assert f"service/migrations/versions/{path.name}" in names
    assert {"service/migrations/env.py", "service/migrations/script.py.mako"} <= names
    for path in (ROOT / "seed_demo").glob("*.csv"):
        assert f"service/seed_demo/{path.name}" in names
    assert "wattwright = service.cli:main" in commands
    tops = {name.split("/")[0] for name in names}
    assert tops == {"service", f"wattwright-{__version__}.dist-info"}
    assert not [name for name in names if "__pycache__" in name or name.endswith((".db", ".pyc"))]


def test_the_installed_command_makes_a_database_in_another_folder(installed: Path, tmp_path: Path) -> None:
    said = _python("-m", "service", "--version", cwd=tmp_path, path=installed)
    assert said.stdout == f"wattwright {__version__}\n"
    where = _python("-c", "import service; print(service.__file__)", cwd=tmp_path, path=installed)
    assert Path(where.stdout.strip()).is_relative_to(installed)

    made = _python("-m", "service", "db", "upgrade", cwd=tmp_path, path=installed)
    assert made.returncode == 0, made.stderr
    assert made.stdout == f"sqlite:///wattwright.db: from empty to {schema.newest()}\n"
    assert (tmp_path / "wattwright.db").is_file()


def test_the_installed_demonstration_runs_in_another_folder(installed: Path, tmp_path: Path) -> None:
    ran = _python("-m", "service", "demo", "--once", "--json", cwd=tmp_path, path=installed)
    assert ran.returncode == 0, ran.stderr
    assert '"elements": 85' in ran.stdout
    assert list(tmp_path.iterdir()) == []


def test_every_package_needed_is_locked_with_its_hashes() -> None:
    """What CI and the image install is what pyproject.toml asks for, file by file."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    extras = project["optional-dependencies"]
    runtime = project["dependencies"] + extras["postgres"]
    for lock, wanted in (("runtime.txt", runtime), ("requirements.txt", runtime + extras["test"])):
        text = (ROOT / ".lock" / lock).read_text()
        locked = {line.split("==")[0] for line in text.splitlines() if "==" in line}
        names = {need.split(">=")[0].split("[")[0].strip().lower() for need in wanted}
        assert names - locked == set()
        assert "://" not in text
        pins = [line for line in text.splitlines() if "==" in line]
        assert all(line.endswith("\\") for line in pins), "a pin without hashes"
