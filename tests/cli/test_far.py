"""A command that asks a service elsewhere prints what it prints beside the database, and ends alike."""

import re
import signal
import socket
import time
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest

from service.cli.house import opened, settings_for
from service.errors import BadSetting
from tests.cli.conftest import SEED, Command, Ran, Twins, a_process, outcome
from tests.client.proxy import answer, broken_line


def timeless(ran: Ran) -> Ran:
    """Without what a clock puts in."""
    out = re.sub(r"; \d+\.\d s$", "", ran.out, flags=re.M)
    out = re.sub(r'"seconds": [\d.]+', "", out)
    out = re.sub(r'"(started|finished|kept|changed)_at": "[^"]+"', "", out)
    return Ran(ran.code, out, ran.err)


ASKED = [
    "step SQ-09",
    "step sq-09 --json",
    "step PS-25 --json",
    "attach SQ-09",
    "attach SQ-09 --json",
    "report",
    "report loads",
    "report loads --production sq",
    "report loads --as-of 2026-12-20 --all",
    "report loads --json",
    "report loads --csv",
    "report over-limit",
    "report over-limit --json --all",
    "report over-limit --csv",
    "report over-limit --production TW --json",
    "report stock-use",
    "report stock-use --as-of 2027-01-20 --json",
    "feed SQ-09",
    "feed sq-09 --json",
    "feed TW-05",
    "feed PS-25",
    "feed ps-25 --json",
    "feed DC-32",
    "feed BT-02 --json",
    "feed MD1",
    "feed PS-41",
    "swap",
    "swap BT-11",
    "swap bt-11 --json",
    "swap DC-32 --production SQ",
    "swap EN-2",
]
REFUSED = [
    "report none",
    "report none --csv",
    "report loads --production ZZ",
    "report loads --csv --production ZZ --json",
    "report loads --as-of soon",
    "feed ZZ-1",
    "feed ZZ-1 --json",
    "feed S320",
    "step ZZ-1 dark",
    "step S320",
    "step SQ-09 built --json",
    "step SQ-09 tested",
    "step SQ-09 dark",
    "step PS-25 lost",
    "attach ZZ-1 none.jpg",
    "attach SQ-09 out.jpg --fetch 7",
    "allocate ZZ",
    "allocate CO",
    "allocate TW --from 2027-03-01 --to 2027-02-01",
    "allocate TW --from 2027-03-01 --to 2027-02-01 --json",
    "allocate TW --deadline 0",
    "import none.xlsx",
    "import none.xlsx --json",
    "swap PS-13",
    "swap SQ-09",
    "swap ZZ-1",
    "swap PS-25 PS-13 --found hums",
    "swap BT-11 BT-13 --json",
    "swap --undo S-001",
]


def test_every_question_is_answered_alike(twins: Twins) -> None:
    for line in ASKED:
        here, far = twins.here(*line.split()), twins.far(*line.split())
        assert far == here, line
        # Things are over a limit in every show; in TW, which has no feeds yet, dry tape in the wet.
        assert here.code == ("over-limit" in line), line
        assert here.out, line
        assert here.err == "", line


def test_every_refusal_reads_and_ends_alike(twins: Twins) -> None:
    for line in REFUSED:
        here, far = twins.here(*line.split()), twins.far(*line.split())
        assert far == here, line
        assert (here.code in {1, 2}, here.out) == (True, ""), line
        assert here.err, line


def test_a_plan_is_the_same_plan(twins: Twins) -> None:
    """Some runs stay dark, so both end with 1; what stays dark and why is the same too."""
    line = ["allocate", "TW", "--from", "2027-01-20", "--seed", "4"]
    for ask in ("", "--json", "--keep", "--keep --json --mend"):
        here, far = twins.here(*line, *ask.split()), twins.far(*line, *ask.split())
        assert timeless(far) == timeless(here), ask
        assert here.code == 1, ask
        tag = "TW-05"
        assert twins.far("feed", tag) == twins.here("feed", tag)
        assert ("No plan of TW is kept" in twins.far("feed", tag).out) == ("--keep" not in ask)


def test_a_swap_is_done_listed_and_taken_back_alike(twins: Twins) -> None:
    swap = ("swap", "BT-11", "BT-03", "--found", "dies in act two")
    for line in (swap, ("swap", "--json"), ("feed", "SQ-23"), ("swap", "--undo", "S-001"), ("feed", "SQ-23")):
        here, far = twins.here(*line), twins.far(*line)
        assert timeless(far) == timeless(here), line
        assert here.code == 0, here.err
    assert "taken back" in twins.here("swap").out


def test_for_a_unit_that_nothing_could_replace_it_ends_with_1(twins: Twins) -> None:
    here, far = twins.here("swap", "DC-07"), twins.far("swap", "DC-07")
    assert far == here
    assert here.code == 1
    assert "get DC-03 back" in here.out


def test_more_effort_than_a_service_takes_is_refused_in_its_words(twins: Twins) -> None:
    """Beside the database 100 is allowed; a service is shared, and takes 20."""
    ran = twins.far("allocate", "TW", "--effort", "30")
    assert ran.code == 2
    assert "20 is the most that is taken" in ran.err


# Name, text, and how bringing it in ends: looked at first, brought in, again, and allowed to change.
SHEETS = {
    "new": ("supplies.csv", "Tag,Model\nPS-61,S320\nPS-62,S320\n", [0, 0, 0, 0, 0]),
    "changed": ("supplies.csv", "Tag,Model,State note\nPS-61,S320,hums\n", [1, 1, 1, 0, 0]),
    "wrong": ("supplies.csv", "Tag,Model\nPS-63,S999\nPS-64,S998\n", [1, 1, 1, 1, 1]),
    "unknown": ("cupboards.csv", "Tag\nC1\n", [1, 1, 1, 1, 1]),
    "latin": ("supplies.csv", "Tag,Model,State note\nPS-65,S320,bühne\n", [0, 0, 0, 0, 0]),
}
WAYS = ["--dry-run", "--json", "", "--change --dry-run --json", "--change"]


