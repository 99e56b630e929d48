"""Good rows told from bad ones, and a whole import taken back, on both databases."""

from collections.abc import Sequence
from datetime import date, datetime

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

import seed_demo
from service.errors import BadSheets, InUse, NotFound
from service.paper.bring_in import NAMES, Brought, bring_in
from service.paper.files.raw import RawSheet
from service.paper.fitting.looking import Looked, look
from service.paper.fitting.tables import Table, tables_of
from service.paper.out.tables import everything_out
from service.paper.reading import read_path
from service.paper.taking_back import take_back
from service.shows.records import Element
from service.store.audit import AuditEntry
from service.store.base import TagEntry
from service.store.types import utc_now
from service.store.work import Store

TODAY = date(2026, 11, 25)
ELEMENTS = "Element,Production,Tape,Pieces\nSQ-31,SQ,NW24,2 x 800 mm\nSQ-32,SQ,NW24,1 m\n"


def tables(**files: str) -> list[Table]:
    return [table for name, text in files.items() for table in tables_of(text.encode(), f"{name}.csv")[0]]


def looked(store: Store, given: Sequence[Table], may_change: bool = False) -> Looked:
    def attempt(sheets: Sequence[RawSheet]) -> Brought:
        with store.supposing("t") as session:
            return bring_in(session, sheets, "t", TODAY, may_change)

    return look(given, attempt)


def brought(store: Store, may_change: bool = False, **files: str) -> datetime:
    sheets = [table.raw() for table in tables(**files)]

    def action(session: Session) -> datetime:
        bring_in(session, sheets, "deputy", TODAY, may_change)
        return utc_now()

    return store.write(action, "deputy")


def everything(store: Store) -> dict[str, list[list[str]]]:
    """All that the house has on record, but for versions, which only grow."""
    with store.reading() as session:
        return {
            sheet.kind.name: [
                [cell for head, cell in zip(sheet.heads, row, strict=True) if head != "Version"]
                for row in sheet.rows
            ]
            for sheet in everything_out(session, [])
        }


def test_rows_that_are_ready_are_told_from_those_that_need_somebody(season: Store) -> None:
    text = ELEMENTS + "SQ-33,SQ,Warmish,1 m\n,SQ,NW24,1 m\nSQ-34,SQ,NW24,about 8\n"
    found = looked(season, tables(elements=text))
    assert found.ready == 2
    assert found.brought is not None
    assert [(row.number, [fault.at for fault in row.faults]) for row in found.bad] == [
        (4, [2]), (5, [0]), (6, [3]),
    ]  # fmt: skip
    assert "Warmish is not a tape" in found.bad[0].faults[0].message


def test_what_rests_on_a_bad_row_is_bad_too(season: Store) -> None:
    models = "Model,Volts,Rated W\nS900,24,many\nS901,24,900\n"
    supplies = "Tag,Model\nPS-91,S900\nPS-92,S901\n"
    found = looked(season, tables(supply_models=models, supplies=supplies))
    assert [(row.table, row.number) for row in found.bad] == [(0, 2), (1, 2)]
    assert found.ready == 2


def test_a_table_without_a_column_it_must_have_is_refused_as_a_whole(season: Store) -> None:
    found = looked(season, tables(elements="Element,Tape\nSQ-31,NW24\n"))
    assert (found.ready, found.brought) == (0, None)
    assert [error.column for _, error in found.whole] == ["Production"]


def test_what_no_one_row_is_to_blame_for_is_said_of_the_table(changing_season: Store) -> None:
    text = "Element,Production,Pieces,Lead,Lead gauge,Feed style\nSQ-18,SQ,500 mm,6 m,20 AWG,one\n"
    found = looked(changing_season, tables(elements=text), may_change=True)
    assert (found.ready, found.bad) == (0, ())
    assert [error.message for _, error in found.whole] != []


def test_a_sheet_that_comes_twice_is_refused_and_nothing_of_it_is_lost(store: Store) -> None:
    both = [*tables(elements=ELEMENTS), *tables(elements=ELEMENTS)]
    with store.supposing("t") as session, pytest.raises(BadSheets) as refused:
        bring_in(session, [table.raw() for table in both], "t", TODAY)
    assert [(one.sheet, one.message) for one in refused.value.errors] == [
        ("elements", "this sheet came twice")
    ]


def test_looking_stores_nothing(season: Store) -> None:
    before = everything(season)
    assert looked(season, tables(elements=ELEMENTS)).ready == 2
    assert everything(season) == before


def test_a_batch_is_taken_back_whole_and_can_come_again(changing_season: Store) -> None:
    before = everything(changing_season)
    at = brought(changing_season, elements=ELEMENTS)
    assert everything(changing_season) != before
    undone = changing_season.write(lambda session: take_back(session, at, "deputy"), "deputy")
    assert (undone.gone, undone.restored) == (8, 0)  # 2 elements, 3 runs of a piece each
    assert everything(changing_season) == before
    with changing_season.reading() as session:
        rows = select(AuditEntry.what).where(AuditEntry.tag == "SQ-31").order_by(AuditEntry.id)
        told = session.scalars(rows).all()
    assert list(told) == ["made", "removed"]
    brought(changing_season, elements=ELEMENTS)  # its tags were never printed: they may come again


