"""Sheets of the season: productions, film days, holds, orders and what else hangs on an outlet."""

from datetime import date, timedelta
from itertools import pairwise

from service.kinds.columns import Column, Form, day, length, quantity, tag, text, whole
from service.kinds.columns import choice as one_of
from service.kinds.kind import Kind
from service.kinds.row import Row
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known, ProductionFacts
from service.season.records import FilmDay, Hold, OrderLine, OtherLoad, Production, ProductionStatus
from service.stock.records import Venue

UNSAID_MAINS_V = 120.0
_DATES = ("build_start", "load_in", "tech", "first_preview", "opening", "closing", "strike_end", "return_by")


def _venue(row: Row, ctx: Context, known: Known) -> int | None:
    """The venue named; a house that has none yet, and no sheet of them, gets it made with a remark."""
    name = row.text("venue")
    venues = known.venues
    if not name and len(venues.things) == 1:
        return next(iter(venues.things.values()))
    if not name and venues.things:
        ctx.refuse(row, "venue", "the venue is not said and there are several", "Name one.")
        return None
    if venues.get(name) is not None or not ctx.makes("venues") or venues.things.keys() - venues.rows.keys():
        return ctx.find(venues, row, "venue")
    made = name or "Main stage"
    ctx.remark(f"venue {made!r} was made with mains at {UNSAID_MAINS_V:g} V: correct it if yours differ")
    i = ctx.put(Venue, [{"name": made, "mains_v": UNSAID_MAINS_V}])[0]
    venues.put(row, i, made)
    return i


def _dates(row: Row) -> dict[str, date | None]:
    """The dates as given; a blank end falls back on its neighbour."""
    given = {key: row.day(key) for key in _DATES}
    given["build_start"] = given["build_start"] or given["load_in"]
    given["strike_end"] = given["strike_end"] or given["closing"]
    given["return_by"] = given["return_by"] or given["strike_end"]
    return given


def _in_order(row: Row, ctx: Context, given: dict[str, date | None]) -> None:
    known = [(key, on) for key, on in given.items() if on is not None]
    for (before, first), (after, second) in pairwise(known):
        if first > second:
            ctx.refuse(
                row, after if row.has(after) else before,
                f"{_words(after)} {second} comes before {_words(before)} {first}",
                "Correct one of the two.",
            )  # fmt: skip
    needed_from, needed_to = row.day("needed_from"), row.day("needed_to")
    first_out, last_out = needed_from or given["build_start"], needed_to or given["return_by"]
    if first_out and last_out and first_out > last_out:
        ctx.refuse(
            row,
            "needed_from",
            f"gear is needed from {first_out} but only to {last_out}",
            "Correct one of the two.",
        )


def _words(key: str) -> str:
    return key.replace("_", " ")


def load_productions(rows: list[Row], ctx: Context, known: Known) -> None:
    for row in rows:
        claimed = ctx.claim(row, "code", row.text("code"))
        venue, given = _venue(row, ctx, known), _dates(row)
        _in_order(row, ctx, given)
        if not claimed or row.is_broken:
            ctx.mark_broken(row)
            continue
        status: ProductionStatus = row.one_of("status", ProductionStatus.CONFIRMED)
        values = {
            "tag": row.text("code"),
            "title": row.text("title") or row.text("code"),
            "venue_id": venue,
            **given,
            "needed_from": row.day("needed_from"),
            "needed_to": row.day("needed_to"),
            "status": status,
            "default_universe": row.whole("universe"),
        }
        i = ctx.put(Production, [values])[0]
        from_on, to_on = (
            row.day("needed_from") or given["build_start"],
            row.day("needed_to") or given["return_by"],
        )
        assert from_on is not None
        assert to_on is not None
        known.productions.put(row, ProductionFacts(i, row.text("code"), from_on, to_on))


