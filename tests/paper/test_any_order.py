"""Rows of a sheet may stand in any order: what a row names in its own sheet may come further down."""

from sqlalchemy import select
from sqlalchemy.orm import aliased

from service.shows.records import ScenicUnit
from service.stock.records import Place, PlaceKind, Reel
from service.store.work import Store
from tests.paper.house import HOUSE, bring, the_fault, the_faults

NOTES = "About,Text\nLH-1,flickers\n"


def insides(store: Store) -> dict[str, str | None]:
    """Each place, and the place it is in."""
    around = aliased(Place)
    query = select(Place.tag, around.tag).outerjoin(around, Place.parent_id == around.id)
    with store.reading() as session:
        return dict(session.execute(query.order_by(Place.tag_key)).all())


def test_a_place_may_stand_inside_one_that_comes_later_in_the_sheet(store: Store) -> None:
    bring(store, places="Place,Inside\nSL-DR,SL\nSL,ST\nA1,ST\nST,\n")
    assert insides(store) == {"A1": "ST", "SL": "ST", "SL-DR": "SL", "ST": None}


def test_places_that_stand_inside_each_other_are_refused_and_only_they(store: Store) -> None:
    faults = the_faults(store, places="Place,Inside\nA,B\nB,C\nC,A\nD,C\nE,E\nF,\n")
    assert [(f.row, f.column, f.message) for f in faults] == [
        (2, "Inside", "A would stand inside itself"),
        (3, "Inside", "B would stand inside itself"),
        (4, "Inside", "C would stand inside itself"),
        (6, "Inside", "E would stand inside itself"),
    ]


def test_a_place_may_stand_inside_a_scenic_unit_of_a_later_sheet(store: Store) -> None:
    house = HOUSE | {
        "places": "Place,Kind,Inside\nB1,bin,TOWER-BOX\nSL-DR,stage,\nTOWER-BOX,bin,SQ-TOWER\n",
        "reaches": "Place,Gear at\nSQ-TOWER,SL-DR\n",
        "scenic_units": (
            "Production,Scenic unit,Motion,Place,Tag\n"
            "SQ,Ice wall,static,SL-DR,SQ-WALL\nSQ,Tower,static,SL-DR,SQ-TOWER\n"
        ),
    }
    bring(store, **house)
    assert insides(store) == {
        "B1": "TOWER-BOX",
        "SL-DR": None,
        "SQ-TOWER": "SL-DR",
        "SQ-WALL": "SL-DR",
        "TOWER-BOX": "SQ-TOWER",
    }
    units = select(ScenicUnit.name, Place.tag, Place.kind, Place.name).join(
        Place, ScenicUnit.place_id == Place.id
    )
    with store.reading() as session:
        assert session.execute(units.order_by(Place.tag)).all() == [
            ("Tower", "SQ-TOWER", PlaceKind.SCENIC_UNIT, "Tower"),
            ("Ice wall", "SQ-WALL", PlaceKind.SCENIC_UNIT, "Ice wall"),
        ]


def test_a_reel_may_be_cut_from_one_that_comes_later_in_the_sheet(store: Store) -> None:
    bring(
        store,
        **HOUSE
        | {
            "reels": (
                "Reel,Tape,Received (m),Cut from\n"
                "R-1,NW24,1,R-2\nR-2,NW24,2,R-3\nR-3,NW24,5,\nR-4,NW24,1,R-3\n"
            )
        },
    )
    parent = aliased(Reel)
    query = select(Reel.tag, parent.tag).outerjoin(parent, Reel.parent_id == parent.id)
    with store.reading() as session:
        assert dict(session.execute(query).all()) == {
            "R-1": "R-2",
            "R-2": "R-3",
            "R-3": None,
            "R-4": "R-3",
        }


def test_reels_that_are_cut_from_each_other_are_refused(store: Store) -> None:
    faults = the_faults(
        store,
        tapes=HOUSE["tapes"],
        reels="Reel,Tape,Received (m),Cut from\nR-1,NW24,1,R-2\nR-2,NW24,2,R-1\n",
    )
    assert [(f.row, f.column, f.message) for f in faults] == [
        (2, "Cut from", "R-1 would be cut from itself"),
        (3, "Cut from", "R-2 would be cut from itself"),
    ]


def test_a_remark_about_a_thing_of_the_same_import_is_not_at_fault_for_another_row(store: Store) -> None:
    element = "Element,Production,Tape,Pieces (mm)\nLH-1,SQ,NW24,750\n"
    fault = the_fault(
        store, **HOUSE | {"elements": element, "remarks": NOTES, "outlets": "Outlet,Place\nMD1,B9\n"}
    )
    assert (fault.sheet, fault.message) == ("outlets", "B9 is not a place that is known here")


def test_a_remark_about_a_thing_whose_own_row_is_at_fault_is_not_at_fault_too(store: Store) -> None:
    element = "Element,Production,Tape,Pieces (mm)\nLH-1,SQ,NW24,about a metre\n"
    assert the_fault(store, **HOUSE | {"elements": element, "remarks": NOTES}).sheet == "elements"


def test_a_remark_about_nothing_is_refused_beside_other_faults(store: Store) -> None:
    faults = the_faults(store, **HOUSE | {"remarks": NOTES, "outlets": "Outlet,Place\nMD1,B9\n"})
    assert [fault.sheet for fault in faults] == ["outlets", "remarks"]


def test_a_sheet_without_its_tags_is_refused_once_and_not_by_what_refers_to_it(store: Store) -> None:
    house = HOUSE | {"places": "Kind,Venue\nbin,\n"}
    assert [(f.sheet, f.message) for f in the_faults(store, **house)] == [
        ("places", "this column is missing")
    ]


def test_tape_brought_back_is_not_missed_when_something_else_is_at_fault(store: Store) -> None:
    cuts = "Cut,Reel,Length (m),Undoes\nK-1,R-101,4,\nK-2,R-101,4,K-1\nK-3,R-101,4,\n"
    fault = the_fault(store, **HOUSE | {"cuts": cuts, "outlets": "Outlet,Place\nMD1,B9\n"})
    assert fault.sheet == "outlets"
