"""What is fitted, found and measured is about one thing, and its figures can be."""

from datetime import date
from typing import Any

import pytest
from sqlalchemy.exc import IntegrityError

from service.errors import Refused
from service.shows.faults import BenchTest, Fault
from service.shows.fittings import ControlLine, Fuse
from service.shows.upkeep import WorkOrder
from service.store.base import Stored
from service.store.work import Store
from tests import builders as build
from tests.shows import upkeep

DAY = date(2026, 11, 20)


@pytest.mark.parametrize(
    ("record", "values", "rule"),
    [
        (Fuse, {"rating_a": 5.0}, "in_one_place"),
        (Fuse, {"rating_a": 5.0, "unit_id": "unit", "run_id": "run"}, "in_one_place"),
        (Fuse, {"rating_a": 5.0, "run_id": "run", "output": 1}, "output_of_a_unit"),
        (Fuse, {"rating_a": 0.0, "run_id": "run"}, "rating_positive"),
        (Fault, {"symptom": "dark", "found_on": DAY}, "about_one_thing"),
        (Fault, {"symptom": "dark", "found_on": DAY, "unit_id": "unit", "mended_on": date(2026, 11, 19)},
         "found_before_mended"),
        (BenchTest, {"tested_on": DAY, "passed": True, "unit_id": "unit", "measured_w_per_m": 9.0},
         "watts_a_metre_of_tape"),
        (BenchTest, {"tested_on": DAY, "passed": True}, "about_one_thing"),
        (ControlLine, {"name": "a", "production_id": "show", "universe": 64_000}, "universe_range"),
        (ControlLine, {"name": "a", "production_id": "show", "unit_load_limit": 0.0}, "limit_positive"),
        (WorkOrder, {"what": "a lead", "asked_on": DAY, "due_on": date(2026, 11, 19)}, "asked_before_due"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_by_the_database_itself(
    store: Store, record: type[Stored], values: dict[str, Any], rule: str
) -> None:
    with store.writing("tests") as session:
        house = build.a_house(session)
        ids = {"unit": house.supply.id, "run": house.element.runs[0].id, "show": house.production.id}
    with pytest.raises((Refused, IntegrityError), match=rule), store.writing("tests") as session:
        session.add(record(**{name: ids.get(value, value) for name, value in values.items()}))


def test_a_line_carries_32_unit_loads_unless_told_otherwise(store: Store) -> None:
    """ANSI E1.11, by EIA-485."""
    with store.writing("tests") as session:
        line = upkeep.a_control_line(session, build.a_production(session))
        assert line.unit_load_limit == 32.0


def test_two_lines_of_a_show_do_not_share_a_name(store: Store) -> None:
    with pytest.raises(Refused, match="control_lines"), store.writing("tests") as session:
        show = build.a_production(session)
        upkeep.a_control_line(session, show)
        upkeep.a_control_line(session, show)
