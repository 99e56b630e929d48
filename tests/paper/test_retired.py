"""What is out of use is so in the sheets too: by its day, the rules of every other door, and in one go."""

from datetime import date

import pytest
from sqlalchemy import select

from service.errors import BadSheets
from service.kinds import actions
from service.kinds.actions import Hand
from service.kinds.kind import Kind
from service.kinds.registry import KINDS
from service.paper.bring_in import Brought, bring_in
from service.season.records import Production
from service.shows.records import Element
from service.stock.fittings import Connector
from service.stock.gear import GearModel, Unit, UnitState
from service.stock.records import Outlet, Place, Reel, Tape
from service.store.audit import AuditEntry
from service.store.base import Tagged
from service.store.work import Store
from tests.paper.house import HOUSE, TODAY, bring, read, the_fault

CONNECTORS = "Connector,Retired on\nX4-F,2026-10-03\nX4-M,\n"
RECORDS: tuple[type[Tagged], ...] = (
    Place,
    Connector,
    Tape,
    GearModel,
    Unit,
    Outlet,
    Reel,
    Production,
    Element,
)

FED = {
    "feeds": "Element,Run,Supply,Decoder,Channels\nSQ-01,1,PS-01,DC-01,1-4\n",
    "gear_on_stage": "Production,Tag,Place\nSQ,PS-01,SL-DR\nSQ,DC-01,SL-DR\n",
}


def edit(store: Store, **sheets: str) -> Brought:
    """Sheets that may change what is there."""
    reading = read(sheets)
    return store.write(lambda s: bring_in(s, reading.sheets, "crew", TODAY, may_change=True), "crew")


def refused(store: Store, **sheets: str) -> list[tuple[str, int | None, str | None, str]]:
    with pytest.raises(BadSheets) as refusal:
        edit(store, **sheets)
    return [(e.sheet, e.row, e.column, e.message) for e in refusal.value.errors]


def retired(store: Store) -> dict[str, date]:
    """Every retired thing by its tag."""
    with store.reading() as session:
        return {
            thing.tag: thing.retired_on
            for record in RECORDS
            for thing in session.scalars(select(record))
            if thing.retired_on is not None
        }


@pytest.mark.parametrize("kind", [k for k in KINDS if k.is_retirable], ids=lambda kind: kind.name)
def test_the_list_of_every_kind_that_can_be_retired_tells_the_day(kind: Kind) -> None:
    assert kind.listing is not None
    assert "retired_on" in {field.name for field in kind.listing.fields}
    assert kind.sheet_columns[-1].name == "Retired on"


def test_what_comes_in_retired_is_retired_from_the_day_said_and_was_never_in_use(store: Store) -> None:
    bring(store, connectors=CONNECTORS)
    assert retired(store) == {"X4-F": date(2026, 10, 3)}
    with store.reading() as session:
        entries = select(AuditEntry.what, AuditEntry.after).where(AuditEntry.tag == "X4-F")
        assert [(what, after["retired_on"]) for what, after in session.execute(entries)] == [
            ("made", "2026-10-03")
        ]


def test_a_day_that_is_still_to_come_is_refused(store: Store) -> None:
    fault = the_fault(store, connectors="Connector,Retired on\nX4-F,2026-11-26\n")
    assert (fault.row, fault.column) == (2, "Retired on")
    assert fault.message == "2026-11-26 is still to come"


def test_a_day_takes_a_thing_out_of_use_and_a_cleared_one_brings_it_back(store: Store) -> None:
    bring(store, connectors=CONNECTORS)
    done = edit(store, connectors="Connector,Retired on\nX4-F,\nX4-M,2026-11-20\n")
    assert [(c.thing, c.column, c.before, c.after) for c in done.changes] == [
        ("X4-F", "Retired on", "2026-10-03", ""),
        ("X4-M", "Retired on", "", "2026-11-20"),
    ]
    assert retired(store) == {"X4-M": date(2026, 11, 20)}


def test_a_sheet_without_the_column_leaves_what_is_retired_alone(store: Store) -> None:
    bring(store, connectors=CONNECTORS)
    edit(store, connectors="Connector,Note\nX4-F,thread is worn\n")
    assert retired(store) == {"X4-F": date(2026, 10, 3)}


def test_a_model_keeps_a_connector_that_is_retired(store: Store) -> None:
    models = HOUSE["decoder_models"].replace(
        "Model,", "Output connector,Model,").replace("\nD4", "\nX4-F,D4")  # fmt: skip
    bring(store, connectors=CONNECTORS, decoder_models=models)
    edit(store, decoder_models="Model,Channels,Lowest,Highest,Note\nD4,4,12,24,runs warm\n")
    with store.reading() as session:
        connector = session.scalars(select(Connector).where(Connector.tag == "X4-F")).one()
        assert connector.retired_on == date(2026, 10, 3)
    assert refused(
        store, decoder_models="Model,Channels,Lowest,Highest,Control connector\nD4,4,12,24,X4-F\n"
    ) == [("decoder models", 2, "Control connector", "X4-F is retired")]


