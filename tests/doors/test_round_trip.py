"""Everything written out as sheets and brought in again is the same house, on either database."""

import csv
import io
import zipfile
from collections.abc import Callable

import pytest

import seed_demo
from service.errors import BadSheets
from service.paper.bring_in import NAMES, Brought, bring_in
from service.paper.out.files import as_workbook, as_zip
from service.paper.out.tables import everything_out
from service.paper.reading import read_bytes
from service.store.work import Store
from tests.doors.sheets_out import content


def written(store: Store) -> bytes:
    with store.reading() as session:
        return as_zip(everything_out(session))


def brought(store: Store, file: bytes, may_change: bool = False) -> Brought:
    sheets = read_bytes(file, "all.zip", NAMES).sheets
    return store.write(lambda s: bring_in(s, sheets, "bench", seed_demo.AS_OF, may_change), "bench")


def edited(file: bytes, sheet: str, edit: Callable[[list[dict[str, str]]], None]) -> bytes:
    """The same file with the rows of one sheet edited, as a spreadsheet would leave them."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(file)) as old, zipfile.ZipFile(buffer, "w") as new:
        for name in old.namelist():
            text = old.read(name).decode()
            if name == sheet:
                rows = list(csv.DictReader(io.StringIO(text)))
                edit(rows)
                out = io.StringIO()
                writer = csv.DictWriter(out, list(rows[0]))
                writer.writeheader()
                writer.writerows(rows)
                text = out.getvalue()
            new.writestr(name, text)
    return buffer.getvalue()


@pytest.mark.parametrize("write", [as_zip, as_workbook])
def test_a_house_brought_in_from_its_own_sheets_is_the_same_house(
    season: Store, two_houses: dict[str, Store], write: Callable[..., bytes]
) -> None:
    with season.reading() as session:
        file = write(everything_out(session))
    for store in two_houses.values():
        brought(store, file)
        assert content(store) == content(season)


def test_what_is_brought_in_again_unedited_changes_nothing(changing_season: Store) -> None:
    before = content(changing_season, with_versions=True)
    again = brought(changing_season, written(changing_season))
    assert (sum(again.counts.values()), again.changes) == (0, ())
    assert content(changing_season, with_versions=True) == before


def test_only_what_was_edited_changes_and_the_difference_says_so(changing_season: Store) -> None:
    before = content(changing_season, with_versions=True)

    def move(rows: list[dict[str, str]]) -> None:
        next(row for row in rows if row["Tag"] == "PS-13")["Bin"] = "A1"

    file = edited(written(changing_season), "supplies.csv", move)
    with pytest.raises(BadSheets) as refusal:
        brought(changing_season, file)
    assert "PS-13 is in the store already; Bin: B2 would become A1" in refusal.value.errors[0].message
    done = brought(changing_season, file, may_change=True)

    assert [(c.thing, c.column, c.before, c.after) for c in done.changes] == [("PS-13", "Bin", "B2", "A1")]
    after = content(changing_season, with_versions=True)
    differs = [
        (name, old, new)
        for name in before
        for old, new in zip(before[name], after[name], strict=True)
        if old != new
    ]
    assert [(name, new["Tag"], new["Bin"], new["Version"]) for name, _, new in differs] == [
        ("supplies", "PS-13", "A1", "2")
    ]


def test_a_sheet_written_out_before_another_change_does_not_undo_it(changing_season: Store) -> None:
    file = written(changing_season)

    def find(rows: list[dict[str, str]]) -> None:
        next(row for row in rows if row["Tag"] == "PS-13")["Where now"] = "dock"

    brought(changing_season, edited(file, "supplies.csv", find), may_change=True)

    def move(rows: list[dict[str, str]]) -> None:
        next(row for row in rows if row["Tag"] == "PS-13")["Bin"] = "A1"

    with pytest.raises(BadSheets, match="1 thing") as refusal:
        brought(changing_season, edited(file, "supplies.csv", move), may_change=True)
    assert "was changed since this sheet was written out" in refusal.value.errors[0].message
