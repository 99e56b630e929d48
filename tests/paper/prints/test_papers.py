"""Papers of the demonstration season: their figures are those that were worked by hand for it."""

from datetime import date
from io import BytesIO

import pytest
from python_calamine import CalamineWorkbook
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import BadRequest, NotFound
from service.paper.out.grids import csv_bytes, workbook
from service.paper.prints.registry import PAPERS
from service.paper.prints.table import Block, Paper, Row, Says
from service.planning.cutting.actions import CutAsk, ask_for_cut_plan, keep_cut_plan, work_out_cuts
from service.planning.since.asking import record_print
from service.reports import REPORTS, ReportAsk
from service.shows.records import Element, ElementStatus
from service.store.work import Store
from tests.paper.prints.conftest import paper

TODAY = date(2026, 11, 25)


def block(made: Paper, tag: str) -> Block:
    return next(one for one in made.blocks if one.tag == tag)


def row(made: Paper, key: str, value: object) -> Row:
    return next(one for part in made.blocks for one in part.rows if one.cells.get(key) == value)


def test_the_feed_sheet_begins_with_the_supplies_that_are_over(season: Store) -> None:
    made = paper(season, "feed-sheet")
    # By its watts, by the heat of its box, on a dimmed circuit, and a pack that dies in the show.
    over_tags = {one.tag for one in made.blocks if one.state == "over"}
    assert over_tags == {"PS-01", "PS-05", "PS-26", "BT-11"}
    assert made.first.key == "feed-sheet-over"
    assert {**made.first.values, "first": ""} == {"over": 4, "supplies": 9, "dark": 1, "first": ""}
    assert made.first.values["first"] in over_tags
    # 311.04 W on a supply of 320 W × 0.80 = 256 W: 55.04 W too much.
    over = block(made, "PS-01")
    assert over.state == "over"
    assert over.says is not None
    assert over.says.values["excess_w"] == pytest.approx(55.04)
    assert over.facts["outlet"] == "MD2"
    assert "move SQ-17" in over.mend


def test_every_element_stands_on_the_feed_sheet_once_a_way(season: Store) -> None:
    made = paper(season, "feed-sheet")
    # Attic window 3: PS-25 output 1, DC-32 channel 3, universe 3, slot 51 + 3 - 1; 12.48 W of 24 V tape.
    cells = row(made, "element", "SQ-09").cells
    assert (cells["output"], cells["decoder"], cells["address"]) == (1, "DC-32 · 3", "3/053")
    assert cells["load"] == pytest.approx(12.48)
    assert cells["amps"] == pytest.approx(0.52)
    tags = [one.cells["element"] for part in made.blocks for one in part.rows]
    assert sorted(set(tags)) == [f"SQ-{n:02d}" for n in range(1, 25)]


def test_what_is_not_fed_stands_at_the_end(season: Store) -> None:
    last = paper(season, "feed-sheet").blocks[-1]
    assert last.title == Says("no-feed")
    assert [one.cells["element"] for one in last.rows] == ["SQ-19"]


def test_two_that_answer_at_one_slot_are_told(season: Store) -> None:
    made = paper(season, "address-sheet")
    assert made.first.key == "address-sheet-over"
    slots = [one.cells["slot"] for one in block(made, "3").rows]
    assert slots == sorted(slots)
    assert slots.count("043") == 2
    assert "overlap" in row(made, "element", "SQ-15").says


def test_a_lead_says_its_fuse_and_what_it_loses(season: Store) -> None:
    made = paper(season, "lead-list")
    # README: the river edge loses 12.38 %, no fuse fits its lead.
    river = row(made, "run", "SQ-21/1")
    assert river.cells["drop"] == pytest.approx(12.38)
    assert river.cells["fuse"] == Says("no-fuse-fits")
    assert "16 AWG" in river.mend


def test_a_pack_that_dies_is_the_headline(season: Store) -> None:
    made = paper(season, "battery-sheet")
    assert made.first == Says("battery-sheet-over", {"over": 1, "blank": 1, "packs": 2, "first": "BT-11"})
    robe = row(made, "pack", "BT-11")
    assert (robe.cells["used"], robe.cells["budget"]) == (32.62, 21.5)
    assert robe.cells["dies-at"] == Says("dies-at-minute", {"minute": 156, "stretch": "act two"})


