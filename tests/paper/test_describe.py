"""What is printed about the sheets is true of them, and no cell whatever brings them down."""

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import RowError
from service.kinds.cells import read_cell
from service.kinds.columns import Column
from service.kinds.kind import Kind
from service.kinds.registry import KINDS
from service.paper.bring_in import NAMES, describe, describe_text
from service.paper.files.raw import RawRow, RawSheet
from service.paper.heads import head_key, headings
from service.paper.typed import typed_rows

COLUMNS = [pytest.param(s, c, id=f"{s.name}-{c.key}") for s in KINDS for c in s.columns]


@pytest.mark.parametrize(("sheet", "column"), COLUMNS)
def test_every_column_is_found_under_its_own_name_and_its_example_can_be_read(
    sheet: Kind, column: Column
) -> None:
    errors: list[RowError] = []
    found = headings(RawSheet(sheet.name, (column.name,), ()), (column,), errors)

    assert errors == []
    assert column.doc
    if column.example:
        read_cell(column.example, column, found[0].bare or column.unit or None)


@pytest.mark.parametrize("sheet", KINDS, ids=lambda sheet: sheet.name)
def test_no_head_of_a_sheet_means_two_columns(sheet: Kind) -> None:
    heads = [head_key(name) for column in sheet.columns for name in {column.name, *column.also}]

    assert len(heads) == len(set(heads))
    assert len({column.key for column in sheet.columns}) == len(sheet.columns)
    assert set(sheet.identity) <= {column.key for column in sheet.columns}


def test_no_name_means_two_sheets() -> None:
    names = [name for sheet in KINDS for name in {sheet.name, *sheet.also}]

    assert len(NAMES) == len(set(names))


def test_the_description_names_every_sheet_and_column() -> None:
    printed = describe_text()

    assert [d.name for d in describe()] == [s.name for s in KINDS]
    for sheet in KINDS:
        assert f"\n{sheet.name}: each row is" in f"\n{printed}"
        for column in sheet.columns:
            assert f"  {column.name}{'*' if column.required else ''}: " in printed


CELLS = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(min_value=-(10**18), max_value=10**18),
    st.floats(allow_nan=True, allow_infinity=True),
    st.dates(),
    st.text(max_size=20),
    st.text(alphabet=string.digits + ".,-x=;%/ mftAVW", max_size=20),
)


@given(data=st.data())
def test_any_cell_is_read_or_refused_with_a_mend(data: st.DataObject) -> None:
    sheet = data.draw(st.sampled_from(KINDS))
    heads = tuple(column.name for column in sheet.columns)
    cells = tuple(data.draw(CELLS) for _ in heads)
    errors: list[RowError] = []

    typed_rows(RawSheet(sheet.name, heads, (RawRow(2, cells),)), sheet, errors)

    assert all(error.mend and error.message for error in errors)
