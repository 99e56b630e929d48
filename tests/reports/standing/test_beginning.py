"""How far a house has come that is new to this."""

import pytest
from sqlalchemy import delete
from sqlalchemy.orm import Session

from service.planning.records import Allotment
from service.reports.standing.beginning import STEPS, beginning, is_begun, steps_of
from service.store.work import Store
from tests.acceptance.conftest import changing_season, season

__all__ = ["changing_season", "season"]


def next_of(*done: str) -> str:
    return next((s.name for s in steps_of({name: int(name in done) for name in STEPS}) if s.is_next), "")


@pytest.mark.parametrize("at", range(len(STEPS)))
def test_the_first_that_is_not_done_comes_next(at: int) -> None:
    assert next_of(*STEPS[:at]) == STEPS[at]


def test_a_house_without_decoders_goes_on_once_it_passed_them_by() -> None:
    assert next_of("tapes", "supply-models", "supplies", "productions") == "elements"
    assert next_of("tapes", "supply-models", "supplies") == "decoder-models"


def test_in_an_empty_house_everything_is_still_to_do(store: Store) -> None:
    with store.reading() as session:
        found = beginning(session)
        assert not is_begun(session)
    assert (found.done, found.next.name, found.show, found.plan) == (0, "tapes", "", None)


def test_a_plan_that_feeds_nothing_is_no_beginning(changing_season: Store) -> None:
    def darken(session: Session) -> None:
        session.execute(delete(Allotment))

    changing_season.write(darken, "tests")
    with changing_season.reading() as session:
        found = beginning(session)
        assert not is_begun(session)
    assert not found.is_over
    assert found.next.name == "plan"


def test_in_a_house_at_work_nothing_is(season: Store) -> None:
    with season.reading() as session:
        found = beginning(session)
        assert is_begun(session)
    assert found.is_over
    assert found.done == len(STEPS)
    assert [s.name for s in found.steps if s.is_next] == []
