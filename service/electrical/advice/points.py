"""Where along a run the current should come in, when one lead is not enough."""

from dataclasses import dataclass, replace

from service.electrical.advice.cases import Case, Limits, breaks
from service.electrical.tape import FeedStyle

MOST_POINTS = 12  # beyond that the tape is the wrong one; common practice


@dataclass(frozen=True, slots=True)
class Points:
    """Cut marks to feed at, in metres from the start; a lead for each, all from one supply output.

    `share`: the longest stretch that one of them feeds, by itself. `fewer`: what breaks with one point less.
    """

    at_m: tuple[float, ...]
    share: Case
    fewer: tuple[str, ...]


def feed_points(case: Case, limits: Limits) -> Points | None:
    """The fewest points that keep the limits, each in the middle of a like share of the run.

    A share of k pitches is fed at the cut mark nearest its middle, so its longer half has ceil(k / 2) of
    them; it is taken as twice that half, fed in the middle. None where twelve points are not enough.

    Source: elementary theory of an evenly loaded line: n points lose full / (4 n²) in the tape, and each
    lead carries 1 / n. The shares stay joined, which can only help.

    >>> from service.electrical.advice.cases import Wire
    >>> from service.electrical.tape import Rails
    >>> tape = Rails(24.0, 0.025, (4.8,) * 4, (0.050,) * 4)
    >>> case = Case(tape, 80, 0.1, FeedStyle.ONE, Wire("16 AWG", 0.01318, 10.0), 12.0)
    >>> [round(at, 1) for at in feed_points(case, Limits(0.05)).at_m]
    [2.0, 6.0]
    """
    fewer: tuple[str, ...] = breaks(case, limits)
    for points in range(1, min(MOST_POINTS, case.pitches) + 1):
        share = _share(case, points)
        broken = breaks(share, limits)
        if not broken:
            return Points(_marks_m(case, points), share, fewer)
        fewer = broken
    return None


def _share(case: Case, points: int) -> Case:
    longest = -(-case.pitches // points)
    return replace(case, pitches=2 * -(-longest // 2), style=FeedStyle.MIDDLE)


def _marks_m(case: Case, points: int) -> tuple[float, ...]:
    """Shares differ by one pitch at most, the longer ones first."""
    least, longer = divmod(case.pitches, points)
    at, marks = 0, list[float]()
    for number in range(points):
        share = least + (number < longer)
        marks.append((at + share // 2) * case.pitch_m)
        at += share
    return tuple(marks)
