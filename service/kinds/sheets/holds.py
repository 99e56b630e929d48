"""The sheet of holds: stock promised to a production."""

from datetime import date, timedelta
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import InUse
from service.kinds.columns import day, length, tag, text, whole
from service.kinds.kind import Kind
from service.kinds.row import Row
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known
from service.kinds.writing.numbers import number
from service.season import queries
from service.season.records import Hold


def _held(row: Row, ctx: Context, known: Known) -> dict[str, int | None] | None:
    """What the hold names: tags are unique over all kinds, so the tag alone says what it is."""
    name = row.text("what")
    thing: dict[str, int | None] = dict.fromkeys(
        ("model_id", "unit_id", "tape_id", "reel_id", "quantity", "pitches")
    )
    unit, model = known.units.get(name), known.models.get(name)
    tape, reel = known.tapes.get(name), known.reels.get(name)
    _refuse_what_is_unread(row, name, unit is not None, tape is not None or reel is not None, ctx)
    if unit:
        ctx.find(known.units, row, "what")
        return thing | {"unit_id": unit.id, "quantity": 1}
    if model:
        ctx.find(known.models, row, "what")
        if not row.has("count"):
            ctx.refuse(row, "count", f"how many of model {name} is not said", "Give a count.")
        return thing | {"model_id": model.id, "quantity": row.whole("count")}
    if tape is None and reel is None:
        ctx.nowhere(row, "what", name, (known.units, known.models, known.tapes, known.reels))
        return None
    _ = ctx.find(known.tapes, row, "what") if tape else ctx.find(known.reels, row, "what")
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


def _refuse_what_is_unread(row: Row, name: str, is_unit: bool, is_tape: bool, ctx: Context) -> None:
    if is_unit and (row.whole("count") or 1) != 1:
        ctx.refuse(row, "count", f"{name} is one unit", "Leave the count out, or name its model.")
    if is_tape and row.has("to") and "to" not in row.kept:
        ctx.refuse(row, "to", f"{name} is used up and does not come back", "Leave the last day out.")


def load_holds(rows: list[Row], ctx: Context, known: Known) -> None:
    """Rows in any order: what was drawn from a promise comes after it."""
    number([row for row in rows if row.thing_id is None], "hold", Hold.number, "H", ctx)
    claimed = [row for row in rows if not row.has("hold") or ctx.claim_name(known.holds, row, "hold")]
    drawn = [row for row in claimed if row.has("of_hold")]
    stored = _put([row for row in claimed if not row.has("of_hold")], ctx, known) | _put(drawn, ctx, known)
    _refuse_strange_promises(drawn, ctx, known)
    _refuse_holding_twice(stored, ctx, known)


def _put(rows: list[Row], ctx: Context, known: Known) -> dict[int, Row]:
    """The rows by the number of their hold."""
    kept, values = [], []
    for row in rows:
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
        _refuse_strange_days(row, thing["unit_id"] is not None, ctx)
        kept.append(row)
        values.append(
            thing
            | {
                "id": row.thing_id,
                "number": row.text("hold") or None,
                "production_id": production.id,
                "from_on": from_on,
                "until_on": None if to_on is None else to_on + timedelta(days=1),
                "drawn_from_id": ctx.find(known.holds, row, "of_hold"),
                "issued_on": row.day("issued_on"),
                "issued_by": row.text("issued_by"),
                "returned_on": row.day("returned_on"),
                "returned_by": row.text("returned_by"),
                "note": row.text("note"),
            }
        )
    _refuse_rewriting(kept, values, ctx)
    stored = dict(zip(ctx.put(Hold, values), kept, strict=True))
    for i, row in stored.items():
        if row.has("hold"):
            known.holds.put(row, i)
    return stored


def _refuse_rewriting(rows: list[Row], values: list[dict[str, Any]], ctx: Context) -> None:
    """Which unit a hold is of, and since when, is settled once the unit went out or its days began; a day it
    went out that was left blank may still be filled in. Days that moved with their show are settled anew."""
    held = select(Hold.id, Hold.number, Hold.unit_id, Hold.from_on, Hold.issued_on).where(
        Hold.id.in_([row.thing_id for row in rows if row.thing_id is not None]), Hold.unit_id.is_not(None)
    )
    standing = {hold.id: hold for hold in ctx.session.execute(held)} if any(r.thing_id for r in rows) else {}
    moved = ctx.changed.get(Hold, set())
    for row, new in zip(rows, values, strict=True):
        hold = standing.get(row.thing_id or 0)
        if hold is None or (hold.issued_on is None and hold.from_on > ctx.today):
            continue
        if hold.issued_on is not None:
            how, mend = f"went out on {hold.issued_on}", "Return it, or undo the issue."
        else:
            how, mend = f"began on {hold.from_on}", "Return it, and enter a hold of its own for what is new."
        differs = {
            "what": new["unit_id"] != hold.unit_id,
            "from": new["from_on"] != hold.from_on and hold.id not in moved,
            "issued_on": hold.issued_on is not None and new["issued_on"] != hold.issued_on,
        }
        for key in (key for key, is_other in differs.items() if is_other):
            ctx.refuse(row, key, f"{hold.number or 'this hold'} {how}: that is settled", mend)


