"""Lists as of days gone by: rebuilt from the record of changes, they are what was answered on that day."""

from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from random import Random
from typing import Any

import pytest
from sqlalchemy import event, select
from sqlalchemy.orm import Session

from service.api.lists import LISTINGS
from service.errors import NotFound, ServiceError
from service.kinds import actions
from service.kinds.bodies import new_body, said
from service.kinds.registry import KINDS
from service.planning.lists import PLANS
from service.season.queries import HOLDS
from service.shows.actions import change_run
from service.shows.queries import ELEMENTS, RUNS
from service.shows.records import Element, Piece
from service.shows.schemas import RunChange
from service.stock.queries import PLACES, REELS, VENUES
from service.stock.records import Cut, Place, Reel, Venue
from service.store.history import HISTORY
from service.store.listing import Listing, Row, one, page
from service.store.work import Store
from tests import builders as build
from tests.kinds.hands import HAND, changed

FIRST = datetime(2026, 10, 1, 9, 0, tzinfo=UTC)
BY_PLURAL = {kind.listing.plural: kind for kind in KINDS if kind.listing is not None and kind.is_written}
EVERYTHING = {"retired": "all"}
Act = Callable[[Session, Random], object]


def read(store: Store, listing: Listing, before: datetime | None = None) -> list[Row]:
    chosen = EVERYTHING if "retired_on" in {f.name for f in listing.fields} else {}
    with store.reading() as session:
        return page(session, listing, chosen, None, 10_000, before=before).rows


def answers(store: Store, before: datetime | None = None) -> dict[str, list[Row]]:
    """Every list there is."""
    return {listing.plural: read(store, listing, before) for listing in (*LISTINGS, PLANS)}


def _make(plural: str, **values: Any) -> Act:
    kind = BY_PLURAL[plural]

    def act(session: Session, random: Random) -> object:
        given = {name: value(random) if callable(value) else value for name, value in values.items()}
        return actions.make(session, kind, said(kind, new_body(kind).model_validate(given)), HAND)

    return act


def _some(session: Session, plural: str, random: Random) -> str | int:
    listing = BY_PLURAL[plural].listing
    assert listing is not None
    rows = page(session, listing, {}, None, 1000).rows
    return str(random.choice(rows)[listing.key_name]) if listing.is_tagged else int(random.choice(rows)["id"])


def _change(plural: str, **values: Callable[[Random], object]) -> Act:
    def act(session: Session, random: Random) -> object:
        name = random.choice(list(values))
        key = _some(session, plural, random)
        return changed(session, BY_PLURAL[plural], key, **{name: values[name](random)})

    return act


def _take_out(plural: str) -> Act:
    return lambda s, r: actions.retire(s, BY_PLURAL[plural], _some(s, plural, r), None, HAND)


def _bring_back(session: Session, random: Random) -> object:
    rows = page(session, PLACES, {"retired": "yes"}, None, 1000).rows
    return actions.restore(session, BY_PLURAL["places"], random.choice(rows)["tag"], None)


def _another_lead(session: Session, random: Random) -> object:
    return change_run(
        session, "SQ-1", 1, RunChange.model_validate({"lead_m": random.randint(1, 90) / 8}), None
    )


def _cut(session: Session, random: Random) -> object:
    """The reel is set without having been read, as after a bulk write."""
    reel = session.scalars(select(Reel).where(Reel.tag == "R-1")).one()
    session.expire_all()
    reel.note = f"cut {_number(random)}"
    return build.a_cut(session, reel, random.randint(1, 3))


def _lose_a_piece(session: Session, random: Random) -> object:
    pieces = session.scalars(select(Piece).order_by(Piece.id.desc())).all()
    element = session.scalars(select(Element).join(Element.runs).where(Element.tag != "SQ-1")).first()
    assert element is not None
    session.delete(random.choice(pieces[:-1]))
    return element


def _lengths(random: Random) -> object:
    return [
        {"pieces": [{"drawn_mm": 50.0 * random.randint(1, 40)} for _ in range(random.randint(1, 3))]}
        for _ in range(random.randint(1, 3))
    ]


def _number(random: Random) -> int:
    return random.randint(10, 10_000_000)


