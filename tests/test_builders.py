"""The builders put in what they say, on both databases."""

from sqlalchemy import func, select

from service.planning.records import Allotment
from service.stock.records import Cut, Reel
from service.store.work import Store
from tests import builders as build


def test_a_house_has_one_window_fed_from_end_to_end(store: Store) -> None:
    with store.writing("tests") as session:
        house = build.a_house(session)
    with store.reading() as session:
        feed = session.scalars(select(Allotment)).one()
        assert (feed.supply_id, feed.decoder_id) == (house.supply.id, house.decoder.id)


def test_every_builder_stands_on_its_own(store: Store) -> None:
    with store.writing("tests") as session:
        show = build.a_production(session)
        lone = (build.an_element, build.a_supply, build.a_decoder, build.a_battery, build.an_enclosure)
        for builder in (*lone, build.a_wire, build.an_order_line):
            builder(session)
        build.a_group(session, show)
        build.a_hold(session, show)
        plan = build.a_plan(session, show)
        build.an_unfed_run(session, plan, build.an_element(session, show).runs[0])


def test_the_balance_of_a_built_reel_is_the_sum_of_its_cuts(store: Store) -> None:
    with store.writing("tests") as session:
        build.a_cut(session, build.a_reel(session, left_pitches=100), 14)
    with store.reading() as session:
        assert (
            session.scalar(select(Reel.left_pitches))
            == session.scalar(select(func.sum(Cut.change_pitches)))
            == 86
        )
