"""Sheets of the season: productions, film days, orders and what else hangs on an outlet."""

from datetime import date, timedelta
from itertools import pairwise
from typing import Any

from sqlalchemy import select

from service.kinds.columns import Column, Form, day, length, quantity, tag, text, whole, yes_no
from service.kinds.columns import choice as one_of
from service.kinds.kind import Kind
from service.kinds.retiring import retire_production
from service.kinds.row import Row
from service.kinds.upkeep.people import seasons
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known, ProductionFacts, window
from service.planning.records import Plan, PlanStatus
from service.season import queries
from service.season.records import FilmDay, Hold, OrderLine, OtherLoad, Production, ProductionStatus
from service.stock.ledger.balance import whole_pitches
from service.stock.records import Venue
from service.store.days import day_after

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
    kept = []
    for row in rows:
        claimed = ctx.claim(row, "code", row.text("code"))
        venue, given = _venue(row, ctx, known), _dates(row)
        _in_order(row, ctx, given)
        if not claimed or row.is_broken:
            ctx.mark_broken(row)
            continue
        status: ProductionStatus = row.one_of("status", ProductionStatus.CONFIRMED)
        values = {
            "id": row.thing_id,
            "tag": row.text("code"),
            "title": row.text("title") or row.text("code"),
            "venue_id": venue,
            **given,
            "needed_from": row.day("needed_from"),
            "needed_to": row.day("needed_to"),
            "status": status,
            "default_universe": row.whole("universe"),
            "recovered_share": row.real("recovered"),
            "season_id": ctx.find(known.others("season", seasons), row, "season"),
        }
        from_on, to_on = (
            row.day("needed_from") or given["build_start"],
            row.day("needed_to") or given["return_by"],
        )
        assert from_on is not None
        assert to_on is not None
        kept.append((values, ProductionFacts(row.thing_id or 0, row.text("code"), from_on, to_on)))
        known.productions.put(row, kept[-1][1])
    before = _windows([values["id"] for values, _ in kept if values["id"] is not None], ctx)
    ids = ctx.put(Production, [values for values, _ in kept])
    for (_, facts), i in zip(kept, ids, strict=True):
        facts.id = i
    moved = [facts for values, facts in kept if values["id"] is not None]
    _move_plans(moved, ctx)
    _move_holds(moved, before, ctx)


def _windows(ids: list[Any], ctx: Context) -> dict[int, tuple[date, date]]:
    """The half-open days of each production as they stand."""
    if not ids:
        return {}
    shows = ctx.session.scalars(select(Production).where(Production.id.in_(ids)))
    return {show.id: (window(show)[0], window(show)[1] + timedelta(days=1)) for show in shows}


def _move_holds(
    productions: list[ProductionFacts], before: dict[int, tuple[date, date]], ctx: Context
) -> None:
    """A hold that begins or ends with its show goes on doing so; one with days of its own keeps them."""
    moved = {
        facts.id: facts
        for facts in productions
        if before.get(facts.id) not in (None, (facts.from_on, facts.until_on))
    }
    if not moved or ctx.is_checking_only:
        return
    values = []
    held = select(Hold.id, Hold.production_id, Hold.from_on, Hold.until_on)
    for i, show, from_on, until_on in ctx.session.execute(
        held.where(Hold.production_id.in_(moved), Hold.returned_on.is_(None)).order_by(Hold.id)
    ):
        first, end = before[show]
        start = moved[show].from_on if from_on == first else from_on
        until = moved[show].until_on if until_on == end else until_on
        if until is None or start < until:
            values.append({"id": i, "from_on": start, "until_on": until})
    ctx.put(Hold, values)


def _move_plans(productions: list[ProductionFacts], ctx: Context) -> None:
    """What a kept plan takes is out for as long as its show, so its days move with the show's."""
    if not productions:
        return
    by_id = {facts.id: facts for facts in productions}
    plans = ctx.session.execute(
        select(Plan.id, Plan.production_id).where(
            Plan.production_id.in_(by_id), Plan.status == PlanStatus.KEPT
        )
    )
    ctx.put(
        Plan,
        [{"id": i, "from_on": by_id[p].from_on, "until_on": by_id[p].until_on} for i, p in plans],
    )


def load_film_days(rows: list[Row], ctx: Context, known: Known) -> None:
    values = []
    for row in rows:
        production = ctx.find(known.productions, row, "production")
        if production is not None and ctx.claim_name(known.film_days, row, "filmed_on"):
            values.append(
                {"id": row.thing_id, "production_id": production.id, "filmed_on": row.day("filmed_on")}
            )
    ctx.put(FilmDay, values)


def load_other_loads(rows: list[Row], ctx: Context, known: Known) -> None:
    values = []
    for row in rows:
        outlet, production = (
            ctx.find(known.outlets, row, "outlet"),
            ctx.find(known.productions, row, "production"),
        )
        if ctx.claim_name(known.other_loads, row, "what"):
            values.append(
                {
                    "id": row.thing_id,
                    "outlet_id": outlet,
                    "production_id": None if production is None else production.id,
                    "load_w": row.real("load"),
                    "what": row.text("what"),
                }
            )
    ctx.put(OtherLoad, values)


