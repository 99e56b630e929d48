"""The sheet of cuts: the ledger of every reel, row by row, and which piece each row became."""

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import InUse
from service.kinds.columns import choice, day, length, tag, text
from service.kinds.kind import Kind
from service.kinds.row import Row
from service.kinds.writing.context import Context
from service.kinds.writing.known import Known, ReelFacts
from service.kinds.writing.numbers import number
from service.shows import queries
from service.shows.ledger.pieces import built_of
from service.shows.records import Piece, PieceCut, Run
from service.stock.ledger.acts import counted_after, counted_since
from service.stock.ledger.balance import SIGNED, off_pitch, signed, state_after, too_short
from service.stock.records import Cut, CutKind, Reel, ReelState
from service.store.base import tag_key
from service.store.listing import of_ids
from service.units import show_um

KINDS = tuple(kind.value for kind in CutKind if kind is not CutKind.OPENING)  # that one comes with its reel
STATUSES = ("counted", "dispute")
_PIECE = re.compile(r"(\d{1,3})\s*([a-z]?)", re.I)
# Rows with a partner on another reel: one alone would make tape of nothing, or lose some. Sheets carry both.
WITH_PARTNERS = {
    CutKind.OFFCUT: "Make the offcut instead (reel offcut), which is a reel of its own.",
    CutKind.JOINED: "Join the two reels instead (reel join).",
    CutKind.RETURNED: "Name the row that it undoes, or bring back a struck element's piece (reel recover).",
}


@dataclass(slots=True)
class _Entry:
    """A row that is to be written; `before`: balance and state of its reel when it was locked."""

    row: Row
    values: dict[str, Any]
    piece: tuple[int, str] | None
    undone: Cut | None


# Of each piece: the part, and the number and reel of the row it is cut by.
_CutBy = dict[int, list[tuple[str, str, str]]]


def _pitches(row: Row, reel: ReelFacts, ctx: Context) -> int:
    """Whole cut pitches; a fault, and none, where the tape cannot be cut to that length."""
    length_um, pitch_um = row.um("length") or 0, reel.tape.pitch_um
    whole, rest = divmod(length_um, pitch_um)
    if not length_um:
        ctx.refuse(row, "length", "it says nothing was cut", "Give the length.")
    if not rest:
        return whole
    ctx.refuse(row, "length", *off_pitch(length_um, pitch_um, reel.tape.tag))
    return 0


def _kind(row: Row, undone: Cut | None) -> CutKind:
    plain = "piece" if row.has("element") else "scrap"
    if row.has("undoes"):
        was_taken = (row.um("length") or 0) > 0 if undone is None else undone.change_pitches < 0
        plain = "returned" if was_taken else "recount"
    return CutKind(row.text("kind", plain))


def _change(row: Row, kind: CutKind, reel: ReelFacts, ctx: Context) -> int:
    """What the row adds to its reel; only a recount and a joint may be less than nothing."""
    pitches = _pitches(row, reel, ctx)
    if pitches < 0 and kind not in SIGNED:
        ctx.refuse(
            row, "length", f"a length of {show_um(row.um('length') or 0)} cannot be {kind.value}",
            "Leave the sign out; only a recount may be less than nothing.",
        )  # fmt: skip
    return signed(kind, pitches)


