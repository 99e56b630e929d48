"""What a row of a show must be for it to come in: cuts, elements, holds, feeds and dates."""

from datetime import date

import pytest
from sqlalchemy import select

from service.season.records import Hold
from service.shows.records import Element, Group, Run
from service.stock.records import Reach
from service.store.work import Store
from tests.paper.house import HOUSE, bring, the_fault


def test_a_cut_off_the_pitch_is_told_the_two_nearest_lengths(store: Store) -> None:
    fault = the_fault(store, **HOUSE | {"cuts": "Reel,Length (mm)\nR-102,1270\n"})

    assert fault.message == "1270 mm is not a whole number of 50 mm cut pitches of NW24"
    assert fault.mend == "Nearest: 1250 mm and 1300 mm."


@pytest.mark.parametrize(
    ("cut", "column", "message"),
    [
        ("R-101,800,SQ-07,1", "Reel", "R-101 is RGBW24, which is not the tape of SQ-07"),
        ("R-102,750,SQ-07,4", "Piece", "SQ-07 has no piece 4"),
        ("R-102,750,SQ-07,left", "Piece", "SQ-07 has no piece left"),
        ("R-109,750,SQ-07,1", "Reel", "R-109 is not a reel that is known here"),
    ],
)
def test_a_cut_must_fit_its_reel_and_its_element(store: Store, cut: str, column: str, message: str) -> None:
    fault = the_fault(store, **HOUSE | {"cuts": f"Reel,Length (mm),Element,Piece\n{cut}\n"})

    assert (fault.column, fault.message) == (column, message)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("2026-10-19", "2026-11-10", "load in 2026-11-09 comes before build start 2026-11-10"),
        ("2027-01-12", "2027-01-09", "strike end 2027-01-09 comes before closing 2027-01-10"),
        ("2027-01-19", "2027-01-11", "return by 2027-01-11 comes before strike end 2027-01-12"),
    ],
)
def test_dates_of_a_production_run_forwards(store: Store, old: str, new: str, message: str) -> None:
    fault = the_fault(store, **HOUSE | {"productions": HOUSE["productions"].replace(old, new)})

    assert (fault.row, fault.message) == (2, message)


@pytest.mark.parametrize(
    ("feed", "column", "message"),
    [
        ("SQ-01,PS-01,2,DC-01,1-4", "Output", "PS-01 has 1 output, and 2 is asked"),
        ("SQ-01,PS-11,5,DC-01,1-4", "Output", "PS-11 has 4 outputs, and 5 is asked"),
        ("SQ-01,PS-01,1,DC-01,1-5", "Channels", "DC-01 has 4 channels, and 5 is asked"),
        ("SQ-01,PS-01,1,DC-01,", "Channels", "the channels of DC-01 are not said"),
        ("SQ-01,PS-01,1,,1-4", "Channels", "channels without a decoder"),
        ("SQ-01,DC-02,1,DC-01,1-4", "Supply", "DC-02 is a decoder"),
        ("SQ-01,PS-01,1,EN-1,1-4", "Decoder", "EN-1 is an enclosure"),
        ("SQ-01,any D4,1,DC-01,1-4", "Supply", "D4 is a decoder"),
        ("SQ-01,any S999,1,DC-01,1-4", "Supply", "S999 is not a model that is known here"),
    ],
)
def test_a_feed_must_be_possible(store: Store, feed: str, column: str, message: str) -> None:
    sheet = f"Element,Supply,Output,Decoder,Channels\n{feed}\n"
    fault = the_fault(store, **HOUSE | {"feeds": sheet})

    assert (fault.column, fault.message) == (column, message)


def test_a_run_is_fed_once(store: Store) -> None:
    sheet = "Element,Run,Supply,Decoder,Channels\nSQ-07,2,PS-01,DC-01,1\nSQ-07,,PS-01,DC-01,1\n"

    assert the_fault(store, **HOUSE | {"feeds": sheet}).message == "SQ-07 run 2 is fed twice: also in row 2"


def test_a_kept_plan_is_not_added_to(store: Store) -> None:
    sheet = "Element,Supply,Decoder,Channels\n{},PS-01,DC-01,1\n"
    bring(store, **HOUSE | {"feeds": sheet.format("SQ-01")})

    fault = the_fault(store, feeds=sheet.format("SQ-07"))

    assert fault.message == "SQ has a kept plan already, and this feed is not in it"


@pytest.mark.parametrize(
    ("element", "column", "message"),
    [
        ("SQ-09,SQ,NW24,30,,,", "Pieces (mm)", "30 mm is shorter than one cut pitch of NW24, 50 mm"),
        ("SQ-09,SQ,NW24,,,,", "Pieces (mm)", "no piece is given"),
        ("SQ-09,SQ,NW24,750,750,,", "Pieces (mm)", "pieces and length are both given"),
        ("SQ-09,SQ,NW24,750,,W X,", "Emitters wired", "NW24 has no emitter 'X'"),
        ("SQ-09,SQ,NW24,750,,,gas", "Needs", "gas is not known"),
        ("SQ-09,SQ,NW42,750,,,", "Tape", "NW42 is not a tape that is known here"),
    ],
)
def test_an_element_must_be_possible(store: Store, element: str, column: str, message: str) -> None:
    heads = "Element,Production,Tape,Pieces (mm),Length (mm),Emitters wired,Needs"
    fault = the_fault(store, **HOUSE | {"elements": f"{heads}\n{element}\n"})

    assert (fault.column, fault.message) == (column, message)


