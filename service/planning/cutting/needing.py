"""How many new reels the pieces of shows need: reels, not metres, for whoever buys."""

from dataclasses import dataclass

from service.planning.cutting.actions import solved
from service.planning.cutting.answering import TapeAnswer, figures
from service.planning.cutting.reading import CutQuestion


@dataclass(frozen=True, slots=True)
class ReelsNeeded:
    """Of one tape. `new_reels`: beyond the shelf; `on_order`: of those, what is on order and due in time;
    `to_buy`: the others. `least_new_reels`: proven, no plan takes fewer. `longest_piece_m`: the spare that a
    show wants of its tape; `one_lot`: match groups whose new reels must come as one lot, and what would do
    instead. `unmet`: pieces that no reel yields."""

    tape: str
    pieces: int
    needed_m: float
    new_reels: int
    on_order: int
    to_buy: int
    least_new_reels: int
    longest_piece_m: float
    left_m: float
    unmet: int
    one_lot: tuple[str, ...]
    is_proven: bool


def needs_of(question: CutQuestion, deadline_s: float | None = None) -> list[ReelsNeeded]:
    """What the pieces that are not cut need, tape by tape, of a question read with reels to be bought."""
    return [_needed(answer) for answer in solved(question, deadline_s)]


def _needed(answer: TapeAnswer) -> ReelsNeeded:
    told, tape = figures(answer), answer.question
    longest = max(piece.pitches for piece in tape.pieces.values())
    one_lot = [note for note in told.notes if note.startswith("Ask for one lot")]
    return ReelsNeeded(
        told.tape,
        told.pieces,
        told.needed_m,
        told.new_reels,
        told.on_order,
        told.to_buy,
        told.bounds.new_reels,
        tape.shown_m(longest),
        told.left_m,
        len(told.unmet),
        (*one_lot, *answer.offers),
        told.is_proven,
    )
