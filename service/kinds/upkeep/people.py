"""People, and the seasons that shows are told by."""

from datetime import timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.kinds.columns import day, text
from service.kinds.kind import Kind
from service.kinds.row import Row
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known
from service.season import queries
from service.season.records import Season
from service.stock import fitting_queries
from service.stock.people import Person


def people(session: Session) -> dict[str, int]:
    return {name.upper(): i for i, name in session.execute(select(Person.id, Person.name))}


def seasons(session: Session) -> dict[str, int]:
    return {name.upper(): i for i, name in session.execute(select(Season.id, Season.name))}


def load_people(rows: list[Row], ctx: Context, known: Known) -> None:
    index = known.others("person", people)
    kept = [row for row in rows if ctx.claim_name(index, row, "person")]
    ids = ctx.put(
        Person,
        [
            {
                "id": row.thing_id,
                "name": row.text("person"),
                "role": row.text("role"),
                "contact": row.text("contact"),
            }
            for row in kept
        ],
    )
    for row, i in zip(kept, ids, strict=True):
        index.put(row, i)


def load_seasons(rows: list[Row], ctx: Context, known: Known) -> None:
    index = known.others("season", seasons)
    kept, values = [], []
    for row in rows:
        first, last = row.day("from"), row.day("to")
        if first is not None and last is not None and first > last:
            ctx.refuse(
                row, "to", f"it ends on {last}, before it starts on {first}", "Correct one of the two."
            )
        if not ctx.claim_name(index, row, "season") or first is None or last is None:
            continue
        kept.append(row)
        values.append(
            {
                "id": row.thing_id,
                "name": row.text("season"),
                "from_on": first,
                "until_on": last + timedelta(days=1),
                "note": row.text("note"),
            }
        )
    for row, i in zip(kept, ctx.put(Season, values), strict=True):
        index.put(row, i)


PEOPLE = Kind(
    "people",
    "somebody to ask or to tell",
    (
        text("Person", "Name, or what they are called in the house", 80, required=True, example="Bench 1",
             also=("name",), field="name"),
        text("Role", "What they do", 80, example="bench electrician"),
        text("Contact", "How to reach them", 200, example="extension 214"),
    ),
    load_people,
    "person",
    ("person",),
    ("person", "contacts"),
    listing=fitting_queries.PEOPLE,
    record=Person,
)  # fmt: skip

SEASONS = Kind(
    "seasons",
    "a span of days that shows are told by",
    (
        text("Season", "What it is called", 80, required=True, example="2026/27", also=("name",),
             field="name"),
        day("From", "First day", required=True, example="2026-08-17", field="from_on"),
        day("To", "Last day", required=True, example="2027-07-31", field="to_on"),
        text("Note", "Anything to know"),
    ),
    load_seasons,
    "season",
    ("season",),
    listing=queries.SEASONS,
    record=Season,
)  # fmt: skip