def load_film_days(rows: list[Row], ctx: Context, known: Known) -> None:
    found = [(row, ctx.find(known.productions, row, "production")) for row in rows]
    days = {(p.id, row.day("filmed_on")) for row, p in found if p is not None}
    ctx.put(FilmDay, [{"production_id": i, "filmed_on": on} for i, on in sorted(days, key=str)])


def load_other_loads(rows: list[Row], ctx: Context, known: Known) -> None:
    values = []
    for row in rows:
        outlet, production = (
            ctx.find(known.outlets, row, "outlet"),
            ctx.find(known.productions, row, "production"),
        )
        values.append(
            {
                "outlet_id": outlet,
                "production_id": None if production is None else production.id,
                "load_w": row.real("load"),
                "what": row.text("what"),
            }
        )
    ctx.put(OtherLoad, values)


def _held(row: Row, ctx: Context, known: Known) -> dict[str, int | None] | None:
    """What the hold names: tags are unique over all kinds, so the tag alone says what it is."""
    name = row.text("what")
    thing: dict[str, int | None] = dict.fromkeys(
        ("model_id", "unit_id", "tape_id", "reel_id", "quantity", "pitches")
    )
    if unit := known.units.get(name):
        return thing | {"unit_id": unit.id, "quantity": 1}
    if model := known.models.get(name):
        if not row.has("count"):
            ctx.refuse(row, "count", f"how many of model {name} is not said", "Give a count.")
        return thing | {"model_id": model.id, "quantity": row.whole("count")}
    tape, reel = known.tapes.get(name), known.reels.get(name)
    if tape is None and reel is None:
        ctx.nowhere(row, "what", name, (known.units, known.models, known.tapes, known.reels))
        return None
    pitch_um = tape.pitch_um if tape else reel.tape.pitch_um if reel else 1
    length_um = row.um("length")
    if not length_um:
        ctx.refuse(row, "length", f"how much of {name} is not said", "Give a length.")
        return None
    # A promise is rounded up: half a cut pitch cannot be cut.
    pitches = -(-length_um // pitch_um)
    return thing | {
        "tape_id": tape.id if tape else None,
        "reel_id": reel.id if reel else None,
        "pitches": pitches,
    }


def load_holds(rows: list[Row], ctx: Context, known: Known) -> None:
    values = []
    for row in rows:
        if row.has("hold") and not ctx.claim_name(known.holds, row, "hold"):
            continue
        production, thing = ctx.find(known.productions, row, "production"), _held(row, ctx, known)
        if production is None or thing is None:
            continue
        is_used_up = thing["tape_id"] is not None or thing["reel_id"] is not None
        from_on = row.day("from") or production.from_on
        to_on = None if is_used_up else row.day("to") or production.to_on
        if to_on is not None and from_on > to_on:
            ctx.refuse(
                row, "to", f"it ends on {to_on}, before it starts on {from_on}", "Correct one of the two."
            )
        values.append(
            thing
            | {
                "number": row.text("hold") or None,
                "production_id": production.id,
                "from_on": from_on,
                "until_on": None if to_on is None else to_on + timedelta(days=1),
                "returned_on": row.day("returned_on"),
                "note": row.text("note"),
            }
        )
    ctx.put(Hold, values)


def load_orders(rows: list[Row], ctx: Context, known: Known) -> None:
    values = []
    for row in rows:
        if not ctx.claim_name(known.orders, row, "order"):
            continue
        name = row.text("what")
        model, tape = known.models.get(name), known.tapes.get(name)
        if model is None and tape is None:
            ctx.nowhere(row, "what", name, (known.models, known.tapes))
            continue
        reel_um = row.um("reel_length")
        values.append(
            {
                "order_number": row.text("order"),
                "line": row.whole("line"),
                "model_id": model.id if model else None,
                "tape_id": tape.id if tape else None,
                "quantity": row.whole("count"),
                "reel_pitches": reel_um // tape.pitch_um if tape and reel_um else None,
                "ordered_on": row.day("ordered_on"),
                "due_on": row.day("due_on"),
                "received_on": row.day("received_on"),
                "lot": row.text("lot"),
                "price": row.money("price"),
            }
        )
    ctx.put(OrderLine, values)


_PRODUCTION = tag("Production", "Code of the production", required=True, example="SQ", also=("prod", "show"))

PRODUCTIONS = Kind(
    "productions",
    "a title scheduled in a venue",
    (
        tag(
            "Code", "Short code of the show", required=True, example="SQ", also=("production", "show", "tag")
        ),
        text("Title", "Its title", 120, example="The Sleet Queen", default="the code"),
        text("Venue", "The stage", 80, example="Slipway", default="the only one there is"),
        day("Build start", "First day in the shop", default="load-in"),
        day("Load-in", "First day on stage", required=True, example="2026-11-09"),
        day("Tech", "First technical rehearsal"),
        day("First preview", "First day with an audience", also=("preview",)),
        day("Opening", "Opening night", also=("open",)),
        day("Closing", "Last performance", required=True, example="2027-01-10", also=("close",)),
        day("Strike end", "Last day of the strike", also=("strike", "strike done"), default="closing"),
        day("Return by", "Last day gear may be out", also=("return",), default="strike end"),
        day("Needed from", "First day gear is out", default="build start"),
        day("Needed to", "Last day gear is out", default="return by"),
        one_of("Status", ProductionStatus, "How far it is", default="confirmed"),
        whole("Universe", "First universe its plans may use", 1, 63_999),
    ),
    load_productions,
    "production",
    ("code",),
    ("production", "shows", "season"),
)
FILM_DAYS = Kind(
    "film days",
    "a day on which a show is filmed",
    (_PRODUCTION, day("Filmed on", "The day", required=True, example="2027-03-06")),
    load_film_days,
    also=("films", "filming"),
)
OTHER_LOADS = Kind(
    "other loads",
    "what else hangs on an outlet",
    (
        tag("Outlet", "The outlet", required=True, example="MD2", also=("circuit",)),
        tag("Production", "Only in this show; blank: always", example="SQ", also=("prod", "show")),
        quantity("Load", "W", "What it draws", 0, 50_000, required=True, example="1000"),
        text("What", "What it is", 120, example="fog machine"),
    ),
    load_other_loads,
)
HOLDS = Kind(
    "holds",
    "stock promised to a production",
    (
        tag("Hold", "Its number", example="H-029", also=("number",)),
        _PRODUCTION,
        tag("What", "Tag of the unit or reel, or code of the model or tape", required=True, example="PS-01",
            also=("key", "tag")),
        whole("Count", "How many, of a model", 1, 10_000, default="1 for a unit", also=("quantity", "qty")),
        length("Length", "How much, of a tape or reel", 0.001, 10_000),
        day("From", "First day out", default="the production's"),
        day("To", "Last day out; not for tape, which does not come back", default="the production's"),
        day("Returned on", "Day it came back"),
        text("Note", "Anything to know"),
    ),
    load_holds,
    "hold",
    ("hold",),
    ("hold", "bookings"),
)  # fmt: skip
ORDERS = Kind(
    "orders",
    "a line of an order",
    (
        text("Order", "Number of the order", 40, required=True, example="PO-2611-1", also=("po",)),
        whole("Line", "Line of the order", 1, 1_000, required=True, example="1"),
        tag("What", "Code of the model or tape", required=True, example="RGBW24", also=("key",)),
        whole(
            "Count",
            "How many, or how many reels",
            1,
            10_000,
            required=True,
            example="2",
            also=("quantity", "qty"),
        ),
        length("Reel length", "Length of each reel", 0.1, 500, example="5 m"),
        day("Ordered on", "Day of the order", also=("ordered",)),
        day("Due on", "Day it is to come", also=("due",)),
        day("Received on", "Day it came; blank: still open", also=("received",)),
        text("Lot", "Lot promised", 40),
        Column("Price", Form.MONEY, "Price of one", low=0, high=100_000),
    ),
    load_orders,
    "order line",
    ("order", "line"),
    ("purchase orders", "order lines"),
)