def _take(row: Row, reel: ReelFacts, change: int, ctx: Context) -> None:
    """Move the balance, unless it would fall below zero."""
    if reel.left_pitches + change < 0:
        ctx.refuse(
            row,
            "length",
            too_short(reel.tag, reel.left_pitches, -change, reel.tape.pitch_um),
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
    """Disputed rows are kept outside the balance. Reels are locked until the transaction ends, so that two
    cannot both take the last of one."""
    _refuse_changes([row for row in rows if row.thing_id is not None], ctx)
    fresh = [row for row in rows if row.thing_id is None]
    cut_by = _cut_already(fresh, ctx, known)
    before = _lock_reels(fresh, ctx, known)
    number(fresh, "cut", Cut.number, "K", ctx)
    waiting: list[_Entry] = []
    for row in fresh:
        claimed = ctx.claim_name(known.cuts, row, "cut")
        reel = ctx.find(known.reels, row, "reel")
        if not claimed or reel is None:
            continue
        if tag_key(row.text("undoes")) in {tag_key(entry.row.name) for entry in waiting}:
            _write(waiting, ctx, known)
            waiting = []
        entry = _entry(row, reel, ctx, known)
        _refuse_cut_already(entry, reel, cut_by, ctx)
        waiting.append(entry)
    _write(waiting, ctx, known)
    _settle(before, ctx)


def _cut_already(rows: Sequence[Row], ctx: Context, known: Known) -> _CutBy:
    """What the pieces of the elements named are cut by, held until the transaction ends, so that none is cut
    twice at once."""
    named = {element.id for row in rows if (element := known.elements.get(row.text("element"))) is not None}
    found: _CutBy = defaultdict(list)
    if not named:
        return found
    of_named = select(Piece.id).join(Run, Run.id == Piece.run_id).where(Run.element_id.in_(named))
    ctx.session.execute(of_named.order_by(Piece.id).with_for_update(of=Piece))
    rows_of = (
        select(PieceCut.piece_id, PieceCut.part, Cut.number, Reel.tag)
        .join(Cut, Cut.id == PieceCut.cut_id)
        .join(Reel, Reel.id == Cut.reel_id)
        .where(PieceCut.piece_id.in_(of_named), Cut.kind == CutKind.PIECE, Cut.is_disputed.is_(False))
        .order_by(Cut.id)
    )
    for piece, part, name, reel in ctx.session.execute(rows_of):
        found[piece].append((part, name or "", reel))
    return found


def _refuse_cut_already(entry: _Entry, reel: ReelFacts, cut_by: _CutBy, ctx: Context) -> None:
    """A piece is cut once, whole or each of its parts; a row that is disputed does not count."""
    row, undone = entry.row, tag_key(entry.row.text("undoes"))
    if undone:
        for cuts in cut_by.values():
            cuts[:] = [cut for cut in cuts if tag_key(cut[1]) != undone]
    if entry.piece is None or entry.values["kind"] is not CutKind.PIECE or entry.values["is_disputed"]:
        return
    piece, part = entry.piece
    for other, by, off in cut_by[piece]:
        if piece and (other == part or not other or not part):
            name = f"{row.text('element')} piece {row.text('piece', '1')}"
            ctx.refuse(
                row, "piece", f"{name} is cut already: {by} off {off}",
                f"Take {by} back first; if it is a second entry of one cut, write dispute under Status.",
            )  # fmt: skip
            return
    cut_by[piece].append((part, row.name, reel.tag))


def _lock_reels(rows: Sequence[Row], ctx: Context, known: Known) -> list[tuple[ReelFacts, int, str]]:
    """Each reel with its balance and state of this moment, held until the transaction ends."""
    found = {reel.id: reel for row in rows if (reel := known.reels.get(row.text("reel"))) is not None}
    held = ctx.session.execute(
        select(Reel.id, Reel.left_pitches, Reel.state)
        .where(Reel.id.in_(found))
        .order_by(Reel.id)
        .with_for_update()
    )
    for i, left, state in held:
        found[i].left_pitches, found[i].state = left, state
    return [(reel, reel.left_pitches, reel.state) for reel in found.values()]


def _entry(row: Row, reel: ReelFacts, ctx: Context, known: Known) -> _Entry:
    undone = _undone(row, reel, ctx, known)
    kind, is_disputed = _kind(row, undone), row.text("status") == "dispute"
    if kind in WITH_PARTNERS and not row.has("undoes") and CUTS.name not in ctx.sheets:
        ctx.refuse(row, "kind", f"{kind.value} is no row that stands alone", WITH_PARTNERS[kind])
    change = _change(row, kind, reel, ctx)
    if undone is not None and change != -undone.change_pitches:
        moved = show_um(abs(undone.change_pitches) * reel.tape.pitch_um)
        ctx.refuse(
            row, "length", f"{undone.number} moved {moved}, and this does not take it back",
            "Give the same length the other way, or leave out what it undoes.",
        )  # fmt: skip
    came_back = kind is CutKind.RETURNED and undone is None
    if row.has("element") and kind is not CutKind.PIECE and not came_back:
        ctx.refuse(row, "element", f"{kind.value} goes into no element", "Leave the element out.")
    if not is_disputed and not row.is_broken:
        _take(row, reel, change, ctx)
    values = {
        "reel_id": reel.id,
        "number": row.text("cut"),
        "kind": kind,
        "change_pitches": change,
        "cut_on": row.day("cut_on") or ctx.today,
        "entered_by": row.text("entered_by") or ctx.by,
        "is_disputed": is_disputed,
        "undoes_id": None if undone is None else undone.id,
        "note": row.text("note"),
    }
    return _Entry(row, values, _piece(row, reel, ctx, known), undone)


def _undone(row: Row, reel: ReelFacts, ctx: Context, known: Known) -> Cut | None:
    """The row that this one takes back, if it still can be."""
    i = ctx.find(known.cuts, row, "undoes")
    undone = None if i is None or ctx.is_checking_only else ctx.session.get(Cut, i)
    if undone is None:
        return None
    by = ctx.session.scalar(select(Cut.number).where(Cut.undoes_id == undone.id))
    if undone.reel_id != reel.id:
        ctx.refuse(row, "undoes", f"{undone.number} is not a row of {reel.tag}", "Name the reel it is of.")
    elif by is not None:
        ctx.refuse(row, "undoes", f"{undone.number} is taken back already, by {by}", "Leave this row out.")
    elif undone.is_disputed and row.text("status") != "dispute":
        ctx.refuse(
            row, "undoes", f"{undone.number} is disputed: nothing was taken off for it",
            "Leave this row out, or write dispute under Status: then the disputed row is void.",
        )  # fmt: skip
    elif not undone.is_disputed and row.text("status") == "dispute":
        ctx.refuse(
            row, "status", f"{undone.number} is counted, so what takes it back is counted too",
            "Write counted under Status.",
        )  # fmt: skip
    elif not undone.is_disputed and CUTS.name not in ctx.sheets:
        _refuse_hand(row, undone, reel, ctx)
    return undone


def _refuse_hand(row: Row, undone: Cut, reel: ReelFacts, ctx: Context) -> None:
    """What is taken back by hand was not counted since, and nothing stands that was made of it."""
    counted = counted_since(ctx.session, undone)
    if counted is not None:
        ctx.refuse(row, "undoes", *counted_after(reel.tag, undone, counted))
    standing = None if row.has("note") else built_of(ctx.session, undone)
    if standing is not None:
        ctx.refuse(row, "undoes", *standing)


def _write(entries: list[_Entry], ctx: Context, known: Known) -> None:
    ids = ctx.put(Cut, [entry.values for entry in entries])
    for entry, i in zip(entries, ids, strict=True):
        known.cuts.put(entry.row, i)
    ctx.put(
        PieceCut,
        [
            {"piece_id": entry.piece[0], "cut_id": i, "part": entry.piece[1]}
            for entry, i in zip(entries, ids, strict=True)
            if entry.piece is not None
        ],
    )
    undone = [entry.undone.id for entry in entries if entry.undone is not None]
    if undone and not ctx.is_checking_only:
        # What was cut for a piece is back on its reel, so the piece is to be cut again.
        for piece_cut in ctx.session.scalars(select(PieceCut).where(PieceCut.cut_id.in_(undone))):
            ctx.session.delete(piece_cut)
        ctx.session.flush()


def _settle(before: list[tuple[ReelFacts, int, str]], ctx: Context) -> None:
    """Write each reel's balance, and its state where no sheet has said it."""
    moved = [(reel, left) for reel, left, _ in before if reel.left_pitches != left]
    ctx.change(Reel, "left_pitches", {reel.id: (left, reel.left_pitches) for reel, left in moved})
    states: dict[int, tuple[str, str]] = {}
    for reel, _ in moved:
        after = state_after(ReelState(reel.state), reel.left_pitches)
        if after != reel.state and not reel.state_was_given:
            states[reel.id] = (str(reel.state), after)
    ctx.change(Reel, "state", states)


def _refuse_changes(rows: list[Row], ctx: Context) -> None:
    """A ledger row says for good what was done; one that says the same again is let be."""
    if not rows:
        return
    held = {
        row["id"]: row for row, _ in of_ids(ctx.session, queries.CUTS, [row.thing_id or 0 for row in rows])
    }
    for row in rows:
        if not _says(row, CUTS.values_of(held[row.thing_id])):
            ctx.refuse(
                row, None, f"{row.text('cut') or 'it'} is a row of the ledger, and those are never changed",
                "Enter a row that takes it back: returned, and what it undoes; or enter a recount. "
                "A second entry of one cut is entered as dispute.",
            )  # fmt: skip


def _says(row: Row, held: Mapping[str, object]) -> bool:
    said: dict[str, object] = {"piece": "1"} if row.has("element") else {}
    said |= row.values
    return all(_folded(said.get(key)) == _folded(held.get(key)) for key in said.keys() | held.keys())


def _folded(value: object) -> object:
    return tag_key(str(value)) if isinstance(value, str) else value


def refuse_removal(_session: Session, cut: Cut, _today: date) -> None:
    """No row of the ledger is ever taken out."""
    raise InUse(
        f"{cut.number or 'it'} is a row of the ledger, and those are never taken out",
        "Enter a row that takes it back: returned, and what it undoes.",
    )


CUTS = Kind(
    "cuts",
    "a length taken off a reel, or brought back to it",
    (
        text("Cut", "Its number", 40, example="K-068", also=("number",), field="number",
             default="the next after the highest"),
        tag("Reel", "The reel", required=True, example="R-118"),
        length("Length", "How much; of a recount or a joint, less than nothing where it is less", -500, 500,
               required=True, example="1300 mm", field="length_m"),
        choice("Kind", KINDS, "What it became, or where it came from",
               default="piece if an element is named, else scrap"),
        tag("Element", "The element it is for, or came back from", example="SQ-07"),
        text("Piece", "Piece of the element; 1a, 1b where it has a join", 8, default="1", example="1"),
        day("Cut on", "The day", default="today"),
        text("Entered by", "Who wrote it down", 80, default="who brings it in"),
        choice("Status", STATUSES, "A disputed row is kept outside the balance", default="counted"),
        text("Undoes", "Number of the row it takes back", 40, example="K-068"),
        text("Note", "Anything to know"),
    ),
    load_cuts,
    "cut",
    ("cut",),
    ("cut", "cut ledger"),
    listing=queries.CUTS,
    record=Cut,
    retire=refuse_removal,
    is_exported=lambda row: not row["opens_reel"],
)  # fmt: skip
