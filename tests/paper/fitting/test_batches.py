"""Batches on record, on both databases: stored once, told by anybody, taken back once."""

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.errors import InUse, NotFound
from service.paper.batches import Adding, Done, add, done, lately, undo
from service.paper.fitting.tables import tables_of
from service.shows.records import Element
from service.store.work import Store
from tests.paper.prints.conftest import TODAY

ELEMENTS = "Element,Production,Tape,Pieces\nSQ-31,SQ,NW24,2 x 800 mm\nSQ-32,SQ,NW24,1 m\n"


def stored(store: Store, token: str, text: str = ELEMENTS, by: str = "deputy") -> Done:
    sheets = [table.raw() for table in tables_of(text.encode(), "elements.csv")[0]]
    adding = Adding(token, ("elements.csv",), sheets, may_change=True, left=1, rest="rest")
    return store.write(lambda session: add(session, adding, by, TODAY), by)


def elements(session: Session) -> int:
    return session.scalar(select(func.count(Element.id)).where(Element.tag.in_(("SQ-31", "SQ-32")))) or 0


def test_a_batch_is_stored_once_and_told_again_as_it_was(changing_season: Store) -> None:
    first = stored(changing_season, "a")
    assert (first.new, first.changed, first.left, first.rest, first.by) == (2, 0, 1, "rest", "deputy")
    assert stored(changing_season, "a", by="somebody") == first
    with changing_season.reading() as session:
        assert done(session, "a") == first
        assert done(session, "b") is None
        assert elements(session) == 2


def test_the_newest_stands_first(changing_season: Store) -> None:
    stored(changing_season, "a")
    renamed = stored(changing_season, "b", "Element,Production,Name\nSQ-01,SQ,Ice wall one\n")
    same = stored(changing_season, "c", "Element,Production,Name\nSQ-01,SQ,Ice wall one\n")
    assert (renamed.new, renamed.changed, renamed.wrote) == (0, 1, True)
    assert not same.wrote
    with changing_season.reading() as session:
        assert [one.token for one in lately(session)] == ["c", "b", "a"]


def test_a_batch_is_taken_back_once_and_its_sheet_can_come_again(changing_season: Store) -> None:
    stored(changing_season, "a")
    for _ in range(2):
        gone = changing_season.write(lambda session: undo(session, "a"), "somebody")
        assert gone.is_undone
    with changing_season.reading() as session:
        assert elements(session) == 0
        assert [one.is_undone for one in lately(session)] == [True]
    assert stored(changing_season, "b").new == 2


def test_what_was_built_on_since_stays_and_so_does_the_batch(changing_season: Store) -> None:
    stored(changing_season, "a")
    with changing_season.writing("somebody") as session:
        session.scalars(select(Element).where(Element.tag == "SQ-31")).one().name = "Rim"
    with pytest.raises(InUse, match="SQ-31 was changed since, by somebody"):
        changing_season.write(lambda session: undo(session, "a"), "deputy")
    with changing_season.reading() as session:
        told = done(session, "a")
        assert told is not None
        assert not told.is_undone


def test_a_batch_that_nobody_knows_is_refused_with_what_to_do(changing_season: Store) -> None:
    with pytest.raises(NotFound, match="more than a week ago, or never"):
        changing_season.write(lambda session: undo(session, "z"), "deputy")
