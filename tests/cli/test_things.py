"""Things of any kind at the terminal: on the database here and at a service elsewhere alike."""

import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from service.cli.things.naming import kind_named, listing_of
from service.kinds.kind import Kind
from service.kinds.registry import KINDS
from tests.cli.conftest import AS_OF, Ran

Command = Callable[..., Ran]


def test_a_thing_is_added_shown_changed_and_retired(wattwright: Command, where: tuple[str, str]) -> None:
    made = wattwright("add", "supply", "tag=PS-61", "model=S320", "bin=B1", *where, "--json").document
    assert (made["tag"], made["model"], made["home"], made["state"]) == ("PS-61", "S320", "B1", "good")
    changed = wattwright("change", "supplies", "ps-61", "Where now=dock", *where, "--json").document
    assert changed["where_note"] == "dock"
    assert wattwright("show", "supply", "PS-61", *where, "--json").document == changed
    history = wattwright("show", "supply", "PS-61", "--history", *where, "--json").document
    assert [row["what"] for row in history] == ["made", "changed"]
    assert wattwright("retire", "supply", "PS-61", *where).out == "PS-61 is retired\n"
    assert wattwright("list", "supplies", "q=PS-61", *where, "--json").document == []
    assert wattwright("add", "supply", "tag=PS-61", "model=S320", *where).code == 1
    assert wattwright("retire", "supply", "PS-61", "--restore", *where).code == 0


def test_lists_are_filtered_sorted_and_written_as_csv(wattwright: Command, where: tuple[str, str]) -> None:
    rows = wattwright("list", "supplies", "model=S320", "sort=-tag", *where, "--json").document
    assert [row["tag"] for row in rows][:2] == ["PS-06", "PS-05"]
    sheet = wattwright("list", "supplies", "model=S320", "--csv", *where).out.splitlines()
    assert sheet[0].startswith("tag,model,state")
    assert len(sheet) == 1 + len(rows)
    assert "PS-01" in wattwright("list", "supplies", *where).out


@pytest.mark.parametrize(
    ("args", "code", "said"),
    [
        (("add", "suply", "tag=X"), 2, "Did you mean supplies?"),
        (("add", "supply", "tag=X", "modle=S320"), 2, "Did you mean model?"),
        (("add", "supply", "tag=X"), 2, "model is missing"),
        (("add", "supply", "tag=X", "model=S999"), 2, "S999 is not a model"),
        (("add", "supply", "PS-61"), 2, "not FIELD=VALUE"),
        (("change", "supply", "PS-01"), 2, "Name at least one"),
        (("change", "supply", "PS-01", "tag=PS-99"), 2, "tag is not known here"),
        (("change", "supply", "PS-01", "home=A1", "--version", "7"), 1, "was changed since you read it"),
        (("list", "supplies", "colour=red"), 2, "colour"),
        (("show", "supply", "DC-01"), 1, "DC-01 is not a supply"),
        (("show", "venue", "Nowhere"), 1, "there is no venue Nowhere"),
        (("retire", "supply", "PS-01"), 1, "PS-01 feeds SQ-01"),
    ],
)
def test_what_cannot_be_is_refused_in_words(
    wattwright: Command, where: tuple[str, str], args: tuple[str, ...], code: int, said: str
) -> None:
    ran = wattwright(*args, *where)
    assert said in ran.err
    assert ran.code == code, ran.err


@pytest.mark.parametrize(
    ("line", "mend"),
    [
        ("show supply ZZ-1", "See them: wattwright list supplies."),
        ("show supply SQ-09", "It is the tag of an element."),
        ("show venue 7777", "See them: wattwright list venues."),
        (
            "step SQ-09 built",
            "From working it may become: dark, struck, cut from show; to do it all the same, say why in "
            "--despite.",
        ),
        ("step SQ-09 dark", "Say what is seen: in --what of a step, or in status_note of a change."),
        ("attach SQ-09 out.jpg --fetch 7", "See them: wattwright attach TAG."),
    ],
)
def test_what_mends_a_refusal_is_said_as_it_is_done_here(
    wattwright: Command, where: tuple[str, str], line: str, mend: str
) -> None:
    assert wattwright(*line.split(), *where).err.splitlines()[-1] == mend
    assert json.loads(wattwright(*line.split(), *where, "--json").err)["mend"] == mend


def test_what_has_no_tag_goes_by_its_names(wattwright: Command, where: tuple[str, str]) -> None:
    unit = wattwright("show", "scenic-unit", "sq/ice wall", *where, "--json").document
    assert (unit["production"], unit["name"]) == ("SQ", "Ice wall")


