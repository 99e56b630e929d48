"""What could be changed about a run that loses too much, each change with its figures, the best first."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import floor, inf

from service.electrical.advice.cases import Case, Limits, Wire, breaks
from service.electrical.advice.longest import longest_lead_of, longest_pitches
from service.electrical.advice.points import feed_points
from service.electrical.tape import Drop, FeedStyle

BOTH = "feed both ends from the same supply output"
MIDDLE = "feed it in the middle"


@dataclass(frozen=True, slots=True)
class Option:
    """One way out. `what`: what is done; `case`: the run then, or its longest share between feeds.

    `breaks`: what it still does not keep; empty: it will do. `changes`: how many things are done differently.
    `gives_up`: what the scenery loses by it, if anything.
    """

    what: str
    text: str
    case: Case
    drop: Drop
    breaks: tuple[str, ...]
    changes: int
    gives_up: str = ""


def options(case: Case, limits: Limits, shelf: Iterable[Wire]) -> tuple[Option, ...]:
    """Ways to keep the limits, ranked: what will do before what will not, nothing given up before
    something, fewer changes before more, then the order in which they are tried.

    Of wires only the thinnest that will do is named with each feed, or the thickest of the shelf where none
    will do. Source: each figure is the quick drop of the changed run.

    >>> from service.electrical.gauges import awg
    >>> from service.electrical.advice.cases import wire_of
    >>> from service.electrical.tape import Rails
    >>> tape = Rails(24.0, 0.025, (4.8,) * 4, (0.050,) * 4)
    >>> case = Case(tape, 80, 0.1, FeedStyle.ONE, wire_of(awg(18)), 12.0)
    >>> best = options(case, Limits(0.05), [wire_of(awg(n)) for n in (18, 16, 14)])[0]
    >>> best.text
    'feed both ends from the same supply output and use 16 AWG: 0.87 V instead of 2.97 V'
    """
    found = list(_ways(case, limits, sorted(shelf, key=lambda wire: (-wire.ohm_per_m, wire.text))))
    return tuple(sorted(found, key=lambda way: (bool(way.breaks), bool(way.gives_up), way.changes)))


def _ways(case: Case, limits: Limits, shelf: Sequence[Wire]) -> Iterator[Option]:
    thicker = [wire for wire in shelf if wire.ohm_per_m < case.wire.ohm_per_m]
    styles = [style for style in (FeedStyle.BOTH, FeedStyle.MIDDLE) if style is not case.style]
    if case.style is FeedStyle.BOTH:
        styles = []  # one lead in the middle would carry what two carry now
    for style in (case.style, *styles):
        feed = [] if style is case.style else [BOTH if style is FeedStyle.BOTH else MIDDLE]
        changed = replace(case, style=style)
        if feed:
            yield _way(case, changed, limits, feed)
        if thicker and breaks(changed, limits):
            wire = _thinnest(changed, limits, thicker)
            yield _way(case, replace(changed, wire=wire), limits, [*feed, f"use {wire.text}"])
    yield from _higher_voltage(case, limits)
    yield from _nearer(case, limits)
    yield from _more_points(case, limits)
    yield from _shorter(case, limits)


def _way(before: Case, after: Case, limits: Limits, changes: Sequence[str], gives_up: str = "") -> Option:
    drop, what = after.drop(), " and ".join(changes)
    words = f"{what}: {drop.total_v:.2f} V instead of {before.drop().total_v:.2f} V"
    if drop.class_v != before.rails.class_v:
        words += f", {drop.total_pct:.2f} % instead of {before.drop().total_pct:.2f} %"
    return Option(what, words, after, drop, breaks(after, limits), len(changes), gives_up)


def _thinnest(case: Case, limits: Limits, wires: Sequence[Wire]) -> Wire:
    return next((wire for wire in wires if not breaks(replace(case, wire=wire), limits)), wires[-1])


def _higher_voltage(case: Case, limits: Limits) -> Iterator[Option]:
    """The same watts at 24 V. Its maker's longest run is another; that is not known here."""
    if case.rails.class_v >= 24.0:
        return
    tape = replace(case, rails=replace(case.rails, class_v=24.0))
    what = "use the 24 V version of the tape, with the same watts and copper"
    yield _way(case, tape, replace(limits, run_m=None), [what], "the tape and its supply are others")


def _nearer(case: Case, limits: Limits) -> Iterator[Option]:
    lead_m = longest_lead_of(case, limits)
    if lead_m is None or lead_m == inf or lead_m >= case.lead_m:
        return
    near_m = floor(lead_m * 10.0) / 10.0  # rounding up would promise a lead that does not pass
    yield _way(
        case,
        replace(case, lead_m=near_m),
        limits,
        [f"bring the supply nearer, to a lead of {near_m:.1f} m"],
        "the supply stands elsewhere",
    )


def _more_points(case: Case, limits: Limits) -> Iterator[Option]:
    points = feed_points(case, limits)
    if points is None or len(points.at_m) < 2:
        return
    at = ", ".join(f"{metres:.2f}" for metres in points.at_m)
    text = f"feed it at {len(points.at_m)} points ({at} m from the start), a lead each from the same output"
    yield _way(case, points.share, limits, [text], f"{len(points.at_m)} leads")


def _shorter(case: Case, limits: Limits) -> Iterator[Option]:
    pitches = longest_pitches(case, limits)
    if 0 < pitches < case.pitches:
        shorter = case.of(pitches)
        text = f"cut the run to {shorter.length_m:.3f} m"
        lost_m = case.length_m - shorter.length_m
        yield _way(case, shorter, limits, [text], f"{lost_m:.3f} m of tape, or a second run")
