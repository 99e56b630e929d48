"""Sheets of stocktakes and their lines: written out and brought in as they are, and changed by their own
rules."""

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.kinds.columns import Column, Form, choice, day, tag, text, whole, yes_no
from service.kinds.kind import Kind
from service.kinds.row import Row
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known
from service.kinds.writing.numbers import number
from service.season.counting import queries
from service.season.counting.records import Outcome, Stocktake, StocktakeLine, StocktakeStatus
from service.store.base import TagEntry, tag_key


def load_stocktakes(rows: list[Row], ctx: Context, known: Known) -> None:
    number(rows, "stocktake", Stocktake.number, "ST", ctx)
    index, kept, values = known.others("stocktake", _stocktakes), [], []
    open_at = _open_places(ctx.session)
    for row in rows:
        place = ctx.find(known.places, row, "place")
        if not ctx.claim_name(index, row, "stocktake") or place is None:
            continue
        status: StocktakeStatus = row.one_of("status", StocktakeStatus.OPEN)
        if status is StocktakeStatus.OPEN and open_at.setdefault(place, row.thing_id) != row.thing_id:
            ctx.refuse(
                row, "place", f"{row.text('place')} is being counted by another stocktake",
                "Close or abandon that one first.",
            )  # fmt: skip
        begun_at: datetime = row.one_of("begun_at", ctx.now)
        kept.append(row)
        values.append(
            {
                "id": row.thing_id,
                "number": row.text("stocktake"),
                "place_id": place,
                "status": status,
                "counted_on": row.day("counted_on") or ctx.today,
                "begun_by": row.text("begun_by") or ctx.by,
                "begun_at": begun_at,
                "closed_by": row.text("closed_by"),
                "closed_at": row.values.get("closed_at"),
                "note": row.text("note"),
            }
        )
    for row, i in zip(kept, ctx.put(Stocktake, values), strict=True):
        index.put(row, i)


def load_lines(rows: list[Row], ctx: Context, known: Known) -> None:
    stocktakes, index = known.others("stocktake", _stocktakes), known.others("stocktake line", _lines)
    values = []
    for row in rows:
        stocktake = ctx.find(stocktakes, row, "stocktake")
        thing = known.units.get(row.text("tag")) or known.reels.get(row.text("tag"))
        if thing is None:
            ctx.nowhere(row, "tag", row.text("tag"), (known.units, known.reels))
        if not ctx.claim_name(index, row, "tag") or thing is None:
            continue
        outcome: Outcome = row.one_of("outcome", Outcome.TO_COUNT)
        if (outcome is Outcome.TO_COUNT) != (row.maybe("found") is None):
            said = "not said" if row.maybe("found") is None else "said"
            ctx.refuse(
                row, "outcome", f"it is {outcome}, and whether it was found is {said}",
                "What is still to count has found left blank; say it of everything else.",
            )  # fmt: skip
        values.append(
            {
                "id": row.thing_id,
                "stocktake_id": stocktake,
                "thing_key": tag_key(row.text("tag")),
                "is_expected": row.flag("expected", False),
                "book_version": row.whole("book_version") or 0,
                "book_state": row.text("book_state"),
                "book_pitches": row.whole("book_pitches"),
                "is_found": row.maybe("found"),
                "found_state": row.text("found_state"),
                "found_pitches": row.whole("found_pitches"),
                "counted_by": row.text("counted_by"),
                "counted_at": row.values.get("counted_at"),
                "outcome": outcome,
                "note": row.text("note"),
            }
        )
    ctx.put(StocktakeLine, values)


def _open_places(session: Session) -> dict[int, int | None]:
    rows = session.execute(
        select(Stocktake.place_id, Stocktake.id).where(Stocktake.status == StocktakeStatus.OPEN)
    )
    return {row.place_id: row.id for row in rows}


def _stocktakes(session: Session) -> dict[str, int]:
    rows = session.execute(select(Stocktake.id, Stocktake.number).where(Stocktake.number.is_not(None)))
    return {str(name).upper(): i for i, name in rows}


def _lines(session: Session) -> dict[str, int]:
    rows = session.execute(
        select(StocktakeLine.id, Stocktake.number, TagEntry.key)
        .join(Stocktake, Stocktake.id == StocktakeLine.stocktake_id)
        .join(TagEntry, TagEntry.key == StocktakeLine.thing_key)
    )
    return {f"{name}\t{key}".upper(): i for i, name, key in rows}


STOCKTAKES = Kind(
    "stocktakes",
    "a count of a place",
    (
        text("Stocktake", "Its number", 40, example="ST-001", also=("number",), field="number",
             default="the next one"),
        tag("Place", "The place counted, with those inside it", required=True, example="B1"),
        choice("Status", StocktakeStatus, "How far it is", default="open"),
        day("Counted on", "Day it was begun", default="today"),
        text("Begun by", "Who began it", 80, default="who brings it in"),
        Column("Begun at", Form.MOMENT, "When", example="2026-11-25T09:00:00Z", default="now"),
        text("Closed by", "Who closed or abandoned it", 80),
        Column("Closed at", Form.MOMENT, "When", example="2026-11-25T17:00:00Z"),
        text("Note", "Anything to know"),
    ),
    load_stocktakes,
    "stocktake",
    ("stocktake",),
    ("stocktake", "counts"),
    listing=queries.STOCKTAKES,
    record=Stocktake,
    is_written=False,
)  # fmt: skip

LINES = Kind(
    "stocktake lines",
    "what a stocktake found of one thing",
    (
        text("Stocktake", "Number of the stocktake", 40, required=True, example="ST-001"),
        tag("Tag", "The unit or reel", required=True, example="PS-01"),
        yes_no("Expected", "Whether the book had it there", default="no"),
        whole("Book version", "Version of the thing that the count goes against", 0, 2_000_000_000,
              default="none: it is counted again before it is accepted"),
        text("Book state", "Its state by the book", 24),
        whole("Book pitches", "Cut pitches left by the book, of a reel", 0, 10_000_000),
        yes_no("Found", "Whether it was found; blank: not counted yet"),
        text("Found state", "The state that it was found in", 24),
        whole("Found pitches", "Cut pitches that were measured", 0, 10_000_000),
        choice("Outcome", Outcome, "How the line stands", default="to count"),
        text("Counted by", "Who counted it", 80),
        Column("Counted at", Form.MOMENT, "When", example="2026-11-25T10:12:00Z"),
        text("Note", "What was seen"),
    ),
    load_lines,
    "stocktake line",
    ("stocktake", "tag"),
    ("counted",),
    listing=queries.STOCKTAKE_LINES,
    record=StocktakeLine,
    is_written=False,
)  # fmt: skip