def _refuse_strange_days(row: Row, is_unit: bool, ctx: Context) -> None:
    name, issued, returned = row.text("what"), row.day("issued_on"), row.day("returned_on")
    if not is_unit and (issued is not None or row.has("of_hold")):
        key = "of_hold" if issued is None else "issued_on"
        ctx.refuse(row, key, f"{name} is not one unit", "Only a unit with a tag goes out; leave this blank.")
    if issued is not None and returned is not None and returned < issued:
        ctx.refuse(
            row, "returned_on", f"it came back on {returned}, before it went out on {issued}",
            "Correct one of the two.",
        )  # fmt: skip


def _refuse_strange_promises(rows: list[Row], ctx: Context, known: Known) -> None:
    """A unit is drawn from what its own show was promised of its own model."""
    if not rows or ctx.is_checking_only:
        return
    ids = {known.holds.get(row.text("of_hold")) or 0 for row in rows}
    found = select(Hold.id, Hold.production_id, Hold.model_id).where(Hold.id.in_(ids))
    promises = {row.id: row for row in ctx.session.execute(found)}
    for row in rows:
        promise = promises.get(known.holds.get(row.text("of_hold")) or 0)
        unit, production = known.units.get(row.text("what")), known.productions.get(row.text("production"))
        model_id = unit.model.id if unit is not None and unit.model is not None else None
        if promise is None or production is None:
            continue
        if promise.model_id is None or (promise.production_id, promise.model_id) != (production.id, model_id):
            ctx.refuse(
                row, "of_hold",
                f"{row.text('of_hold')} does not promise {production.tag} a unit like {row.text('what')}",
                "Name a hold of that show and of the model of that unit.",
            )  # fmt: skip


def _refuse_holding_twice(stored: dict[int, Row], ctx: Context, known: Known) -> None:
    """A show holds a unit once on any day. A hold ends on the day on which its unit came back."""
    units = {unit.id for row in stored.values() if (unit := known.units.get(row.text("what"))) is not None}
    if not units or ctx.is_checking_only:
        return
    held = select(
        Hold.id, Hold.number, Hold.unit_id, Hold.production_id, Hold.from_on, Hold.until_on, Hold.issued_on,
        Hold.returned_on,
    ).where(Hold.unit_id.in_(units))  # fmt: skip
    spans = []
    for one in ctx.session.execute(held):
        first = min(one.from_on, one.issued_on or date.max)
        until = min(one.until_on or date.max, one.returned_on or date.max)
        if first < until:
            spans.append((first, one.id, until, one))
    before: dict[tuple[int | None, int], Any] = {}  # the span that ends last, by unit and show
    for span in sorted(spans, key=lambda span: span[:2]):
        key = span[3].unit_id, span[3].production_id
        other = before.get(key)
        if other is not None and span[0] < other[2]:
            for mine, standing in sorted(((span, other), (other, span)), key=lambda both: -both[0][1]):
                row = stored.get(mine[1])
                if row is not None and _is_news(row):
                    _refuse_second(row, standing[3].number, ctx)
                    break
        if other is None or span[2] > other[2]:
            before[key] = span


def _refuse_second(row: Row, number: str | None, ctx: Context) -> None:
    ctx.refuse(
        row,
        "what",
        f"{row.text('production')} holds {row.text('what')} on some of those days already, "
        f"by {number or 'another hold'}",
        "Change the days of that hold instead.",
    )


def _is_news(row: Row) -> bool:
    """Whether the row says anew what is held or when."""
    return row.thing_id is None or not {"what", "from", "to"} <= row.kept


def retire_hold(_session: Session, hold: Hold, today: date) -> None:
    """A hold that has begun is part of where things were: it is ended, not taken out."""
    if hold.issued_on is not None:
        raise InUse(
            f"{hold.number or 'this hold'} went out on {hold.issued_on}", "Return it, or undo the issue."
        )
    if hold.from_on <= today:
        raise InUse(
            f"{hold.number or 'this hold'} began on {hold.from_on}",
            "Give the day it came back as the day it was returned on; that ends it.",
        )


HOLDS = Kind(
    "holds",
    "stock promised to a production",
    (
        tag("Hold", "Its number", example="H-029", also=("number",), field="number",
            default="the next after the highest"),
        tag("Production", "Code of the production", required=True, example="SQ", also=("prod", "show"),
            is_fixed=True),
        tag("What", "Tag of the unit or reel, or code of the model or tape", required=True, example="PS-01",
            also=("key", "tag")),
        whole("Count", "How many, of a model", 1, 10_000, default="1 for a unit", also=("quantity", "qty"),
              field="quantity"),
        length("Length", "How much, of a tape or reel", 0.001, 10_000, field="length_m"),
        day("From", "First day out", default="the production's", field="from_on"),
        day("To", "Last day out; not for tape, which does not come back", default="the production's",
            field="to_on"),
        tag("Of hold", "Number of the promise of a model that this unit was drawn from", example="H-029",
            field="of_hold"),
        day("Issued on", "Day the unit went out", also=("issued",)),
        text("Issued by", "Who gave it out", 80),
        day("Returned on", "Day it came back"),
        text("Returned by", "Who took it back", 80),
        text("Note", "Anything to know"),
    ),
    load_holds,
    "hold",
    ("hold",),
    ("hold", "bookings"),
    listing=queries.HOLDS,
    record=Hold,
    retire=retire_hold,
)  # fmt: skip
