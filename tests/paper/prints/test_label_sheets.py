"""What stands on a label stays on it, however low or narrow it is, and nothing lies on anything else."""

from itertools import pairwise

import pytest

from service.errors import BadRequest, NotFound
from service.paper.chosen_labels import chosen
from service.paper.label_sheets import LEAST_TYPE_MM, SHEETS, Drawn, LabelSheet, sheetfuls
from service.paper.labels import Label
from service.paper.prints.table import Wanted
from service.store.work import Store
from tests.paper.prints.conftest import TODAY
from tests.reports.test_every_report import counted

BASE = "http://rack.example:8042"
WORDY = Label("SQ-09", "element", "Rim of the revolve, upstage", "WarmWhite-24, 4.20 m on DL", "/l/SQ-09")
LONG = Label("SQ-10", "element", "Balustradenunterkantenbeleuchtungsstreifenabschnitt", "", "/l/SQ-10")


def sheet_of(wide: float, high: float) -> LabelSheet:
    return LabelSheet(210, 297, 2, 3, wide, high, 5, 5, wide, high)


def drawn(label: Label, sheet: LabelSheet) -> Drawn:
    [page] = sheetfuls([label], sheet, BASE)
    return page.drawn[0]


@pytest.mark.parametrize("label", [WORDY, LONG], ids=["wordy", "long"])
@pytest.mark.parametrize(
    "sheet",
    [*SHEETS.values(), *(sheet_of(w, h) for w in (20, 30, 49, 50, 90) for h in (8, 9, 11, 13, 16, 21))],
    ids=lambda sheet: f"{sheet.label_w:g}x{sheet.label_h:g}",
)
def test_words_and_code_stay_on_their_label(label: Label, sheet: LabelSheet) -> None:
    one = drawn(label, sheet)
    left, top = sheet.corner(0)
    side = one.square * one.code.squares
    assert one.x >= left
    assert one.x + side <= one.text_x <= left + sheet.label_w
    assert one.y >= top
    assert one.y + side <= top + sheet.label_h
    assert "".join(line.text for line in one.tag) == label.tag
    assert all(line.size >= LEAST_TYPE_MM for line in one.tag)
    highs = [*one.tag, *one.lines]
    first = highs[0]
    assert first.y - first.size * 0.8 >= top  # what stands above the foot of a line, and what hangs below
    assert highs[-1].y + highs[-1].size * 0.22 <= top + sheet.label_h
    for upper, lower in pairwise(highs):
        assert lower.y - lower.size * 0.75 >= upper.y + (upper.size * 0.2 if upper not in one.tag else 0)
    assert all(line.size >= LEAST_TYPE_MM for line in one.lines)
    assert all(len(line.text) * line.size * 0.56 <= sheet.label_w - side for line in one.lines)


LONG_TAG = "SLIPWAY-DECK-LEFT-RAIL-0117"


def test_a_long_tag_is_broken_behind_a_hyphen_before_it_is_too_small_to_read() -> None:
    label = Label(LONG_TAG, "supply", "S320", "", f"/l/{LONG_TAG}")
    for sheet in (*SHEETS.values(), sheet_of(30, 16)):
        one = drawn(label, sheet)
        assert "".join(line.text for line in one.tag) == LONG_TAG
        assert all(line.size >= LEAST_TYPE_MM for line in one.tag)
        assert all(len(line.text) * line.size * 0.616 <= sheet.label_w for line in one.tag)
        assert all(line.text.endswith("-") for line in one.tag[:-1])
        assert one.tag[-1].y + one.tag[-1].size * 0.22 <= sheet.corner(0)[1] + sheet.label_h
    assert [line.text for line in drawn(label, SHEETS["a4-5x13"]).tag] == ["SLIPWAY-DECK-", "LEFT-RAIL-0117"]


def test_a_tag_that_no_break_makes_readable_is_refused_with_a_sheet_that_holds_it() -> None:
    label = Label(LONG_TAG, "supply", "S320", "", f"/l/{LONG_TAG}")
    with pytest.raises(BadRequest, match="does not stand on a label of 20 × 8 mm") as refused:
        drawn(label, sheet_of(20, 8))
    assert refused.value.mend.startswith("Take the sheet of 3 × 8 labels of 63.5 × 33.9 mm")


def test_tags_that_are_typed_are_asked_for_at_once(season: Store) -> None:
    wanted, asked = Wanted(TODAY, TODAY, lambda _day: None, "SQ"), []
    for tags, labels in (("PS-01", 1), ("ps-01, PS-02 PS-03;PS-04 PS-05 PS-06 PS-01", 6)):
        with counted(season) as said, season.reading() as session:
            assert len(chosen(session, wanted, "", tags)) == labels
        asked.append(len(said))
    assert asked[0] == asked[1]
    with season.reading() as session, pytest.raises(NotFound, match="nothing has the tags XX-1, xx-2"):
        chosen(session, wanted, "", "XX-1 PS-01 xx-2 XX-1")


def test_a_low_label_says_less_in_smaller_letters() -> None:
    said = {high: drawn(WORDY, sheet_of(90, high)) for high in (8, 10, 12, 34)}
    assert [len(one.lines) for one in said.values()] == [1, 2, 2, 2]
    assert said[8].lines[0].size < said[34].lines[0].size == 3.2
    assert said[8].lines[0].text == "Rim of the revolve, upstage"
    assert [line.text for line in said[10].lines] == [WORDY.line_1, WORDY.line_2]
    shortened = drawn(LONG, sheet_of(50, 8)).lines
    assert [line.text[-1] for line in shortened] == ["…"]


def test_a_label_too_low_for_its_tag_and_a_code_is_refused() -> None:
    with pytest.raises(BadRequest, match="no room for a tag and a code") as refused:
        sheet_of(90, 7.9)
    assert refused.value.mend == "Take larger labels."
