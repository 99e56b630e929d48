"""Reels on the shelf, tape by tape: those in use and offcuts first, for they are cut from first."""

from collections import defaultdict
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from service.planning.cutting.stock import read_stock
from service.stock.ledger.balance import CLOSED
from service.stock.records import Place, Reel, ReelState, Tape

IN_USE = (ReelState.OPEN, ReelState.OFFCUT)
_parent = aliased(Reel)


@dataclass(frozen=True, slots=True)
class ReelOnShelf:
    """`whole_m`: what it held when it was new, or what a reel of its tape holds. `off`: the reel that it was
    taken off. `promised`: show codes with what is still to come off it for each, in m."""

    tag: str
    lot: str
    state: str
    left_m: float
    whole_m: float
    place: str
    off: str
    promised: tuple[tuple[str, float], ...]

    @property
    def left_pct(self) -> float:
        """
        >>> ReelOnShelf("R-1", "", "open", 1.25, 5.0, "", "", ()).left_pct
        25.0
        """
        return round(100.0 * min(1.0, self.left_m / self.whole_m), 1) if self.whole_m else 100.0


@dataclass(frozen=True, slots=True)
class TapeOnShelf:
    """`first`: reels in use and offcuts, the shortest first; `others`: sealed, and set aside."""

    tape: str
    word: str
    pitch_m: float
    first: tuple[ReelOnShelf, ...]
    others: tuple[ReelOnShelf, ...]

    @property
    def left_m(self) -> float:
        return round(sum(reel.left_m for reel in (*self.first, *self.others)), 6)


def reels_on_shelf(session: Session) -> list[TapeOnShelf]:
    """Tapes of which anything is there, by tag. A number of statements that does not grow."""
    rows = session.execute(
        select(Reel, Tape, Place.tag, _parent.tag)
        .join(Tape, Tape.id == Reel.tape_id)
        .outerjoin(Place, Place.id == Reel.place_id)
        .outerjoin(_parent, _parent.id == Reel.parent_id)
        .where(Reel.retired_on.is_(None), Reel.left_pitches > 0, Reel.state.not_in(CLOSED))
        .order_by(Tape.tag_key, Reel.left_pitches, Reel.tag_key)
    ).all()
    tapes = {tape.id: tape for _, tape, _, _ in rows}
    promised: dict[str, list[tuple[str, int]]] = defaultdict(list)
    for promise in read_stock(session, list(tapes), (), ()).promises:
        promised[promise.reel].append((promise.code, promise.pitches))
    found: dict[int, list[ReelOnShelf]] = defaultdict(list)
    for reel, tape, place, parent in rows:
        metre = tape.pitch_um / 1e6
        whole = reel.received_pitches or tape.reel_pitches or reel.left_pitches
        found[tape.id].append(
            ReelOnShelf(
                reel.tag,
                reel.lot,
                reel.state.value,
                round(reel.left_pitches * metre, 6),
                round(whole * metre, 6),
                place or "",
                parent or "",
                tuple((code, round(pitches * metre, 6)) for code, pitches in promised[reel.tag]),
            )
        )
    return [_of_tape(tapes[tape_id], reels) for tape_id, reels in found.items()]


def _of_tape(tape: Tape, reels: list[ReelOnShelf]) -> TapeOnShelf:
    first = tuple(reel for reel in reels if reel.state in IN_USE)
    others = tuple(reel for reel in reels if reel.state not in IN_USE)
    return TapeOnShelf(tape.tag, tape.colour, tape.pitch_um / 1e6, first, others)