def test_what_a_batch_changed_is_as_it_was(changing_season: Store) -> None:
    before = everything(changing_season)
    text = "Element,Production,Name,Lead\nSQ-01,SQ,Ice wall one,6 m\nSQ-02,SQ,Ice wall two,7 m\n"
    fewer = "Element,Production,Pieces,Lead,Lead gauge,Feed style\nTW-05,TW,500 mm,6 m,20 AWG,one\n"
    notes = "Tag,Model,State note\nPS-01,S320,hums\n"
    at = brought(changing_season, True, elements=text, supplies=notes)
    again = brought(changing_season, True, elements=fewer)
    assert everything(changing_season) != before
    changing_season.write(lambda session: take_back(session, again, "deputy"), "deputy")
    changing_season.write(lambda session: take_back(session, at, "deputy"), "deputy")
    assert everything(changing_season) == before


def test_a_whole_season_is_taken_back(store: Store) -> None:
    empty = everything(store)
    sheets = read_path(seed_demo.folder(), NAMES).sheets

    def action(session: Session) -> datetime:
        bring_in(session, sheets, "deputy", TODAY)
        return utc_now()

    at = store.write(action, "deputy")
    assert sum(map(len, everything(store).values())) > 500
    store.write(lambda session: take_back(session, at, "deputy"), "deputy")
    assert everything(store) == empty
    with store.reading() as session:
        assert session.scalars(select(TagEntry)).all() == []
    store.write(action, "deputy")  # every tag, code and number is free again
    assert sum(map(len, everything(store).values())) > 500


def test_what_somebody_changed_since_is_not_taken_back(changing_season: Store) -> None:
    at = brought(changing_season, elements=ELEMENTS)
    with changing_season.writing("somebody") as session:
        session.scalars(select(Element).where(Element.tag == "SQ-31")).one().name = "Rim"
    with pytest.raises(InUse, match="SQ-31 was changed since, by somebody"):
        changing_season.write(lambda session: take_back(session, at, "deputy"), "deputy")


def test_what_something_rests_on_by_now_is_not_taken_back(changing_season: Store) -> None:
    at = brought(changing_season, supply_models="Model,Volts,Rated W\nS900,24,900\n")
    brought(changing_season, supplies="Tag,Model\nPS-91,S900\n")
    before = everything(changing_season)
    with pytest.raises(InUse, match="rests on what came in"):
        changing_season.write(lambda session: take_back(session, at, "deputy"), "deputy")
    assert everything(changing_season) == before


def test_a_ledger_is_not_rewritten(changing_season: Store) -> None:
    at = brought(changing_season, cuts="Reel,Length\nR-111,100 mm\n")
    with pytest.raises(InUse, match="from reels that were on the shelf before"):
        changing_season.write(lambda session: take_back(session, at, "deputy"), "deputy")


def test_a_batch_is_taken_back_once(changing_season: Store) -> None:
    at = brought(changing_season, elements=ELEMENTS)
    changing_season.write(lambda session: take_back(session, at, "deputy"), "deputy")
    with pytest.raises(InUse):
        changing_season.write(lambda session: take_back(session, at, "deputy"), "deputy")
    with pytest.raises(NotFound):
        changing_season.write(lambda session: take_back(session, datetime(2026, 1, 1).astimezone(), "x"), "x")


def test_a_batch_can_be_taken_back_once_a_later_one_on_its_rows_was(changing_season: Store) -> None:
    """The second changed a length that the first had changed, a row that it brought, and runs of both."""
    before = everything(changing_season)
    heads = "Element,Production,Name,Pieces,Lead,Lead gauge,Feed style\n"
    first = heads + "SQ-31,SQ,Sill,2 x 800 mm,,,one\nTW-05,TW,Rail,500 mm,6 m,20 AWG,one\n"
    second = heads + "SQ-31,SQ,Ledge,3 x 700 mm,,,one\nTW-05,TW,Rope,400 mm,7 m,18 AWG,one\n"
    one = brought(changing_season, may_change=True, elements=first)
    between = everything(changing_season)
    two = brought(changing_season, may_change=True, elements=second)
    with pytest.raises(InUse, match="was changed since") as refused:
        changing_season.write(lambda session: take_back(session, one, "deputy"), "deputy")
    assert refused.value.mend.startswith("If a later batch changed it, take that batch back first.")
    changing_season.write(lambda session: take_back(session, two, "deputy"), "deputy")
    assert everything(changing_season) == between
    changing_season.write(lambda session: take_back(session, one, "deputy"), "deputy")
    assert everything(changing_season) == before