ACTS: dict[str, Act] = {
    "make a place": _make("places", tag=lambda r: f"b{_number(r)}", name="Bin", kind="bin", parent="STORE"),
    "make a supply": _make("supplies", tag=lambda r: f"PS-{_number(r)}", model="S320", home="A1"),
    "make an element": _make(
        "elements", tag=lambda r: f"SQ-{_number(r)}", production="WIN", tape="T-RGBW", runs=_lengths
    ),
    "make a hold": _make("holds", production="WIN", what="S320", quantity=1, from_on="2026-12-01"),
    "make a fault": _make("faults", symptom="dark", unit="DC-1", minutes_dark=lambda r: r.randint(1, 60)),
    "make an order": _make(
        "order-lines", order_number=lambda r: f"PO-{_number(r)}", line=1, what="D4", quantity=2,
        price=lambda r: f"{r.randint(1, 9999) / 100:.2f}",
    ),
    "change a place": _change("places", name=lambda r: f"bin {_number(r)}"),
    "change a model": _change(
        "supply-models",
        price=lambda r: f"{r.randint(1, 9999) / 100:.2f}",
        efficiency=lambda r: round(0.5 + r.random() / 2, 4),
        is_class2=lambda r: r.random() < 0.5,
        outputs=lambda r: [{"cap_a": r.randint(1, 90) / 8}] * r.randint(1, 3),
    ),
    "change an element": _change(
        "elements", priority=lambda r: r.randint(1, 9), runs=_lengths, note=lambda r: f"ünder {_number(r)}",
        cap_signed_on=lambda r: f"2026-11-{r.randint(1, 28):02d}",
    ),
    "change a hold": _change("holds", note=lambda r: str(_number(r)), to_on=lambda _: "2026-12-17"),
    "change a show": _change("productions", title=lambda r: f"Title {_number(r)}"),
    "mend a fault": _change("faults", mended_on=lambda r: f"2026-11-{r.randint(1, 28):02d}"),
    "retire a place": _take_out("places"),
    "take out a hold": _take_out("holds"),
    "take out a fault": _take_out("faults"),
    "bring a place back": _bring_back,
    "another lead": _another_lead,
    "cut": _cut,
    "lose a piece": _lose_a_piece,
}  # fmt: skip


def a_day(store: Store, random: Random, day: datetime, done: Counter[str]) -> None:
    for n in range(24):
        name = random.choice(list(ACTS))
        try:
            with store.writing("crew", at=day + timedelta(minutes=30 * n)) as session:
                ACTS[name](session, random)
        except (ServiceError, IndexError):
            continue  # refused, or nothing there to do it to: nothing was stored
        done[name] += 1


@pytest.mark.parametrize("seed", [1, 2])
def test_every_list_is_as_it_was_answered_on_each_day(store: Store, seed: int) -> None:
    random, done = Random(seed), Counter[str]()
    with store.writing("crew", at=FIRST) as session:
        build.a_house(session)
    days = [FIRST + timedelta(days=n) for n in range(8)]
    remembered = []
    for day in days:
        a_day(store, random, day, done)
        remembered.append(answers(store))
    assert done.keys() == ACTS.keys()
    for day, then in zip(days, remembered, strict=True):
        before = day + timedelta(hours=14)
        for plural, rows in answers(store, before).items():
            assert rows == then[plural], (plural, day)
    assert not any(rows for rows in answers(store, FIRST).values())


def test_a_single_thing_is_as_it_was_and_not_there_before_it_was_made(store: Store) -> None:
    with store.writing("crew", at=FIRST) as session:
        place = build.a_place(session, tag="Bin-1", name="old")
    with store.writing("crew", at=FIRST + timedelta(days=2)) as session:
        session.get_one(Place, place.id).name = "new"
    with store.reading() as session:
        assert one(session, PLACES, "bin-1")[0]["name"] == "new"
        then = one(session, PLACES, "bin-1", FIRST + timedelta(days=1))[0]
        assert (then["name"], then["changed_at"]) == ("old", FIRST)
        with pytest.raises(NotFound, match="there was no place bin-1 then"):
            one(session, PLACES, "bin-1", FIRST)


