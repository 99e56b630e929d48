"""Sheets of the house: venues, places and wire."""

from service.electrical.gauges import most_a
from service.kinds.columns import Column, Form, choice, length, per_metre, quantity, tag, text, whole
from service.kinds.kind import Kind
from service.kinds.row import Row
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known
from service.stock.records import Place, PlaceKind, Reach, Venue, Wire


def load_venues(rows: list[Row], ctx: Context, known: Known) -> None:
    kept = [row for row in rows if ctx.claim_name(known.venues, row, "venue")]
    ids = ctx.put(
        Venue,
        [
            {
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
    """Places come in the order of the sheet; a place may stand inside one further up."""
    for row in rows:
        if not ctx.claim(row, "place", row.text("place")):
            continue
        kind: PlaceKind = row.one_of("kind", PlaceKind.BIN)
        venue = ctx.find(known.venues, row, "venue")
        parent = ctx.find(known.places, row, "inside")
        values = {
            "tag": row.text("place"),
            "name": row.text("name"),
            "kind": kind,
            "venue_id": venue,
            "parent_id": parent,
        }
        known.places.put(row, ctx.put(Place, [values])[0])


def load_reaches(rows: list[Row], ctx: Context, known: Known) -> None:
    """Which gear may feed which place, and on how long a lead; without any row, gear feeds its own tree."""
    values = []
    taken: dict[tuple[str, str], int] = {}
    for row in rows:
        place, gear = ctx.find(known.places, row, "place"), ctx.find(known.places, row, "gear_at")
        pair = (row.text("place").upper(), row.text("gear_at").upper())
        earlier = taken.setdefault(pair, row.number)
        if earlier != row.number or (place, gear) in known.reaches:
            where = f"in row {earlier}" if earlier != row.number else "in the store"
            ctx.refuse(row, "place", f"this pair of places is also {where}", "Keep one of the two.")
        values.append({"place_id": place, "gear_place_id": gear, "lead_um": row.um("lead")})
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
        text("Venue", "The stage's name", 80, required=True, example="Slipway", also=("name", "stage")),
        text("House", "The building it is in", 80, example="Harrow Quay Playhouse"),
        whole("Seats", "How many it seats", 0, 100_000, example="520"),
        quantity("Mains", "V", "Mains voltage", 80, 480, required=True, example="120", also=("mains volts",)),
        quantity("Mains frequency", "Hz", "Mains frequency", 45, 65, example="60", also=("mains hz",)),
        text("Time zone", "Name in the IANA database", 40, example="America/Halifax"),
    ),
    load_venues,
    "venue",
    ("venue",),
    ("venue", "stages"),
)

PLACES = Kind(
    "places",
    "a bin of the store or a position on a stage",
    (
        tag("Place", "Its tag", required=True, example="SL-DR", also=("bin", "tag")),
        choice("Kind", PlaceKind, "What it is", default="bin"),
        text("Name", "What people call it", 120, example="deck right"),
        text("Venue", "The stage it is on; blank: the store", 80, example="Slipway"),
        tag("Inside", "The place it is part of; list that one first", also=("parent",)),
    ),
    load_places,
    "place",
    ("place",),
    ("place", "bins"),
)

REACHES = Kind(
    "reaches",
    "a place that gear standing at another may feed",
    (
        tag("Place", "Where the elements are", required=True, example="SL-DR"),
        tag("Gear at", "Where the supply or decoder stands", required=True, example="SL-DL", also=("from",)),
        length("Lead", "Longest lead allowed between them; blank: any", 0, 500, example="12 m"),
    ),
    load_reaches,
    also=("reach",),
)

WIRE = Kind(
    "wire",
    "lead stock of one gauge and core count",
    (
        Column("Gauge", Form.GAUGE, "Size of each core", required=True, bare_unit="AWG", example="18 AWG",
               also=("awg",)),
        whole("Cores", "How many cores", 1, 60, required=True, example="5"),
        per_metre(
            "Core", "ohm/m", "Resistance of one core at 20 °C", 1e-6, 10, example="20.95 mΩ/m",
            also=("core resistance", "resistance"),
        ),
        quantity("Limit", "A", "Amps the shop allows on it", 0.1, 400, example="7"),
        length("On hand", "Length on the drum", 0, 100_000, example="200 m"),
    ),
    load_wire,
    "wire",
    ("gauge", "cores"),
    ("wires", "leads", "lead stock"),
)  # fmt: skip
