"""Steps taken at the terminal, and measured loads named there."""

import csv
import io
from collections.abc import Callable

import pytest
from sqlalchemy import select

from service.shows.records import Element
from service.store.work import Store
from tests.cli.conftest import AS_OF, Ran
from tests.shows.upkeep import a_bench_test

Command = Callable[..., Ran]


def test_an_element_goes_dark_and_its_path_is_told(wattwright: Command, where: tuple[str, str]) -> None:
    dark = wattwright("step", "sq-09", "dark", "--what", "no light at all", *where)
    assert (dark.code, dark.out) == (0, "SQ-09 is dark\n")
    path = wattwright("step", "SQ-09", *where)
    assert path.out.startswith("SQ-09 is dark: no light at all\n")
    assert "may become working\n" in path.out
    told = wattwright("step", "SQ-09", *where, "--json").document
    assert [(s["before"], s["to"]) for s in told["steps"]] == [(None, "working"), ("working", "dark")]
    [fault] = wattwright("list", "faults", *where, "--json").document
    assert (fault["element"], fault["symptom"]) == ("SQ-09", "no light at all")


def test_a_unit_takes_steps_by_its_tag(wattwright: Command, where: tuple[str, str]) -> None:
    ran = wattwright("step", "dc-32", "faulty", "--what", "channel 3 dead", *where, "--json")
    assert (ran.document["state"], ran.document["state_note"]) == ("faulty", "channel 3 dead")


def test_a_step_that_may_not_be_taken_is_refused_with_its_mend(
    wattwright: Command, where: tuple[str, str]
) -> None:
    off = wattwright("step", "SQ-09", "built", *where)
    assert off.code == 1
    assert "dark, struck, cut from show" in off.err
    despite = wattwright("step", "SQ-09", "built", "--despite", "taken off for a tour", *where)
    assert despite.code == 0
    assert wattwright("step", "SQ-09", "tested", *where).code == 1
    assert wattwright("step", "ZZ-99", "dark", *where).code == 1
    assert wattwright("step", "WW24", "dark", *where).code == 2


@pytest.mark.parametrize("option", [("--what", "x" * 201), ("--despite", "no"), ("--despite", "x" * 151)])
def test_words_that_do_not_fit_are_a_misuse(
    wattwright: Command, season: str, option: tuple[str, str]
) -> None:
    assert wattwright("step", "SQ-09", "dark", *option, "--database", season).code == 2


def test_a_measured_load_is_told_beside_the_figures(wattwright: Command, season: str) -> None:
    """1.3 m measured at 12 W/m are 15.60 W; with seven windows of 12.48 W, 102.96 of 120 W: 85.8 %."""
    store = Store(season)
    with store.writing("bench") as session:
        element = session.scalars(select(Element).where(Element.tag == "SQ-09")).one()
        a_bench_test(session, element, measured_w_per_m=12.0)
    store.close()
    said = "measured 12 W/m, bench test 2026-11-02 by Ada"
    feed = wattwright("feed", "SQ-09", "--database", season)
    assert f"W and A: {said}" in feed.out
    assert "PS-25 carries 102.96 W of 120.00 W = 85.8 %" in feed.out
    report = wattwright("report", "loads", *AS_OF, "--database", season)
    assert f"loads: SQ-09 {said}; else nominal" in " ".join(report.out.split())
    rows = csv.DictReader(
        io.StringIO(wattwright("report", "loads", "--csv", *AS_OF, "--database", season).out)
    )
    bases = {(row["production"], row["supply"]): row["load_basis"] for row in rows}
    assert bases["SQ", "PS-25"] == f"SQ-09 {said}; else nominal"
    assert bases["SQ", "PS-01"] == "nominal"
    limits = wattwright("report", "over-limit", "--all", "--json", *AS_OF, "--database", season).document
    [row] = [
        r for r in limits["rows"] if (r["production"], r["code"], r["tag"]) == ("SQ", "supply-watts", "PS-25")
    ]
    assert (row["value"], row["load_basis"]) == (102.96, f"SQ-09 {said}; else nominal")
