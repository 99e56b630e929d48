"""The run itself: under CI a skipped test turns it red."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
HOOKS = "from tests.no_skips import *\n"
SKIPS_ONE = "import pytest\ndef test_dark(): pytest.skip('no server')\ndef test_lit(): pass\n"
SKIPS_ALL = "import pytest\npytest.skip('no server', allow_module_level=True)\n"
FINE = "def test_lit(): pass\n"


def the_run(folder: Path, tests: str, ci: str) -> subprocess.CompletedProcess[str]:
    (folder / "conftest.py").write_text(HOOKS)
    (folder / "test_it.py").write_text(FINE)
    (folder / "test_other.py").write_text(tests)
    return subprocess.run(
        [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", "--rootdir", folder, folder],
        env={**os.environ, "CI": ci, "PYTHONPATH": str(ROOT)},
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize("tests", [SKIPS_ONE, SKIPS_ALL])
def test_a_skipped_test_fails_the_run_under_ci_and_is_named(tmp_path: Path, tests: str) -> None:
    run = the_run(tmp_path, tests, ci="true")
    assert run.returncode == 1
    assert "which CI does not accept" in run.stdout
    assert "test_other.py" in run.stdout


def test_without_ci_a_skip_is_only_a_skip(tmp_path: Path) -> None:
    assert the_run(tmp_path, SKIPS_ONE, ci="").returncode == 0


def test_under_ci_a_run_without_skips_passes(tmp_path: Path) -> None:
    assert the_run(tmp_path, FINE, ci="true").returncode == 0
