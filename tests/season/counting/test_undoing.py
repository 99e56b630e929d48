"""What was accepted of a count is taken back, unless somebody changed it since."""

from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy import select

from service.errors import RefusedTags
from service.season.counting.records import Outcome
from service.season.counting.settling import Settled, look_for
from service.season.counting.taking import Counted
from service.season.counting.undoing import undo
from service.season.records import Hold, ProductionStatus
from service.stock.gear import Unit, UnitState
from service.stock.records import Cut, Reel
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY
from tests.season.counting.test_stocktakes import (
    DIFFERS,
    HAND,
    Shelf,
    accepted,
    counts,
    lines_of,
    shelf,
    started,
)

__all__ = ["shelf"]


def undone(store: Store, *tags: str, each: bool = False) -> Settled:
    return store.write(lambda session: undo(session, "ST-001", tags, HAND, each), "Ada")


def of_book(store: Store) -> list[tuple[Any, ...]]:
    """What a stocktake may change of the book."""
    with store.reading() as session:
        units = session.scalars(select(Unit).order_by(Unit.tag_key))
        reels = session.scalars(select(Reel).order_by(Reel.tag_key))
        holds = session.scalars(select(Hold).order_by(Hold.id))
        return [
            *((u.tag, u.state, u.state_note, u.seen_place_id, u.seen_on, u.where_note) for u in units),
            *((r.tag, r.state, r.place_id, r.left_pitches) for r in reels),
            *((h.id, h.returned_on, h.returned_by) for h in holds),
        ]


def test_what_was_accepted_is_taken_back_thing_by_thing_and_a_row_by_a_row(
    store: Store, shelf: Shelf
) -> None:
    with store.writing("tests") as session:
        session.get_one(Unit, shelf.stage.supplies[3].id).where_note = "in the van"
    before = of_book(store)
    started(store)
    counts(
        store, Counted("PS-2", is_found=False), Counted("PS-3", state="faulty", note="hums"),
        Counted("PS-4"), Counted("R-1", length_mm=4850),
    )  # fmt: skip
    store.write(lambda session: look_for(session, "ST-001", ["PS-2"]), "Ada")
    tags = ("PS-2", "PS-3", "PS-4", "R-1")
    accepted(store, *tags)
    assert of_book(store) != before

    assert [line.thing_key for line in undone(store, "ps-3", "PS-4").lines] == ["PS-3", "PS-4"]
    undone(store, "PS-2", "R-1")
    assert of_book(store) == before
    outcomes_now = {key: line.outcome for key, line in lines_of(store).items() if key in tags}
    assert outcomes_now == {"PS-2": Outcome.TO_LOOK_FOR, "PS-3": DIFFERS, "PS-4": DIFFERS, "R-1": DIFFERS}
    with store.reading() as session:
        rows = session.scalars(select(Cut).where(Cut.reel_id == shelf.reel.id).order_by(Cut.id)).all()
        assert [row.change_pitches for row in rows][1:] == [-3, 3]
        assert rows[-1].undoes_id == rows[-2].id
    accepted(store, *tags)  # and can be accepted again
    undone(store, *tags)
    assert of_book(store) == before


def test_a_reel_that_was_written_off_and_what_came_back_by_a_count_are_as_before(
    store: Store, shelf: Shelf
) -> None:
    before_it_went = of_book(store)
    started(store)
    with store.writing("tests") as session:
        show = build.a_production(session, shelf.stage.venue, tag="ICE", status=ProductionStatus.RUNNING)
        until_on = TODAY + timedelta(days=10)
        unit_id = shelf.stage.supplies[0].id
        build.a_hold(session, show, unit_id=unit_id, quantity=1, from_on=TODAY, until_on=until_on)
    before = of_book(store)
    assert len(before) == len(before_it_went) + 1
    counts(store, Counted("R-1", is_found=False), Counted("PS-1"))
    accepted(store, "R-1", "PS-1")
    assert of_book(store) != before
    undone(store, "R-1", "PS-1")
    assert of_book(store) == before


@pytest.mark.usefixtures("shelf")
def test_what_changed_since_it_was_accepted_is_not_taken_back(store: Store) -> None:
    started(store)
    counts(store, Counted("PS-3", state="faulty", note="hums"), Counted("PS-4"))
    with pytest.raises(RefusedTags, match="PS-3 differs: there is nothing to take back"):
        undone(store, "PS-3")
    accepted(store)
    with store.writing("Ben") as session:
        session.scalars(select(Unit).where(Unit.tag_key == "PS-3")).one().state = UnitState.GOOD
    with pytest.raises(RefusedTags, match=r"PS-3 was changed by Ben since: its state$"):
        undone(store, "PS-3", "PS-4")
    left = undone(store, "PS-3", "PS-4", each=True)
    assert [line.thing_key for line in left.lines] == ["PS-4"]
    assert [error.row for error in left.refused] == [0]
