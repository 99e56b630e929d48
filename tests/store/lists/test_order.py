"""Lists in any order: pages of any size are the whole list, in that order, the same on both databases."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cmp_to_key
from random import Random
from typing import Any

import pytest
from sqlalchemy.dialects import postgresql
from sqlalchemy.orm import Session

from service.errors import BadQuestion
from service.shows.faults import Fault
from service.shows.upkeep_queries import FAULTS
from service.stock.queries import PLACES, TAPES
from service.stock.records import Place, Tape
from service.store.listing import Listing, Row, page
from service.store.lists import order
from service.store.work import Store
from tests import builders as build

WORDS = [
    "",
    "",
    "",
    "apple",
    "Apple",
    "Zebra",
    "zebra",
    "_",
    "éclair",
    "Éclair",
    "10",
    "9",
    "a b",
    "日本",
    "😀",
    "'; --",
]
MOMENT = datetime.fromisoformat("2026-11-20T10:00:00+00:00")


def any_of(random: Random, *values: Any) -> Any:
    return random.choice((*values, None))


def a_tape(session: Session, random: Random, n: int) -> None:
    session.add(
        Tape(
            tag=f"{random.choice('aAzZ_é')}{n}", nominal_v=random.choice((5.0, 12.8, 24.0)), class_v=24.0,
            polarity="common positive", pitch_um=random.choice((50_000, 100_000, 33_333)),
            reel_pitches=any_of(random, 7, 66, 100), ip=any_of(random, 20, 65),
            leds_per_m=any_of(random, 60.0, 1 / 3, -0.0, 1e300, 5e-324), colour=random.choice(WORDS),
            price=any_of(random, Decimal("9.99"), Decimal("10.00"), Decimal("10.01"), Decimal("0.10")),
        )
    )  # fmt: skip


def a_fault(session: Session, random: Random, _: int) -> None:
    session.add(
        Fault(
            symptom=random.choice(WORDS[1:]), cause=random.choice(WORDS), found_on=date(2026, 11, 1),
            found_at=any_of(random, MOMENT, MOMENT + timedelta(microseconds=1), MOMENT + timedelta(hours=3)),
            made_dark=random.random() < 0.5, mended_on=any_of(random, date(2026, 11, 9), date(2026, 11, 10)),
            minutes_dark=any_of(random, 1, 10, 9), unit_id=session.info["unit"],
        )
    )  # fmt: skip


MAKE = {"tapes": a_tape, "faults": a_fault}
LISTS = pytest.mark.parametrize("listing", [TAPES, FAULTS], ids=lambda one: one.plural)


def fill(store: Store, listing: Listing, random: Random, numbers: range) -> None:
    with store.writing("tests") as session:
        session.info["unit"] = build.a_supply(session).id
        for n in numbers:
            MAKE[listing.plural](session, random, n)


def whole(store: Store, listing: Listing) -> list[Row]:
    with store.reading() as session:
        return page(session, listing, {}, None, 10_000).rows


def walked(store: Store, listing: Listing, sort: str, limit: int, between: Any = None) -> list[Row]:
    rows: list[Row] = []
    after: list[Any] | None = None
    while True:
        with store.lookup() as connection:
            one = page(connection, listing, {}, after, limit, sort=sort)
        rows += one.rows
        if one.after is None:
            return rows
        # As a cursor carries it: nothing of the place may be lost on the way.
        after = order.from_json(order.keys(listing, sort), order.as_json(one.after))
        if between is not None:
            between()


def in_order(rows: list[Row], listing: Listing, sort: str) -> list[Row]:
    """The order worked out here: blanks last, tags in any letter case, text by its code points."""
    tags = {"tag", "unit", "element", "production", "swapped_for"}

    def place(row: Row, name: str) -> Any:
        value = row[name]
        if value in (None, ""):
            return None
        return value.upper() if name in tags else value

    def compare(one: Row, other: Row) -> int:
        for part in sort.split(","):
            name = part.removeprefix("-")
            a, b = place(one, name), place(other, name)
            if a != b:
                if a is None or b is None:
                    return 1 if a is None else -1
                return (-1 if a < b else 1) * (-1 if part.startswith("-") else 1)
        key = listing.key_name
        a, b = (str(row[key]).upper() if listing.is_tagged else row[key] for row in (one, other))
        return -1 if a < b else 1

    return sorted(rows, key=cmp_to_key(compare))


def some_sort(listing: Listing, random: Random) -> str:
    names = [f.name for f in order.sortable(listing)]
    chosen = random.sample(names, random.randint(1, 4))
    return ",".join(random.choice(("", "-")) + name for name in chosen)


@LISTS
def test_pages_of_any_size_in_any_order_are_the_whole_list_in_that_order(
    store: Store, listing: Listing
) -> None:
    random = Random(7)
    fill(store, listing, random, range(45))
    rows = whole(store, listing)
    assert len(rows) == 45
    every = [way + f.name for f in order.sortable(listing) for way in ("", "-")]
    for sort in every + [some_sort(listing, random) for _ in range(60)]:
        wanted = in_order(rows, listing, sort)
        assert walked(store, listing, sort, random.choice((1, 2, 7, 44, 45, 46))) == wanted, sort


@LISTS
def test_rows_that_are_there_throughout_are_seen_once_while_others_come(
    store: Store, listing: Listing
) -> None:
    random = Random(8)
    fill(store, listing, random, range(30))
    fresh = iter(range(1000, 9000, 3))

    def more() -> None:
        first = next(fresh)
        fill(store, listing, random, range(first, first + 2))

    for _ in range(6):
        sort = some_sort(listing, random)
        known = whole(store, listing)
        numbers = {row[listing.key_name] for row in known}
        seen = walked(store, listing, sort, 7, more)
        assert [row for row in seen if row[listing.key_name] in numbers] == in_order(known, listing, sort)


def test_tags_of_mixed_case_and_names_stand_by_code_points_on_both_databases(store: Store) -> None:
    with store.writing("tests") as session:
        session.add_all(Place(tag=tag, name=tag, kind="bin") for tag in ("b", "A", "C", "é", "_", "a1", "Z"))
    with store.reading() as session:
        by_tag = [row["tag"] for row in page(session, PLACES, {}, None, 9).rows]
        by_name = [row["name"] for row in page(session, PLACES, {}, None, 9, sort="name").rows]
    assert by_tag == ["A", "a1", "b", "C", "Z", "_", "é"]
    assert by_name == ["A", "C", "Z", "_", "a1", "b", "é"]


def test_a_postgresql_database_of_any_language_is_told_to_order_by_code_points() -> None:
    (key, last) = order.keys(PLACES, "-name")
    said = [str(k.clause().compile(dialect=postgresql.dialect())) for k in (key, last)]  # type: ignore[no-untyped-call]
    assert all('COLLATE "C"' in text for text in said)
    assert "DESC NULLS LAST" in said[0]
    after = order.beyond((key, last), ["x", "P1"]).compile(dialect=postgresql.dialect())  # type: ignore[no-untyped-call]
    assert str(after).count('COLLATE "C"') == 2


def test_an_order_by_a_field_that_is_not_there_names_those_that_are() -> None:
    for sort in ("colour", "-", "", "name,,tag", "name;tag", "before"):
        with pytest.raises(BadQuestion, match="sorted by; it has tag, name, kind, venue, parent"):
            order.keys(PLACES, sort)
    with pytest.raises(BadQuestion, match="at most 6"):
        order.keys(TAPES, "price,ip,colour,class_v,pitch_mm,signal,polarity")


@pytest.mark.parametrize(
    "place",
    [[], [1.5], ["x", "y", "z"], [None, None], [True, "P1"], [["x"], "P1"], ["x\x00", "P1"], [{}, "P1"]],
)
def test_a_place_that_cannot_be_one_of_the_order_is_refused(place: list[Any]) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        order.from_json(order.keys(PLACES, "name"), place)