def test_an_address_without_a_port_goes_by_what_the_list_shows(
    wattwright: Command, where: tuple[str, str]
) -> None:
    ran = wattwright("change", "address", "sq/dc-32", "start=301", *where, "--json")
    assert ran.code == 0, ran.err
    assert wattwright("show", "address", "SQ/DC-32", *where, "--json").document == ran.document
    assert wattwright("show", "address", "SQ/DC-32/", *where, "--json").document == ran.document
    assert wattwright("show", "address", "SQ/DC-3", *where).code == 1


@pytest.mark.parametrize("kind", [k for k in KINDS if k.listing], ids=lambda kind: kind.name)
def test_every_kind_goes_by_its_own_names(kind: Kind) -> None:
    listing = listing_of(kind)
    one = listing.one.partition(" ")[2]
    for name in (one, one.replace(" ", "-"), one.title(), listing.plural, kind.name):
        assert kind_named(name) is kind, name


@pytest.mark.parametrize(
    ("kind", "tag", "field", "unit"),
    [("supply-model", "S320", "outputs", "in A"), ("tape", "NW24", "emitters", "W/m"),
     ("element", "SQ-09", "runs", "mm")],
)  # fmt: skip
def test_a_figure_is_shown_with_its_unit(
    wattwright: Command, season: str, kind: str, tag: str, field: str, unit: str
) -> None:
    shown = wattwright("show", kind, tag, "--database", season).out.splitlines()
    [line] = [line for line in shown if line.split()[:1] == [field]]
    assert unit in line


def test_two_words_for_one_field_are_both_named(wattwright: Command, season: str) -> None:
    ran = wattwright("add", "place", "tag=SL", "place=Barn", "--database", season)
    assert ran.code == 2
    assert "'tag' and 'place' are both the field tag" in ran.err


def test_what_was_measured_on_the_bench_counts_in_the_loads(
    wattwright: Command, where: tuple[str, str]
) -> None:
    """1.3 m at 12 W/m are 15.60 W; with seven windows of 12.48 W, 102.96 W."""
    ran = wattwright("add", "bench-test", "element=SQ-09", "passed=yes", "measured per metre=12 W/m", *where)
    assert ran.code == 0, ran.err
    loads = wattwright("report", "loads", "--json", *AS_OF, *where).document["rows"]
    [row] = [r for r in loads if (r["production"], r["supply"]) == ("SQ", "PS-25")]
    assert row["supply_w"] == 102.96
    assert row["load_basis"].startswith("SQ-09 measured 12 W/m, bench test")


def test_everything_is_written_out_in_one_file(
    wattwright: Command, where: tuple[str, str], tmp_path: Path
) -> None:
    path = tmp_path / "all.zip"
    assert wattwright("export", str(path), "--sheet", "supplies", *where).code == 0
    with zipfile.ZipFile(io.BytesIO(path.read_bytes())) as archive:
        assert archive.namelist() == ["supplies.csv"]
    again = wattwright("export", str(path), *where)
    assert (again.code, "is there already" in again.err) == (2, True)


def test_what_is_dark_and_what_moved_read_the_same(wattwright: Command, where: tuple[str, str]) -> None:
    found = wattwright("dark", "SQ-07", "SQ-09", "--lit", "SQ-10", "--as-of", "2026-11-25", *where, "--json")
    assert found.document["together"] == ["SQ-07/1", "SQ-09/1"]
    assert wattwright("dark", *where, "--json").document == []
    assert wattwright("changes", "SQ", "--since", "plan:1", *where, "--json").document == []
    assert wattwright("changes", "SQ", "--since", "plan:7", *where).code == 1


def test_a_template_has_every_column_and_kinds_are_told(wattwright: Command, tmp_path: Path) -> None:
    assert wattwright("export", str(tmp_path / "mine"), "--template").code == 0
    heads = (tmp_path / "mine" / "supplies.csv").read_text().splitlines()
    assert heads == [
        "Tag,Model,State,State note,Bin,Where now,Tested on,Seen at,Seen on,Hired from,Hired to,Retired on"
    ]
    kinds = {row["kind"] for row in wattwright("kinds", "--json").document}
    assert {"supplies", "elements", "faults", "connectors"} <= kinds
    fields = wattwright("kinds", "supply", "--json").document
    assert [field["field"] for field in fields if field["must"]] == ["tag", "model"]
