"""The lists of stocktakes and of their lines."""

from sqlalchemy import func

from service.season.counting.records import Outcome, Stocktake, StocktakeLine, StocktakeStatus
from service.stock.records import Place, Reel, Tape
from service.store.base import TagEntry
from service.store.listing import Field, Filter, Listing, metres, outer

STOCKTAKES = Listing(
    plural="stocktakes",
    one="a stocktake",
    doc="Counts of places, each with the places inside it.",
    source=Stocktake.__table__.join(Place.__table__),
    id=Stocktake.id,
    version=Stocktake.version,
    key=Stocktake.id,
    order=(Stocktake.id,),
    is_tagged=False,
    fields=(
        Field("id", Stocktake.id, "number in the store; its address"),
        Field("number", Stocktake.number, "number on paper"),
        Field("place", Place.tag, "tag of the place counted"),
        Field("status", Stocktake.status, "open, closed or abandoned"),
        Field("counted_on", Stocktake.counted_on, "day it was begun"),
        Field("begun_by", Stocktake.begun_by, "who began it"),
        Field("begun_at", Stocktake.begun_at, "when, UTC"),
        Field("closed_by", Stocktake.closed_by, "who closed or abandoned it"),
        Field("closed_at", Stocktake.closed_at, "when, UTC"),
        Field("note", Stocktake.note, "note"),
        Field("changed_at", Stocktake.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("number", Stocktake.number, "number on paper, exactly"),
        Filter("place", Place.tag_key, "tag of the place", is_tag=True),
        Filter("status", Stocktake.status, "how far it is", StocktakeStatus),
    ),
)

_line = StocktakeLine.__table__.join(Stocktake.__table__).join(TagEntry.__table__)

STOCKTAKE_LINES = Listing(
    plural="stocktake-lines",
    one="a stocktake line",
    doc="What each stocktake expects and found, thing by thing.",
    source=outer(_line, (Reel, Reel.tag_key == TagEntry.key), (Tape, Tape.id == Reel.tape_id)),
    id=StocktakeLine.id,
    version=StocktakeLine.version,
    key=StocktakeLine.id,
    order=(StocktakeLine.id,),
    is_tagged=False,
    fields=(
        Field("id", StocktakeLine.id, "number in the store; its address"),
        Field("stocktake", Stocktake.number, "number of the stocktake"),
        Field("tag", TagEntry.tag, "tag of the unit or reel"),
        Field("expected", StocktakeLine.is_expected, "whether the book had it there when it was begun"),
        Field("book_version", StocktakeLine.book_version, "version of the thing that the count goes against"),
        Field("book_state", StocktakeLine.book_state, "its state by the book"),
        Field("book_pitches", StocktakeLine.book_pitches, "cut pitches left by the book, of a reel"),
        Field("book_m", metres(StocktakeLine.book_pitches * 1.0 * Tape.pitch_um), "the same in m"),
        Field("found", StocktakeLine.is_found, "whether it was found; blank: not counted yet"),
        Field("found_state", StocktakeLine.found_state, "the state that it was found in"),
        Field("found_pitches", StocktakeLine.found_pitches, "cut pitches that were measured"),
        Field("found_m", metres(StocktakeLine.found_pitches * 1.0 * Tape.pitch_um), "the same in m"),
        Field("outcome", StocktakeLine.outcome, "to count, agrees, differs, accepted or to look for"),
        Field("counted_by", StocktakeLine.counted_by, "who counted it"),
        Field("counted_at", StocktakeLine.counted_at, "when, UTC"),
        Field("note", StocktakeLine.note, "what was seen"),
        Field("changed_at", StocktakeLine.changed_at, "last change, UTC"),
    ),
    filters=(
        Filter("stocktake", func.upper(Stocktake.number), "number of the stocktake", is_tag=True),
        Filter("tag", StocktakeLine.thing_key, "tag of the unit or reel", is_tag=True),
        Filter("outcome", StocktakeLine.outcome, "how the line stands", Outcome),
    ),
)
