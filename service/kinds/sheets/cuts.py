"""The sheet of cuts: the ledger of every reel, row by row, and which piece each row became."""

import re

from service.kinds.columns import choice, day, length, tag, text
from service.kinds.kind import Kind
from service.kinds.row import Row
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known, ReelFacts
from service.shows.records import PieceCut
from service.stock.records import Cut, CutKind, Reel, ReelState
from service.units import show_um

KINDS = (CutKind.PIECE.value, CutKind.SCRAP.value, CutKind.OFFCUT.value, CutKind.RETURNED.value)
STATUSES = ("counted", "dispute")
_PIECE = re.compile(r"(\d{1,3})\s*([a-z]?)", re.I)


def _pitches(row: Row, reel: ReelFacts, ctx: Context) -> int | None:
    """Whole cut pitches, or a fault with the two lengths the tape can be cut to."""
    length_um, pitch_um = row.um("length") or 0, reel.tape.pitch_um
    whole, rest = divmod(length_um, pitch_um)
    if not rest:
        return whole
    near = [show_um(n * pitch_um) for n in (whole, whole + 1) if n]
    ctx.refuse(
        row,
        "length",
        f"{show_um(length_um)} is not a whole number of {show_um(pitch_um)} cut pitches of {reel.tape.tag}",
        f"Nearest: {' and '.join(near)}.",
    )
    return None


def _take(row: Row, reel: ReelFacts, change: int, ctx: Context) -> None:
    """Move the balance, unless it would fall below zero."""
    if reel.left_pitches + change < 0:
        left, asked = (show_um(n * reel.tape.pitch_um) for n in (reel.left_pitches, -change))
        ctx.refuse(
            row,
            "length",
            f"{reel.tag} has {left} left and {asked} is asked of it",
            "Correct the length or the reel; if it is a second entry of one cut, write dispute under Status.",
        )
        return
    reel.left_pitches += change


def _piece(row: Row, reel: ReelFacts, ctx: Context, known: Known) -> tuple[int, str] | None:
    """The piece a row became, and which part of it where it has a join: "1a" is the first part of piece 1."""
    element = ctx.find(known.elements, row, "element")
    if element is None:
        return None
    stated = _PIECE.fullmatch(row.text("piece", "1"))
    piece = element.piece(int(stated[1])) if stated else None
    if stated is None or piece is None:
        count = sum(len(run.pieces) for run in element.runs)
        ctx.refuse(
            row,
            "piece",
            f"{element.tag} has no piece {row.text('piece', '1')}",
            f"Write 1 to {count}, with a, b … for the parts of a piece with a join.",
        )
        return None
    if element.tape.upper() != reel.tape.tag.upper():
        ctx.refuse(
            row,
            "reel",
            f"{reel.tag} is {reel.tape.tag}, which is not the tape of {element.tag}",
            "Name its reel.",
        )
    return piece, stated[2].lower()


def load_cuts(rows: list[Row], ctx: Context, known: Known) -> None:
    """Disputed rows are kept outside the balance."""
    values, pieces = [], []
    before: dict[str, tuple[ReelFacts, int, str]] = {}
    for row in rows:
        if row.has("cut") and not ctx.claim_name(known.cuts, row, "cut"):
            continue
        reel = ctx.find(known.reels, row, "reel")
        if reel is None:
            continue
        before.setdefault(reel.tag, (reel, reel.left_pitches, reel.state))
        kind = CutKind(row.text("kind", "piece" if row.has("element") else "scrap"))
        pitches, is_disputed = _pitches(row, reel, ctx), row.text("status") == "dispute"
        change = (pitches or 0) if kind is CutKind.RETURNED else -(pitches or 0)
        if not is_disputed:
            _take(row, reel, change, ctx)
        values.append(
            {
                "reel_id": reel.id,
                "number": row.text("cut") or None,
                "kind": kind,
                "change_pitches": change,
                "cut_on": row.day("cut_on") or ctx.today,
                "entered_by": row.text("entered_by") or ctx.by,
                "is_disputed": is_disputed,
                "note": row.text("note"),
            }
        )
        pieces.append(_piece(row, reel, ctx, known))
    ids = ctx.put(Cut, values)
    ctx.put(
        PieceCut,
        [
            {"piece_id": piece[0], "cut_id": i, "part": piece[1]}
            for piece, i in zip(pieces, ids, strict=True)
            if piece is not None
        ],
    )
    _settle(list(before.values()), ctx)


def _settle(before: list[tuple[ReelFacts, int, str]], ctx: Context) -> None:
    """Write each reel's balance, and its state where no sheet has said it."""
    moved = [(reel, left) for reel, left, _ in before if reel.left_pitches != left]
    ctx.change(Reel, "left_pitches", {reel.id: (left, reel.left_pitches) for reel, left in moved})
    states: dict[int, tuple[str, str]] = {}
    for reel, _ in moved:
        after = ReelState.USED_UP if not reel.left_pitches else ReelState(reel.state)
        if after is ReelState.SEALED:
            after = ReelState.OPEN
        if after != reel.state and not reel.state_was_given:
            states[reel.id] = (str(reel.state), after)
    ctx.change(Reel, "state", states)


CUTS = Kind(
    "cuts",
    "a length taken off a reel",
    (
        text("Cut", "Its number", 40, example="K-068", also=("number",)),
        tag("Reel", "The reel", required=True, example="R-118"),
        length("Length", "How much", 0.001, 500, required=True, example="1300 mm"),
        choice("Kind", KINDS, "What it became", default="piece if an element is named, else scrap"),
        tag("Element", "The element it is for", example="SQ-07"),
        text("Piece", "Piece of the element; 1a, 1b where it has a join", 8, default="1", example="1"),
        day("Cut on", "The day", default="today"),
        text("Entered by", "Who wrote it down", 80),
        choice("Status", STATUSES, "A disputed row is kept outside the balance", default="counted"),
        text("Note", "Anything to know"),
    ),
    load_cuts,
    "cut",
    ("cut",),
    ("cut", "cut ledger"),
)
