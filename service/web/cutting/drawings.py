"""A reel as a strip, outer end left, hub right: shares of its width; the template only writes them down."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.planning.cutting.schemas import CutStepOut
from service.reports.bench.sheet import ReelSheet

FINEST_PCT = 0.6  # marks nearer than this run into one another and are not drawn
ROOM_FOR_TEXT_PCT = 14.0


@dataclass(frozen=True, slots=True)
class Part:
    """A length of the strip, in percent of it."""

    x_pct: float
    width_pct: float
    step: CutStepOut

    @property
    def has_room(self) -> bool:
        return self.width_pct >= ROOM_FOR_TEXT_PCT

    @property
    def end_pct(self) -> float:
        return round(self.x_pct + self.width_pct, 3)


@dataclass(frozen=True, slots=True)
class Strip:
    """`width_pct`: beside the longest strip of the page; `tick_pct`: from cutting mark to cutting mark, None
    where they would be too fine; `keep`: what stays, start and width; `joints`: where a joint lies."""

    width_pct: float
    tick_pct: float | None
    parts: tuple[Part, ...]
    keep: tuple[float, float] | None
    joints: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Drawn:
    """A reel with its strip; None once nothing is to be cut off it."""

    reel: ReelSheet
    strip: Strip | None


@dataclass(frozen=True, slots=True)
class OfTape:
    """The reels of one tape; `left`: pieces to be cut off them."""

    tape: str
    drawn: tuple[Drawn, ...]

    @property
    def left(self) -> int:
        return sum(step.kind == "piece" for one in self.drawn for step in one.reel.waiting)


def by_tape(reels: Sequence[ReelSheet]) -> list[OfTape]:
    """Tape by tape, each in the order of its plan; every strip to one scale."""
    every = drawn(reels)
    tapes = dict.fromkeys(reel.tape for reel in reels)
    return [OfTape(tape, tuple(one for one in every if one.reel.tape == tape)) for tape in tapes]


def drawn(reels: Sequence[ReelSheet]) -> list[Drawn]:
    longest_mm = max((reel.left_mm for reel in reels if reel.waiting), default=0.0)
    return [Drawn(reel, _strip(reel, longest_mm)) for reel in reels]


def _strip(reel: ReelSheet, longest_mm: float) -> Strip | None:
    # A reel that is short of what is planned off it is drawn as long as its plan.
    whole_mm = max(reel.left_mm, sum(step.cut_mm for step in reel.waiting))
    if not reel.waiting or not whole_mm:
        return None
    parts, joints, at_mm = [], [], 0.0
    for step in reel.waiting:
        parts.append(Part(_pct(at_mm, whole_mm), _pct(step.cut_mm, whole_mm), step))
        if step.joint_mm is not None:
            joints.append(_pct(at_mm + step.joint_mm, whole_mm))
        at_mm += step.cut_mm
    keep_mm = whole_mm - at_mm
    tick_pct = _pct(reel.pitch_mm, whole_mm)
    return Strip(
        min(100.0, _pct(whole_mm, longest_mm)),
        tick_pct if tick_pct >= FINEST_PCT else None,
        tuple(parts),
        (_pct(at_mm, whole_mm), _pct(keep_mm, whole_mm)) if keep_mm > 0 else None,
        tuple(joints),
    )


def _pct(part: float, whole: float) -> float:
    """
    >>> _pct(1250.0, 5000.0), _pct(1.0, 0.0)
    (25.0, 0.0)
    """
    return round(100.0 * part / whole, 3) if whole else 0.0
