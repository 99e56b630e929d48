"""Tape on the shelf: what is left of each reel, and what every show still wants of it."""

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.season.records import Hold, Production
from service.shows.records import Element, ElementStatus, Piece, PieceCut, Run
from service.stock.records import Cut, Reel, ReelState

NOT_WANTED = (ElementStatus.CUT_FROM_SHOW, ElementStatus.STRUCK)
GONE = (ReelState.SCRAP, ReelState.WRITTEN_OFF)
Wanted = Mapping[int, Mapping[str, int]]  # whole cut pitches by tape and production


@dataclass(frozen=True, slots=True)
class ReelRow:
    """What is left of a reel, in whole cut pitches; below none where its ledger cannot be right."""

    tag: str
    tape_id: int
    lot: str
    left_pitches: int


@dataclass(frozen=True, slots=True)
class Shelf:
    """`held`: promised; `uncut`: drawn and not cut yet. All in whole cut pitches."""

    reels: tuple[ReelRow, ...]
    held: Wanted
    uncut: Wanted

    def reels_of(self, tape_id: int) -> list[ReelRow]:
        return [reel for reel in self.reels if reel.tape_id == tape_id]

    def wanted(self, tape_id: int) -> dict[str, int]:
        """By production, the larger of what is held and what is still uncut: the two are never added."""
        held, uncut = self.held.get(tape_id, {}), self.uncut.get(tape_id, {})
        return {code: max(held.get(code, 0), uncut.get(code, 0)) for code in sorted({*held, *uncut})}


def read_shelf(session: Session, day: date, known_on: date) -> Shelf:
    """What the ledger says by the end of `day`; shows count until the last day of what is known."""
    reels = session.execute(
        select(Reel.tag, Reel.tape_id, Reel.lot, func.sum(Cut.change_pitches))
        .join(Cut, Cut.reel_id == Reel.id)
        .where(Cut.is_disputed.is_(False), Cut.cut_on <= day, Reel.state.not_in(GONE))
        .group_by(Reel.id, Reel.tag, Reel.tape_id, Reel.lot)
        .order_by(Reel.id)
    )
    live = (Production.return_by >= known_on, Production.retired_on.is_(None))
    held: dict[int, Counter[str]] = defaultdict(Counter)
    for tape_id, code, pitches in session.execute(
        select(func.coalesce(Hold.tape_id, Reel.tape_id), Production.tag, func.sum(Hold.pitches))
        .join(Production, Production.id == Hold.production_id)
        .outerjoin(Reel, Reel.id == Hold.reel_id)
        .where(Hold.pitches.is_not(None), *live)
        .group_by(func.coalesce(Hold.tape_id, Reel.tape_id), Production.tag)
    ):
        held[tape_id][code] = int(pitches or 0)
    is_cut = select(PieceCut.id).where(PieceCut.piece_id == Piece.id).exists()
    uncut: dict[int, Counter[str]] = defaultdict(Counter)
    for kind_id, code, pitches in session.execute(
        select(Element.tape_id, Production.tag, func.sum(Piece.cut_pitches))
        .join(Run, Run.element_id == Element.id)
        .join(Piece, Piece.run_id == Run.id)
        .join(Production, Production.id == Element.production_id)
        .where(Element.tape_id.is_not(None), Element.status.not_in(NOT_WANTED), ~is_cut, *live)
        .group_by(Element.tape_id, Production.tag)
    ):
        uncut[kind_id or 0][code] = int(pitches or 0)
    return Shelf(
        tuple(ReelRow(tag, tape_id, lot, int(left)) for tag, tape_id, lot, left in reels),
        held,
        uncut,
    )
