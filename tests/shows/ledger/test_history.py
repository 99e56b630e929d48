"""The life of a reel: every length of it can be followed to where it is now."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date

import pytest
from sqlalchemy import event
from sqlalchemy.orm import Session

from service.errors import NotFound
from service.shows.ledger import doing
from service.shows.ledger.doing import Doer
from service.shows.ledger.history import history
from service.shows.ledger.schemas import (
    BackAsk,
    CutAsk,
    HistoryOut,
    JoinAsk,
    OffcutAsk,
    RecountAsk,
    RecoverAsk,
)
from service.shows.records import ElementStatus
from service.stock.records import ReelState
from service.store.work import Store
from tests import builders as build

DOER = Doer("bench", date(2026, 11, 25))


@pytest.fixture
def life(store: Store) -> Store:
    """R-1: a piece cut and struck, a cut taken back, two offcuts, one joined on to the other."""
    with store.writing("bench") as session:
        tape = build.a_tape(session, tag="T-50")
        show = build.a_production(session, tag="SQ")
        perch = build.a_place(session, tag="PERCH")
        element = build.an_element(session, show, ((4,), (6, 10)), tag="SQ-7", tape=tape, place_id=perch.id)
        build.a_reel(session, tape, tag="R-1", lot="A", state=ReelState.OPEN)
        doing.cut(session, "R-1", CutAsk(element="SQ-7", piece="3"), DOER)  # K-001, 10 pitches
        doing.cut(session, "R-1", CutAsk(length_m=1), DOER)  # K-002
        doing.take_back(session, "K-002", BackAsk(), DOER)  # K-003
        for length in (1.5, 1.0):  # K-004, R-03: K-005
            doing.make_offcut(session, "R-1", OffcutAsk(length_m=length), DOER)
        doing.join(session, "R-02", JoinAsk(other="R-03"), DOER)  # K-006, K-007
        doing.make_offcut(session, "R-02", OffcutAsk(length_m=0.5), DOER)  # K-008
        doing.recount(session, "R-1", RecountAsk(length_m=1.9), DOER)  # K-009
        element.status = ElementStatus.STRUCK
        session.flush()
        doing.recover(session, "SQ-7", RecoverAsk(piece="3", length_m=0.4), DOER)  # K-010
    return store


def told(store: Store, tag: str) -> HistoryOut:
    with store.reading() as session:
        return history(session, tag)


def test_every_row_says_what_was_left_after_it_and_where_its_length_is(life: Store) -> None:
    rows = told(life, "r-1").rows
    assert [(r.number, r.kind, r.change_m, r.left_m, r.other) for r in rows] == [
        (None, "opening", 5.0, 5.0, None),
        ("K-001", "piece", -0.5, 4.5, None),
        ("K-002", "scrap", -1.0, 3.5, None),
        ("K-003", "returned", 1.0, 4.5, None),
        ("K-004", "offcut", -1.5, 3.0, "R-02"),
        ("K-005", "offcut", -1.0, 2.0, "R-03"),
        ("K-009", "recount", -0.1, 1.9, None),
    ]
    piece, thrown, back = rows[1:4]
    assert (piece.production, piece.element, piece.run, piece.piece) == ("SQ", "SQ-7", 2, "3")
    assert (piece.element_status, piece.element_place, piece.came_back_as) == ("struck", "PERCH", "R-05")
    assert (thrown.undone_by, back.undoes) == ("K-003", "K-002")


def test_it_ends_up_the_tree_and_down_it(life: Store) -> None:
    root, offcut, grandchild = told(life, "R-1"), told(life, "R-02"), told(life, "R-04")
    assert [kin.tag for kin in root.above] == []
    assert {kin.tag: kin.parent for kin in root.below} == {
        "R-02": "R-1", "R-03": "R-1", "R-05": "R-1", "R-04": "R-02",
    }  # fmt: skip
    assert [kin.tag for kin in offcut.above] == ["R-1"]
    assert [(kin.tag, kin.parent, kin.left_m) for kin in grandchild.above] == [
        ("R-02", "R-1", 2.0),
        ("R-1", None, 1.9),
    ]
    assert [(r.kind, r.change_m, r.other) for r in offcut.rows] == [
        ("opening", 1.5, "R-1"), ("joined", 1.0, "R-03"), ("offcut", -0.5, "R-04"),
    ]  # fmt: skip
    assert [(j.from_hub_m, j.kind, j.is_there) for j in offcut.joints] == [(1.5, "made", True)]
    assert [(r.kind, r.change_m, r.other) for r in told(life, "R-03").rows] == [
        ("opening", 1.0, "R-1"), ("joined", -1.0, "R-02"),
    ]  # fmt: skip
    recovered = told(life, "R-05").rows
    assert [(r.kind, r.left_m, r.other, r.element, r.piece) for r in recovered] == [
        ("returned", 0.4, "R-1", "SQ-7", "3")
    ]


def test_a_disputed_row_leaves_what_is_left_alone(store: Store) -> None:
    with store.writing("bench") as session:
        build.a_cut(session, build.a_reel(session, tag="R-1"), 30, number="K-1", is_disputed=True)
    rows = told(store, "R-1").rows
    assert [(r.is_disputed, r.change_m, r.left_m) for r in rows] == [(False, 5.0, 5.0), (True, -1.5, 5.0)]


def test_a_reel_that_is_not_there_is_refused(store: Store) -> None:
    with pytest.raises(NotFound, match="there is no reel R-9"):
        told(store, "R-9")


@contextmanager
def counted(store: Store) -> Iterator[list[str]]:
    said: list[str] = []

    def note(_c: object, _k: object, statement: str, *_: object) -> None:
        said.append(statement)

    event.listen(store.engine, "before_cursor_execute", note)
    try:
        yield said
    finally:
        event.remove(store.engine, "before_cursor_execute", note)


def test_a_long_life_takes_as_many_statements_as_a_short_one(life: Store) -> None:
    with counted(life) as few:
        told(life, "R-1")
    with life.writing("bench") as session:
        _live_on(session)
    with counted(life) as many:
        told(life, "R-1")
    assert 0 < len(many) == len(few) <= 12


def _live_on(session: Session) -> None:
    for n in range(8):
        doing.cut(session, "R-1", CutAsk(length_m=0.1, note=str(n)), DOER)
        doing.make_offcut(session, "R-1", OffcutAsk(length_m=0.05), DOER)


def test_a_cut_takes_as_many_statements_on_a_long_ledger_as_on_a_short_one(life: Store) -> None:
    def cost() -> int:
        with counted(life) as said, life.writing("bench") as session:
            doing.cut(session, "R-1", CutAsk(length_m=0.05), DOER)
        return len(said)

    few = cost()
    with life.writing("bench") as session:
        _live_on(session)
    assert 0 < cost() == few
