"""A run on another lead."""

import pytest
from sqlalchemy import select

from service.errors import NotFound
from service.shows.actions import change_run
from service.shows.schemas import RunChange
from service.store.audit import TOUCHED, AuditEntry
from service.store.work import Store
from tests import builders as build


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
        (row,) = session.scalars(
            select(AuditEntry).where(AuditEntry.by == "bench", AuditEntry.what != TOUCHED)
        ).all()
    assert (row.kind, row.before, row.after) == ("runs", {"lead_um": 3_000_000}, {"lead_um": 3_657_600})
