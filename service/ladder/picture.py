"""Volts along a run as a drawing (SVG), without colours of its own: a page may show it by day or night."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, floor, log10
from xml.sax.saxutils import escape

import numpy as np

from service.ladder.solving import Along

WIDTH, HEIGHT = 640, 260
LEFT, RIGHT, TOP, BOTTOM = 56, 16, 28, 40
# Emitters are told apart by their dashes, with a key above the drawing.
DASHES = ("", "8 3", "2 3", "8 3 2 3", "12 4", "4 2")
MOST_POINTS = 120  # more would not be seen


@dataclass(frozen=True, slots=True)
class Limit:
    """A line across the drawing. `volts`: the least there should be."""

    volts: float
    text: str


@dataclass(frozen=True, slots=True)
class Ruler:
    """What lengths are told in. `per_m`: how many of it make a metre."""

    per_m: float
    sign: str
    plural: str


METRES = Ruler(1.0, "m", "metres")
FEET = Ruler(1.0 / 0.3048, "ft", "feet")  # the international foot, exact


def volts_along(
    run: Along,
    title: str,
    emitters: Sequence[str] = (),
    limits: Sequence[Limit] = (),
    ruler: Ruler = METRES,
) -> str:
    """The drawing as text: a line for each emitter that is on with its key, the limits, and the worst point.

    `emitters`: their names in pad order; none given: 1, 2, 3. The words are for those who cannot see it.
    """
    frame = _frame(run, limits)
    names = emitters or tuple(str(number + 1) for number in range(run.volts.shape[1]))
    segment, worst = run.worst
    described = (
        f"{run.supply_v:.2f} V at the supply. Fewest volts: {run.least_v:.2f} V, {names[worst]}, "
        f"{run.worst_at_m * ruler.per_m:.2f} {ruler.sign} from the start."
    )
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img"'
        ' fill="none" stroke="currentColor" font-family="inherit" font-size="12">',
        f"<title>{escape(title)}</title>",
        f"<desc>{escape(described)}</desc>",
        *_axes(frame, ruler),
        *(_limit(frame, limit) for limit in limits),
        *_series(frame, run, names),
        _mark(frame, run.worst_at_m, float(run.volts[segment, worst])),
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


@dataclass(frozen=True, slots=True)
class _Frame:
    length_m: float
    low_v: float
    high_v: float

    def x(self, at_m: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * at_m / self.length_m

    def y(self, volts: float) -> float:
        share = (volts - self.low_v) / (self.high_v - self.low_v)
        return TOP + (HEIGHT - TOP - BOTTOM) * (1.0 - share)


def _frame(run: Along, limits: Sequence[Limit]) -> _Frame:
    pitch_m = float(run.at_m[-1] - run.at_m[-2]) if len(run.at_m) > 1 else 2.0 * float(run.at_m[0])
    low_v = min([run.least_v, *(limit.volts for limit in limits)])
    high_v = max(run.supply_v, float(run.volts.max()))
    step = _step(high_v - low_v)
    return _Frame(
        length_m=float(run.at_m[-1]) + pitch_m / 2.0,
        low_v=floor(low_v / step - 0.25) * step,
        high_v=ceil(high_v / step) * step,
    )


def _step(span: float, most: int = 6) -> float:
    """A round number that divides the span into a handful."""
    if span <= 0.0:
        return 0.1
    power = 10.0 ** floor(log10(span / most))
    return next(power * times for times in (1.0, 2.0, 5.0, 10.0) if span / (power * times) <= most)


def _ticks(low: float, high: float) -> Iterator[float]:
    step = _step(high - low)
    for number in range(ceil(low / step - 1e-9), floor(high / step + 1e-9) + 1):
        yield number * step


def _axes(frame: _Frame, ruler: Ruler) -> Iterator[str]:
    bottom, right = HEIGHT - BOTTOM, WIDTH - RIGHT
    yield f'<path d="M{LEFT} {TOP}V{bottom}H{right}"/>'
    for volts in _ticks(frame.low_v, frame.high_v):
        y = frame.y(volts)
        yield f'<path d="M{LEFT} {y:.1f}H{right}" opacity="0.2"/>'
        yield _text(LEFT - 6, y + 4, f"{volts:g}", "end")
    for at in _ticks(0.0, frame.length_m * ruler.per_m):
        yield _text(frame.x(at / ruler.per_m), bottom + 16, f"{at:g}", "middle")
    yield _text(LEFT, TOP - 12, "V", "start")
    yield _text(right, HEIGHT - 6, f"{ruler.plural} from the start", "end")


def _series(frame: _Frame, run: Along, names: Sequence[str]) -> Iterator[str]:
    chosen = np.unique(np.linspace(0, len(run.at_m) - 1, min(len(run.at_m), MOST_POINTS)).round().astype(int))
    for emitter in range(run.volts.shape[1]):
        if not run.is_lit[:, emitter].any():
            continue
        points = [(frame.x(run.at_m[at]), frame.y(run.volts[at, emitter])) for at in chosen]
        path = "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
        dash = DASHES[emitter % len(DASHES)]
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        yield f'<path d="M{path}" stroke-width="2"{dashed}/>'
        x = LEFT + 40 + 72 * emitter
        yield f'<path d="M{x} {TOP - 16}h24" stroke-width="2"{dashed}/>'
        yield _text(x + 30, TOP - 12, names[emitter], "start")


def _limit(frame: _Frame, limit: Limit) -> str:
    y = frame.y(limit.volts)
    line = f'<path d="M{LEFT} {y:.1f}H{WIDTH - RIGHT}" stroke-dasharray="1 4"/>'
    return line + _text(WIDTH - RIGHT, y - 4, limit.text, "end")


def _mark(frame: _Frame, at_m: float, volts: float) -> str:
    x, y = frame.x(at_m), frame.y(volts)
    anchor = "end" if x > (LEFT + WIDTH) / 2.0 else "start"
    circle = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="currentColor"/>'
    return circle + _text(x, y + 18, f"{volts:.2f} V", anchor)


def _text(x: float, y: float, text: str, anchor: str) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="currentColor" stroke="none">'
        f"{escape(text)}</text>"
    )
