"""Who never gave a name is nobody: no paper and no refusal makes a person of the pages' own signature."""

from datetime import datetime

import pytest
from sqlalchemy.orm import Session

from service.errors import InUse, NotFree
from service.kinds import actions
from service.kinds.actions import Hand
from service.kinds.sheets.gear import SUPPLIES
from service.kinds.sheets.shows import ELEMENTS
from service.kinds.steps.walking import Words
from service.paper.prints.registry import PAPERS
from service.paper.prints.table import Paper, Wanted
from service.planning.issuing.books import Hand as Crew
from service.planning.issuing.issuing import issue
from service.planning.issuing.returning import set_missing
from service.shows.records import ElementStatus
from service.store.audit import NOBODY
from service.store.lists.undoing import undo
from service.store.types import utc_now
from service.store.work import Store
from tests import builders as build
from tests.kinds.hands import changed, made
from tests.planning.issuing.crew import FIRST, LAST
from tests.planning.stage import TODAY, a_stage


@pytest.mark.parametrize(("by", "who"), [(NOBODY, ""), ("Ada", "Ada")])
def test_the_dark_list_names_only_people(store: Store, by: str, who: str) -> None:
    with store.writing(by) as session:
        build.a_house(session).element.status = ElementStatus.WORKING
        session.flush()
        actions.step(session, ELEMENTS, ("SQ-1", "dark"), Words("no light"), None, Hand(by, TODAY))
    with store.reading() as session:
        made = PAPERS["dark-list"].make(session, Wanted(TODAY, TODAY, lambda _day: None, None, None))
    assert isinstance(made, Paper)
    assert [row.cells["who"] for block in made.blocks for row in block.rows] == [who]


@pytest.mark.parametrize(("by", "who"), [(NOBODY, "somebody"), ("Ada", "Ada")])
def test_a_refusal_to_undo_names_only_people(store: Store, by: str, who: str) -> None:
    with store.writing("tests") as session:
        build.a_house(session)

    def bring(session: Session) -> datetime:
        made(session, SUPPLIES, tag="PS-77", model="S320")
        return utc_now()

    at = store.write(bring, "deputy")
    with store.writing(by) as session:
        changed(session, SUPPLIES, "PS-77", where_note="in the van")
    with store.writing("tests") as session, pytest.raises(InUse, match=f"changed since, by {who}$"):
        undo(session, at, "deputy")


@pytest.mark.parametrize(("by", "who"), [(NOBODY, ""), ("Ada", " by Ada")])
def test_gear_that_went_out_was_issued_only_by_people(store: Store, by: str, who: str) -> None:
    crew = Crew(by, TODAY)
    with store.writing(by) as session:
        a_stage(session, supplies=1, decoders=1, needed_from=FIRST, needed_to=LAST)
        issue(session, "WIN", ("PS-1",), crew, TODAY)
        with pytest.raises(NotFree) as refusal:
            issue(session, "WIN", ("PS-1",), crew, TODAY)
        (lost,) = set_missing(session, ("PS-1",), "", crew).done
    assert refusal.value.message == f"PS-1 is already out to WIN, issued on 2026-11-25{who}"
    assert ("issued" in lost.what, NOBODY in lost.what) == (bool(who), False)
