"""What is promised to a production: what it names, until when, and how it ends."""

from datetime import date

import pytest
from sqlalchemy import select

from service.errors import BadValues, InUse
from service.kinds.sheets.holds import HOLDS
from service.kinds.sheets.tape import REELS
from service.season.records import Hold
from service.store.work import Store
from tests import builders as build
from tests.kinds.hands import HAND, changed, made, retired


def test_a_hold_says_what_it_is_by_its_tag_and_takes_the_days_of_its_show(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        row = made(session, HOLDS, production="WIN", what="ps-1")
        assert (row["number"], row["what"], row["unit"]) == ("H-001", "PS-1", "PS-1")
        assert (row["from_on"], row["to_on"]) == (date(2026, 9, 1), date(2026, 12, 18))
        row = made(session, HOLDS, production="WIN", what="R-1", length_m=0.12)
        assert (row["number"], row["length_m"], row["to_on"]) == ("H-002", pytest.approx(0.15), None)


@pytest.mark.parametrize(
    ("values", "name", "why"),
    [
        ({"what": "D4"}, "quantity", "how many of model D4 is not said"),
        ({"what": "PS-1", "quantity": 2}, "quantity", "PS-1 is one unit"),
        ({"what": "T-RGBW"}, "length_m", "how much of T-RGBW is not said"),
        ({"what": "R-1", "length_m": 1, "to_on": "2026-12-01"}, "to_on", "R-1 is used up and does not"),
        ({"what": "PS-7"}, "what", "PS-7 is not known here"),
        ({"what": "PS-OLD"}, "what", "PS-OLD is retired"),
        ({"what": "PS-1", "to_on": "2026-08-01"}, "to_on", "it ends on 2026-08-01, before it starts"),
    ],
)
def test_a_hold_that_cannot_be_is_refused_at_the_value_that_is_wrong(
    store: Store, values: dict[str, object], name: str, why: str
) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        build.a_supply(session, tag="PS-OLD", retired_on=HAND.today)
        with pytest.raises(BadValues) as refusal:
            made(session, HOLDS, production="WIN", **values)
        (error,) = refusal.value.errors
        assert (error.column, error.message[: len(why)]) == (name, why)
        assert error.mend


def test_a_hold_is_given_to_another_thing_and_its_old_one_is_free(store: Store) -> None:
    with store.writing("crew") as session:
        house = build.a_house(session)
        number = made(session, HOLDS, production="WIN", what="PS-1", from_on="2026-11-26")["id"]
        row = changed(session, HOLDS, number, what="D4", quantity=3)
        assert (row["what"], row["unit"], row["quantity"]) == ("D4", None, 3)
        assert session.scalars(select(Hold).where(Hold.unit_id == house.supply.id)).all() == []


def test_a_hold_that_has_begun_is_ended_and_one_to_come_is_taken_out(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        begun = made(session, HOLDS, production="WIN", what="PS-1")["id"]
        to_come = made(session, HOLDS, production="WIN", what="DC-1", from_on="2026-11-26")["id"]
        with pytest.raises(InUse) as refusal:
            retired(session, HOLDS, begun)
        assert refusal.value.message == "H-001 began on 2026-09-01"
        assert "returned" in refusal.value.mend
        retired(session, HOLDS, to_come)
        ended = changed(session, HOLDS, begun, returned_on="2026-11-25")
        assert ended["returned_on"] == HAND.today


@pytest.mark.parametrize(
    ("days", "how"),
    [
        ({"from_on": "2026-12-01", "issued_on": "2026-11-25"}, "H-001 went out on 2026-11-25"),
        ({"from_on": "2026-11-25"}, "H-001 began on 2026-11-25"),
    ],
)
def test_which_unit_is_out_and_since_when_is_settled(store: Store, days: dict[str, str], how: str) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        number = made(session, HOLDS, production="WIN", what="PS-1", **days)["id"]
    others: list[dict[str, object]] = [
        {"what": "DC-1"},
        {"what": "D4", "quantity": 1},
        {"from_on": "2026-12-02"},
    ]
    others += [{"issued_on": None}, {"issued_on": "2026-11-24"}] if "issued_on" in days else []
    for other in others:
        with pytest.raises(BadValues) as refusal, store.writing("crew") as session:
            changed(session, HOLDS, number, **other)
        error = refusal.value.errors[-1]
        assert (error.column, error.message) == (next(iter(other)), f"{how}: that is settled")
        assert error.mend.startswith("Return it")
    with pytest.raises(InUse, match=how), store.writing("crew") as session:
        retired(session, HOLDS, number)
    with store.writing("crew") as session:
        row = changed(session, HOLDS, number, to_on="2026-12-10", note="longer", what="ps-1")
        assert (row["what"], row["to_on"], row["note"]) == ("PS-1", date(2026, 12, 10), "longer")


@pytest.mark.parametrize("first", ["2026-12-01", "2026-12-10"])
def test_a_show_holds_a_unit_once_on_any_day(store: Store, first: str) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        build.a_production(session, tag="ICE")
        made(session, HOLDS, production="WIN", what="PS-1", from_on="2026-12-01", to_on="2026-12-10")
        made(session, HOLDS, production="ICE", what="PS-1", from_on="2026-12-01", to_on="2026-12-10")
        later = made(session, HOLDS, production="WIN", what="PS-1", from_on="2026-12-11")["id"]
    with pytest.raises(BadValues) as refusal, store.writing("crew") as session:
        made(session, HOLDS, production="WIN", what="PS-1", from_on=first, to_on="2026-12-10")
    (error,) = refusal.value.errors
    assert (error.column, error.mend) == ("what", "Change the days of that hold instead.")
    assert error.message == "WIN holds PS-1 on some of those days already, by H-001"
    with pytest.raises(BadValues, match="by H-001"), store.writing("crew") as session:
        changed(session, HOLDS, later, from_on=first)
    with store.writing("crew") as session:
        changed(session, HOLDS, later, note="the second half")
        assert len(session.scalars(select(Hold)).all()) == 3


def test_what_came_back_is_held_again_from_that_day_on(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        made(session, HOLDS, production="WIN", what="PS-1", returned_on="2026-11-25")
        assert made(session, HOLDS, production="WIN", what="PS-1", from_on="2026-11-25")["number"] == "H-002"


def test_the_day_a_unit_went_out_is_filled_in_late(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        number = made(session, HOLDS, production="WIN", what="PS-1")["id"]
        assert changed(session, HOLDS, number, issued_on="2026-11-20")["issued_on"] == date(2026, 11, 20)


def test_a_reel_that_is_promised_is_not_retired_until_the_hold_ends(store: Store) -> None:
    with store.writing("crew") as session:
        house = build.a_house(session)
        build.a_reel(session, house.tape, tag="R-9", left_pitches=0)
        number = made(session, HOLDS, production="WIN", what="R-9", length_m=1)["id"]
        with pytest.raises(InUse, match="R-9 is promised to WIN"):
            retired(session, REELS, "R-9")
        changed(session, HOLDS, number, returned_on="2026-11-25")
        assert retired(session, REELS, "R-9")["tag"] == "R-9"


def test_a_unit_that_went_out_says_when_by_whom_and_from_which_promise(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        promise = made(session, HOLDS, production="WIN", what="D4", quantity=2)
        row = made(
            session, HOLDS, production="WIN", what="DC-1", of_hold=promise["number"].lower(),
            issued_on="2026-11-20", issued_by="deck", returned_on="2026-11-24", returned_by="bench",
        )  # fmt: skip
        assert (row["of_hold"], row["issued_on"], row["issued_by"]) == ("H-001", date(2026, 11, 20), "deck")
        assert (row["returned_on"], row["returned_by"]) == (date(2026, 11, 24), "bench")
        session.expire_all()
        drawn = session.scalars(select(Hold).where(Hold.drawn_from_id.is_not(None))).one()
        assert drawn.drawn_from_id == promise["id"]
        with pytest.raises(InUse, match="H-001 began"):
            retired(session, HOLDS, promise["id"])


@pytest.mark.parametrize(
    ("values", "name", "why"),
    [
        ({"what": "D4", "quantity": 1, "issued_on": "2026-11-20"}, "issued_on", "D4 is not one unit"),
        ({"what": "D4", "quantity": 1, "of_hold": "H-001"}, "of_hold", "D4 is not one unit"),
        ({"what": "PS-1", "of_hold": "H-001"}, "of_hold", "H-001 does not promise WIN a unit like PS-1"),
        ({"what": "PS-1", "of_hold": "H-002"}, "of_hold", "H-002 does not promise WIN a unit like PS-1"),
        ({"what": "DC-1", "of_hold": "H-003"}, "of_hold", "H-003 does not promise WIN a unit like DC-1"),
        ({"what": "DC-1", "of_hold": "H-9"}, "of_hold", "H-9 is not a hold that is known here"),
        (
            {"what": "PS-1", "issued_on": "2026-11-20", "returned_on": "2026-11-19"},
            "returned_on",
            "it came back on 2026-11-19, before it went out on 2026-11-20",
        ),
    ],
)
def test_what_was_drawn_is_a_unit_of_what_was_promised(
    store: Store, values: dict[str, object], name: str, why: str
) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        build.a_production(session, tag="ICE")
        made(session, HOLDS, production="WIN", what="D4", quantity=2)
        made(session, HOLDS, production="WIN", what="DC-1")
        made(session, HOLDS, production="ICE", what="D4", quantity=2)
        with pytest.raises(BadValues) as refusal:
            made(session, HOLDS, production="WIN", **values)
        (error,) = refusal.value.errors
        assert (error.column, error.message) == (name, why)
        assert error.mend
