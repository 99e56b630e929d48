"""Anybody's own table: what it is taken for, and how its columns are read."""

import pytest

from service.paper.fitting.tables import Table, refit, tables_of, with_fits


def only(text: str, name: str = "my list.csv") -> Table:
    [table], _ = tables_of(text.encode(), name)
    return table


def test_a_table_is_taken_for_what_its_heads_say_whatever_its_file_is_called() -> None:
    table = only("Tag,Show,Tape,Long\nSQ-31,SQ,NW24,1.2\n")
    assert table.sheet == "elements"
    assert [fit.key for fit in table.fits] == ["element", "production", "tape", ""]


def test_a_name_of_a_sheet_wins_and_an_unknown_table_waits() -> None:
    assert only("Tag,Model\nPS-91,S320\n", "Supplies.csv").sheet == "supplies"
    assert only("Colour,Shape\nred,round\n").sheet == ""


def test_a_near_name_is_a_guess_and_says_so() -> None:
    table = only("Element,Prodution,Tape\nSQ-31,SQ,NW24\n", "elements.csv")
    assert [(fit.key, fit.is_guess) for fit in table.fits] == [
        ("element", False), ("production", True), ("tape", False),
    ]  # fmt: skip


def test_each_column_is_used_once_and_empty_ones_are_left_out() -> None:
    table = only("Element,Tag,Production,Note\nSQ-31,x,SQ,\n", "elements.csv")
    assert [fit.key for fit in table.fits] == ["element", "", "production", ""]


@pytest.mark.parametrize(
    ("head", "unit", "wants"),
    [("Length", "", True), ("Length (ft)", "ft", False), ("length_mm", "mm", False)],
)
def test_a_length_without_a_unit_asks_for_one(head: str, unit: str, wants: bool) -> None:
    fit = only(f"Element,Production,{head}\nSQ-31,SQ,4\n", "elements.csv").fits[2]
    assert (fit.key, fit.unit, fit.wants_unit) == ("length", unit, wants)


def test_what_somebody_says_of_a_column_is_the_head_it_gets() -> None:
    table = only("Element,Production,How long\nSQ-31,SQ,4\n", "elements.csv")
    said = with_fits(table, [("element", ""), ("production", ""), ("length", "ft")])
    assert said.raw().heads == ("Element", "Production", "Length (ft)")
    assert said.position("Length (ft)") == 2
    left = with_fits(table, [("element", ""), ("", ""), ("length", "ft")])
    assert left.raw().heads == ("Element", "Length (ft)")
    assert left.raw().rows[0].cells == ("SQ-31", "4")


def test_another_kind_of_rows_is_matched_anew() -> None:
    table = refit(only("Tag,Model\nPS-91,S320\n", "supplies.csv"), "decoders")
    assert table.sheet == "decoders"
    assert [fit.key for fit in table.fits] == ["tag", "model"]
