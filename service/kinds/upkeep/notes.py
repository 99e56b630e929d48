"""Notes and work orders."""

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.kinds.columns import Column, Form, day, tag, text
from service.kinds.kind import Kind
from service.kinds.row import Row
from service.kinds.upkeep.people import people
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known
from service.kinds.writing.numbers import number
from service.shows import upkeep_queries
from service.shows.upkeep import Note, WorkOrder
from service.store.base import tag_key


def load_notes(rows: list[Row], ctx: Context, known: Known) -> None:
    number(rows, "note", Note.number, "N", ctx)
    index = known.others("note", _notes)
    values = []
    for row in rows:
        about = _about(row, ctx)
        if not ctx.claim_name(index, row, "note"):
            continue
        written_at: datetime = row.one_of("written_at", ctx.now)
        values.append(
            {
                "id": row.thing_id,
                "number": row.text("note"),
                "about_key": about,
                "text": row.text("text"),
                "written_by": row.text("written_by") or ctx.by,
                "written_at": written_at,
                "done_on": row.day("done_on"),
            }
        )
    ctx.put(Note, values)


def load_work(rows: list[Row], ctx: Context, known: Known) -> None:
    number(rows, "order", WorkOrder.number, "WO", ctx)
    index = known.others("work order", _work)
    values = []
    for row in rows:
        production = ctx.find(known.productions, row, "production")
        person, about = ctx.find(known.others("person", people), row, "person"), _about(row, ctx)
        asked_on = row.day("asked_on") or ctx.today
        for key in ("due_on", "done_on"):
            then = row.day(key)
            if then is not None and then < asked_on:
                ctx.refuse(
                    row, key, f"{then} comes before it was asked on {asked_on}", "Correct one of the two."
                )
        if not ctx.claim_name(index, row, "order"):
            continue
        values.append(
            {
                "id": row.thing_id,
                "number": row.text("order"),
                "production_id": production.id if production else None,
                "about_key": about,
                "what": row.text("what"),
                "person_id": person,
                "asked_on": asked_on,
                "due_on": row.day("due_on"),
                "done_on": row.day("done_on"),
                "done_by": row.text("done_by"),
            }
        )
    ctx.put(WorkOrder, values)


def _about(row: Row, ctx: Context) -> str | None:
    """The key of any tag there is or was."""
    if not row.has("about"):
        return None
    if not ctx.has_tag(row.text("about")):
        ctx.refuse(
            row,
            "about",
            f"nothing has the tag {row.text('about')}",
            "Read the label again.",
        )
    return tag_key(row.text("about"))


def _notes(session: Session) -> dict[str, int]:
    rows = session.execute(select(Note.id, Note.number).where(Note.number.is_not(None)))
    return {str(name).upper(): i for i, name in rows}


def _work(session: Session) -> dict[str, int]:
    rows = session.execute(select(WorkOrder.id, WorkOrder.number).where(WorkOrder.number.is_not(None)))
    return {str(name).upper(): i for i, name in rows}


NOTES = Kind(
    "remarks",
    "something said about a thing or a show",
    (
        text("Note", "Its number", 40, example="N-001", also=("number",), field="number",
             default="the next one"),
        tag("About", "Tag of the thing, or code of the show", required=True, example="SQ-09", is_fixed=True),
        text("Text", "What is said", 400, required=True, example="warm side to the audience"),
        text("Written by", "Who said it", 80, default="who writes it down"),
        Column("Written at", Form.MOMENT, "When", example="2026-11-25T19:28:00Z", default="now"),
        day("Done on", "Day it was done; blank: open"),
    ),
    load_notes,
    "note",
    ("note",),
    ("said",),
    listing=upkeep_queries.NOTES,
    record=Note,
)  # fmt: skip

WORK_ORDERS = Kind(
    "work orders",
    "work asked of somebody",
    (
        text("Order", "Its number", 40, example="WO-001", also=("number",), field="number",
             default="the next one"),
        tag("Production", "The show it is for", example="SQ", also=("show",)),
        tag("About", "The thing it is on", example="SQ-21"),
        text("What", "What is to be done", required=True, example="inject the far end"),
        text("Person", "Whom it is asked of", 80, example="Bench 1"),
        day("Asked on", "Day it was asked", default="today"),
        day("Due on", "Day it is due"),
        day("Done on", "Day it was done; blank: open"),
        text("Done by", "Who did it", 80),
    ),
    load_work,
    "work order",
    ("order",),
    ("work",),
    listing=upkeep_queries.WORK_ORDERS,
    record=WorkOrder,
)  # fmt: skip
