"""A request named by its key: done once, answered the same, forgotten after a week."""

import threading
import time
from datetime import timedelta

import pytest
from sqlalchemy import select, text, update
from sqlalchemy.orm import Session

from service.errors import KeyReused, Refused
from service.store.keys import KEPT, Answer, Asked, RequestKey, once
from service.store.types import utc_now
from service.store.work import Store
from tests import builders as build

MONDAY = Asked("head", "monday-1", "f" * 64)


def put_in(session: Session) -> Answer:
    return Answer(201, build.a_place(session).tag.encode(), location="/places/1")


def test_the_same_request_gets_the_same_answer_and_does_nothing_more(store: Store) -> None:
    first = store.write(lambda s: once(s, MONDAY, put_in), by="head")
    again = store.write(lambda s: once(s, MONDAY, put_in), by="head")
    assert (again.status, again.body, again.location) == (201, first.body, "/places/1")
    assert (first.is_replayed, again.is_replayed) == (False, True)


def test_of_two_at_once_the_second_waits_and_gets_the_answer_of_the_first(store: Store) -> None:
    """Sent again because the answer was late: the first is still at work when the second comes."""
    got: list[Answer] = []
    second = threading.Thread(
        target=lambda: got.append(store.write(lambda s: once(s, MONDAY, put_in), by="head"))
    )

    def put_in_slowly(session: Session) -> Answer:
        second.start()
        if not store.is_sqlite:  # there the second waits for the whole file, before it looks at the key
            wait_for_one_who_waits(store)
        return put_in(session)

    first = store.write(lambda s: once(s, MONDAY, put_in_slowly), by="head")
    second.join()
    assert [(a.body, a.is_replayed) for a in got] == [(first.body, True)]


def wait_for_one_who_waits(store: Store) -> None:
    waiting = text("SELECT count(*) FROM pg_stat_activity WHERE wait_event_type = 'Lock'")
    for _ in range(400):
        with store.engine.connect() as connection:
            if connection.scalar(waiting):
                return
        time.sleep(0.01)
    raise AssertionError("nobody waits")


def test_another_request_with_that_key_is_refused(store: Store) -> None:
    store.write(lambda s: once(s, MONDAY, put_in), by="head")
    with pytest.raises(KeyReused):
        store.write(lambda s: once(s, Asked("head", "monday-1", "0" * 64), put_in), by="head")


def test_a_request_that_was_refused_leaves_its_key_free(store: Store) -> None:
    def refuse(_session: Session) -> Answer:
        raise Refused("not today")

    with pytest.raises(Refused):
        store.write(lambda s: once(s, MONDAY, refuse), by="head")
    assert store.write(lambda s: once(s, MONDAY, put_in), by="head").is_replayed is False


def test_a_request_without_a_key_is_simply_done(store: Store) -> None:
    store.write(lambda s: once(s, None, put_in), by="head")
    with store.reading() as session:
        assert session.scalars(select(RequestKey)).all() == []


def test_keys_are_forgotten_after_a_week_when_the_next_one_comes(store: Store) -> None:
    store.write(lambda s: once(s, MONDAY, put_in), by="head")
    with store.writing("tests") as session:
        session.execute(update(RequestKey).values(created_at=utc_now() - KEPT - timedelta(minutes=1)))
    store.write(lambda s: once(s, Asked("head", "tuesday-1", "f" * 64), put_in), by="head")
    with store.reading() as session:
        assert session.scalars(select(RequestKey.key)).all() == ["tuesday-1"]