def test_the_cut_list_goes_reel_by_reel(changing_season: Store) -> None:
    assert paper(changing_season, "cut-list", "TL").first.key == "cut-list-unplanned"

    def asked(session: Session) -> tuple[int, str]:
        plan = ask_for_cut_plan(session, CutAsk(("TL",), (), True, 20.0, ""), "t", TODAY)
        return plan.id, plan.number or ""

    plan_id, number = changing_season.write(asked, "t")
    work_out_cuts(changing_season, plan_id, TODAY)
    changing_season.write(lambda session: keep_cut_plan(session, number, TODAY), "t")
    made = paper(changing_season, "cut-list", "TL")
    with changing_season.reading() as session:
        report = REPORTS["cut-list"].rows(session, ReportAsk(TODAY, "TL"))
    pieces = [one for reel in made.blocks for one in reel.rows if one.cells["element"]]  # the rest is scrap
    assert made.first == Says("cut-list-some", {"cuts": len(pieces), "reels": len(made.blocks)})
    assert made.rows == len(report) > 10
    for reel in made.blocks:
        marks = [one.cells["mark"] for one in reel.rows]
        assert marks == sorted(marks)
        assert all(one.cells["label-text"] for one in reel.rows)


def test_the_walk_goes_from_place_to_place_and_marks_what_is_known_to_be_out(
    changing_season: Store,
) -> None:
    made = paper(changing_season, "half-hour-check")
    assert made.first.key == "half-hour-check-unfed"
    assert [str(one.title) for one in made.blocks][:3] == ["Attic row", "Deck edge", "Ice wall"]
    with changing_season.writing("tests") as session:
        window = session.scalars(select(Element).where(Element.tag == "SQ-09")).one()
        window.status, window.status_note = ElementStatus.DARK, "flickers"
    made = paper(changing_season, "half-hour-check")
    assert made.first == Says("half-hour-check-out", {"out": 1, "unfed": 1, "elements": 24, "places": 8})
    assert row(made, "element", "SQ-09").state == "over"
    dark = paper(changing_season, "dark-list", None)
    assert dark.first == Says("dark-list-dark", {"dark": 1, "faults": 1})
    assert row(dark, "element", "SQ-09").cells["symptom"] == "flickers"


def test_what_moved_since_the_last_print_is_told_by_kind(changing_season: Store) -> None:
    assert paper(changing_season, "changes").first.key == "changes-unprinted"
    changing_season.write(lambda session: record_print(session, "SQ", "feed sheet", "t", TODAY), "t")
    assert paper(changing_season, "changes").first == Says("changes-fine", {"count": 0, "since": "print 1"})
    with changing_season.writing("tests") as session:
        session.scalars(select(Element).where(Element.tag == "SQ-09")).one().status = ElementStatus.STRUCK
    made = paper(changing_season, "changes")
    assert made.first == Says("changes-some", {"count": 2, "since": "print 1"})
    assert [part.title for part in made.blocks] == [Says("moved-gone"), Says("moved-load")]
    labels = paper(changing_season, "label-changes")
    assert [(one.cells["about"], one.cells["label-new"]) for one in labels.blocks[0].rows] == [
        ("SQ-09/1", "")
    ]


@pytest.mark.parametrize("name", PAPERS)
@pytest.mark.parametrize("show", ["CO", "FR", "TL", "TW"])
def test_every_paper_can_be_made_of_every_show(season: Store, name: str, show: str) -> None:
    columns, rows = paper(season, name, show).flat()
    assert all(len(cells) == len(columns) for cells in rows)


def test_a_show_that_is_not_there_is_refused(season: Store) -> None:
    with pytest.raises(NotFound, match="no production has the code 'XX'"):
        paper(season, "feed-sheet", "XX")
    with pytest.raises(BadRequest, match="of one show"):
        paper(season, "lead-list", None)


def test_a_spreadsheet_keeps_figures_and_days_and_runs_nothing() -> None:
    rows = [["=1+1", 3.84, date(2026, 11, 25), None, "-2 dB"]]
    heads = ["Name", "Load W", "Since", "Blank", "Level"]
    [head, first] = (
        CalamineWorkbook.from_filelike(BytesIO(workbook("Feeds", heads, rows)))
        .get_sheet_by_index(0)
        .to_python()
    )
    assert head == heads
    assert first == ["=1+1", 3.84, date(2026, 11, 25), "", "-2 dB"]
    text = csv_bytes(heads, rows).decode("utf-8-sig")
    assert text.splitlines()[1] == "'=1+1,3.84,2026-11-25,,'-2 dB"
