"""The demonstration: a whole season in one command."""

import re
import signal
import time
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest

from tests.cli.conftest import ROOT, Ran, a_process, outcome

Command = Callable[..., Ran]


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Ran:
    """What it prints, once for all tests here."""
    return outcome(a_process("demo", "--once", cwd=tmp_path_factory.mktemp("anywhere")))


def test_it_ends_well_from_any_folder_and_says_its_day(told: Ran) -> None:
    assert told.code == 0, told.err
    assert told.err == ""
    assert "as of 2026-11-25" in told.out.splitlines()[0]


def test_it_shows_what_came_in_and_which_shows_have_feeds(told: Ran) -> None:
    assert "85 elements" in told.out
    for code, fed in (("SQ", "32 of 35"), ("TL", "40 of 40"), ("TW", "0 of 25")):
        line = next(line for line in told.out.splitlines() if line.startswith(f" {code} "))
        assert line.endswith(fed)


def test_it_works_out_the_show_that_has_no_feeds(told: Ran) -> None:
    assert "TW had no feeds: plan 2 worked out and kept, 2027-01-20" in told.out
    assert "needs 1 of DW4" in told.out


def test_it_proposes_for_the_shows_over_a_limit_and_keeps_nothing_of_it(told: Ran) -> None:
    for code in ("SQ", "TL"):
        assert f"{code} is over in " in told.out
    assert told.out.count("proposed, not kept") == 2


def test_it_prints_loads_and_faults_worst_first_with_mends(told: Ran) -> None:
    assert "Load on every supply output, as of 2026-11-25" in told.out
    assert told.out.index("12 V tape on PS-24") < told.out.index("PS-01 carries 311.04 W")
    assert "mend: move SQ-17 with DC-21 to PS-03" in told.out
    assert "a licensed person decides" in told.out


def test_the_readme_shows_what_it_prints(told: Ran) -> None:
    """Every line of the printed part, but for the seconds it took."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = readme.split("<!-- printed by the demo -->\n```text\n")[1].split("```")[0]
    printed = [re.sub(r"; \d+\.\d s$", "", line) for line in told.out.splitlines()]
    lines = [line for line in shown.splitlines() if line not in ("", "…")]
    assert len(lines) > 30
    missing = [line for line in lines if line not in printed]
    assert missing == [], "refresh it: .venv/bin/python .ci/readme"


def test_as_json_it_is_one_document(wattwright: Command, tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'demo.db'}"
    ran = wattwright("demo", "--once", "--json", "--database", url)
    assert ran.code == 0
    shown = ran.document
    assert shown["as_of"] == "2026-11-25"
    assert shown["worked_out"][-1]["plan"]["status"] == "kept"
    assert {p["production"] for p in shown["proposed"]} == {"SQ", "TL"}
    assert all(p["worked"]["plan"]["status"] == "draft" for p in shown["proposed"])
    assert shown["reports"]["over-limit"]["summary"]["over"] > 0

    again = wattwright("demo", "--once", "--database", url)
    assert again.code == 1
    assert "is not empty" in again.err


def test_it_runs_on_postgresql_too(wattwright: Command, database_url: str) -> None:
    """An empty database that is already up to date is as good as none."""
    assert wattwright("demo", "--once", "--json", "--database", database_url).code == 0


@pytest.mark.parametrize(("how", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 0)])
def test_it_serves_what_it_showed_and_takes_its_passing_database_along(
    tmp_path: Path, how: signal.Signals, code: int
) -> None:
    with a_process("demo", "--port", "0", env={"TMPDIR": str(tmp_path)}) as process:
        assert process.stdout is not None
        line = next((line for line in process.stdout if line.startswith("  curl ")), "")
        try:
            assert line, process.stderr and process.stderr.read()
            feed = _get(line.split()[1]).json()
            assert feed["runs"][0]["supply"] == "PS-25"
            assert list(tmp_path.iterdir())
            process.send_signal(how)
            assert outcome(process).code == code
        finally:
            process.kill()
    assert list(tmp_path.iterdir()) == []


def _get(url: str) -> httpx.Response:
    for _ in range(200):
        try:
            return httpx.get(url)
        except httpx.TransportError:
            time.sleep(0.05)
    raise AssertionError("no answer")


def test_interrupted_half_way_it_leaves_nothing_behind(tmp_path: Path) -> None:
    process = a_process("demo", "--once", env={"TMPDIR": str(tmp_path)})
    assert process.stdout is not None
    process.stdout.readline()
    process.send_signal(signal.SIGINT)
    ran = outcome(process)
    assert ran.code == 130
    assert "Traceback" not in ran.err
    assert list(tmp_path.iterdir()) == []
