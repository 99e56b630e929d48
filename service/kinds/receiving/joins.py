"""The sheet of joints inside reels, as they came from the factory or were made on the bench."""

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.kinds.columns import choice, length, tag, text
from service.kinds.kind import Kind
from service.kinds.row import Row
from service.kinds.writing.context import Context, Index
from service.kinds.writing.known import Known
from service.stock import queries
from service.stock.ledger.balance import off_pitch
from service.stock.records import Cut, JoinKind, Reel, ReelJoin, Tape
from service.units import show_um


def joins(known: Known) -> Index[int]:
    return known.others("reel join", _read)


def _read(session: Session) -> dict[str, int]:
    rows = session.execute(
        select(ReelJoin.id, Reel.tag_key, ReelJoin.from_hub_pitches * Tape.pitch_um)
        .join(Reel, ReelJoin.reel_id == Reel.id)
        .join(Tape, Reel.tape_id == Tape.id)
    )
    return {f"{reel}\t{from_hub_um}": i for i, reel, from_hub_um in rows}


def load_joins(rows: list[Row], ctx: Context, known: Known) -> None:
    """Each at whole cut pitches from the hub, on a reel that reaches, or once reached, beyond it."""
    reaches = _reaches(ctx)
    values = []
    for row in rows:
        reel = ctx.find(known.reels, row, "reel")
        if not ctx.claim_name(joins(known), row, "from_hub") or reel is None:
            continue
        from_hub_um, pitch_um = row.um("from_hub") or 0, reel.tape.pitch_um
        if from_hub_um % pitch_um:
            ctx.refuse(row, "from_hub", *off_pitch(from_hub_um, pitch_um, reel.tape.tag))
        reach = reel.left_pitches if not ctx.sheets else max(reel.left_pitches, reaches.get(reel.id, 0))
        if row.thing_id is None and from_hub_um >= reach * pitch_um:
            ctx.refuse(
                row, "from_hub",
                f"{reel.tag} is {show_um(reach * pitch_um)} long and does not reach {show_um(from_hub_um)}",
                "Measure from the hub, the inner end of the tape.",
            )  # fmt: skip
        kind: JoinKind = row.one_of("kind", JoinKind.FACTORY)
        values.append(
            {
                "id": row.thing_id,
                "reel_id": reel.id,
                "from_hub_pitches": max(1, from_hub_um // pitch_um),
                "kind": kind,
                "note": row.text("note"),
            }
        )
    ctx.put(ReelJoin, values)


def _reaches(ctx: Context) -> dict[int, int]:
    """The most that each reel can ever have been, in cut pitches."""
    if not ctx.sheets or ctx.is_checking_only:
        return {}
    gained = func.sum(Cut.change_pitches)
    rows = ctx.session.execute(
        select(Cut.reel_id, gained).where(Cut.change_pitches > 0).group_by(Cut.reel_id)
    )
    return {i: int(pitches) for i, pitches in rows}


REEL_JOINS = Kind(
    "reel joins",
    "a joint inside a reel, by its distance from the hub",
    (
        tag("Reel", "The reel", required=True, example="R-101", is_fixed=True),
        length("From hub", "How far from the inner end of the tape", 0.001, 500, required=True,
               example="2.5 m", field="from_hub_m", is_fixed=True),
        choice("Kind", JoinKind, "Soldered in the factory, or on the bench", default="factory"),
        text("Note", "Anything to know"),
    ),
    load_joins,
    "reel join",
    ("reel", "from_hub"),
    ("reel join", "joints"),
    listing=queries.REEL_JOINS,
    record=ReelJoin,
)  # fmt: skip
