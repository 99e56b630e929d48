"""The lists of productions, what is promised to them, and what is on order."""

from sqlalchemy import func
from sqlalchemy.orm import aliased

from service.season.records import FilmDay, Hold, OrderLine, OtherLoad, Production, ProductionStatus, Season
from service.stock.gear import GearModel, Unit
from service.stock.records import Outlet, Reel, Tape, Venue
from service.store.days import day_after as day_after
from service.store.days import last_day as last_day
from service.store.listing import RETIRED, Child, Field, Filter, Listing, metres, outer

_model, _unit = GearModel.__table__, Unit.__table__
_reel_tape = aliased(Tape)
_promise = aliased(Hold)


SEASONS = Listing(
    plural="seasons",
    one="a season",
    doc="Spans of days that shows are told by; the last day included.",
    source=Season,
    id=Season.id,
    version=Season.version,
    key=Season.id,
    order=(Season.from_on, Season.id),
    is_tagged=False,
    fields=(
        Field("id", Season.id, "number in the store; its address"),
        Field("name", Season.name, "what people call it"),
        Field("from_on", Season.from_on, "first day"),
        Field("to_on", Season.until_on, "last day", shown=last_day, stored=day_after),
        Field("note", Season.note, "note"),
        Field("changed_at", Season.changed_at, "last change, UTC"),
    ),
    filters=(Filter("name", Season.name, "its name, exactly"),),
)

