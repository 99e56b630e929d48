"""The season of the README, typed line by line as it is printed."""

import re
import shlex
from pathlib import Path

import pytest

from tests.cli.conftest import ROOT, Command

HEAD = "## Through a season\n"


def printed() -> list[list[str]]:
    """The words of each line that is to be typed."""
    section = (ROOT / "README.md").read_text(encoding="utf-8").split(HEAD)[1].split("\n## ")[0]
    [block] = re.findall(r"```sh\n(.*?)```", section, re.S)
    return [shlex.split(line, comments=True) for line in block.splitlines()]


def test_every_line_does_what_its_section_says(
    wattwright: Command, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (export, *settings), *commands = printed()
    assert export == "export"
    for setting in settings:
        monkeypatch.setenv(*setting.split("=", 1))
    said = {}
    for program, *words in commands:
        assert program == ".venv/bin/wattwright"
        typed = [str(ROOT / word) if word == "seed_demo" else word for word in words]
        ran = wattwright(*typed)
        assert ran.code == 0, (words, ran)
        said[" ".join(words)] = ran.out

    assert (tmp_path / "season.db").exists()
    assert "D4      piece  2027-01-04  2027-01-20      7" in said["season short"]
    assert re.search(r"buy +7 +RGBW24 reels +2026-12-11", said["buy"])
    assert "CP-002, kept" in said["cut short CP-001 R-123 4.4 m"]
    assert said["stocktake close B5"].startswith("ST-001, B5: closed")
    assert "PS-02 is in for PS-25 in SQ" in said["swap PS-25 PS-02 --found hums"]
    assert {words[0] for _, *words in commands} >= {
        "season", "cut", "buy", "receive", "reel", "issue", "return", "stocktake", "swap",
    }  # fmt: skip