def test_sheets_come_in_alike(twins: Twins) -> None:
    """Beside the sheet lie a note and a workbook, which are left aside in the same words."""
    for kind, (name, text, codes) in SHEETS.items():
        folder = Path(kind)
        folder.mkdir()
        (folder / name).write_bytes(text.encode("latin-1" if kind == "latin" else "utf-8"))
        (folder / "notes.txt").write_text("ours")
        (folder / "old.xlsx").write_bytes(b"PK")
        for ask, code in zip(WAYS, codes, strict=True):
            line = ("import", kind, *ask.split())
            here, far = twins.here(*line), twins.far(*line)
            assert far == here, (kind, ask)
            assert here.code == code, (kind, ask, here.err)
    assert twins.far("feed", "PS-65") == twins.here("feed", "PS-65")
    assert twins.far("feed", "PS-65").code == 0


def test_the_whole_season_comes_in_again_alike(twins: Twins) -> None:
    line = ["import", SEED, "--change", "--json"]
    assert twins.far(*line) == twins.here(*line)


def test_a_service_that_is_not_there_is_named_and_ends_with_3(wattwright: Command) -> None:
    with socket.create_server(("127.0.0.1", 0)) as door:
        url = f"http://127.0.0.1:{door.getsockname()[1]}"
    for line in ("report loads", "feed SQ-09", "allocate TW", "report"):
        ran = wattwright(*line.split(), "--server", url)
        assert (ran.code, ran.out) == (3, "")
        what, mend = ran.err.splitlines()
        assert what.startswith(f"{url} cannot be reached")
        assert "wattwright serve" in mend


def test_a_fault_of_the_service_is_no_fault_of_this_program_and_ends_with_70(twins: Twins) -> None:
    said = (
        '{"code": "fault", "detail": "something unforeseen happened", "mend": "Wait.", "reference": "ab12"}'
    )
    with broken_line(twins.server) as line:
        line.breaks(answer("500 Internal Server Error", said, content_type="application/problem+json"))
        ran = twins.wattwright("report", "loads", "--server", line.url)
    assert (ran.code, ran.out) == (70, "")
    assert ran.err == "something unforeseen happened (reference ab12)\nWait.\n"


def test_a_service_and_a_database_at_once_are_misuse(wattwright: Command, season: str) -> None:
    ran = wattwright("report", "loads", "--database", season, "--server", "http://127.0.0.1:1")
    assert ran.code == 2
    assert "Give --database or --server, not both." in ran.err


def test_what_is_no_address_is_misuse(wattwright: Command) -> None:
    ran = wattwright("report", "loads", "--server", "127.0.0.1:8042")
    assert ran.code == 2
    assert "--server is '127.0.0.1:8042'; allowed is http://HOST:PORT" in ran.err


def test_the_service_that_is_set_is_asked_unless_a_database_is_named(
    twins: Twins, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("WATTWRIGHT_SERVER", twins.server)
    sheet = Path("supplies.csv")
    sheet.write_text("Tag,Model\nPS-61,S320\n")
    assert twins.wattwright("import", "supplies.csv").code == 0
    assert twins.wattwright("feed", "PS-61").out == "PS-61 feeds nothing in a kept plan\n"
    assert twins.here("feed", "PS-61").code == 1


def test_what_is_asked_of_a_service_that_is_set_is_not_answered_of_another_house(
    wattwright: Command, season: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Who has set a service and asks what is dark means that house, not a file that lies about."""
    monkeypatch.setenv("WATTWRIGHT_SERVER", "http://127.0.0.1:1")
    monkeypatch.setenv("WATTWRIGHT_DATABASE_URL", season)
    with pytest.raises(BadSetting, match="WATTWRIGHT_SERVER is set"), opened(settings_for()):
        pass
    assert wattwright("step", "SQ-09").code == 3
    assert wattwright("step", "SQ-09", "--database", season).code == 0
    # What looks after a database has no other to mean.
    assert wattwright("db", "check").code == 0


def test_a_plan_is_not_worked_out_as_of_another_day_than_the_service_has(twins: Twins) -> None:
    ran = twins.far("allocate", "TW", "--as-of", "2026-12-24")
    assert ran.code == 2
    assert "works plans out as of 2026-11-25, not 2026-12-24" in ran.err
    assert httpx.get(f"{twins.server}/api/v1/productions/TW/plans").json() == []


def test_interrupted_it_ends_with_130_and_the_service_stops_too(twins: Twins) -> None:
    plans = f"{twins.server}/api/v1/productions/TL/plans"
    line = ("allocate", "TL", "--mend", "--effort", "20", "--deadline", "600", "--server", twins.server)
    process = a_process(*line)
    wait_until(lambda: httpx.get(f"{plans}/2").status_code == 200)
    process.send_signal(signal.SIGINT)
    ran = outcome(process)
    assert (ran.code, ran.out) == (130, "")
    assert "Traceback" not in ran.err
    wait_until(lambda: httpx.get(f"{plans}/2").json()["status"] == "cancelled")


def wait_until(so: Callable[[], bool]) -> None:
    for _ in range(600):
        if so():
            return
        time.sleep(0.05)
    raise AssertionError("it never came to that")