def test_a_unit_is_retired_by_its_day_or_by_its_state(store: Store) -> None:
    bring(store, **HOUSE)
    done = edit(
        store, supplies="Tag,Model,State,Retired on\nPS-01,S320,good,2026-11-01\nPS-11,S384,retired,\n"
    )
    assert [(c.thing, c.column, c.before, c.after) for c in done.changes] == [
        ("PS-01", "State", "good", "retired"),
        ("PS-01", "Retired on", "", "2026-11-01"),
        ("PS-11", "State", "good", "retired"),
        ("PS-11", "Retired on", "", "2026-11-25"),
    ]
    assert retired(store) == {"PS-01": date(2026, 11, 1), "PS-11": TODAY}
    with store.reading() as session:
        assert set(session.scalars(select(Unit.state).where(Unit.tag.startswith("PS")))) == {
            UnitState.RETIRED
        }


def test_a_unit_that_comes_in_retired_has_that_state(store: Store) -> None:
    bring(
        store,
        **HOUSE | {"supplies": "Tag,Model,Retired on\nPS-01,S320,2026-11-01\n"},
        faults="Unit,Symptom,Found on\nPS-01,hums,2026-10-30\n",
    )
    assert retired(store) == {"PS-01": date(2026, 11, 1)}
    with store.reading() as session:
        assert session.scalars(select(Unit.state).where(Unit.tag == "PS-01")).one() == UnitState.RETIRED


def test_a_state_and_a_day_that_contradict_each_other_are_refused(store: Store) -> None:
    bring(store, **HOUSE | {"supplies": "Tag,Model,State\nPS-01,S320,retired\nPS-11,S384,good\n"})
    came_back = "PS-01 would come back, and its state is retired"
    assert refused(store, supplies="Tag,Model,State,Retired on\nPS-01,S320,retired,\n") == [
        ("supplies", 2, "State", came_back)
    ]
    assert refused(store, supplies="Tag,Model,State,Retired on\nPS-01,S320,good,2026-11-25\n") == [
        ("supplies", 2, "State", "PS-01 is good, and retired on 2026-11-25")
    ]
    assert refused(store, supplies="Tag,Model,State,Retired on\nPS-12,S320,good,2026-11-20\n") == [
        ("supplies", 2, "State", "PS-12 is good, and retired on 2026-11-20")
    ]
    done = edit(store, supplies="Tag,Model,State\nPS-01,S320,good\n")
    assert [(c.column, c.before, c.after) for c in done.changes] == [
        ("State", "retired", "good"),
        ("Retired on", "2026-11-25", ""),
    ]
    assert retired(store) == {}


def test_what_feeds_a_show_is_not_retired_by_a_sheet(store: Store) -> None:
    bring(store, **HOUSE | FED)
    for sheet, column in (
        ("Tag,Model,Retired on\nPS-01,S320,2026-11-25\n", "Retired on"),
        ("Tag,Model,State\nPS-01,S320,retired\n", "State"),
    ):
        ((_, row, at, message),) = refused(store, supplies=sheet)
        assert (row, at) == (2, column)
        assert message.startswith("PS-01 feeds SQ-01")
    assert retired(store) == {}


def test_gear_moves_away_and_is_retired_with_its_model_and_bin_in_one_import(store: Store) -> None:
    bring(store, **HOUSE | FED)
    edit(
        store,
        places="Place,Inside,Retired on\nB1,SL-DR,2026-11-25\nSL-DR,,\n",
        supply_models="Model,Volts,Rated,Retired on\nS320,24,320,2026-11-25\n",
        supplies="Tag,Model,Bin,Retired on\nPS-01,S320,,2026-11-25\nPS-11,S384,,\n",
        feeds="Element,Run,Supply,Output\nSQ-01,1,PS-11,1\n",
    )
    assert retired(store) == {"B1": TODAY, "S320": TODAY, "PS-01": TODAY}


def test_what_comes_in_retired_though_a_show_needs_it_is_said(store: Store) -> None:
    house = HOUSE | FED | {"supplies": "Tag,Model,Retired on\nPS-01,S320,2026-11-01\n"}
    (said,) = [remark for remark in bring(store, **house).remarks if "retired" in remark]
    assert said.startswith("PS-01 comes in retired, and PS-01 feeds SQ-01")


def test_the_tag_of_a_scenic_unit_that_was_taken_out_is_never_used_again(store: Store) -> None:
    bring(store, places="Place,Kind,Retired on\nSQ-WALL,scenic unit,2026-11-01\n")
    assert retired(store) == {"SQ-WALL": date(2026, 11, 1)}
    assert refused(store, places="Place,Kind,Retired on\nSQ-WALL,scenic unit,\n") == [
        ("places", 2, "Kind", "SQ-WALL would be a scenic unit of no production")
    ]


def test_a_reel_with_tape_on_it_is_not_retired_by_a_sheet_until_it_is_cut_away(store: Store) -> None:
    bring(store, **HOUSE)
    reels = "Reel,Tape,Retired on\nR-101,RGBW24,2026-11-25\n"
    assert refused(store, reels=reels) == [("reels", 2, "Retired on", "R-101 has tape left on it")]
    edit(store, reels=reels, cuts="Reel,Length (m)\nR-101,5\n")
    with store.reading() as session:
        assert session.scalars(select(Reel.retired_on).where(Reel.tag == "R-101")).one() == TODAY


def test_what_is_retired_through_another_door_is_written_out_as_it_is(store: Store) -> None:
    bring(store, **HOUSE | {"places": HOUSE["places"] + "B2,bin,\n"})
    places = next(kind for kind in KINDS if kind.record is Place)
    with store.writing("crew") as session:
        actions.retire(session, places, "B2", None, Hand("crew", date(2026, 11, 20)))
    again = edit(store, places="Place,Retired on\nB2,2026-11-20\n")
    assert (again.changes, again.same["places"]) == ((), 1)
