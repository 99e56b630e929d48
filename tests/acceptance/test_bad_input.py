"""One spoiled cell in a whole season: nothing comes in, and it is said what, where and how to mend it."""

from collections.abc import Iterator
from typing import NamedTuple

import pytest
from sqlalchemy import Connection, func, select

import seed_demo
from service.errors import BadSheets, RowError
from service.paper.bring_in import bring_in
from service.store.base import Base
from service.store.work import Store
from tests.acceptance.worked import Sheets, as_texts, read_sheets
from tests.paper.house import read


class Spoiled(NamedTuple):
    """The row whose first cell is `key` gets `cell` in `column`; the refusal speaks of `says`."""

    sheet: str
    key: str
    column: str
    cell: str
    says: str


CASES = (
    Spoiled("elements", "SQ-21", "Lead (m)", "12 furlong", "furlong"),
    Spoiled("elements", "SQ-21", "Lead (m)", "12 W", "W"),
    Spoiled("elements", "SQ-21", "Lead (m)", "-12", "-12"),
    Spoiled("elements", "SQ-21", "Lead (m)", "12000000", "12000000"),
    Spoiled("elements", "SQ-21", "Pieces (mm)", "nan", "nan"),
    Spoiled("elements", "SQ-21", "Tape", "RGWB24", "RGWB24"),
    Spoiled("elements", "SQ-02", "Element", "SQ-01", "SQ-01"),
    Spoiled("supply_models", "S320", "Rated (W)", "-320", "-320"),
    Spoiled("supply_models", "S320", "Rated (W)", "inf", "inf"),
    Spoiled("supply_models", "S320", "Efficiency", "90000", "90000"),
    Spoiled("decoders", "DC-01", "Tag", "PS-02", "PS-02"),
    Spoiled("tapes", "RGBW24", "Pitch (mm)", "0", "0"),
    Spoiled("tapes", "RGBW24", "Emitters (W/m)", "R=", "R="),
    Spoiled("outlets", "MX5", "Kind", "dimmerish", "dimmerish"),
    Spoiled("productions", "SQ", "Load-in", "2026-13-09", "2026-13-09"),
    Spoiled("feeds", "SQ-01", "Channels", "4-1", "4-1"),
    Spoiled("feeds", "SQ-01", "Supply", "PS-99", "PS-99"),
    Spoiled("addresses", "SQ", "Start", "513", "513"),
    Spoiled("cuts", "K-010", "Length (mm)", "99000", "R-084"),
    Spoiled("cuts", "K-010", "Length (mm)", "2399", "2399"),
)


def spoiled(case: Spoiled) -> tuple[Sheets, int]:
    """The sheets with that one cell changed, and the row of it as a table program numbers rows."""
    sheets = read_sheets(seed_demo.folder())
    rows = sheets[case.sheet]
    number = next(n for n, row in enumerate(rows) if next(iter(row.values())) == case.key)
    rows[number][case.column] = case.cell
    return sheets, number + 2


def refused(store: Store, sheets: Sheets) -> tuple[RowError, ...]:
    given = read(as_texts(sheets))
    with pytest.raises(BadSheets) as refusal, store.writing("tests") as session:
        bring_in(session, given.sheets, "tests", seed_demo.AS_OF)
    return refusal.value.errors


def rows_in(connection: Connection) -> Iterator[tuple[str, int]]:
    for table in Base.metadata.sorted_tables:
        yield table.name, connection.scalar(select(func.count()).select_from(table)) or 0


def counts(store: Store) -> dict[str, int]:
    """Rows of every table there is."""
    with store.lookup() as connection:
        return dict(rows_in(connection))


@pytest.mark.parametrize("case", CASES, ids=lambda c: f"{c.sheet} {c.column} {c.cell}")
def test_one_bad_cell_is_named_with_its_place_and_its_mend(store: Store, case: Spoiled) -> None:
    sheets, number = spoiled(case)
    errors = refused(store, sheets)

    first = errors[0]
    assert first.sheet.replace(" ", "_") == case.sheet
    assert number in {error.row for error in errors if error.sheet == first.sheet}
    assert case.says in " ".join(error.message for error in errors)
    assert all(error.mend for error in errors)
    assert not any(counts(store).values())


def test_every_fault_is_named_at_once(store: Store) -> None:
    """So that nobody mends, tries again, and finds the next."""
    sheets = read_sheets(seed_demo.folder())
    sheets["elements"][0]["Lead (m)"] = "5 furlong"
    sheets["supply_models"][0]["Rated (W)"] = "-320"
    sheets["outlets"][0]["Kind"] = "dimmerish"

    places = [(error.sheet, error.row, error.column) for error in refused(store, sheets)]
    assert places == [
        ("supply models", 2, "Rated (W)"), ("outlets", 2, "Kind"), ("elements", 2, "Lead (m)"),
    ]  # fmt: skip


def test_a_broken_row_is_not_blamed_on_those_that_refer_to_it(store: Store) -> None:
    """S320 has a bad figure; the six supplies of that model are not at fault."""
    sheets = read_sheets(seed_demo.folder())
    sheets["supply_models"][0]["Rated (W)"] = "plenty"

    assert [error.sheet for error in refused(store, sheets)] == ["supply models"]


def test_a_reel_in_the_store_is_not_overdrawn_by_later_sheets(changing_season: Store) -> None:
    """R-108 has 0.9 m left; a piece of 1.0 m is asked of it."""
    before = counts(changing_season)
    cut = {"Cut": "K-900", "Reel": "R-108", "Length (mm)": "1000", "Kind": "scrap", "Cut on": "2026-11-25"}
    [error] = refused(changing_season, {"cuts": [cut]})

    assert (error.sheet, error.row) == ("cuts", 2)
    assert "R-108" in error.message
    assert error.mend
    assert counts(changing_season) == before


def test_a_tag_that_is_in_use_for_something_else_is_never_used_again(changing_season: Store) -> None:
    before = counts(changing_season)
    [error] = refused(changing_season, {"supplies": [{"Tag": "sq-09", "Model": "S320"}]})

    assert "sq-09" in error.message.lower()
    assert error.mend
    assert counts(changing_season) == before