def test_groups_are_made_when_first_named_and_shared_after(store: Store) -> None:
    heads = "Element,Production,Tape,Pieces (mm),Match group,Control group\n"
    rows = "SQ-08,SQ,NW24,750,attic,gang\nSQ-09,SQ,NW24,750,Attic,\n"

    bring(store, **HOUSE | {"elements": heads + rows})

    with store.reading() as session:
        assert {(g.kind.value, g.name) for g in session.scalars(select(Group))} == {
            ("match", "attic"),
            ("control", "gang"),
        }
        first, second = session.scalars(select(Element).order_by(Element.tag))
        assert first.match_group_id == second.match_group_id


def test_fit_rules_turn_drawn_lengths_into_whole_pitches(store: Store) -> None:
    """3 330 mm on a 50 mm pitch: 66 pitches inside, 67 to cover it, and 67 is nearest (33.3 / 50 = 66.6)."""
    heads = "Element,Production,Tape,Pieces (mm),Fit\n"
    rows = "".join(f"SQ-2{n},SQ,NW24,3330,{fit}\n" for n, fit in enumerate(("inside", "cover", "nearest")))

    bring(store, **HOUSE | {"elements": heads + rows})

    with store.reading() as session:
        runs = session.scalars(select(Run).order_by(Run.id))
        assert [run.pieces[0].cut_pitches for run in runs] == [66, 67, 67]


def test_each_run_may_have_a_lead_of_its_own(store: Store) -> None:
    heads = "Element,Production,Tape,Pieces (mm),Lead (m)\n"
    bring(store, **HOUSE | {"elements": heads + "SQ-08,SQ,NW24,3 x 750,5; 2 x 7\n"})

    fault = the_fault(store, elements=heads + "SQ-09,SQ,NW24,3 x 750,5; 7\n")

    assert (fault.column, fault.message) == ("Lead (m)", "2 values for 3 runs")
    with store.reading() as session:
        assert session.scalars(select(Run.lead_um).order_by(Run.number)).all() == [
            5_000_000,
            7_000_000,
            7_000_000,
        ]


def test_reaches_join_two_places_once(store: Store) -> None:
    sheet = "Place,Gear at,Lead (m)\nSL-DR,B1,12\n"
    twice = the_fault(store, **HOUSE | {"reaches": sheet + "sl-dr,b1,\n"})
    bring(store, **HOUSE | {"reaches": sheet})
    again = bring(store, reaches=sheet)
    other = the_fault(store, reaches=sheet.replace("12", "14"))

    assert twice.message == "it comes twice: also in row 2"
    assert (again.counts, again.same) == ({"reaches": 0}, {"reaches": 1})
    assert other.message == "SL-DR B1 is in the store already; Lead (m): 12 would become 14"
    with store.reading() as session:
        assert session.scalars(select(Reach)).one().lead_um == 12_000_000


def test_a_hold_says_what_it_is_by_its_tag_alone(store: Store) -> None:
    bring(
        store,
        **HOUSE
        | {
            "holds": (
                "Hold,Production,What,Count,Length (mm),From,To\n"
                "H-1,SQ,PS-01,,,,\n"
                "H-2,SQ,D4,3,,2026-11-20,2026-11-30\n"
                "H-3,SQ,NW24,,6630,,\n"
                "H-4,SQ,R-101,,300,,\n"
            )
        },
    )

    with store.reading() as session:
        unit, model, tape, reel = session.scalars(select(Hold).order_by(Hold.number))
        assert (unit.quantity, unit.from_on, unit.until_on) == (1, date(2026, 10, 19), date(2027, 1, 20))
        assert (model.quantity, model.from_on, model.until_on) == (3, date(2026, 11, 20), date(2026, 12, 1))
        assert (tape.pitches, tape.until_on) == (133, None)  # 6 630 mm wants 132.6 pitches of 50 mm
        assert (reel.reel_id is not None, reel.pitches) == (True, 3)


@pytest.mark.parametrize(
    ("hold", "column", "message"),
    [
        ("SQ,D4,,,", "Count", "how many of model D4 is not said"),
        ("SQ,NW24,,,", "Length (m)", "how much of NW24 is not said"),
        (
            "SQ,PS-98,,,",
            "What",
            "PS-98 is not known here (looked for: unit, model, tape, reel)",
        ),
        ("SQ,PS-01,,,2026-10-01", "To", "it ends on 2026-10-01, before it starts on 2026-10-19"),
    ],
)
def test_a_hold_must_be_possible(store: Store, hold: str, column: str, message: str) -> None:
    fault = the_fault(store, **HOUSE | {"holds": f"Production,What,Count,Length (m),To\n{hold}\n"})

    assert (fault.column, fault.message) == (column, message)
