"""Elements changed: what follows from a change, and what it may not do."""

import pytest
from sqlalchemy import select

from service.errors import BadValues, InUse, Stale
from service.kinds.actions import change
from service.kinds.bodies import change_body, said
from service.kinds.sheets.shows import ELEMENTS
from service.shows.records import Element, Group, PieceCut
from service.store.work import Store
from tests import builders as build
from tests.kinds.hands import HAND, changed


def test_only_what_is_named_is_changed(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        row = changed(session, ELEMENTS, "sq-1", priority=2)
    assert (row["priority"], row["name"], row["mount"]) == (2, "upper window", "aluminium")


def test_wired_emitters_are_kept_in_pad_order(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        assert changed(session, ELEMENTS, "SQ-1", wired="white  red red")["wired"] == "red white"


def test_leaving_all_emitters_unwired_is_allowed_and_is_for_the_limits_to_say(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        assert changed(session, ELEMENTS, "SQ-1", wired="none")["wired"] == "none"
        assert session.scalars(select(Element.wired)).one() == ""


def test_pieces_cut_already_keep_their_length_when_the_fit_rule_changes(store: Store) -> None:
    """Two pieces drawn 3.33 m, cut every 50 mm: 66 pitches inside, 67 to cover; the first is cut."""
    with store.writing("bench") as session:
        element = build.an_element(session, tag="SQ-3", runs=((66, 66),))
        first, second = element.runs[0].pieces
        first.drawn_um = second.drawn_um = 3_330_000
        cut = build.a_cut(session, build.a_reel(session), 66)
        session.add(PieceCut(piece_id=first.id, cut_id=cut.id))
        session.flush()
        (run,) = changed(session, ELEMENTS, "SQ-3", fit="cover")["runs"]
        assert [piece["cut_pitches"] for piece in run["pieces"]] == [66, 67]
        with pytest.raises(InUse, match="1 of the pieces of SQ-3 is cut"):
            changed(session, ELEMENTS, "SQ-3", tape=build.a_tape(session).tag)


def test_a_retired_tape_cannot_be_chosen_and_one_in_use_stays(store: Store) -> None:
    with store.writing("crew") as session:
        house = build.a_house(session)
        build.a_tape(session, tag="T-OLD", retired_on=house.production.opening)
        with pytest.raises(BadValues, match="T-OLD is retired"):
            changed(session, ELEMENTS, "SQ-1", tape="T-OLD")
        house.tape.retired_on = house.production.opening
        assert changed(session, ELEMENTS, "SQ-1", priority=2)["tape"] == house.tape.tag


def test_a_scenic_unit_of_another_show_cannot_be_named(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        build.a_scenic_unit(session, build.a_production(session), name="Boat")
        with pytest.raises(BadValues, match="Boat is not a scenic unit"):
            changed(session, ELEMENTS, "SQ-1", scenic_unit="Boat")


def test_two_who_name_the_same_group_share_it(store: Store) -> None:
    with store.writing("crew") as session:
        house = build.a_house(session)
        build.an_element(session, house.production, tag="SQ-2")
        for tag in ("SQ-1", "SQ-2"):
            changed(session, ELEMENTS, tag, match_group="cornice")
        assert len(session.scalars(select(Group)).all()) == 1


@pytest.mark.parametrize("versions", [frozenset({2}), frozenset()])
def test_a_change_meant_for_another_version_does_nothing(store: Store, versions: frozenset[int]) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        values = said(ELEMENTS, change_body(ELEMENTS).model_validate({"priority": 1}))
        with pytest.raises(Stale):
            change(session, ELEMENTS, "SQ-1", values, versions, HAND)
    with store.reading() as session:
        assert session.scalars(select(Element.priority)).one() == 3


def test_a_cap_without_who_holds_it_is_none(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        with pytest.raises(BadValues, match="who signed it"):
            changed(session, ELEMENTS, "SQ-1", cap_pct=60)


def test_an_element_takes_the_next_version_once_when_one_of_its_runs_changes(store: Store) -> None:
    with store.writing("crew") as session:
        house = build.a_house(session)
        lengths = [{"drawn_mm": piece.drawn_um / 1000} for piece in house.element.runs[0].pieces]
        before = house.element.version
        changed(session, ELEMENTS, "SQ-1", runs=[{"pieces": lengths, "lead_m": "12 ft"}])
        session.expire_all()
        element = session.scalars(select(Element)).one()
        assert (element.version, element.runs[0].lead_um) == (before + 1, 3_657_600)
