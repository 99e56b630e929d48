"""The script that README.md prints, run as it stands there against a running service."""

import os
import re
import socket
import subprocess
import sys
from pathlib import Path

import seed_demo
from service.client import Wattwright
from tests.api.conftest import Service

ROOT = Path(__file__).resolve().parents[2]
PRINTED_URL = "http://127.0.0.1:8042"


def printed_script() -> str:
    """The one script of README.md."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    (script,) = re.findall(r"```python\n(.*?)```", text, re.S)
    return str(script)


def run(script: str, folder: Path) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [sys.executable, "-c", script],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_script_is_short() -> None:
    assert len([line for line in printed_script().splitlines() if line]) <= 10


def test_it_prints_the_loads_of_a_show_and_keeps_them_as_csv(
    service: Service, wattwright: Wattwright, tmp_path: Path
) -> None:
    """PS-01: 184.32 + 63.36 + 63.36 W at 24 V are 12.96 A, of 13.3 A x 0.80 = 10.64 A (common practice)."""
    wattwright.bring_in(seed_demo.folder(), as_of=seed_demo.AS_OF)
    script = printed_script()
    assert PRINTED_URL in script
    ran = run(script.replace(PRINTED_URL, service.base), tmp_path)
    assert ran.returncode == 0, ran.stderr
    lines = ran.stdout.splitlines()
    assert "PS-01 1 12.96 A of 10.64 over" in lines
    assert len(lines) == len(wattwright.report("loads", production="SQ"))
    kept = (tmp_path / "loads.csv").read_bytes().decode()
    assert kept == wattwright.report_csv("loads", production="SQ")


def test_refused_it_ends_with_the_reason_and_the_mend(service: Service, tmp_path: Path) -> None:
    """There is no such show in an empty house."""
    ran = run(printed_script().replace(PRINTED_URL, service.base), tmp_path)
    assert ran.returncode == 1
    assert "'SQ'" in ran.stderr
    assert "Traceback" not in ran.stderr


def test_without_a_service_it_ends_with_how_to_start_one(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as door:
        port = door.getsockname()[1]
    ran = run(printed_script().replace(PRINTED_URL, f"http://127.0.0.1:{port}"), tmp_path)
    assert ran.returncode == 1
    assert "wattwright serve" in ran.stderr
    assert "Traceback" not in ran.stderr
