"""What a list may be asked: any of several, a least and a most, a text found, what is retired or changed."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from random import Random
from typing import Any

import pytest

from service.api.lists import LISTINGS
from service.errors import BadQuestion
from service.planning.lists import PLANS
from service.season.queries import HOLDS, SEASONS
from service.season.records import Season
from service.shows.queries import ELEMENTS
from service.stock.gear_queries import SUPPLIES
from service.stock.queries import PLACES, TAPES
from service.stock.records import Place, PlaceKind
from service.store.history import HISTORY
from service.store.listing import Listing, page
from service.store.lists import askable, values
from service.store.work import Store
from tests import builders as build

FIRST = datetime(2026, 11, 1, 9, 0, tzinfo=UTC)


def asked(store: Store, listing: Listing, query: str, field: str = "tag") -> list[Any]:
    chosen = askable.read(listing, [tuple(part.split("=", 1)) for part in query.split("&") if part])  # type: ignore[misc]
    with store.reading() as session:
        return [row[field] for row in page(session, listing, chosen, None, 1000).rows]


@pytest.fixture
def shelf(store: Store) -> Store:
    with store.writing("tests", at=FIRST) as session:
        top = build.a_place(session, tag="TOP", name="Top", kind=PlaceKind.STORE)
        build.a_place(session, tag="P1", name="Ice wall, left", kind=PlaceKind.ROOM, parent_id=top.id)
        build.a_place(session, tag="p2", name='24" shelf', kind=PlaceKind.BIN, parent_id=top.id)
        build.a_place(session, tag="P3", name="", kind=PlaceKind.STAGE)
    with store.writing("tests", at=FIRST + timedelta(hours=1)) as session:
        build.a_place(session, tag="OLD", name="ÉTAGÈRE 100%_x", retired_on=date(2026, 11, 1))
    return store


@pytest.mark.parametrize(
    ("query", "tags"),
    [
        ("", ["P1", "p2", "P3", "TOP"]),
        ("tag=p1,P2", ["P1", "p2"]),
        ("parent=top", ["P1", "p2"]),
        ("parent=", ["P3", "TOP"]),
        ("parent=,Top", ["P1", "p2", "P3", "TOP"]),
        ("name=Top", ["TOP"]),
        ("name=top", []),
        ("name=", ["P3"]),
        ('name="Ice wall, left"', ["P1"]),
        ('name=24" shelf', ["p2"]),
        ("kind=room, bin", ["P1", "p2"]),
        ("kind=room&kind=bin", ["P1", "p2"]),
        ("kind=room&tag=P2", []),
        ("q=SHELF", ["p2"]),
        ("q=t", ["P1", "p2", "TOP"]),
        ("q=%", []),
        ("retired=yes", ["OLD"]),
        ("retired=all&q=étagère", ["OLD"]),
        ("retired=all&q=0%_X", ["OLD"]),
        ("retired=all&q=%x", []),
        ("retired_on=2026-11-01", []),
        ("retired_on_max=2026-11-01&retired=all", ["OLD"]),
        ("changed_since=2026-11-01T09:00:00Z", ["P1", "p2", "P3", "TOP"]),
        ("changed_since=2026-11-01T10:00:00.000001Z", []),
        ("changed_since=2026-11-01T11:00:00+01:00&retired=all", ["OLD"]),
        ("changed_since=2026-11-01T11:00:00 01:00&retired=all", ["OLD"]),
    ],
)
def test_places_are_narrowed_alike_on_both_databases(shelf: Store, query: str, tags: list[str]) -> None:
    assert asked(shelf, PLACES, query) == tags


def test_figures_money_and_days_have_a_least_and_a_most_that_count(store: Store) -> None:
    with store.writing("tests") as session:
        for n, price in enumerate(("9.99", "10.00", None), start=1):
            build.a_tape(
                session, tag=f"T{n}", ip=20 + n, max_run_um=n * 1_100_000,
                price=None if price is None else Decimal(price),
            )  # fmt: skip
    for query, tags in (
        ("price_min=10", ["T2"]), ("price_max=10.00", ["T1", "T2"]), ("price=9.990", ["T1"]),
        ("price=", ["T3"]),
        ("ip_min=22&ip_max=22", ["T2"]), ("ip=21,23", ["T1", "T3"]), ("max_run_m=3.3", ["T3"]),
        ("max_run_m_min=2.2", ["T2", "T3"]), ("max_run_m_max=2.1999", ["T1"]), ("price_min=9.995", ["T2"]),
    ):  # fmt: skip
        assert asked(store, TAPES, query) == tags, query


def test_what_is_shown_otherwise_than_it_is_kept_is_asked_for_as_it_is_shown(store: Store) -> None:
    """The last day of a span is shown; the day after it is kept. Nothing wired is shown as none."""
    with store.writing("tests") as session:
        session.add(Season(name="Autumn", from_on=date(2026, 9, 1), until_on=date(2026, 12, 1)))
        build.an_element(session, tag="E1")
        build.an_element(session, tag="E2", wired="")
    assert asked(store, SEASONS, "to_on=2026-11-30", "to_on") == [date(2026, 11, 30)]
    assert asked(store, SEASONS, "to_on_min=2026-12-01", "name") == []
    assert asked(store, SEASONS, "to_on_max=2026-11-30", "name") == ["Autumn"]
    assert asked(store, ELEMENTS, "wired=none") == ["E2"]


def test_a_thing_held_is_asked_for_by_its_tag_in_any_letter_case(store: Store) -> None:
    with store.writing("tests") as session:
        build.a_hold(session, build.a_production(session), unit_id=build.a_supply(session, tag="PS-1").id)
    assert asked(store, HOLDS, "unit=ps-1", "unit") == ["PS-1"]
    assert asked(store, HOLDS, "what=ps-1", "what") == ["PS-1"]


def test_a_unit_that_is_retired_is_listed_only_when_asked_for(store: Store) -> None:
    with store.writing("tests") as session:
        model = build.a_supply_model(session)
        build.a_supply(session, model, tag="PS-1", retired_on=date(2026, 11, 1))
        build.a_supply(session, model, tag="PS-2")
    assert asked(store, SUPPLIES, "") == ["PS-2"]
    assert asked(store, SUPPLIES, "retired=yes") == ["PS-1"]


def test_changes_on_record_are_found_from_an_instant_on(store: Store) -> None:
    for n in range(3):
        with store.writing("tests", at=FIRST + timedelta(hours=n)) as session:
            build.a_place(session, tag=f"B{n}")
    assert asked(store, HISTORY, "changed_since=2026-11-01T10:00:00Z") == ["B1", "B2"]
    assert asked(store, HISTORY, "thing_id_min=1&what=made&q=b0") == ["B0"]


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("pitch_mm_min=2 in", ["T-2"]),
        ("pitch_mm_max=5 cm", ["T-1"]),
        ("pitch_mm=50 mm,100", ["T-1", "T-2"]),
        ("pitch_mm=0.1 m", ["T-2"]),
        ("class_v=24 V", ["T-1", "T-2"]),
        ("measured_w_per_m_min=4 W/ft", ["T-2"]),
    ],
)
def test_a_figure_is_asked_for_with_its_unit_too(store: Store, query: str, found: list[str]) -> None:
    """2 in = 50.8 mm; 4 W/ft = 13.12 W/m."""
    with store.writing("tests") as session:
        build.a_tape(session, tag="T-1", pitch_um=50_000, measured_w_per_m=13.0)
        build.a_tape(session, tag="T-2", pitch_um=100_000, measured_w_per_m=13.2)
    assert asked(store, TAPES, query) == found


@pytest.mark.parametrize(
    ("listing", "query", "name", "said"),
    [
        (PLACES, "kind=attic", "kind", "one of 'store', 'bin', 'quarantine'"),
        (PLACES, "retired=maybe", "retired", "one of 'no', 'yes', 'all'"),
        (PLACES, "nmae=x", "nmae", "did you mean name"),
        (PLACES, "name_min=x", "name_min", "is not a parameter"),
        (PLACES, "name=a\x00", "name", "NUL"),
        (PLACES, "changed_since=2026-11-01", "changed_since", "with its zone"),
        (PLACES, "changed_since=0001-01-01T00:00:00+10:00", "changed_since", "with its zone"),
        (PLACES, "venue=" + ",".join("x" * 501), "venue", "at most 500"),
        (TAPES, "ip=2147483648", "ip", "an integer of at most 2147483647"),
        (TAPES, "ip=1_0", "ip", "an integer"),
        (TAPES, "class_v=24 A", "class_v", "is a current, not a voltage"),
        (TAPES, "pitch_mm_min=wide", "pitch_mm_min", "not one number and one unit"),
        (TAPES, "leds_per_m=60 mm", "leds_per_m", "without its unit"),
        (TAPES, "class_v_min=nan", "class_v_min", "one number"),
        (TAPES, "price=1e30", "price", "below 100000000"),
        (TAPES, "price_min=sNaN", "price_min", "a number"),
        (HOLDS, "from_on=20261101", "from_on", "as YYYY-MM-DD"),
        (HOLDS, "to_on=9999-12-31", "to_on", "out of range"),
        (ELEMENTS, "is_dimmed=perhaps", "is_dimmed", "true or false"),
    ],
)
def test_what_cannot_be_read_is_refused_by_name(listing: Listing, query: str, name: str, said: str) -> None:
    with pytest.raises(BadQuestion, match=said) as refused:
        askable.read(listing, [tuple(query.split("=", 1))])  # type: ignore[list-item]
    assert [fault[0] for fault in refused.value.faults] == [name]


def test_everything_that_cannot_be_read_is_named_at_once() -> None:
    with pytest.raises(BadQuestion, match="2 parameters") as refused:
        askable.read(TAPES, [("ip", "x"), ("price", "y"), ("colour", "red")])
    assert [fault[0] for fault in refused.value.faults] == ["ip", "price"]


@pytest.mark.parametrize("listing", [*LISTINGS, PLANS], ids=lambda one: one.plural)
def test_every_question_of_every_list_can_be_asked_on_both_databases(store: Store, listing: Listing) -> None:
    """A question that one of the databases cannot answer would fail here."""
    examples = {"integer": "7", "number": "7.5", "boolean": "true", "date": "2026-11-25"}
    with store.reading() as session:
        for question in askable.questions(listing).values():
            shape = question.shape["schema"]
            shape = shape.get("items", shape)
            text = "2026-11-25T10:00:00Z" if shape.get("format") == "date-time" else None
            text = (
                text or shape.get("enum", [None])[0] or examples.get(shape.get("format", shape["type"]), "x")
            )
            for given in (text, "") if isinstance(question, askable.AnyOf) else (text,):
                chosen = askable.read(listing, [(question.name, given)])
                assert page(session, listing, chosen, None, 5).rows == []


def test_a_random_least_and_most_leave_what_a_person_would_leave(store: Store) -> None:
    random = Random(5)
    with store.writing("tests") as session:
        session.add_all(Place(tag=f"P{n}", name="", kind=PlaceKind.BIN) for n in range(random.randint(5, 9)))
    with store.reading() as session:
        rows = page(session, HISTORY, {}, None, 1000).rows
    for _ in range(20):
        low, high = sorted(random.choices([row["thing_id"] for row in rows], k=2))
        wanted = [row["thing_id"] for row in rows if low <= row["thing_id"] <= high]
        query = f"thing_id_min={low}&thing_id_max={high}"
        assert asked(store, HISTORY, query, "thing_id") == wanted


def test_values_with_commas_stand_in_quotes() -> None:
    assert values.several('a,"b, c",d') == ["a", "b, c", "d"]
    with pytest.raises(ValueError, match="commas"):
        values.several("a,b\rc")
