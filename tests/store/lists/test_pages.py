"""Lists walked in pages: complete, in order, and steady while rows are added."""

from sqlalchemy import select

from service.shows.queries import RUNS
from service.shows.records import Element, Run
from service.stock.queries import PLACES, VENUES
from service.stock.records import Place
from service.store.listing import Listing, Page, page
from service.store.work import Store
from tests import builders as build


def walked(store: Store, listing: Listing, limit: int) -> list[Page]:
    pages: list[Page] = []
    while not pages or pages[-1].after is not None:
        with store.lookup() as connection:
            pages.append(page(connection, listing, {}, pages[-1].after if pages else None, limit))
    return pages


def test_pages_of_an_order_over_two_tables_miss_nothing_and_repeat_nothing(store: Store) -> None:
    with store.writing("tests") as session:
        show = build.a_production(session)
        for runs in (3, 1, 4, 1, 5):
            build.an_element(session, show, runs=((1,),) * runs)
    with store.reading() as session:
        query = select(Element.tag, Run.number).join(Run, Run.element_id == Element.id)
        wanted = [tuple(row) for row in session.execute(query.order_by(Element.tag_key, Run.number))]
    for limit in (1, 2, 3, 13, 14, 15):
        found = [(r["element"], r["number"]) for one in walked(store, RUNS, limit) for r in one.rows]
        assert found == wanted


def test_a_last_page_that_is_full_has_nothing_after_it(store: Store) -> None:
    with store.writing("tests") as session:
        for _ in range(4):
            build.a_venue(session)
    assert [len(one.rows) for one in walked(store, VENUES, 2)] == [2, 2]


def test_an_empty_list_is_one_empty_page(store: Store) -> None:
    assert walked(store, PLACES, 10) == [Page([], None)]


def test_rows_put_in_behind_the_reader_do_not_move_what_follows(store: Store) -> None:
    with store.writing("tests") as session:
        session.add_all(Place(tag=tag, name="", kind="bin") for tag in ("B", "D", "F"))
    with store.lookup() as connection:
        first = page(connection, PLACES, {}, None, 2)
    with store.writing("tests") as session:
        session.add_all(Place(tag=tag, name="", kind="bin") for tag in ("A", "E"))
    with store.lookup() as connection:
        second = page(connection, PLACES, {}, first.after, 2)
    assert [row["tag"] for row in first.rows + second.rows] == ["B", "D", "E", "F"]
