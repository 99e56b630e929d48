"""Feeds and reports at the terminal. Figures are those of the demonstration season, worked by hand."""

import contextlib
import csv
import fcntl
import io
import os
import pty
import struct
import termios
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import select

from service.planning.records import Plan, PlanStatus
from service.shows.records import Element
from service.store.work import Store
from tests.builders import an_unfed_run
from tests.cli.conftest import AS_OF, Ran, a_process, outcome

Command = Callable[..., Ran]


def test_a_tag_leads_to_the_wall_in_one_look(wattwright: Command, season: str) -> None:
    """8 x 12.48 W on 150 W x 0.80: 99.84 of 120.00 W, 83.2 %; slot 51 + 3 - 1 = 53."""
    ran = wattwright("feed", "sq-09", "--database", season)
    assert ran.code == 0
    line = next(line for line in ran.out.splitlines() if line.lstrip().startswith("1 "))
    for part in ("MD1 constant", "PS-25", "EN-2", "DC-32", "U3/53", "5 m 20 AWG", "12.48", "0.52"):
        assert part in line
    assert "PS-25 carries 99.84 W of 120.00 W = 83.2 %" in ran.out
    assert "Only SQ-09 dark: suspect its lead, joint or channel 3." in ran.out


@pytest.mark.parametrize(
    ("tag", "dark"), [("PS-25", 8), ("ps-03", 2), ("DC-32", 8), ("BT-02", 1), ("MD1", 8)]
)
def test_a_units_tag_leads_to_what_goes_dark_without_it(
    wattwright: Command, season: str, tag: str, dark: int
) -> None:
    found = wattwright("feed", tag, "--database", season, "--json").document
    assert len([d for d in found["dark"] if d["production"] == "SQ"]) == dark
    assert f"Dark without {tag}" in wattwright("feed", tag, "--database", season).out


def test_what_feeds_nothing_says_so(wattwright: Command, season: str) -> None:
    assert "PS-41 feeds nothing in a kept plan" in wattwright("feed", "PS-41", "--database", season).out


def test_an_element_of_a_show_without_a_plan_says_how_to_get_one(wattwright: Command, season: str) -> None:
    ran = wattwright("feed", "TW-05", "--database", season)
    assert ran.code == 0
    assert "No plan of TW is kept: wattwright allocate TW --keep" in ran.out


def test_why_a_run_is_dark_and_what_would_feed_it_stand_apart(wattwright: Command, season: str) -> None:
    store = Store(season)
    with store.writing("a test") as session:
        element = session.scalars(select(Element).where(Element.tag == "SQ-19")).one()
        plan = session.scalars(
            select(Plan).where(Plan.production_id == element.production_id, Plan.status == PlanStatus.KEPT)
        ).one()
        an_unfed_run(session, plan, element.runs[0])
    store.close()
    said = wattwright("feed", "SQ-19", "--database", season).out.splitlines()
    at = said.index("run 1 is dark: no supply is free")
    assert said[at + 1] == "  mend: Hire one supply."


def test_a_tag_nobody_has_is_refused(wattwright: Command, season: str) -> None:
    ran = wattwright("feed", "ZZ-1", "--database", season)
    assert ran.code == 1
    assert "no element, supply, battery, decoder or outlet has the tag 'ZZ-1'" in ran.err


def test_the_loads_say_what_hangs_on_each_output(wattwright: Command, season: str) -> None:
    """PS-01: 184.32 + 63.36 + 63.36 = 311.04 W of 320 x 0.80 = 256.00 W, 121.5 %."""
    ran = wattwright("report", "loads", "--production", "sq", *AS_OF, "--database", season, "--json")
    assert ran.code == 0
    assert ran.document["as_of"] == "2026-11-25"
    (row,) = [row for row in ran.document["rows"] if row["supply"] == "PS-01"]
    assert (row["supply_w"], row["limit_w"], row["supply_pct"], row["verdict"]) == (
        311.04,
        256.0,
        121.5,
        "over",
    )
    assert {row["production"] for row in ran.document["rows"]} == {"SQ"}


def test_a_full_supply_is_not_over(wattwright: Command, season: str) -> None:
    """PS-11: 307.20 of 307.20 W is 100.0 % and ok."""
    ran = wattwright("report", "loads", "--production", "TL", *AS_OF, "--database", season)
    line = next(line for line in ran.out.splitlines() if " PS-11 " in line)
    assert "100.0" in line
    assert " ok " in line


def test_what_is_over_comes_worst_first_with_its_mend_and_ends_with_1(
    wattwright: Command, season: str
) -> None:
    """12 V tape on a 24 V supply outranks an overload; the overload's mend is worked out in watts."""
    ran = wattwright("report", "over-limit", *AS_OF, "--database", season)
    assert ran.code == 1
    assert ran.out.index("12 V tape on PS-24") < ran.out.index("PS-01 carries 311.04 W")
    assert "mend: move SQ-17 with DC-21 to PS-03: PS-03 247.68 W of 256.00 W" in ran.out
    assert "Planning arithmetic only" in ran.out
    rows = wattwright("report", "over-limit", *AS_OF, "--database", season, "--json").document["rows"]
    harms = ["fire or heat", "wrong voltage", "goes dark", "looks wrong", "paperwork"]
    over = [harms.index(row["harm"]) for row in rows if row["verdict"] == "over"]
    assert over
    assert over == sorted(over)


