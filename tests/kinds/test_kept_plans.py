"""Gear on stage and addresses go onto the plan that is kept; kept feeds change where a sheet says so."""

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.errors import BadSheets, BadValues, NotFound
from service.kinds.sheets.feeds import ADDRESSES, STANDING
from service.paper.bring_in import Brought, bring_in
from service.planning.records import Allotment, Patch, Placing, Plan, PlanStatus, UnfedRun
from service.season.records import Production
from service.store.work import Store
from tests import builders as build
from tests.kinds.hands import HAND, changed, made, retired
from tests.paper.house import read

HEADS = "Element,Run,Supply,Output,Decoder,Channels\n"


def bring(store: Store, text: str, sheet: str = "feeds") -> Brought:
    """One sheet whose rows may change what is there."""
    with store.writing("crew") as session:
        return bring_in(session, read({sheet: text}).sheets, "crew", HAND.today, may_change=True)


def two_windows(store: Store) -> None:
    """SQ-1 and SQ-2, both kept on PS-1 through DC-1; PS-2 and DC-2 lie in the store."""
    with store.writing("crew") as session:
        house = build.a_house(session)
        other = build.an_element(session, house.production, tag="SQ-2", tape=house.tape)
        build.an_allotment(session, house.plan, other.runs[0], house.supply, decoder=house.decoder)
        build.a_supply(session, tag="PS-2")
        build.a_decoder(session, tag="DC-2")


def plans(session: Session) -> int:
    return session.scalar(select(func.count()).select_from(Plan)) or 0


def test_a_sheet_changes_a_kept_feed_and_leaves_the_others(store: Store) -> None:
    two_windows(store)

    brought = bring(store, HEADS + "SQ-1,1,PS-2,1,DC-1,1-4\nSQ-2,1,PS-1,1,DC-1,1-4\n")

    assert (brought.counts, brought.same) == ({"feeds": 0}, {"feeds": 1})
    assert [(c.column, c.before, c.after) for c in brought.changes] == [("Supply", "PS-1", "PS-2")]
    with store.reading() as session:
        versions = session.scalars(select(Allotment.version).order_by(Allotment.id)).all()
        assert (versions, plans(session)) == ([2, 1], 1)


def test_a_feed_is_not_mixed_into_a_plan_that_the_sheet_does_not_change(store: Store) -> None:
    two_windows(store)
    with store.writing("crew") as session:
        plan = session.scalars(select(Plan)).one()
        show = session.get_one(Production, plan.production_id)
        element = build.an_element(session, show, tag="SQ-3")
        build.an_unfed_run(session, plan, element.runs[0])
    new = "SQ-3,1,PS-2,1,DC-2,1-4\n"

    with pytest.raises(BadSheets) as refusal:
        bring(store, HEADS + new)
    assert refusal.value.errors[0].message == "WIN has a kept plan already, and this feed is not in it"

    brought = bring(store, HEADS + new + "SQ-1,1,PS-2,1,DC-1,1-4\n")

    assert brought.counts == {"feeds": 1}
    with store.reading() as session:
        assert session.scalar(select(func.count()).select_from(Allotment)) == 3
        assert session.scalars(select(UnfedRun)).all() == []


def test_any_unit_of_a_model_stands_where_the_unit_is_left_open(store: Store) -> None:
    two_windows(store)

    bring(store, HEADS + "SQ-1,1,any S320,1,any D4,1-4\n")

    with store.reading() as session:
        feed = session.scalars(select(Allotment).order_by(Allotment.id)).first()
        assert feed is not None
        assert (feed.supply_id, feed.decoder_id) == (None, None)
        assert None not in (feed.supply_model_id, feed.decoder_model_id)


def test_gear_goes_onto_the_kept_plan_and_is_moved_and_taken_out_there(store: Store) -> None:
    two_windows(store)
    with store.writing("crew") as session:
        row = made(session, STANDING, production="WIN", unit="PS-2", place="a1", outlet="C1")
        assert (row["place"], row["outlet"]) == ("A1", "C1")
        assert changed(session, STANDING, row["id"], place="STORE", outlet=None)["place"] == "STORE"
        with pytest.raises(BadValues, match="this gear on stage is already in the store"):
            made(session, STANDING, production="WIN", unit="ps-2")
        retired(session, STANDING, row["id"])
        kept = session.scalars(select(Plan)).one()
        assert session.scalars(select(Placing.plan_id)).all() == [kept.id, kept.id]


def test_nothing_goes_onto_a_plan_that_is_not_there(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_production(session, tag="NEW")
        build.a_decoder(session, tag="DC-1")
        for kind, name in ((STANDING, "unit"), (ADDRESSES, "decoder")):
            with pytest.raises(BadValues) as refusal:
                made(session, kind, production="NEW", **{name: "DC-1"})
            (error,) = refusal.value.errors
            assert error.message == "NEW has no kept plan"
            assert "keep it first" in error.mend
        assert plans(session) == 0


def test_what_stands_in_a_plan_that_is_no_longer_kept_is_not_found(store: Store) -> None:
    two_windows(store)
    with store.writing("crew") as session:
        number = session.scalars(select(Placing.id)).first()
        session.scalars(select(Plan)).one().status = PlanStatus.SUPERSEDED
        session.flush()
        assert number is not None
        with pytest.raises(NotFound):
            changed(session, STANDING, number, place="A1")


def test_another_mode_takes_the_slots_of_its_model_unless_they_are_said(store: Store) -> None:
    """A decoder of four channels: four slots in 8-bit mode, eight in 16-bit."""
    two_windows(store)
    with store.writing("crew") as session:
        row = made(session, ADDRESSES, production="WIN", decoder="DC-2", universe=1, start=5)
        assert (row["mode"], row["footprint"], row["port"]) == ("8-bit", 4, None)
        assert changed(session, ADDRESSES, row["id"], mode="16-bit")["footprint"] == 8
        assert changed(session, ADDRESSES, row["id"], mode="8-bit", footprint=6)["footprint"] == 6
        with pytest.raises(BadValues, match="this address is already in the store"):
            made(session, ADDRESSES, production="WIN", decoder="DC-2")
        made(session, ADDRESSES, production="WIN", decoder="DC-2", port=2)
        assert session.scalars(select(Patch.port).order_by(Patch.id)).all() == [0, 0, 2]
