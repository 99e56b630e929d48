"""Elements changed: what follows from a change, and what it may not do."""

import pytest
from sqlalchemy import select

from service.errors import BadRequest, InUse, NotFound, Stale
from service.shows.actions import change_element, change_run
from service.shows.records import Element, FitRule, Group, PieceCut
from service.shows.schemas import ElementChange, RunChange
from service.store.audit import AuditEntry
from service.store.work import Store
from tests import builders as build


def test_only_what_is_named_is_changed(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        element = change_element(session, "sq-1", ElementChange(priority=2), None)
    assert (element.priority, element.name, element.mount) == (2, "upper window", "aluminium")


def test_wired_emitters_are_kept_in_pad_order(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        element = change_element(session, "SQ-1", ElementChange(wired="white  red red"), None)
    assert element.wired == "red white"


def test_leaving_all_emitters_unwired_is_allowed_and_is_for_the_limits_to_say(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        assert change_element(session, "SQ-1", ElementChange(wired=" "), None).wired == ""


def test_nothing_can_be_wired_before_the_tape_is_chosen(store: Store) -> None:
    with store.writing("crew") as session:
        build.an_element(session, tag="SQ-7", tape_id=None)
        with pytest.raises(BadRequest, match="no tape"):
            change_element(session, "SQ-7", ElementChange(wired="red"), None)


def test_pieces_cut_already_keep_their_length_when_the_fit_rule_changes(store: Store) -> None:
    """Two pieces drawn 3.33 m, cut every 50 mm: 66 pitches inside, 67 to cover; the first is cut."""
    with store.writing("bench") as session:
        element = build.an_element(session, tag="SQ-3", runs=((66, 66),))
        first, second = element.runs[0].pieces
        first.drawn_um = second.drawn_um = 3_330_000
        cut = build.a_cut(session, build.a_reel(session), 66)
        session.add(PieceCut(piece_id=first.id, cut_id=cut.id))
        change_element(session, "SQ-3", ElementChange(fit=FitRule.COVER), None)
        assert (first.cut_pitches, second.cut_pitches) == (66, 67)
        with pytest.raises(InUse, match="1 of 2 pieces"):
            change_element(session, "SQ-3", ElementChange(tape=build.a_tape(session).tag), None)


def test_a_retired_tape_cannot_be_chosen(store: Store) -> None:
    with store.writing("crew") as session:
        house = build.a_house(session)
        build.a_tape(session, tag="T-OLD", retired_on=house.production.opening)
        with pytest.raises(BadRequest, match="no tape T-OLD"):
            change_element(session, "SQ-1", ElementChange(tape="T-OLD"), None)


def test_a_scenic_unit_of_another_show_cannot_be_named(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        build.a_scenic_unit(session, build.a_production(session), name="Boat")
        with pytest.raises(BadRequest, match="no scenic unit Boat") as refusal:
            change_element(session, "SQ-1", ElementChange(scenic_unit="Boat"), None)
        assert "House front" in refusal.value.mend


def test_two_who_name_the_same_group_share_it(store: Store) -> None:
    with store.writing("crew") as session:
        house = build.a_house(session)
        build.an_element(session, house.production, tag="SQ-2")
        for tag in ("SQ-1", "SQ-2"):
            change_element(session, tag, ElementChange(match_group="cornice"), None)
        assert len(session.scalars(select(Group)).all()) == 1


def test_a_change_meant_for_another_version_does_nothing(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        with pytest.raises(Stale):
            change_element(session, "SQ-1", ElementChange(priority=1), frozenset({2}))
        with pytest.raises(Stale):
            change_element(session, "SQ-1", ElementChange(priority=1), frozenset())
    with store.reading() as session:
        assert session.scalars(select(Element.priority)).one() == 3


def test_a_changed_run_takes_its_element_to_the_next_version_with_one_row_on_record(
    store: Store,
) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
    with store.writing("bench") as session:
        assert (
            change_run(
                session, "SQ-1", 1, RunChange.model_validate({"lead_m": "12 ft"}), frozenset({1})
            ).version
            == 2
        )
    with store.writing("bench") as session:
        assert (
            change_run(session, "SQ-1", 1, RunChange.model_validate({"lead_m": 3.6576}), None).version == 2
        )  # 12 ft: the same
        with pytest.raises(NotFound, match="no run 2"):
            change_run(session, "SQ-1", 2, RunChange(lead_m=1), None)
    with store.reading() as session:
        (row,) = session.scalars(select(AuditEntry).where(AuditEntry.by == "bench")).all()
    assert (row.kind, row.before, row.after) == ("runs", {"lead_um": 3_000_000}, {"lead_um": 3_657_600})