def test_what_was_taken_out_stands_in_the_lists_of_the_days_before(store: Store) -> None:
    with store.writing("crew", at=FIRST) as session:
        hold = build.a_hold(session, build.a_production(session), number="H-1")
        element = build.an_element(session, tag="SQ-7", runs=((10,), (20,)))
    with store.writing("crew", at=FIRST + timedelta(days=1)) as session:
        session.delete(session.merge(hold))
        session.delete(session.merge(element).runs[1])
    assert read(store, HOLDS) == []
    (held,) = read(store, HOLDS, FIRST + timedelta(hours=1))
    assert held["number"] == "H-1"
    for then, lengths in ((None, [500.0]), (FIRST + timedelta(hours=1), [500.0, 1000.0])):
        (found,) = read(store, ELEMENTS, then)
        assert [run["pieces"][0]["cut_mm"] for run in found["runs"]] == lengths
        assert len(read(store, RUNS, then)) == len(lengths)


def test_sums_over_other_tables_are_of_that_day_too(store: Store) -> None:
    """When a reel was counted stands in its ledger, not in its row."""
    with store.writing("crew", at=FIRST) as session:
        reel = build.a_reel(session, tag="R-9", left_pitches=40)
    with store.writing("crew", at=FIRST + timedelta(days=1)) as session:
        opening = session.scalars(select(Cut).where(Cut.reel_id == reel.id)).one()
        opening.cut_on = date(2026, 11, 1)
    assert read(store, REELS)[0]["counted_on"] == date(2026, 11, 1)
    assert read(store, REELS, FIRST + timedelta(hours=1))[0]["counted_on"] == date(2026, 9, 1)


def test_history_as_of_a_day_ends_with_it(store: Store) -> None:
    for n in range(3):
        with store.writing("crew", at=FIRST + timedelta(days=n)) as session:
            build.a_place(session, tag=f"B{n}")
    tags = [row["tag"] for row in read(store, HISTORY, FIRST + timedelta(days=1, hours=1))]
    assert tags == ["B0", "B1"]


def test_figures_survive_to_the_last_digit(store: Store) -> None:
    """A figure that no short decimal is equal to, rebuilt, is the same figure."""
    random = Random(3)
    figures = [random.random() * 10 ** random.randint(-6, 9) for _ in range(2000)]
    with store.writing("crew", at=FIRST) as session:
        venues = [build.a_venue(session, mains_v=figure).id for figure in figures]
    with store.writing("crew", at=FIRST + timedelta(days=1)) as session:
        for number in venues:
            session.get_one(Venue, number).house = "another"
    then = {row["id"]: row["mains_v"] for row in read(store, VENUES, FIRST + timedelta(hours=1))}
    assert [then[number] for number in venues] == figures


@contextmanager
def counted(store: Store) -> Iterator[list[object]]:
    seen: list[object] = []

    def note(*told: object) -> None:
        seen.append(told)

    event.listen(store.engine, "before_cursor_execute", note)
    try:
        yield seen
    finally:
        event.remove(store.engine, "before_cursor_execute", note)


@pytest.mark.parametrize("listing", [ELEMENTS, REELS, PLACES], ids=lambda one: one.plural)
def test_a_day_gone_by_takes_as_many_selects_for_many_changes_as_for_few(
    store: Store, listing: Listing
) -> None:
    def selects() -> int:
        with counted(store) as seen:
            assert read(store, listing, FIRST + timedelta(hours=1))
        return len(seen)

    def change(count: int) -> None:
        for n in range(count):
            with store.writing("crew", at=FIRST + timedelta(days=1, minutes=n)) as session:
                for record in (Place, Reel, Element, Piece):
                    thing: Any = session.scalars(select(record).order_by(record.id.desc())).first()
                    if record is Piece:
                        thing.drawn_um += 1
                    elif record is Place:
                        thing.name = f"bin {n}"
                    else:
                        thing.note = f"note {n}"
                build.an_element(session)

    with store.writing("crew", at=FIRST) as session:
        build.a_house(session)
    change(2)
    few = selects()
    change(30)
    assert selects() == few