def test_a_show_with_nothing_over_ends_with_0(wattwright: Command, season: str) -> None:
    """Tidewrack has one fault, dry tape in the wet; once the tide line is kept dry it has none."""
    ask = ("report", "over-limit", "--production", "TW", *AS_OF, "--database", season, "--json")
    wet = wattwright(*ask)
    assert [row["tag"] for row in wet.document["rows"] if row["verdict"] == "over"] == ["TW-04"]
    assert wet.code == 1

    wattwright("change", "element", "TW-04", "zone=dry", "--database", season)
    dry = wattwright(*ask)
    assert (dry.code, dry.document["summary"]["over"]) == (0, 0)


def test_stock_in_use_is_asked_as_of_a_day(wattwright: Command, season: str) -> None:
    """RGBW24: 31.5 m on the shelf, 67.7 m wanted by TW and TL, 36.2 m short (worked by hand)."""
    ran = wattwright("report", "stock-use", *AS_OF, "--database", season, "--json")
    (row,) = [row for row in ran.document["rows"] if row["item"] == "RGBW24"]
    assert (row["owned"], row["wanted"], row["short"]) == (31.5, 67.7, 36.2)
    assert "RGBW24" in wattwright("report", "stock-use", *AS_OF, "--database", season).out


@pytest.mark.parametrize("name", ["loads", "over-limit", "stock-use"])
def test_csv_has_every_column_and_row_of_the_json(wattwright: Command, season: str, name: str) -> None:
    rows = wattwright("report", name, *AS_OF, "--database", season, "--json").document["rows"]
    ran = wattwright("report", name, *AS_OF, "--database", season, "--csv")
    read = list(csv.DictReader(io.StringIO(ran.out)))
    assert len(read) == len(rows)
    assert list(read[0]) == list(rows[0])


def test_lengths_are_read_in_feet_where_the_house_does(
    wattwright: Command, season: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """5 m is 16.4042 ft, and 31.5 m 103.35 ft (1 ft = 0.3048 m exactly). What scripts read stays metric."""
    monkeypatch.setenv("WATTWRIGHT_UNITS", "US")
    assert "16.4 ft 20 AWG" in wattwright("feed", "SQ-09", "--database", season).out
    ran = wattwright("report", "stock-use", *AS_OF, "--database", season)
    line = next(line for line in ran.out.splitlines() if " RGBW24 " in line)
    assert line.split()[2:4] == ["ft", "103.35"]
    rows = wattwright("report", "stock-use", *AS_OF, "--database", season, "--json").document["rows"]
    assert next(row["owned"] for row in rows if row["item"] == "RGBW24") == 31.5


def test_on_a_narrow_terminal_no_figure_is_broken_in_two(season: str) -> None:
    """80 columns, as a terminal opens; what does not fit runs on instead."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    with a_process("report", "loads", *AS_OF, "--database", season, stdout=theirs) as process:
        os.close(theirs)
        printed = b""
        # Linux answers EIO when nobody holds the other end any more.
        with contextlib.suppress(OSError):
            while piece := os.read(ours, 65536):
                printed += piece
        assert outcome(process).code == 0
    os.close(ours)
    line = next(line for line in printed.decode().splitlines() if " PS-01 " in line)
    assert "311.04" in line
    assert "121.5" in line


def test_the_reports_are_listed_with_their_titles(wattwright: Command) -> None:
    ran = wattwright("report")
    assert ran.code == 0
    for name in ("loads", "over-limit", "stock-use"):
        assert name in ran.out


def test_a_photo_is_kept_with_a_thing_and_fetched_again(
    wattwright: Command, where: tuple[str, str], tmp_path: Path
) -> None:
    photo = tmp_path / "attic.txt"
    photo.write_text("joint 3 re-soldered\n")
    kept = wattwright("attach", "sq-09", str(photo), "--caption", "bench", *where, "--json").document
    (one,) = kept
    assert (one["about"], one["file_name"], one["caption"]) == ("SQ-09", "attic.txt", "bench")
    copy = tmp_path / "copy.txt"
    fetched = wattwright("attach", "sq-09", str(copy), "--fetch", str(kept[0]["id"]), *where)
    assert (fetched.code, copy.read_text()) == (0, photo.read_text())
    assert wattwright("attach", "SQ-99", str(photo), *where).code == 1
    again = wattwright("attach", "SQ-09", str(photo), *where, "--json")
    assert again.document == wattwright("attach", "sq-09", *where, "--json").document == kept
    assert wattwright("attach", "SQ-09", str(tmp_path / "other.txt"), "--fetch", "77", *where).code == 1
    assert wattwright("attach", "SQ-09", str(photo), "--caption", "x" * 401, *where).code == 2
