"""How a show stands is worked out once, and anew as soon as anything on record changes."""

from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy import delete, insert, select

from service.errors import NotFound
from service.planning.moving import move_feed
from service.planning.schemas import FeedMove
from service.planning.serving.asking import ShowOn, serving
from service.reports.standing.parts import Standing
from service.reports.standing.remembering import Remembered, RememberedShows, stamp_of
from service.store.audit import AuditEntry
from service.store.types import utc_now
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage


@pytest.fixture
def stage(store: Store) -> Stage:
    """A (38.4 W) on PS-1 through DC-1; B is not fed."""
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=2)
        plan = build.a_plan(session, stage.show)
        element = stage.element(session, "A", runs=((40,),))
        stage.element(session, "B", runs=((40,),))
        build.an_allotment(session, plan, element.runs[0], stage.supplies[0], decoder=stage.decoders[0])
        return stage


def ask(store: Store, remembered: Remembered, day: date = TODAY) -> Standing:
    with store.reading() as session:
        return remembered.of(session, "win", day)


@pytest.mark.usefixtures("stage")
def test_it_is_worked_out_once_a_day_while_nothing_changes(store: Store) -> None:
    remembered = Remembered()
    first = ask(store, remembered)
    assert ask(store, remembered) is first
    assert ask(store, remembered, TODAY + timedelta(days=1)) is not first
    assert (first.heading.elements, first.heading.fed) == (2, 1)
    assert first.heading.load_w == pytest.approx(38.4)


@pytest.mark.usefixtures("stage")
def test_a_change_of_a_feed_is_seen_at_once(store: Store) -> None:
    remembered = Remembered()
    ask(store, remembered)
    store.write(lambda s: move_feed(s, "A", FeedMove(locked=True), TODAY), by="electrician")

    assert ask(store, remembered).heading.locked == 1


@pytest.mark.usefixtures("stage")
def test_what_was_only_supposed_is_not_remembered(store: Store) -> None:
    remembered = Remembered()
    first = ask(store, remembered)
    with store.supposing("electrician") as session:
        move_feed(session, "A", FeedMove(locked=True), TODAY)

    assert ask(store, remembered) is first


@pytest.mark.usefixtures("stage")
def test_a_change_that_took_its_number_early_and_came_late_is_seen(store: Store) -> None:
    """Two who write at once: the later number is stored first."""

    def put(number: int) -> None:
        row: dict[str, Any] = {"id": number, "at": utc_now(), "by": "t", "what": "changed", "kind": "units"}
        with store.writing("tests") as session:
            session.execute(insert(AuditEntry), [row])

    def stamp() -> object:
        with store.reading() as session:
            return stamp_of(session, TODAY)

    with store.reading() as session:
        newest = max(session.scalars(select(AuditEntry.id)))
    put(newest + 10)
    before = stamp()
    assert stamp() == before
    put(newest + 5)
    assert stamp() != before
    with store.writing("tests") as session:
        session.execute(delete(AuditEntry).where(AuditEntry.id == newest + 5))
    assert stamp() == before


def test_they_stand_in_the_order_asked_whichever_was_known_before(store: Store) -> None:
    with store.writing("tests") as session:
        venue = build.a_venue(session)
        shows = [build.a_production(session, venue, tag=f"S{n}") for n in range(3)]
    remembered = Remembered()
    with store.reading() as session:
        remembered.of(session, "S2", TODAY)
        assert list(remembered.of_all(session, shows, TODAY)) == ["S0", "S1", "S2"]


def test_only_so_many_shows_are_held(store: Store) -> None:
    with store.writing("tests") as session:
        venue = build.a_venue(session)
        shows = [build.a_production(session, venue, tag=f"S{n}") for n in range(3)]
    remembered = Remembered(most=2)
    with store.reading() as session:
        first = remembered.of_all(session, shows, TODAY)
        assert set(first) == {"S0", "S1", "S2"}
        assert remembered.of(session, "S2", TODAY) is first["S2"]
        assert remembered.of(session, "S0", TODAY) is not first["S0"]


@pytest.mark.usefixtures("stage")
def test_a_show_that_is_not_there_is_said(store: Store) -> None:
    with store.reading() as session, pytest.raises(NotFound):
        Remembered().of(session, "NOPE", TODAY)


def look(store: Store, shows: RememberedShows, on: date = TODAY, known_on: date = TODAY) -> ShowOn:
    with store.reading() as session:
        return shows.of(session, "win", on, known_on)


@pytest.mark.usefixtures("stage")
def test_a_show_is_read_once_a_day_while_nothing_changes(store: Store) -> None:
    shows, later = RememberedShows(), TODAY + timedelta(days=1)
    first = look(store, shows)
    assert look(store, shows) is first
    assert look(store, shows, on=later) is not first
    assert look(store, shows, known_on=later) is not first


@pytest.mark.usefixtures("stage")
def test_what_a_supply_feeds_is_seen_anew_once_it_changed(store: Store) -> None:
    shows = RememberedShows()

    def load_w(tag: str) -> list[float]:
        with store.reading() as session:
            return [one.supply.load_w for one in serving(session, tag, TODAY, shows.of)]

    assert load_w("ps-1") == pytest.approx([38.4])
    assert load_w("PS-2") == []
    store.write(lambda s: move_feed(s, "A", FeedMove(supply="PS-2"), TODAY), by="electrician")
    assert load_w("PS-1") == []
    assert load_w("PS-2") == pytest.approx([38.4])


def test_only_so_many_shows_that_were_read_are_held(store: Store) -> None:
    with store.writing("tests") as session:
        venue = build.a_venue(session)
        codes = [build.a_production(session, venue, tag=f"S{n}").tag for n in range(3)]
    shows = RememberedShows(most=2)
    with store.reading() as session:
        first = {code: shows.of(session, code, TODAY, TODAY) for code in codes}
        assert shows.of(session, "S2", TODAY, TODAY) is first["S2"]
        assert shows.of(session, "S0", TODAY, TODAY) is not first["S0"]