PRODUCTIONS = Listing(
    plural="productions",
    one="a production",
    doc="Titles scheduled in venues; every date is a day, the last one included.",
    source=outer(Production.__table__.join(Venue.__table__), (Season, Production.season_id == Season.id)),
    id=Production.id,
    version=Production.version,
    key=Production.tag_key,
    order=(Production.tag_key,),
    fields=(
        Field("code", Production.tag, "show code"),
        Field("title", Production.title, "title"),
        Field("venue", Venue.name, "venue"),
        Field("season", Season.name, "season it is told by", is_blank=True),
        Field("status", Production.status, "idea, confirmed, building, in tech, running, closed, …"),
        Field("build_start", Production.build_start, "first day in the shop"),
        Field("load_in", Production.load_in, "first day on stage"),
        Field("tech", Production.tech, "first day of tech"),
        Field("first_preview", Production.first_preview, "first preview"),
        Field("opening", Production.opening, "opening"),
        Field("closing", Production.closing, "last performance"),
        Field("strike_end", Production.strike_end, "last day of the strike"),
        Field("return_by", Production.return_by, "last day gear may be out"),
        Field("needed_from", Production.needed_from, "first day gear is wanted, if not the build start"),
        Field("needed_to", Production.needed_to, "last day gear is wanted, if not the return day"),
        Field("recovered_share", Production.recovered_share, "share of its tape that comes back at strike"),
        Field("default_universe", Production.default_universe, "universe that addresses start from"),
        Field("retired_on", Production.retired_on, RETIRED),
        Field("changed_at", Production.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("status", Production.status, "where it stands", ProductionStatus),
        Filter("venue", Venue.name, "the venue's name, exactly"),
        Filter("season", Season.name, "the season's name, exactly"),
    ),
    children=(
        Child(
            name="film_days",
            doc="days on which it is filmed",
            source=FilmDay,
            id=FilmDay.id,
            parent=FilmDay.production_id,
            number=FilmDay.filmed_on,
            fields=(Field("filmed_on", FilmDay.filmed_on, "day"),),
            text=lambda rows: "; ".join(row["filmed_on"].isoformat() for row in rows),
        ),
    ),
)

FILM_DAYS = Listing(
    plural="film-days",
    one="a film day",
    doc="Days on which shows are filmed.",
    source=FilmDay.__table__.join(Production.__table__),
    id=FilmDay.id,
    version=FilmDay.version,
    key=FilmDay.id,
    order=(FilmDay.filmed_on, FilmDay.id),
    is_tagged=False,
    fields=(
        Field("id", FilmDay.id, "number in the store; its address"),
        Field("production", Production.tag, "show code"),
        Field("filmed_on", FilmDay.filmed_on, "day"),
        Field("changed_at", FilmDay.changed_at, "last change, UTC"),
    ),
    filters=(Filter("production", Production.tag_key, "show code", is_tag=True),),
)

OTHER_LOADS = Listing(
    plural="other-loads",
    one="an other load",
    doc="What else hangs on outlets, in every show or in one.",
    source=outer(
        OtherLoad.__table__.join(Outlet.__table__), (Production, OtherLoad.production_id == Production.id)
    ),
    id=OtherLoad.id,
    version=OtherLoad.version,
    key=OtherLoad.id,
    order=(Outlet.tag_key, OtherLoad.id),
    is_tagged=False,
    fields=(
        Field("id", OtherLoad.id, "number in the store; its address"),
        Field("outlet", Outlet.tag, "tag of the outlet"),
        Field("production", Production.tag, "only in this show; blank: always", is_blank=True),
        Field("load_w", OtherLoad.load_w, "what it draws, in W"),
        Field("what", OtherLoad.what, "what it is"),
        Field("changed_at", OtherLoad.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("outlet", Outlet.tag_key, "tag of the outlet", is_tag=True),
        Filter("production", Production.tag_key, "show code", is_tag=True),
    ),
)

HOLDS = Listing(
    plural="holds",
    one="a hold",
    doc="Stock promised to productions: of a model, a unit, a tape or a reel.",
    source=outer(
        Hold.__table__.join(Production.__table__),
        (_model, Hold.model_id == _model.c.id),
        (_unit, Hold.unit_id == _unit.c.id),
        (Tape, Hold.tape_id == Tape.id),
        (Reel, Hold.reel_id == Reel.id),
        (_reel_tape, Reel.tape_id == _reel_tape.id),
        (_promise, Hold.drawn_from_id == _promise.id),
    ),
    id=Hold.id,
    version=Hold.version,
    key=Hold.id,
    order=(Hold.id,),
    is_tagged=False,
    fields=(
        Field("id", Hold.id, "number in the store; its address"),
        Field("number", Hold.number, "number on paper"),
        Field("production", Production.tag, "show code"),
        Field(
            "what",
            func.coalesce(_unit.c.tag, _model.c.tag, Tape.tag, Reel.tag),
            "tag of the unit or reel, or code of the model or tape",
            is_blank=False,
        ),
        Field("model", _model.c.tag, "tag of the model held", is_blank=True),
        Field("unit", _unit.c.tag, "tag of the unit held", is_blank=True),
        Field("tape", Tape.tag, "tag of the tape held", is_blank=True),
        Field("reel", Reel.tag, "tag of the reel held", is_blank=True),
        Field("quantity", Hold.quantity, "how many of the model"),
        Field("pitches", Hold.pitches, "cut pitches of tape"),
        Field(
            "length_m",
            metres(Hold.pitches * 1.0 * func.coalesce(Tape.pitch_um, _reel_tape.pitch_um)),
            "the same in m",
        ),
        Field("from_on", Hold.from_on, "first day out"),
        Field(
            "to_on",
            Hold.until_on,
            "last day out; blank: it does not come back",
            shown=last_day,
            stored=day_after,
        ),
        Field("of_hold", _promise.number, "number of the promise of a model that it was drawn from"),
        Field("issued_on", Hold.issued_on, "day it went out"),
        Field("issued_by", Hold.issued_by, "who gave it out"),
        Field("returned_on", Hold.returned_on, "day it came back"),
        Field("returned_by", Hold.returned_by, "who took it back"),
        Field("note", Hold.note, "note"),
        Field("changed_at", Hold.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("production", Production.tag_key, "show code", is_tag=True),
        Filter(
            "what",
            func.coalesce(_unit.c.tag_key, _model.c.tag_key, Tape.tag_key, Reel.tag_key),
            "tag of the unit or reel, or code of the model or tape",
            is_tag=True,
        ),
        Filter("model", _model.c.tag_key, "tag of the model", is_tag=True),
        Filter("unit", _unit.c.tag_key, "tag of the unit", is_tag=True),
        Filter("tape", Tape.tag_key, "tag of the tape", is_tag=True),
        Filter("reel", Reel.tag_key, "tag of the reel", is_tag=True),
    ),
)

ORDER_LINES = Listing(
    plural="order-lines",
    one="an order line",
    doc="What is on order or was received: a model in pieces, a tape in whole reels.",
    source=outer(
        OrderLine.__table__,
        (_model, OrderLine.model_id == _model.c.id),
        (Tape, OrderLine.tape_id == Tape.id),
    ),
    id=OrderLine.id,
    version=OrderLine.version,
    key=OrderLine.id,
    order=(OrderLine.id,),
    is_tagged=False,
    fields=(
        Field("id", OrderLine.id, "number in the store; its address"),
        Field("order_number", OrderLine.order_number, "order"),
        Field("line", OrderLine.line, "line of the order"),
        Field("what", func.coalesce(_model.c.tag, Tape.tag), "code of the model or tape", is_blank=False),
        Field("model", _model.c.tag, "tag of the model", is_blank=True),
        Field("tape", Tape.tag, "tag of the tape", is_blank=True),
        Field("quantity", OrderLine.quantity, "pieces, or reels"),
        Field("reel_m", metres(OrderLine.reel_pitches * 1.0 * Tape.pitch_um), "length of each reel in m"),
        Field("ordered_on", OrderLine.ordered_on, "day ordered"),
        Field("due_on", OrderLine.due_on, "day due"),
        Field("received_quantity", OrderLine.received_quantity, "how many of them have come"),
        Field("received_on", OrderLine.received_on, "day on which all had come"),
        Field("is_hire", OrderLine.is_hire, "whether it is hired, not bought"),
        Field("hire_from", OrderLine.hire_from, "first day of the hire"),
        Field("hire_to", OrderLine.hire_until, "last day of the hire", shown=last_day, stored=day_after),
        Field("lot", OrderLine.lot, "lot asked for"),
        Field("price", OrderLine.price, "price, in the house's money"),
        Field("changed_at", OrderLine.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("order_number", OrderLine.order_number, "order, exactly"),
        Filter(
            "what",
            func.coalesce(_model.c.tag_key, Tape.tag_key),
            "code of the model or tape",
            is_tag=True,
        ),
        Filter("model", _model.c.tag_key, "tag of the model", is_tag=True),
        Filter("tape", Tape.tag_key, "tag of the tape", is_tag=True),
    ),
)

LISTINGS = (SEASONS, PRODUCTIONS, HOLDS, ORDER_LINES)
