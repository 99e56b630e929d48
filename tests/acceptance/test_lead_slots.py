"""A lead says what a look-up says."""

from sqlalchemy import select

from service.planning.queries import feed_of
from service.planning.since.photo import photo
from service.season.records import Production
from service.store.work import Store


def test_a_lead_is_labelled_with_the_slot_at_which_its_run_listens(season: Store) -> None:
    compared = 0
    with season.lookup() as connection, season.reading() as session:
        for production in session.scalars(select(Production)):
            for run in photo(session, production.id).values():
                told = {each["run"]: each for each in feed_of(connection, run.element)["runs"]}[run.run]
                if told["start"] is not None and told["slots"]:
                    assert run.address == f"{told['universe']}/{told['slots'][0]['slot']}", run.tag
                    compared += told["first_channel"] > 1
    assert compared > 5, "of those that do not begin where their decoder does"
