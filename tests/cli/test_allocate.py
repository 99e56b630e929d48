"""Plans from the command line, on the demonstration season."""

import signal
import sqlite3
import time
from collections.abc import Callable

import pytest

from service.cli.allocate import in_figures
from tests.cli.conftest import AS_OF, Ran, a_process, outcome

Command = Callable[..., Ran]
LATER = ("--from", "2027-01-20")


def test_a_plan_feeds_what_it_can_and_says_which_limit_leaves_the_rest_dark(
    wattwright: Command, season: str
) -> None:
    """From 2027-01-20 TW wants four B24-6 and three are owned, and five DW4 of which one is with TL."""
    ran = wattwright("allocate", "TW", *LATER, *AS_OF, "--database", season, "--json")
    assert ran.code == 1
    plan = ran.document["plan"]
    assert (plan["status"], plan["from_on"]) == ("draft", "2027-01-20")
    assert {run["limit"] for run in ran.document["unfed"]} == {"supply-stock", "decoder-stock"}
    assert all(run["mend"] for run in ran.document["unfed"])
    assert len(ran.document["feeds"]) + len(ran.document["unfed"]) == 25
    assert plan["unfed_w"] == plan["unfed_bound_w"]


def test_the_same_seed_gives_the_same_plan(wattwright: Command, season: str) -> None:
    ask = ("allocate", "TW", *LATER, *AS_OF, "--database", season, "--json")
    first, second = wattwright(*ask).document, wattwright(*ask).document
    assert second["plan"]["number"] == first["plan"]["number"] + 1
    assert second["feeds"] == first["feeds"]


def test_a_plan_is_kept_only_when_asked(wattwright: Command, season: str) -> None:
    ask = ("allocate", "TW", *LATER, *AS_OF, "--database", season)
    assert "draft" in wattwright(*ask).out
    assert "No plan of TW is kept" in wattwright("feed", "TW-05", "--database", season).out
    ran = wattwright(*ask, "--keep")
    assert "TW plan 2, kept" in ran.out
    assert "Left dark" in ran.out
    feed = wattwright("feed", "TW-05", "--database", season, "--json").document
    assert feed["plan"] == 2
    assert feed["runs"][0]["supply"]


def test_a_production_nobody_has_is_refused(wattwright: Command, season: str) -> None:
    ran = wattwright("allocate", "ZZ", "--database", season)
    assert ran.code == 1
    assert "'ZZ'" in ran.err


def test_days_out_of_order_are_misuse(wattwright: Command, season: str) -> None:
    ask = ("allocate", "TW", "--from", "2027-03-01", "--to", "2027-02-01", "--database", season)
    ran = wattwright(*ask)
    assert ran.code == 2
    assert "before it starts" in ran.err


@pytest.mark.parametrize(
    "option", [["--seed", "99999999999999999999"], ["--seed", "-1"], ["--effort", "0"], ["--effort", "101"]]
)
def test_a_seed_or_an_effort_out_of_range_is_misuse(
    wattwright: Command, season: str, option: list[str]
) -> None:
    ran = wattwright("allocate", "TW", *option, "--database", season)
    assert ran.code == 2
    assert f"{option[1]}" in ran.err.replace(".0", "")
    assert "is not in the range" in ran.err


def test_a_deadline_out_of_bounds_is_misuse(wattwright: Command, season: str) -> None:
    ran = wattwright("allocate", "TW", "--deadline", "0", "--database", season)
    assert ran.code == 2
    assert "--deadline is '0.0'; allowed is seconds from 0.1" in ran.err


def test_interrupted_it_ends_with_130_and_leaves_no_plan_at_work(season: str) -> None:
    process = a_process("allocate", "TL", "--mend", "--effort", "50", *AS_OF, "--database", season)
    _wait_for_a_plan_at_work(season)
    process.send_signal(signal.SIGINT)
    ran = outcome(process)
    assert ran.code == 130
    assert "Traceback" not in ran.err
    assert _statuses(season) == ["cancelled"]


def _wait_for_a_plan_at_work(season: str) -> None:
    for _ in range(600):
        if "working" in _statuses(season):
            return
        time.sleep(0.05)
    raise AssertionError("no plan was ever at work")


def _statuses(season: str) -> list[str]:
    with sqlite3.connect(season.removeprefix("sqlite:///")) as connection:
        rows = connection.execute("SELECT status FROM plans WHERE origin = 'allocator' ORDER BY id")
        return [row[0] for row in rows]


@pytest.mark.parametrize(
    ("bound_w", "told"),
    [(0.0, "92.16 W dark;"), (0.004, "92.16 W dark;"), (9.6, "dark (no plan leaves less than 9.60 W);")],
)
def test_that_no_plan_leaves_less_than_nothing_is_not_said(bound_w: float, told: str) -> None:
    plan = {
        "is_proven": False, "gap_pct": None, "unfed_w": 92.16, "unfed_bound_w": bound_w, "moved": 0,
        "stopped_early": False, "seconds": 1.0,
    }  # fmt: skip
    assert told in in_figures(plan)
