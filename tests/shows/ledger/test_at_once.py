"""Several who want the last of a reel at one moment, each over a connection of their own."""

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from threading import Barrier

import pytest
from sqlalchemy import func, select

from service.errors import Refused
from service.shows.ledger import doing
from service.shows.ledger.doing import Doer
from service.shows.ledger.schemas import CutAsk, JoinAsk, OffcutAsk, ScrapAsk
from service.stock.records import Cut, Reel, ReelState
from service.store.work import Store
from tests import builders as build

WRITERS = 8
DAY = date(2026, 11, 25)


@pytest.fixture
def houses(database_url: str) -> Iterator[list[Store]]:
    """One house, opened once for each of the writers, with one last piece on its last reel; an element for
    each to cut it for."""
    stores = [Store(database_url) for _ in range(WRITERS)]
    with stores[0].writing("bench") as session:
        tape = build.a_tape(session, tag="T-50")
        build.a_reel(session, tape, tag="R-1", lot="A", left_pitches=20, state=ReelState.OPEN)
        show = build.a_production(session)
        for n in range(WRITERS):
            build.an_element(session, show, ((20,),), tag=f"SQ-{n}", tape=tape)
            build.a_reel(session, tape, tag=f"J-{n}", lot="A", left_pitches=5, state=ReelState.OFFCUT)
    yield stores
    for store in stores:
        store.close()


def race(houses: list[Store], act: Callable[[Store, int], str]) -> list[str]:
    """What each is told, sorted: what was done, or what was refused and how it is mended."""
    start = Barrier(WRITERS)

    def try_it(n: int) -> str:
        start.wait()
        try:
            return act(houses[n], n)
        except Refused as refusal:  # anything else, such as a database that is busy, ends the test
            return refusal.message if refusal.mend else "no mend"

    with ThreadPoolExecutor(WRITERS) as pool:
        return sorted(pool.map(try_it, range(WRITERS)))


def left(store: Store) -> dict[str, int]:
    """What is left, which is the sum of the rows."""
    with store.reading() as session:
        rows = select(Reel.tag, Reel.left_pitches, func.coalesce(func.sum(Cut.change_pitches), 0))
        found = session.execute(rows.outerjoin(Cut).group_by(Reel.id, Reel.tag, Reel.left_pitches)).all()
    assert all(balance == summed for _, balance, summed in found)
    return {tag: balance for tag, balance, _ in found}


def test_of_eight_who_cut_the_last_piece_one_gets_it(houses: list[Store]) -> None:
    def cut(store: Store, n: int) -> str:
        ask = CutAsk(element=f"SQ-{n}")
        store.write(lambda s: doing.cut(s, "R-1", ask, Doer(f"bench {n}", DAY)), by=f"bench {n}")
        return "cut"

    assert race(houses, cut) == ["R-1 is used up"] * (WRITERS - 1) + ["cut"]
    assert left(houses[0])["R-1"] == 0


def test_of_eight_who_cut_one_piece_one_does(houses: list[Store]) -> None:
    def cut(store: Store, n: int) -> str:
        doer = Doer(f"bench {n}", DAY)
        ask = CutAsk(element="SQ-0", length_m=0.25, note="the last of its reel")
        store.write(lambda s: doing.cut(s, f"J-{n}", ask, doer), by=doer.by)
        return "cut"

    said = race(houses, cut)
    assert said[-1] == "cut"
    assert all(text.startswith("SQ-0 piece 1 is cut already: K-001 off J-") for text in said[:-1])
    assert sorted(n for tag, n in left(houses[0]).items() if tag[0] == "J") == [0] + [5] * (WRITERS - 1)


def test_of_eight_who_do_different_things_with_the_last_length_one_does(houses: list[Store]) -> None:
    def act(store: Store, n: int) -> str:
        doer = Doer(f"bench {n}", DAY)
        if n % 3 == 0:
            store.write(lambda s: doing.make_offcut(s, "R-1", OffcutAsk(length_m=1), doer), by=doer.by)
        elif n % 3 == 1:
            store.write(lambda s: doing.scrap(s, "R-1", ScrapAsk(), doer), by=doer.by)
        else:
            store.write(lambda s: doing.join(s, f"J-{n}", JoinAsk(other="R-1"), doer), by=doer.by)
        return "did"

    said = race(houses, act)
    assert said[-1] == "did"
    assert set(said[:-1]) <= {"R-1 is used up", "R-1 is scrap"}
    assert len(said) == WRITERS
    assert sum(left(houses[0]).values()) in (20 + 5 * WRITERS, 5 * WRITERS)


def test_eight_offcuts_of_one_reel_take_tags_and_numbers_of_their_own(houses: list[Store]) -> None:
    def act(store: Store, n: int) -> str:
        doer = Doer(f"bench {n}", DAY)
        ask = OffcutAsk(length_m=0.1)
        done = store.write(lambda s: doing.make_offcut(s, "R-1", ask, doer), by=doer.by)
        assert done.other is not None
        return f"{done.other.tag} {done.rows[0].number}"

    assert race(houses, act) == [f"R-{n + 2:02} K-{n + 1:03}" for n in range(WRITERS)]
    assert left(houses[0])["R-1"] == 20 - 2 * WRITERS


def test_eight_offcuts_of_eight_reels_take_tags_of_their_own(houses: list[Store]) -> None:
    def act(store: Store, n: int) -> str:
        doer = Doer(f"bench {n}", DAY)
        ask = OffcutAsk(length_m=0.1)
        done = store.write(lambda s: doing.make_offcut(s, f"J-{n}", ask, doer), by=doer.by)
        assert done.other is not None
        return done.other.tag

    assert race(houses, act) == [f"J-{WRITERS + n:02}" for n in range(WRITERS)]
