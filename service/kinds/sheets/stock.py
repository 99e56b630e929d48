"""Sheets of the house: venues, places, what gear reaches, and wire."""

from typing import Any

from sqlalchemy import select

from service.electrical.gauges import most_a
from service.kinds.columns import Column, Form, choice, length, per_metre, quantity, tag, text, whole
from service.kinds.kind import Kind
from service.kinds.retiring import retire_place, retire_wire
from service.kinds.row import Row
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known
from service.kinds.writing.nesting import Nested, turns
from service.stock import queries
from service.stock.records import Place, PlaceKind, Reach, Venue, Wire


def load_venues(rows: list[Row], ctx: Context, known: Known) -> None:
    kept = [row for row in rows if ctx.claim_name(known.venues, row, "venue")]
    ids = ctx.put(
        Venue,
        [
            {
                "id": row.thing_id,
                "name": row.text("venue"),
                "house": row.text("house"),
                "seats": row.whole("seats"),
                "mains_v": row.real("mains"),
                "mains_hz": row.real("mains_frequency"),
                "timezone": row.text("time_zone") or None,
            }
            for row in kept
        ],
    )
    for row, i in zip(kept, ids, strict=True):
        known.venues.put(row, i)


def load_places(rows: list[Row], ctx: Context, known: Known) -> None:
    """Places in any order: one may stand inside another of the sheet, or inside a scenic unit whose sheet
    is still to come: the place that it is, is made here with them."""
    places = [row for row in rows if ctx.claim(row, "place", row.text("place"))]
    scenery = [
        row
        for row in ctx.coming.get("scenic units", ())
        if row.has("tag") and known.places.get(row.text("tag")) is None
        if ctx.claim(row, "scenic_unit", row.text("tag"))
    ]
    nested = [Nested(row, row.text("place"), "inside") for row in places]
    nested += [Nested(row, row.text("tag"), "place") for row in scenery]
    found, circles = turns(nested)
    for each in circles:
        refuse_circle(each.row, each.column, each.tag, ctx)
    for turn in found:
        _put_places(turn, ctx, known)
    put = {id(each.row) for turn in found for each in turn}
    for each in nested:
        if id(each.row) not in put:
            ctx.mark_broken(each.row)
            ctx.miss("place", each.tag)


def _place(row: Row, ctx: Context, known: Known) -> dict[str, Any]:
    kind: PlaceKind = row.one_of("kind", PlaceKind.BIN)
    is_brought_back = "retired_on" in row.heads or "kind" not in row.kept
    if kind is PlaceKind.SCENIC_UNIT and is_brought_back and not row.has("retired_on"):
        ctx.refuse(
            row, "kind", f"{row.text('place')} would be a scenic unit of no production",
            "Enter it as a scenic unit; that makes its place too.",
        )  # fmt: skip
    return {
        "id": row.thing_id,
        "tag": row.text("place"),
        "name": row.text("name"),
        "kind": kind,
        "venue_id": ctx.find(known.venues, row, "venue"),
        "parent_id": ctx.find(known.places, row, "inside"),
    }


def _put_places(nested: list[Nested], ctx: Context, known: Known) -> None:
    """`inside` is a column of places alone; a scenic unit calls it `place`."""
    values = [
        _place(each.row, ctx, known) if each.column == "inside" else _scenic(each.row, ctx, known)
        for each in nested
    ]
    moved = [
        (each.row, each.row.thing_id, place["parent_id"]) for each, place in zip(nested, values, strict=True)
    ]
    refuse_circles(moved, ("place", "inside"), ctx)
    for each, i in zip(nested, ctx.put(Place, values), strict=True):
        known.places.put(each.row, i, each.tag)


def _scenic(row: Row, ctx: Context, known: Known) -> dict[str, Any]:
    return {
        "id": None,
        "tag": row.text("tag"),
        "name": row.text("scenic_unit"),
        "kind": PlaceKind.SCENIC_UNIT,
        "venue_id": None,
        "parent_id": ctx.find(known.places, row, "place"),
    }


def refuse_circle(row: Row, key: str, name: str, ctx: Context) -> None:
    ctx.refuse(row, key, f"{name} would stand inside itself", "Name a place that is around it.")


def refuse_circles(
    rows: list[tuple[Row, int | None, int | None]], keys: tuple[str, str], ctx: Context
) -> None:
    """Refuse what would put a place inside itself: a row, the place it changes and the place around that.

    `keys`: the columns that name the place, and the one around it.
    """
    name, inside = keys
    changed = {place: around for _, place, around in rows if place is not None}
    if not changed:
        return
    above = dict(ctx.session.execute(select(Place.id, Place.parent_id)).all()) | changed
    for row, place, around in rows:
        seen = {place}
        while around is not None and around not in seen:
            seen.add(around)
            around = above.get(around)
        if place is not None and around == place:
            refuse_circle(row, inside, row.text(name), ctx)


