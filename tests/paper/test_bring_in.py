"""Sheets come in whole or not at all; what a new user leaves out is filled in and said."""

import io
from datetime import date
from typing import Any

import pytest
import xlsxwriter
from sqlalchemy import func, select

from service.errors import BadSheets
from service.paper.bring_in import NAMES, bring_in
from service.paper.reading import read_bytes
from service.season.records import Production
from service.shows.records import Element, FeedStyle, ScenicUnit
from service.stock.gear import DecoderModel, SupplyModel, Unit
from service.stock.records import Cut, PolicyRow, Reel, ReelState, Tape, Venue
from service.store.work import Store
from service.tables import METADATA
from tests.paper.house import HOUSE, TODAY, bring, the_fault, the_faults


def rows_in(store: Store) -> dict[str, int]:
    with store.lookup() as connection:
        return {
            table.name: connection.scalar(select(func.count()).select_from(table)) or 0
            for table in METADATA.sorted_tables
        }


def a_new_users_workbook() -> bytes:
    """Seven tabs as somebody might type them on a Sunday: no tags for places, no lots, feet and inches."""
    tabs: dict[str, list[list[Any]]] = {
        "Tapes": [["Code", "Voltage", "Power (W/ft)", "Cut pitch (in)"], ["WARM", 24, 4.4, 2]],
        "Supply models": [["Model", "Volts", "Watts"], ["BIG", 24, 320]],
        "Supplies": [["Tag", "Model"], ["P1", "BIG"], ["P2", "big"]],
        "Decoder models": [
            ["Model", "Channels", "Channel (A)", "Min (V)", "Max (V)"],
            ["FOUR", 4, 5, 12, 24],
        ],
        "Decoders": [["Tag", "Model"], ["D1", "FOUR"]],
        "Productions": [["Show", "Load-in", "Closing"], ["HH", date(2026, 12, 1), date(2026, 12, 20)]],
        "Elements": [
            ["Tag", "Show", "Unit", "Tape", "Length (in)", "Quantity", "Lead (ft)", "Gauge"],
            ["HH1", "HH", "Hearth", "WARM", 30, 3, 10, 18],
            ["HH2", "HH", "Hearth", None, "4 ft", None, None, None],
        ],
        "notes": [["ask about the chimney"]],
    }
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer, {"in_memory": True})
    day = book.add_format({"num_format": "yyyy-mm-dd"})
    for name, rows in tabs.items():
        sheet = book.add_worksheet(name)
        for r, row in enumerate(rows):
            for c, value in enumerate(row):
                if isinstance(value, date):
                    sheet.write_datetime(r, c, value, day)
                else:
                    sheet.write(r, c, value)
    book.close()
    return buffer.getvalue()


def test_a_new_users_workbook_is_enough(store: Store) -> None:
    """30 in = 762 mm, which a pitch of 2 in (50.8 mm) divides into 15; 10 ft = 3.048 m (exact by definition).

    4.4 W/ft = 14.4357 W/m (pint, GNU units).
    """
    reading = read_bytes(a_new_users_workbook(), "house.xlsx", NAMES)
    with store.writing("a test") as session:
        brought = bring_in(session, reading.sheets, "a test", TODAY)

    assert brought.counts["elements"] == 2
    assert brought.remarks == (
        "BIG: Full to, Derate and Hottest are not given, so its limits are not known and the allocator will "
        "not choose it",
        "FOUR: Total is not given, so its limit is not known and the allocator will not choose it",
        "venue 'Main stage' was made with mains at 120 V: correct it if yours differ",
        "scenic unit 'Hearth' of HH was made: it stands still and is dry",
    )
    with store.reading() as session:
        tape = session.scalars(select(Tape)).one()
        assert (tape.pitch_um, tape.class_v, tape.polarity) == (50_800, 24.0, "common positive")
        assert tape.emitters[0].w_per_m == pytest.approx(14.4357, abs=5e-5)
        assert session.scalars(select(SupplyModel)).one().outputs[0].cap_a == pytest.approx(320 / 24)
        first, second = session.scalars(select(Element).order_by(Element.tag))
        assert [(r.number, r.lead_um, r.lead_gauge, r.feed_style) for r in first.runs] == [
            (n, 3_048_000, "18 AWG", FeedStyle.ONE) for n in (1, 2, 3)
        ]
        assert [(p.drawn_um, p.cut_pitches) for r in first.runs for p in r.pieces] == [(762_000, 15)] * 3
        assert (first.wired, first.is_dimmed, first.priority) == ("W", True, 3)
        assert second.tape_id is None
        assert (second.runs[0].pieces[0].cut_pitches, second.runs[0].lead_um) == (None, None)
        show = session.scalars(select(Production)).one()
        assert (show.build_start, show.strike_end, show.return_by) == (
            date(2026, 12, 1), date(2026, 12, 20), date(2026, 12, 20),
        )  # fmt: skip


def test_the_small_house_comes_in(store: Store) -> None:
    assert bring(store, **HOUSE).remarks == ()


