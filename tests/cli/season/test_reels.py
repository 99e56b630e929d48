"""Reels and deliveries at the terminal, beside a database and through a service."""

from collections.abc import Callable
from pathlib import Path

import pytest
from python_calamine import CalamineWorkbook

from tests.cli.conftest import Ran

Command = Callable[..., Ran]


@pytest.fixture(autouse=True)
def the_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WATTWRIGHT_TODAY", "2026-11-25")


def test_the_second_entry_for_window_four_is_told_refused_and_voided(
    wattwright: Command, where: tuple[str, str]
) -> None:
    """R-119 of the season: two rows for SQ-10; counted -0.2 m, outside the balance 1.1 m."""
    life = wattwright("reel", "history", "r-119", *where)
    assert life.out.startswith("R-119: NW24, lot N-26A, at A1; offcut, 1.1 m left\n")
    assert "SQ-10 run 1 piece 1, working" in life.out
    counted = wattwright("reel", "settle", "K-074", "--count", *where)
    assert counted.code == 1
    assert "counted, K-074 would leave R-119 at -200 mm" in counted.err
    assert "Void K-074 if it is a second entry of K-071, or take K-071 back." in counted.err
    void = wattwright("reel", "settle", "K-074", "--void", "--note", "entered twice", *where)
    assert (void.code, "R-119 has 1100 mm left\n" in void.out) == (0, True)


def test_acts_on_reels_are_told_in_a_sentence_and_as_a_document(
    wattwright: Command, where: tuple[str, str]
) -> None:
    assert wattwright("reel", "cut", "R-121", "100 mm", *where).out.startswith(
        "100 mm off R-121 for scrap (K-"
    )
    offcut = wattwright("reel", "offcut", "R-121", "600 mm", "--tag", "R-240", *where, "--json").document
    assert (offcut["other"]["tag"], offcut["reel"]["left_m"]) == ("R-240", 3.6)
    joined = wattwright("reel", "join", "R-122", "R-240", *where)
    first, caution = joined.out.splitlines()
    assert first == "R-240 is joined on to R-122, 2100 mm from its hub; 2700 mm left"
    assert caution.startswith("Cut with the power off")
    assert wattwright("reel", "recount", "R-122", "8 ft", *where).out.startswith(
        "R-122 had 2700 mm on the book"
    )
    number = wattwright("reel", "scrap", "R-122", "50 mm", *where, "--json").document["rows"][0]["number"]
    assert wattwright("reel", "undo", number.lower(), *where).out.startswith(f"{number} is taken back by K-")
    assert wattwright("reel", "open", "R-123", *where).code == 0
    told = wattwright("reel", "history", "R-122", *where, "--json").document
    assert [joint["from_hub_m"] for joint in told["joints"]] == [2.1]
    life = wattwright("reel", "history", "R-240", *where).out
    assert "cut off R-121" in life
    assert "R-122" in life


def test_a_piece_is_cut_for_an_element_of_its_tape(wattwright: Command, where: tuple[str, str]) -> None:
    done = wattwright("reel", "cut", "R-121", "--for", "TW-08", "--piece", "2", *where)
    assert (done.code, done.out[:35]) == (0, "1100 mm off R-121 for TW-08 piece 2")
    again = wattwright("reel", "cut", "R-123", "--for", "TW-08", "--piece", "2", *where)
    assert (again.code, "TW-08 piece 2 is cut already" in again.err) == (1, True)
    early = wattwright("reel", "recover", "TW-08", "2", *where)
    assert (early.code, "Take TW-08 to struck first" in early.err) == (1, True)


def test_what_came_is_received_once(wattwright: Command, where: tuple[str, str]) -> None:
    ask = ("receive", "PO-2611-1", "1", "2", "--note-number", "DN-118", "--lot", "C-26F", *where)
    first, again = wattwright(*ask), wattwright(*ask)
    assert first.out == "DN-118 for PO-2611-1 line 1: 2 RGBW24: R-182 R-183\n"
    assert again.out == "DN-118 for PO-2611-1 line 1 was received before: 2 RGBW24: R-182 R-183\n"
    assert "1 now" in wattwright(*ask[:3], "1", *ask[4:]).err
    [delivery] = wattwright("list", "deliveries", *where, "--json").document
    undone = wattwright("receive", "--undo", str(delivery["id"]), *where)
    assert undone.out == "DN-118 for PO-2611-1 line 1 is undone\n"
    assert wattwright("show", "reel", "R-182", *where, "--json").document["retired_on"] == "2026-11-25"


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("reel", "settle", "K-074"), 2, "Say --count or --void."),
        (("receive", "PO-2611-1", "1", "2"), 2, "Give --note-number"),
        (("receive", "--undo", "1", "--lot", "X"), 2, "Give --undo alone."),
        (("reel", "cut", "R-121", "4 parsecs"), 2, "parsecs"),
        (("reel", "cut", "R-121", "--on", "yesterday", "1 m"), 2, "on: "),
        (("reel", "cut", "R-119", "1150 mm"), 1, "R-119 has 1100 mm left and 1150 mm is asked of it"),
    ],
)
def test_what_cannot_be_read_or_done_says_why(
    wattwright: Command, season: str, words: tuple[str, ...], code: int, said: str
) -> None:
    ran = wattwright(*words, "--database", season)
    assert (ran.code, said in ran.err) == (code, True), ran.err


def test_a_report_is_written_as_the_workbook_that_the_service_answers(
    wattwright: Command, where: tuple[str, str], tmp_path: Path
) -> None:
    """The season: 1.3 m of NW24 for each window of SQ in October."""
    book = tmp_path / "usage.xlsx"
    ran = wattwright("report", "usage", "--to", "2026-10-31", "--xlsx", str(book), *where)
    assert (ran.code, ran.out) == (0, f"Written to {book}\n")
    rows = CalamineWorkbook.from_path(book).get_sheet_by_name("usage").to_python()
    assert rows[0][:5] == ["month", "tape", "production", "pieces", "used (m)"]
    assert ["2026-10", "NW24", "SQ"] in [row[:3] for row in rows]
    both = wattwright("report", "usage", "--csv", "--xlsx", str(book), *where)
    assert (both.code, "Give only one of" in both.err) == (2, True)
    over = wattwright("report", "over-limit", "--xlsx", str(book), *where)
    assert over.code == 1