def load_reaches(rows: list[Row], ctx: Context, known: Known) -> None:
    """Which gear may feed which place, and on how long a lead; without any row, gear feeds its own tree."""
    values = []
    for row in rows:
        place, gear = ctx.find(known.places, row, "place"), ctx.find(known.places, row, "gear_at")
        if ctx.claim_name(known.reaches, row, "place"):
            values.append(
                {"id": row.thing_id, "place_id": place, "gear_place_id": gear, "lead_um": row.um("lead")}
            )
    ctx.put(Reach, values)


def load_wire(rows: list[Row], ctx: Context, known: Known) -> None:
    kept = [row for row in rows if ctx.claim_name(known.wires, row, "gauge")]
    for row in kept:
        limit_a, (most, source) = row.real("limit"), most_a(row.text("gauge"))
        if limit_a is not None and limit_a > most:
            ctx.refuse(
                row, "limit", f"{limit_a:g} A is more than {row.text('gauge')} may carry in a cord",
                f"At most {most:g} A ({source}); leave it blank for the shop's own figure.",
            )  # fmt: skip
    ctx.put(
        Wire,
        [
            {
                "id": row.thing_id,
                "gauge": row.text("gauge"),
                "cores": row.whole("cores"),
                "ohm_per_m": row.real("core"),
                "limit_a": row.real("limit"),
                "length_um": row.um("on_hand"),
            }
            for row in kept
        ],
    )


VENUES = Kind(
    "venues",
    "a stage",
    (
        text("Venue", "The stage's name", 80, required=True, example="Slipway", also=("name", "stage"),
             field="name"),
        text("House", "The building it is in", 80, example="Harrow Quay Playhouse"),
        whole("Seats", "How many it seats", 0, 100_000, example="520"),
        quantity("Mains", "V", "Mains voltage", 80, 480, required=True, example="120",
                 also=("mains volts",), field="mains_v"),
        quantity("Mains frequency", "Hz", "Mains frequency", 45, 65, example="60", also=("mains hz",),
                 field="mains_hz"),
        text("Time zone", "Name in the IANA database", 40, example="America/Halifax", field="timezone"),
    ),
    load_venues,
    "venue",
    ("venue",),
    ("venue", "stages"),
    listing=queries.VENUES,
    record=Venue,
)  # fmt: skip

PLACES = Kind(
    "places",
    "a bin of the store or a position on a stage",
    (
        tag("Place", "Its tag", required=True, example="SL-DR", also=("bin", "tag"), field="tag",
            is_fixed=True),
        choice("Kind", PlaceKind, "What it is", default="bin"),
        text("Name", "What people call it", 120, example="deck right"),
        text("Venue", "The stage it is on; blank: the store", 80, example="Slipway"),
        tag("Inside", "The place it is part of", also=("parent",), field="parent"),
    ),
    load_places,
    "place",
    ("place",),
    ("place", "bins"),
    listing=queries.PLACES,
    record=Place,
    retire=retire_place,
    label=("name",),
    # Its scenic unit brings it along, unless that was taken out.
    is_exported=lambda row: row["kind"] != PlaceKind.SCENIC_UNIT or row["retired_on"] is not None,
)  # fmt: skip

REACHES = Kind(
    "reaches",
    "a place that gear standing at another may feed",
    (
        tag("Place", "Where the elements are", required=True, example="SL-DR", is_fixed=True),
        tag("Gear at", "Where the supply or decoder stands", required=True, example="SL-DL", also=("from",),
            is_fixed=True),
        length("Lead", "Longest lead allowed between them; blank: any", 0, 500, example="12 m",
               field="lead_m"),
    ),
    load_reaches,
    "reach",
    ("place", "gear_at"),
    ("reach",),
    listing=queries.REACHES,
    record=Reach,
)  # fmt: skip

WIRE = Kind(
    "wire",
    "lead stock of one gauge and core count",
    (
        Column("Gauge", Form.GAUGE, "Size of each core", required=True, bare_unit="AWG", example="18 AWG",
               also=("awg",), is_fixed=True),
        whole("Cores", "How many cores", 1, 60, required=True, example="5", is_fixed=True),
        per_metre(
            "Core", "ohm/m", "Resistance of one core at 20 °C", 1e-6, 10, example="20.95 mΩ/m",
            also=("core resistance", "resistance"), field="ohm_per_m",
        ),
        quantity("Limit", "A", "Amps the shop allows on it", 0.1, 400, example="7", field="limit_a"),
        length("On hand", "Length on the drum", 0, 100_000, example="200 m", field="length_m"),
    ),
    load_wire,
    "wire",
    ("gauge", "cores"),
    ("wires", "leads", "lead stock"),
    listing=queries.WIRES,
    record=Wire,
    retire=retire_wire,
)  # fmt: skip
