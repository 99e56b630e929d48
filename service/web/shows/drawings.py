"""Bars and strips as shares of their width: the templates only write them down."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.reports.standing.parts import Bar, Slice, State, Universe

LIMIT_AT_PCT = 80.0  # every upright stands here, so that the bars can be read down a page
SLOTS = 512


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a bar: where it starts and how wide it is, in percent of the width."""

    x_pct: float
    width_pct: float
    tone: int
    slice: Slice


@dataclass(frozen=True, slots=True)
class LoadBar:
    """`spare`, `over`: start and width of the stripes beyond the limit; None where there are none."""

    bar: Bar
    pieces: tuple[Piece, ...]
    limit_pct: float | None
    spare: tuple[float, float] | None
    over: tuple[float, float] | None


def load_bar(bar: Bar) -> LoadBar:
    """Each is drawn to the scale of its own supply; one that is far over ends at the right edge."""
    limit_w = bar.limit_w
    if limit_w:
        whole_w = max(limit_w * 100.0 / LIMIT_AT_PCT, bar.load_w)
    else:
        whole_w = max(bar.rated_w or 0.0, bar.load_w) or 1.0
    limit_pct = None if not limit_w else 100.0 * limit_w / whole_w
    load_pct = 100.0 * bar.load_w / whole_w
    spare = over = None
    if limit_pct is not None:
        spare = (limit_pct, 100.0 - limit_pct)
        over = (limit_pct, load_pct - limit_pct) if bar.state_of_watts is State.OVER else None
    return LoadBar(bar, _pieces(bar, whole_w), limit_pct, spare, over)


def _pieces(bar: Bar, whole_w: float) -> tuple[Piece, ...]:
    pieces, x = [], 0.0
    outputs = list(dict.fromkeys(one.output for one in bar.slices))
    for one in bar.slices:
        width = 100.0 * one.load_w / whole_w
        pieces.append(Piece(round(x, 3), round(width, 3), outputs.index(one.output) % 2, one))
        x += width
    return tuple(pieces)


@dataclass(frozen=True, slots=True)
class Mark:
    """Slots taken on a strip, in percent of a universe."""

    x_pct: float
    width_pct: float
    decoder: str
    is_over: bool


def strip(universe: Universe) -> tuple[Mark, ...]:
    return tuple(
        Mark(
            round(100.0 * (block.first - 1) / SLOTS, 3),
            round(100.0 * max(min(block.last, SLOTS) - block.first + 1, 1) / SLOTS, 3),
            block.decoder,
            block.is_over,
        )
        for block in universe.blocks
        if 1 <= block.first <= SLOTS
    )


def share_pct(part: float, whole: float) -> float:
    """
    >>> share_pct(1, 4), share_pct(3, 0)
    (25.0, 0.0)
    """
    return round(100.0 * part / whole, 1) if whole else 0.0


def drawn(bars: Sequence[Bar]) -> list[LoadBar]:
    return [load_bar(bar) for bar in bars]