def test_nothing_is_half_written_after_a_fault_in_the_last_sheet(store: Store) -> None:
    before = rows_in(store)

    the_fault(store, **HOUSE | {"feeds": "Element,Supply,Decoder,Channels\nSQ-01,PS-01,DC-01,1-5\n"})

    assert rows_in(store) == before
    assert sum(before.values()) == 0


def test_everything_that_is_wrong_is_named_in_one_go_in_the_order_of_the_sheets(store: Store) -> None:
    faults = the_faults(
        store,
        **HOUSE
        | {
            "tapes": HOUSE["tapes"] + "WW24,24,W=14.4,0,5\n",
            "supplies": HOUSE["supplies"] + "PS-02,S329,B1\n",
            "elements": HOUSE["elements"] + "SQ-08,SX,Ice wall,NW24,750,no,5,20\n",
        },
    )

    assert [(f.sheet, f.row, f.column) for f in faults] == [
        ("tapes", 4, "Pitch (mm)"),
        ("supplies", 4, "Model"),
        ("elements", 4, "Production"),
    ]


def test_a_row_refused_for_itself_is_not_missed_by_those_that_refer_to_it(store: Store) -> None:
    """One wrong voltage must not be reported forty times."""
    bad = HOUSE["tapes"].replace("NW24,24", "NW24,2400")

    fault = the_fault(store, **HOUSE | {"tapes": bad, "holds": "Production,What,Length (m)\nSQ,NW24,5\n"})

    assert (fault.sheet, fault.row, fault.column) == ("tapes", 3, "Volts")


@pytest.mark.parametrize(
    ("row", "mend"),
    [("QQQQQQ,", "Enter that model first."), ("S320,QQQQQQ", "Enter that place first, or leave this blank.")],
)
def test_leave_it_blank_is_said_only_where_it_may_be_blank(store: Store, row: str, mend: str) -> None:
    models = HOUSE["supply_models"]
    fault = the_fault(store, supply_models=models, supplies=f"Tag,Model,Bin\nPS-1,{row}\n")
    assert fault.mend == mend


def test_an_unknown_reference_names_the_nearest(store: Store) -> None:
    fault = the_fault(store, **HOUSE | {"feeds": "Element,Supply,Decoder,Channels\nSQ-01,PS-99,DC-01,1-4\n"})

    assert str(fault) == (
        "feeds, row 2, column 'Supply': PS-99 is not a unit that is known here. Nearest is PS-01."
    )


@pytest.mark.parametrize(
    ("sheet", "more", "message"),
    [
        ("supplies", "ps-01,S320,B1\n", "ps-01 comes twice: also in row 2"),
        ("decoders", "PS-01,D4\n", "PS-01 comes twice: also in supplies, row 2"),
        ("elements", "SQ,SQ,Ice wall,NW24,750,no,5,20\n", "SQ comes twice: also in productions, row 2"),
    ],
)
def test_a_tag_is_used_once_in_the_whole_house(store: Store, sheet: str, more: str, message: str) -> None:
    assert the_fault(store, **HOUSE | {sheet: HOUSE[sheet] + more}).message == message


def test_a_tag_that_is_in_the_store_already_is_not_added_again(store: Store) -> None:
    bring(store, **HOUSE)

    again = bring(store, supplies="Tag,Model\nps-01,S320\n")
    other = the_fault(store, supplies="Tag,Model\nps-01,S384\n")
    taken = the_fault(store, decoders="Tag,Model\nps-01,D4\n")

    assert (again.counts, again.same) == ({"supplies": 0}, {"supplies": 1})
    assert (other.row, other.message) == (
        2,
        "ps-01 is in the store already; Model: S320 would become S384",
    )
    assert (taken.row, taken.message) == (2, "ps-01 is already in the store, or was once (a unit)")
    assert "never used again" in taken.mend


def test_later_sheets_refer_to_what_is_in_the_store(store: Store) -> None:
    bring(store, **HOUSE)

    bring(
        store,
        elements="Element,Production,Scenic unit,Tape,Pieces (mm),Lead (m)\nSQ-09,SQ,Ice wall,NW24,1300,5\n",
        cuts="Reel,Length (mm),Element\nR-102,1300,SQ-09\nR-102,750,SQ-07\n",
        feeds="Element,Supply,Output,Decoder,Channels\nSQ-09,PS-11,4,DC-01,1\nSQ-07,PS-11,3,DC-02,1\n",
    )

    with store.reading() as session:
        reel = session.scalars(select(Reel).where(Reel.tag == "R-102")).one()
        assert (reel.left_pitches, reel.state) == (100 - 26 - 15, ReelState.OPEN)
        assert session.scalar(select(func.count()).select_from(ScenicUnit)) == 1


def test_a_reel_sold_by_the_foot_is_a_hundred_pitches(store: Store) -> None:
    """16.4042 ft is 5.0000 m: 100 pitches of 50 mm, nothing lost to rounding."""
    bring(store, **HOUSE | {"reels": "Reel,Tape,Received (ft)\nR-102,NW24,16.4042\n"})

    with store.reading() as session:
        assert session.scalars(select(Reel)).one().left_pitches == 100
        assert session.scalars(select(Cut)).one().change_pitches == 100


