"""`wattwright volts`, over the demonstration season, here and from a running service."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.api.conftest import serving
from tests.cli.conftest import AS_OF, Ran

Command = Callable[..., Ran]


def test_the_river_edge_loses_what_is_worked_out_by_hand(wattwright: Command, season: str) -> None:
    """12.38 % of 24 V: lead 2.011 V, tape 0.96 V."""
    (run,) = wattwright("volts", "sq-21", *AS_OF, "--database", season, "--json").document
    assert run["lost_pct"] == pytest.approx(12.38, abs=0.01)
    assert run["least_v"] == pytest.approx(24.0 - 2.971, abs=0.002)
    assert run["least_light_pct"] < 100.0


def test_people_get_a_table_and_a_drawing(wattwright: Command, season: str, tmp_path: Path) -> None:
    ran = wattwright("volts", "SQ-21", "--picture", "river.svg", *AS_OF, "--database", season)
    assert ran.code == 0
    assert "12.38" in ran.out
    assert "which nobody entered" in ran.out
    assert "10 % lost" in (tmp_path / "river.svg").read_text(encoding="utf-8")


def test_a_service_tells_the_same(wattwright: Command, season: str) -> None:
    here = wattwright("volts", "SQ-21", *AS_OF, "--database", season, "--json").document
    with serving(season) as base:
        far = wattwright("volts", "SQ-21", *AS_OF, "--server", base, "--json", "--picture", "far.svg")
    assert far.document == here
    assert Path("far.svg").read_text(encoding="utf-8").startswith("<svg ")


def test_an_element_that_is_not_there_is_refused(wattwright: Command, season: str) -> None:
    ran = wattwright("volts", "SQ-99", *AS_OF, "--database", season)
    assert (ran.code, "there is no element SQ-99" in ran.err) == (1, True)


def test_volts_that_tape_is_not_made_for_are_told_and_nothing_is_worked_out(
    wattwright: Command, season: str
) -> None:
    ran = wattwright("volts", "FR-10", *AS_OF, "--database", season)
    assert "FR-10/1 cannot be worked out: 12 V tape on PS-24, a 24 V supply" in ran.out
    assert "Light:" not in ran.out


def test_what_was_taken_and_what_light_means_stand_below_the_table(wattwright: Command, season: str) -> None:
    ran = wattwright("volts", "SQ-19", *AS_OF, "--database", season)
    assert "SQ-19/1: no feed yet: a supply of 24 V was taken" in ran.out
    assert "73.9 % of its light with 6.5 % of its volts lost" in ran.out


def test_the_slots_of_a_universe_are_shown_with_the_loads_of_their_line(
    wattwright: Command, season: str
) -> None:
    ran = wattwright("report", "addresses", *AS_OF, "--database", season)
    assert "line loads" in ran.out.splitlines()[1]
