"""Sheets of scenic units, each a place of its own, and of groups of elements."""

import re
import unicodedata
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.kinds.columns import choice, tag, text, yes_no
from service.kinds.kind import Kind
from service.kinds.retiring import free_scenic_unit
from service.kinds.row import Row
from service.kinds.sheets.stock import refuse_circles
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known, ProductionFacts, group_key
from service.season.records import Production
from service.shows import queries
from service.shows.records import Group, GroupKind, Motion, ScenicUnit, Zone
from service.stock.records import Place, PlaceKind


def scenic_tag(production: str, name: str) -> str:
    """The tag a scenic unit goes by as a place, when its sheet gives none.

    >>> scenic_tag("SQ", "Ice wall"), scenic_tag("CO", "Café, left")
    ('SQ-ICE-WALL', 'CO-CAFE-LEFT')
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().upper()
    return f"{production}-{re.sub(r'[^A-Z0-9]+', '-', plain).strip('-') or 'UNIT'}"[:40]


def load_scenic_units(rows: list[Row], ctx: Context, known: Known) -> None:
    changed: list[tuple[Row, int | None]] = []
    for row in rows:
        production = ctx.find(known.productions, row, "production")
        stands = ctx.find(known.places, row, "place")
        if production is None or not ctx.claim_name(known.scenic_units, row, "scenic_unit"):
            continue
        if row.thing_id is not None:
            changed.append((row, stands))
        else:
            known.scenic_units.put(row, make_scenic_unit(row, ctx, known, production, stands))
    if changed:
        _change_scenic_units(changed, ctx)


def _change_scenic_units(rows: list[tuple[Row, int | None]], ctx: Context) -> None:
    """The units and the places that they are."""
    ids = [row.thing_id for row, _ in rows]
    found = ctx.session.execute(select(ScenicUnit.id, ScenicUnit.place_id).where(ScenicUnit.id.in_(ids)))
    place_of = dict(found.all())
    units: list[dict[str, Any]] = []
    places: list[dict[str, Any]] = []
    for row, stands in rows:
        name = row.text("scenic_unit")
        units.append(
            {
                "id": row.thing_id,
                "name": name,
                "motion": row.one_of("motion", Motion.STATIC),
                "zone": row.one_of("zone", Zone.DRY),
                "has_travelling_cable": row.flag("travelling_cable", False),
            }
        )
        places.append({"id": place_of[row.thing_id or 0], "name": name, "parent_id": stands})
    moved = [(row, place["id"], place["parent_id"]) for (row, _), place in zip(rows, places, strict=True)]
    refuse_circles(moved, ("scenic_unit", "place"), ctx)
    ctx.put(ScenicUnit, units)
    ctx.put(Place, places)
    changed = ctx.changed.get(Place, set())
    ctx.bump(ScenicUnit, {unit for unit, place in place_of.items() if place in changed})


def make_scenic_unit(
    row: Row,
    ctx: Context,
    known: Known,
    production: ProductionFacts,
    stands: int | None,
    given_name: str = "",
) -> int:
    """The scenic unit and the place that it is; without a sheet of its own it stands still and dry."""
    name = given_name or row.text("scenic_unit")
    place_tag = ("" if given_name else row.text("tag")) or scenic_tag(production.tag, name)
    if not ctx.claim(row, "scenic_unit", place_tag):
        return 0
    place_id = known.places.get(place_tag)  # made with the places that stand inside it
    if place_id is None:
        place = {"tag": place_tag, "name": name, "kind": PlaceKind.SCENIC_UNIT, "parent_id": stands}
        place_id = ctx.put(Place, [place])[0]
        known.places.put(row, place_id, place_tag)
    values = {
        "production_id": production.id,
        "place_id": place_id,
        "name": name,
        "motion": Motion.STATIC if given_name else row.one_of("motion", Motion.STATIC),
        "zone": Zone.DRY if given_name else row.one_of("zone", Zone.DRY),
        "has_travelling_cable": False if given_name else row.flag("travelling_cable", False),
    }
    return ctx.put(ScenicUnit, [values])[0]


def load_groups(rows: list[Row], ctx: Context, known: Known) -> None:
    """Groups told beforehand; one that an element names is made anyway."""
    kept = []
    for row in rows:
        production = ctx.find(known.productions, row, "production")
        if ctx.claim_name(known.others("group", _groups), row, "name") and production is not None:
            kept.append((row, production))
    values = [
        {
            "id": row.thing_id,
            "production_id": production.id,
            "kind": row.one_of("kind", GroupKind.CONTROL),
            "name": row.text("name"),
            "note": row.text("note"),
        }
        for row, production in kept
    ]
    for (row, production), i in zip(kept, ctx.put(Group, values), strict=True):
        kind: GroupKind = row.one_of("kind", GroupKind.CONTROL)
        known.groups.put(row, i, group_key(production.id, kind, row.text("name")))


def _groups(session: Session) -> dict[str, int]:
    rows = session.execute(
        select(Group.id, Production.tag_key, Group.kind, Group.name).join(
            Production, Group.production_id == Production.id
        )
    )
    return {f"{production}\t{kind.value}\t{name}".upper(): i for i, production, kind, name in rows}


_PRODUCTION = tag("Production", "Code of the production", required=True, example="SQ", also=("prod", "show"),
                  is_fixed=True)  # fmt: skip

SCENIC_UNITS = Kind(
    "scenic units",
    "a piece of scenery, a prop or a costume that carries elements",
    (
        _PRODUCTION,
        text("Scenic unit", "What it is called", 120, required=True, example="Ice wall",
             also=("name", "unit"), field="name"),
        choice("Motion", Motion, "How it moves", default="static"),
        choice("Zone", Zone, "How wet it gets", default="dry"),
        yes_no(
            "Travelling cable", "A cable follows it as it moves", default="no", field="has_travelling_cable"
        ),
        tag("Place", "Where it stands", example="SL-DR"),
        tag("Tag", "Its own tag", default="the production's code and its name", is_fixed=True),
    ),
    load_scenic_units,
    "scenic unit",
    ("production", "scenic_unit"),
    ("scenery", "scenic unit"),
    listing=queries.SCENIC_UNITS,
    record=ScenicUnit,
    retire=free_scenic_unit,
    label=("name", "production"),
    makes=("place", "tag"),
)  # fmt: skip

GROUPS = Kind(
    "groups",
    "a group of elements that move together, or are seen together",
    (
        _PRODUCTION,
        choice("Kind", GroupKind, "control: moves together; match: one tape, one lot", required=True,
               example="match", is_fixed=True),
        text("Name", "What it is called", 80, required=True, example="attic", also=("group",)),
        text("Note", "Anything to know"),
    ),
    load_groups,
    "group",
    ("production", "kind", "name"),
    ("group",),
    listing=queries.GROUPS,
    record=Group,
)  # fmt: skip
