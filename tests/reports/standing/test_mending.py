"""What a move would change is told before it is done, and nothing of the telling stays."""

import pytest

from service.errors import NotFound, Stale
from service.planning.queries import feed_of
from service.reports.standing.mending import Asked, Effect, effect, hands, mend
from service.reports.standing.remembering import Remembered
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage


@pytest.fixture
def stage(store: Store) -> Stage:
    """PS-1 carries A and B (67.2 W each, on DC-1) and C (134.4 W, on DC-2): 268.8 W of 256. PS-2 is idle."""
    with store.writing("tests") as session:
        stage = a_stage(session, supplies=2, decoders=2)
        plan = build.a_plan(session, stage.show)
        for tag, decoder, pitches in (("A", 0, 70), ("B", 0, 70), ("C", 1, 140)):
            element = stage.element(session, tag, name=f"Window {tag}", runs=((pitches,),))
            supply, on = stage.supplies[0], stage.decoders[decoder]
            build.an_allotment(session, plan, element.runs[0], supply, decoder=on)
        for supply in stage.supplies:
            build.a_placing(session, plan, supply, place_id=stage.deck.id, outlet_id=stage.outlet.id)
        for n in (0, 1):
            build.a_placing(session, plan, stage.decoders[n], place_id=stage.deck.id)
            build.a_patch(session, plan, stage.decoders[n], universe=1, start=1 + 4 * n)
        return stage


ASKED = Asked("win", "supply-watts", "PS-1")


def told(store: Store, asked: Asked = ASKED) -> Effect:
    with store.reading() as session:
        before = Remembered().of(session, asked.code, TODAY)
    with store.supposing("electrician") as session:
        return effect(session, asked, before, TODAY)


def supply_of(store: Store, tag: str) -> str:
    with store.lookup() as connection:
        return str(feed_of(connection, tag)["runs"][0]["supply"])


@pytest.mark.usefixtures("stage")
def test_the_move_tells_loads_feeds_and_labels_and_stores_nothing(store: Store) -> None:
    found = told(store)

    assert ("supply-watts", "PS-1") in {(one.code, one.subject) for one in found.gone}
    assert found.is_clean
    loads = {
        (now or was).supply: (was.load_w if was else 0.0, now.load_w if now else 0.0)  # type: ignore[union-attr]
        for was, now in found.bars
    }
    assert {tag: (round(a, 2), round(b, 2)) for tag, (a, b) in loads.items()} == {
        "PS-1": (268.8, 134.4), "PS-2": (0.0, 134.4),
    }  # fmt: skip
    assert found.labels == len(found.changes)
    assert all("PS-2 output 1" in moved.after for moved in found.changes)
    assert hands(found.fault) == {"feed"}
    assert {supply_of(store, tag) for tag in "ABC"} == {"PS-1"}


@pytest.mark.usefixtures("stage")
def test_the_move_that_was_read_is_done_and_another_is_not(store: Store) -> None:
    remembered = Remembered()

    def do(act: str) -> None:
        def action(session: object) -> None:
            before = remembered.of(session, "WIN", TODAY)  # type: ignore[arg-type]
            mend(session, Asked("WIN", "supply-watts", "PS-1", act), before, TODAY, None)  # type: ignore[arg-type]

        store.write(action, by="electrician")

    right = told(store).fault.act
    with pytest.raises(Stale, match="another one by now"):
        do("move everything")
    assert {supply_of(store, tag) for tag in "ABC"} == {"PS-1"}
    do(right)
    assert {supply_of(store, tag) for tag in "ABC"} == {"PS-1", "PS-2"}
    with pytest.raises(NotFound, match="not over that limit any more"):
        do(right)