def test_a_reel_is_never_overdrawn(store: Store) -> None:
    cuts = "Cut,Reel,Length (mm),Status\nK-1,R-102,3000,\nK-2,R-102,1300,\nK-3,R-102,1300,{}\n"

    fault = the_fault(store, **HOUSE | {"cuts": cuts.format("")})
    bring(store, **HOUSE | {"cuts": cuts.format("dispute")})

    assert (fault.row, fault.message) == (4, "R-102 has 700 mm left and 1300 mm is asked of it")
    assert "dispute" in fault.mend
    with store.reading() as session:
        assert session.scalars(select(Reel).where(Reel.tag == "R-102")).one().left_pitches == 14
        assert session.scalars(select(Cut.number).where(Cut.is_disputed)).all() == ["K-3"]


def test_a_house_rule_that_nothing_reads_is_refused(store: Store) -> None:
    fault = the_fault(store, house_rules="Rule,Value\nload_factor,0.7\nload_facter,0.7\n")
    bring(store, house_rules="Rule,Value\nload_factor,0.7\n")

    assert (fault.row, fault.message) == (3, "load_facter is not a rule of this house")
    with store.reading() as session:
        assert session.scalars(select(PolicyRow)).one().value == "0.7"


def test_a_bank_of_several_is_unknown_until_it_is_said(store: Store) -> None:
    """The makers' total over two banks says nothing about one of them."""
    heads = "Model,Channels,Total (A),Lowest (V),Highest (V),Power banks,Bank (A)\n"
    bring(store, decoder_models=heads + "TWO,8,20,12,24,2,\nSAID,8,20,12,24,2,10\nONE,8,20,12,24,,\n")

    fault = the_fault(store, decoder_models=heads + "ODD,5,20,12,24,2,\n")

    assert fault.message == "5 channels cannot be shared out evenly over 2 banks"
    with store.reading() as session:
        banks = {
            m.tag: [(b.first_channel, b.channels, b.total_a) for b in m.banks]
            for m in session.scalars(select(DecoderModel))
        }
    assert banks == {
        "TWO": [(1, 4, None), (5, 4, None)],
        "SAID": [(1, 4, 10.0), (5, 4, 10.0)],
        "ONE": [(1, 8, 20.0)],
    }


def test_a_production_in_a_house_with_several_stages_must_say_which(store: Store) -> None:
    venues = "Venue,Mains (V)\nSlipway,120\nNet Loft,120\n"
    unsaid = the_fault(store, venues=venues, productions="Code,Load-in,Closing\nSQ,2026-11-09,2027-01-10\n")
    wrong = the_fault(
        store, venues=venues, productions="Code,Venue,Load-in,Closing\nSQ,Slip Way,2026-11-09,2027-01-10\n"
    )

    assert unsaid.message == "the venue is not said and there are several"
    assert wrong.mend == "Nearest is SLIPWAY."


def test_a_venue_named_in_a_house_without_any_is_made_with_a_remark(store: Store) -> None:
    brought = bring(store, productions="Code,Venue,Load-in,Closing\nSQ,Barn,2026-11-09,2027-01-10\n")

    assert "venue 'Barn' was made" in brought.remarks[0]
    with store.reading() as session:
        assert session.scalars(select(Venue.name)).all() == ["Barn"]


def test_units_of_one_kind_are_not_made_from_models_of_another(store: Store) -> None:
    fault = the_fault(store, **HOUSE | {"decoders": "Tag,Model\nDC-01,S320\nDC-02,D4\n"})

    assert (fault.message, fault.mend) == ("S320 is a supply model", "Name a decoder model.")


def test_a_unit_without_a_bin_belongs_to_the_store(store: Store) -> None:
    bring(store, **HOUSE)

    with store.reading() as session:
        homes = {u.tag: u.home_id is None for u in session.scalars(select(Unit))}
    assert homes == {
        "PS-01": False,
        "PS-11": False,
        "DC-01": True,
        "DC-02": True,
        "BT-01": True,
        "EN-1": True,
    }


def test_the_list_of_faults_has_an_end(store: Store) -> None:
    sheet = "Tag,Model\n" + "".join(f"PS-{n},NONE\n" for n in range(700))

    with pytest.raises(BadSheets) as refusal:
        bring(store, supplies=sheet)
    assert len(refusal.value.errors) == 500


def test_a_cell_holds_no_control_characters_but_may_hold_ends_of_lines(store: Store) -> None:
    heads, models = "Tag,Model,State,State note\n", HOUSE["supply_models"]
    fault = the_fault(store, supply_models=models, supplies=f"{heads}PS-1,S320,faulty,a\x07b\n")
    assert (fault.column, fault.message) == ("State note", "text without control characters is expected")
    bring(store, supply_models=models, supplies=f'{heads}PS-1,S320,faulty,"hums\n loudly"\n')
    with store.lookup() as connection:
        assert connection.scalar(select(Unit.state_note)) == "hums loudly"
