"""Transactions: nothing half written, nothing lost, every change on record."""

import threading
from pathlib import Path

import pytest
from sqlalchemy import select

from service.errors import AlreadyExists, ReelTooShort, Stale, StoreUnavailable
from service.stock.records import Place, PlaceKind, Reel, ReelState, Tape
from service.store.audit import AuditEntry
from service.store.base import TagEntry
from service.store.work import Store


def a_bin(tag: str) -> Place:
    return Place(tag=tag, name="bin", kind=PlaceKind.BIN)


def a_reel(store: Store, left_pitches: int = 100) -> int:
    def action(session):  # type: ignore[no-untyped-def]
        tape = Tape(tag="T-ONE", nominal_v=24, class_v=24, polarity="common positive", pitch_um=50_000)
        session.add(tape)
        session.flush()
        reel = Reel(tag="R-1", tape_id=tape.id, state=ReelState.SEALED, left_pitches=left_pitches)
        session.add(reel)
        session.flush()
        return reel.id

    found: int = store.write(action, by="bench")
    return found


def test_a_failed_write_leaves_nothing(store: Store) -> None:
    with pytest.raises(RuntimeError), store.writing("crew") as session:
        session.add(a_bin("A1"))
        session.flush()
        raise RuntimeError
    with store.reading() as session:
        assert session.scalars(select(Place)).all() == []
        assert session.scalars(select(TagEntry)).all() == []
        assert session.scalars(select(AuditEntry)).all() == []


def test_every_change_says_who_what_before_and_after(store: Store) -> None:
    with store.writing("crew") as session:
        place = a_bin("A1")
        session.add(place)
        session.flush()
        place.name = "upper shelf"
    with store.reading() as session:
        made, changed = session.scalars(select(AuditEntry).order_by(AuditEntry.id)).all()
        assert (made.by, made.what, made.kind, made.tag) == ("crew", "made", "places", "A1")
        assert changed.before == {"name": "bin"}
        assert changed.after == {"name": "upper shelf"}
        assert changed.at.utcoffset() is not None


def test_a_tag_is_never_used_again_in_any_letter_case(store: Store) -> None:
    with store.writing("crew") as session:
        session.add(a_bin("A1"))
    with pytest.raises(AlreadyExists, match="in use"), store.writing("crew") as session:
        session.add(a_bin("a1"))
    with store.writing("crew") as session:
        session.delete(session.scalars(select(Place)).one())
    with pytest.raises(AlreadyExists), store.writing("crew") as session:
        session.add(a_bin("A1"))


def test_two_who_change_the_same_thing_do_not_overwrite_each_other(store: Store) -> None:
    with store.writing("crew") as session:
        session.add(a_bin("A1"))
    with store.reading() as session:
        first = session.scalars(select(Place)).one()
        session.expunge(first)
    with store.writing("other") as session:
        session.scalars(select(Place)).one().name = "moved"
    with pytest.raises(Stale), store.writing("crew") as session:
        session.add(first)
        first.name = "my own name"


def test_a_reel_never_goes_below_zero_even_when_eight_cut_at_once(store: Store) -> None:
    """Forty ask for 5 pitches of 100: twenty get them, the others are refused, nothing is lost."""
    reel_id = a_reel(store, left_pitches=100)
    results: list[str] = []

    def cut(session):  # type: ignore[no-untyped-def]
        reel = session.scalars(select(Reel).where(Reel.id == reel_id).with_for_update()).one()
        if reel.left_pitches < 5:
            raise ReelTooShort("not enough left")
        reel.left_pitches -= 5

    def crew() -> None:
        for _ in range(5):
            try:
                store.write(cut, by="crew")
                results.append("cut")
            except ReelTooShort:
                results.append("refused")

    threads = [threading.Thread(target=crew) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (results.count("cut"), results.count("refused")) == (20, 20)
    with store.reading() as session:
        assert session.scalars(select(Reel.left_pitches)).one() == 0


def test_the_database_is_the_last_net_under_a_reel(store: Store) -> None:
    a_reel(store, left_pitches=1)
    with pytest.raises(ReelTooShort), store.writing("crew") as session:
        session.scalars(select(Reel)).one().left_pitches = -1


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(StoreUnavailable, match=r"nowhere does not exist"):
        Store(f"sqlite:///{tmp_path}/nowhere/house.db")


def test_a_server_that_is_away_is_named() -> None:
    store = Store("postgresql://nobody@127.0.0.1:9/none")
    with pytest.raises(StoreUnavailable, match="does not answer"), store.reading() as session:
        session.scalars(select(Place)).all()


def test_a_file_that_is_not_a_database_is_named(tmp_path: Path) -> None:
    path = tmp_path / "letter.db"
    path.write_text("Dear all, the reel is empty. " * 50)
    with (
        pytest.raises(StoreUnavailable, match="not a database"),
        Store(f"sqlite:///{path}").reading() as session,
    ):
        session.scalars(select(Place)).all()