def load_orders(rows: list[Row], ctx: Context, known: Known) -> None:
    kept, values = [], []
    for row in rows:
        if not ctx.claim_name(known.orders, row, "order"):
            continue
        name = row.text("what")
        model, tape = known.models.get(name), known.tapes.get(name)
        if model is None and tape is None:
            ctx.nowhere(row, "what", name, (known.models, known.tapes))
            continue
        reel_um = row.um("reel_length")
        kept.append(row)
        values.append(
            {
                "id": row.thing_id,
                "order_number": row.text("order"),
                "line": row.whole("line"),
                "model_id": model.id if model else None,
                "tape_id": tape.id if tape else None,
                "quantity": row.whole("count"),
                "reel_pitches": whole_pitches(reel_um, tape.pitch_um) if tape and reel_um else None,
                "ordered_on": row.day("ordered_on"),
                "due_on": row.day("due_on"),
                "received_quantity": _received(row, ctx),
                "received_on": row.day("received_on"),
                **_hire(row, ctx),
                "lot": row.text("lot"),
                "price": row.money("price"),
            }
        )
    for row, i in zip(kept, ctx.put(OrderLine, values), strict=True):
        known.orders.put(row, i)


def _received(row: Row, ctx: Context) -> int:
    """How many have come: as said, or all where the day on which they came is said anew."""
    count = row.whole("count") or 0
    has_turned = "received_on" not in row.kept and "received_count" in row.kept
    if row.has("received_on") and (has_turned or not row.has("received_count")):
        return count
    come = row.whole("received_count") or 0
    if come > count:
        ctx.refuse(row, "received_count", f"{come} came of {count} ordered", "Correct one of the two.")
    return come


def _hire(row: Row, ctx: Context) -> dict[str, Any]:
    """Whether a line is a hire, and its half-open days."""
    first, last = row.day("hire_from"), row.day("hire_to")
    if first is not None and last is not None and last < first:
        ctx.refuse(
            row, "hire_to", f"the hire ends on {last}, before it begins on {first}", "Correct one of the two."
        )
    is_hire = row.maybe("hire")
    if is_hire is False and (first is not None or last is not None):
        ctx.refuse(row, "hire", "it has days of hire and is said to be bought", "Leave the days out.")
    is_hired = bool(is_hire) if is_hire is not None else first is not None or last is not None
    if is_hired and (first is None or last is None):
        which, said = ("hire_from", "first") if first is None else ("hire_to", "last")
        ctx.refuse(
            row, which, f"it is a hire, and its {said} day is not said", "Give the first and the last day."
        )
    return {
        "is_hire": is_hired,
        "hire_from": first,
        "hire_until": None if last is None else day_after(last),
    }


_PRODUCTION = tag("Production", "Code of the production", required=True, example="SQ", also=("prod", "show"),
                  is_fixed=True)  # fmt: skip

PRODUCTIONS = Kind(
    "productions",
    "a title scheduled in a venue",
    (
        tag("Code", "Short code of the show", required=True, example="SQ", also=("production", "show", "tag"),
            is_fixed=True),
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
        whole("Universe", "First universe its plans may use", 1, 63_999, field="default_universe"),
        text("Season", "The season it is told by", 80, example="2026/27"),
        Column("Recovered", Form.SHARE, "Share of its tape that comes back at strike", example="0.5",
               default="none of it", field="recovered_share"),
    ),
    load_productions,
    "production",
    ("code",),
    ("production", "shows", "season"),
    listing=queries.PRODUCTIONS,
    record=Production,
    retire=retire_production,
    label=("title",),
)  # fmt: skip
FILM_DAYS = Kind(
    "film days",
    "a day on which a show is filmed",
    (_PRODUCTION, day("Filmed on", "The day", required=True, example="2027-03-06")),
    load_film_days,
    "film day",
    ("production", "filmed_on"),
    ("films", "filming"),
    listing=queries.FILM_DAYS,
    record=FilmDay,
)
OTHER_LOADS = Kind(
    "other loads",
    "what else hangs on an outlet",
    (
        tag("Outlet", "The outlet", required=True, example="MD2", also=("circuit",)),
        tag("Production", "Only in this show; blank: always", example="SQ", also=("prod", "show")),
        quantity("Load", "W", "What it draws", 0, 50_000, required=True, example="1000", field="load_w"),
        text("What", "What it is", 120, example="fog machine"),
    ),
    load_other_loads,
    "other load",
    ("outlet", "production", "what"),
    listing=queries.OTHER_LOADS,
    record=OtherLoad,
)
ORDERS = Kind(
    "orders",
    "a line of an order",
    (
        text("Order", "Number of the order", 40, required=True, example="PO-2611-1", also=("po",),
             field="order_number", is_fixed=True),
        whole("Line", "Line of the order", 1, 1_000, required=True, example="1", is_fixed=True),
        tag("What", "Code of the model or tape", required=True, example="RGBW24", also=("key",)),
        whole("Count", "How many, or how many reels", 1, 10_000, required=True, example="2",
              also=("quantity", "qty"), field="quantity"),
        length("Reel length", "Length of each reel", 0.1, 500, example="5 m", field="reel_m"),
        day("Ordered on", "Day of the order", also=("ordered",)),
        day("Due on", "Day it is to come", also=("due",)),
        day("Received on", "Day on which all of it had come; blank: still open", also=("received",)),
        whole("Received count", "How many have come", 0, 10_000, default="all, if Received on is filled in",
              field="received_quantity"),
        yes_no("Hire", "Hired, not bought", default="yes, if it has days of hire", field="is_hire"),
        day("Hire from", "First day of the hire; a hire needs both days"),
        day("Hire to", "Last day of the hire"),
        text("Lot", "Lot promised", 40),
        Column("Price", Form.MONEY, "Price of one", low=0, high=100_000),
    ),
    load_orders,
    "order line",
    ("order", "line"),
    ("purchase orders", "order lines"),
    listing=queries.ORDER_LINES,
    record=OrderLine,
)  # fmt: skip
