"""What was measured on the bench, told through the doors, and the tape it counts for.

SQ-1 has 2 m of tape of 19.2 W/m by its sheet.
"""

import pytest
from sqlalchemy.orm import Session

from service.errors import BadValues
from service.kinds.upkeep.faults import BENCH_TESTS
from service.planning.queries import feed_of
from service.store.work import Store
from tests import builders as build
from tests.kinds.hands import changed, made
from tests.paper.house import bring, the_faults


def watts(session: Session, tag: str = "SQ-1") -> float:
    session.flush()
    return float(feed_of(session.connection(), tag)["load_w"])


def test_loads_go_by_what_was_measured_of_the_tape_the_element_had_then(store: Store) -> None:
    with store.writing("bench") as session:
        house = build.a_house(session)
        row = made(session, BENCH_TESTS, element="SQ-1", passed=True, measured_w_per_m=24.0)
        assert (row["tape"], watts(session)) == ("T-RGBW", 48.0)
        house.element.tape_id = build.a_tape(session, (("white", 9.6),), tag="T-W").id
        assert watts(session) == 19.2
        again = changed(session, BENCH_TESTS, row["id"], measured_w_per_m=25.0, note="read again")
        assert (again["tape"], watts(session)) == ("T-RGBW", 19.2)
        made(session, BENCH_TESTS, element="SQ-1", passed=True, measured_w_per_m=11.0)
        assert watts(session) == 22.0


def test_a_test_told_late_names_the_tape_that_was_measured(store: Store) -> None:
    with store.writing("bench") as session:
        build.a_house(session)
        build.a_tape(session, (("white", 9.6),), tag="T-W")
        row = made(session, BENCH_TESTS, element="SQ-1", passed=True, measured_w_per_m=11.0, tape="t-w")
        assert (row["tape"], watts(session)) == ("T-W", 38.4)
        assert changed(session, BENCH_TESTS, row["id"], tape="T-RGBW")["tape"] == "T-RGBW"
        assert watts(session) == 22.0


def test_a_test_moved_to_another_element_is_of_the_tape_of_that_one(store: Store) -> None:
    with store.writing("bench") as session:
        house = build.a_house(session)
        white = build.a_tape(session, (("white", 9.6),), tag="T-W")
        build.an_element(session, house.production, tag="SQ-2", tape=white)
        number = made(session, BENCH_TESTS, element="SQ-1", passed=True, measured_w_per_m=11.0)["id"]
        assert changed(session, BENCH_TESTS, number, element="SQ-2")["tape"] == "T-W"


def test_watts_a_metre_of_no_known_tape_are_refused_by_name(store: Store) -> None:
    with store.writing("bench") as session:
        house = build.a_house(session)
        build.an_element(session, house.production, tag="SQ-2", tape_id=None)
        values = {"passed": True, "measured_w_per_m": 11.0}
        with pytest.raises(BadValues, match="the tape of SQ-2 is not decided") as refusal:
            made(session, BENCH_TESTS, element="SQ-2", **values)
        assert refusal.value.errors[0].column == "measured_w_per_m"
        assert made(session, BENCH_TESTS, element="SQ-2", **values, tape="T-RGBW")["tape"] == "T-RGBW"
        with pytest.raises(BadValues, match="it is the tape of an element"):
            made(session, BENCH_TESTS, unit="PS-1", passed=True, tape="T-RGBW")
        with pytest.raises(BadValues, match="watts a metre are measured of an element"):
            made(session, BENCH_TESTS, unit="PS-1", **values)


def test_a_test_without_watts_a_metre_is_of_no_tape(store: Store) -> None:
    with store.writing("bench") as session:
        build.a_house(session)
        row = made(session, BENCH_TESTS, element="SQ-1", passed=True, measured_w=99.0)
        assert (row["tape"], watts(session)) == (None, 38.4)


def test_sheets_say_when_watts_alone_will_not_count(store: Store) -> None:
    sheet = "Test,Element,Passed,Measured (W)\nBE-7,SQ-1,yes,99\nBE-8,SQ-1,no,99\n"
    with store.writing("bench") as session:
        build.a_house(session)
    brought = bring(store, bench_tests=sheet)
    assert brought.remarks == (
        "bench tests: BE-7 passed with watts but no watts a metre, so the loads of SQ-1 do not go by it: "
        "give Measured per metre too",
    )
    more = bring(store, bench_tests="Element,Passed,Measured per metre\nSQ-1,yes,24 W/m\n")
    assert more.remarks == ()
    with store.reading() as session:
        assert watts(session) == 48.0
    [fault] = the_faults(store, bench_tests="Unit,Passed,Measured per metre\nPS-1,yes,24 W/m\n")
    assert fault.column == "Measured per metre"
