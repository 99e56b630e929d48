"""Every kind of thing, held to its one description over every row of the demonstration season."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import DeclarativeBase, Mapped, Session, mapped_column

import seed_demo
from service.api.lists import row_shape
from service.errors import NotFound
from service.kinds import actions
from service.kinds.bodies import change_body, new_body, said
from service.kinds.columns import Column, quantity, tag
from service.kinds.kind import Kind, Part, Values
from service.kinds.registry import KINDS
from service.kinds.row import Row
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known
from service.kinds.writing.updating import is_same
from service.paper.bring_in import NAMES, bring_in
from service.paper.reading import read_path
from service.store.audit import AuditEntry
from service.store.base import TagEntry, Tagged
from service.store.listing import Field, Listing, everything, page
from service.store.work import Store
from tests.kinds.hands import HAND
from tests.paper.house import read

# What the season has no row of: a reach, tape that came back, was recounted, joined or came later, a
# delivery, a joint.
MORE = {
    "reaches": "Place,Gear at,Lead (m)\nSL-DR,SL-DL,12\n",
    "cuts": (
        "Cut,Reel,Length (mm),Kind,Undoes\nK-901,R-101,300,scrap,\nK-902,R-101,300,,K-901\n"
        ",R-101,-200,recount,\n,R-101,100,received,\nK-905,R-102,-300,joined,\nK-906,R-101,300,joined,\n"
    ),
    "deliveries": (
        "Delivery,Order,Line,Count,Received on,Lot,Reels,Units\nDN-1,PO-2611-1,1,1,2026-11-25,C-26F,R-101,\n"
        "DN-2,PO-2611-2,1,2,2026-11-25,,,PS-01 PS-02\n"
    ),
    "orders": (
        "Order,Line,What,Count,Received count,Hire from,Hire to\nPO-2611-2,1,S320,3,2,2026-12-01,2026-12-20\n"
    ),
    "holds": (
        "Hold,Production,What,Count,Of hold,Issued on,Issued by,Returned on,Returned by\n"
        "H-902,TW,PS-23,,H-901,2026-11-20,deck,2026-11-24,bench\nH-901,TW,S150,2,,,,,\n"
    ),
    "stocktakes": (
        "Stocktake,Place,Status,Closed by,Closed at\nST-001,B1,open,,\n"
        "ST-002,B1,closed,Ada,2026-11-20T17:00:00Z\n"
    ),
    "stocktake lines": (
        "Stocktake,Tag,Expected,Found,Found pitches,Book pitches,Book state,Outcome,Note\n"
        "ST-001,PS-03,yes,,,,good,to count,\nst-001,R-101,no,yes,99,100,sealed,differs,measured twice\n"
        "ST-002,ps-03,yes,no,,,good,to look for,\n"
    ),
    "reel joins": "Reel,From hub,Kind\nR-101,2.5 m,factory\nR-101,4.9 m,made\n",
}
NOTHING: tuple[object, ...] = (None, "", (), [])


@pytest.fixture
def season(store: Store) -> Iterator[Session]:
    reading, more = read_path(seed_demo.folder(), NAMES), read(MORE)
    with store.writing("demo") as session:
        bring_in(session, reading.sheets, "demo", seed_demo.AS_OF)
        bring_in(session, more.sheets, "demo", seed_demo.AS_OF)
    with store.writing("a test") as session:
        yield session


def listing_of(kind: Kind) -> Listing:
    assert kind.listing is not None, f"{kind.name} has no list"
    return kind.listing


def again(kind: Kind, rows: Sequence[tuple[int, int, Mapping[str, Any]]]) -> list[Row]:
    """Rows that say of each thing what its list says."""
    heads = {c.key: c.api_name for c in kind.columns}
    said_again = []
    for number, _, listed in rows:
        values = kind.values_of(listed)
        kept = frozenset(c.key for c in kind.columns)
        said_again.append(
            Row(kind.name, None, values, heads, kind.index, kind.name_of(values), thing_id=number, kept=kept)
        )
    return said_again


def test_what_a_list_says_loaded_again_changes_nothing(season: Session) -> None:
    faults = []
    for kind in KINDS:
        listing = listing_of(kind)
        before = everything(season, listing)
        entries = season.scalar(select(func.count()).select_from(AuditEntry))
        ctx = Context(season, "a test", seed_demo.AS_OF, may_make=False)
        kind.load(again(kind, before), ctx, Known(ctx))
        season.flush()
        faults += [f"{kind.name}: {error}" for error in ctx.errors]
        if season.scalar(select(func.count()).select_from(AuditEntry)) != entries:
            faults.append(f"{kind.name}: something was put on record")
        if everything(season, listing) != before:
            faults.append(f"{kind.name}: something changed")
    assert faults == []


def test_the_season_has_rows_of_every_kind_it_has_a_sheet_for(season: Session) -> None:
    """Otherwise the promises above would be kept by empty lists."""
    sheets = {sheet.name for sheet in read_path(seed_demo.folder(), NAMES).sheets} | MORE.keys()
    filled = {kind.name for kind in KINDS if everything(season, listing_of(kind))}
    assert sheets <= filled
    assert len(sheets) >= 25


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_every_column_is_a_field_of_the_list_under_a_name_of_its_own(kind: Kind) -> None:
    listing = listing_of(kind)
    fields = {f.name for f in listing.fields} | {child.name for child in listing.children}
    columns = [c for c in kind.columns if not c.is_short]
    assert {c.part or c.api_name for c in columns} <= fields
    names = [c.api_name for c in columns if not c.part] + [part.name for part in kind.parts]
    assert len(names) == len(set(names))
    assert {c.key for c in kind.columns} >= set(kind.identity) != set()
    assert len({c.key for c in kind.columns}) == len(kind.columns)
    assert set(kind.label) <= fields
    _parts_are_children(kind.parts, listing.children)


def _parts_are_children(parts: Sequence[Part], children: Sequence[Any]) -> None:
    of_name = {child.name: child for child in children}
    for part in parts:
        child = of_name[part.name]
        below = {f.name for f in child.fields} | {c.name for c in child.children}
        assert {c.part or c.api_name for c in part.columns} <= below
        _parts_are_children(part.parts, child.children)


def writable(
    columns: Sequence[Column], parts: Sequence[Part], row: Mapping[str, Any], is_change: bool
) -> dict[str, Any]:
    """What of a listed row may be sent back."""
    body = {
        c.api_name: row[c.api_name]
        for c in columns
        if not c.is_short and not c.part and not (is_change and c.is_fixed)
    }
    body |= {p.name: [writable(p.columns, p.parts, each, False) for each in row[p.name]] for p in parts}
    return {name: value for name, value in body.items() if is_change or value is not None}


def same(before: object, after: object) -> bool:
    if isinstance(before, tuple) and isinstance(after, tuple):
        return len(before) == len(after) and all(map(same, before, after))
    return (before in NOTHING and after in NOTHING) or is_same(before, after)


@pytest.mark.parametrize("is_change", [False, True], ids=["made anew", "changed"])
def test_a_listed_row_can_be_sent_back_as_it_is(season: Session, is_change: bool) -> None:
    faults = []
    for kind in KINDS:
        listing = listing_of(kind)
        shape, body_of = row_shape(listing), change_body(kind) if is_change else new_body(kind)
        fixed = {c.key for c in kind.columns if is_change and c.is_fixed and not c.part}
        for _, _, row in everything(season, listing):
            if not kind.is_exported(row):
                continue
            json = shape.dump_python(shape.validate_python(row), mode="json")
            body = body_of.model_validate(writable(kind.columns, kind.parts, json, is_change))
            values, wanted = said(kind, body), kind.values_of(row)
            keys = (values.keys() | wanted.keys()) - fixed
            faults += [
                f"{kind.name} {kind.name_of(wanted)}: {key} was {wanted.get(key)!r}, is {values.get(key)!r}"
                for key in keys
                if not same(wanted.get(key), values.get(key))
            ]
    assert not faults, "\n".join(faults[:40])


class Toys(DeclarativeBase):
    """Records of this test alone, apart from those of the house."""


TagEntry.metadata.tables["tags"].to_metadata(Toys.metadata)


class Ladder(Tagged, Toys):
    KIND = "ladder"
    __tablename__ = "ladders"

    height_m: Mapped[float] = mapped_column()


def load_ladders(rows: list[Row], ctx: Context, _known: Known) -> None:
    ctx.put(
        Ladder,
        [
            {"id": row.thing_id, "tag": row.text("ladder"), "height_m": row.real("height")}
            for row in rows
            if ctx.claim(row, "ladder", row.text("ladder"))
        ],
    )


LADDERS = Kind(
    "ladders",
    "a ladder",
    (
        tag("Ladder", "Its tag", required=True, example="L-1", field="tag", is_fixed=True),
        quantity("Height", "m", "How far up it goes", 0.5, 20, required=True, field="height_m"),
    ),
    load_ladders,
    "ladder",
    ("ladder",),
    listing=Listing(
        plural="ladders",
        one="a ladder",
        doc="Ladders.",
        source=Ladder,
        id=Ladder.id,
        version=Ladder.version,
        key=Ladder.tag_key,
        order=(Ladder.tag_key,),
        fields=(Field("tag", Ladder.tag, "tag"), Field("height_m", Ladder.height_m, "height in m")),
    ),
    record=Ladder,
)


def test_one_entry_makes_a_new_kind_listed_made_changed_and_retired(store: Store) -> None:
    Ladder.__table__.create(store.engine)  # type: ignore[attr-defined]
    made: Values = said(LADDERS, new_body(LADDERS).model_validate({"tag": "L-1", "height_m": "3 m"}))
    taller: Values = said(LADDERS, change_body(LADDERS).model_validate({"height_m": 4}))
    listing = listing_of(LADDERS)

    with store.writing("crew") as session:
        assert actions.make(session, LADDERS, made, HAND) == ({"tag": "L-1", "height_m": 3.0}, 1)
    with store.writing("crew") as session:
        row, version = actions.change(session, LADDERS, "l-1", taller, frozenset({1}), HAND)
        assert (row["height_m"], version) == (4.0, 2)
    with store.writing("crew") as session:
        assert actions.retire(session, LADDERS, "L-1", None, HAND)[1] == 3
        assert session.scalars(select(Ladder.retired_on)).one() == HAND.today
    with store.writing("crew") as session:
        actions.restore(session, LADDERS, "L-1", None)
        assert page(session, listing, {}, None, 10).rows == [{"tag": "L-1", "height_m": 4.0}]
        with pytest.raises(NotFound, match="no ladder L-2"):
            actions.change(session, LADDERS, "L-2", taller, None, HAND)
