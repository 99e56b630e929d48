"""The season on one axis of days: shows above, what is wanted of each thing below. Geometry only."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from service.planning.season.items import METRE, PIECE, Item, Season, Show
from service.season.lines import Step, least_free, shortages

WIDTH = 1000  # px from the first day to the last
ROOM = 76.0  # px a thing has for its line
BEFORE, AFTER = timedelta(days=14), timedelta(days=7)
FIGURE_ROOM = {PIECE: 82, METRE: 98}  # px that a figure with its word takes, by the unit it is told in
MOST_LINES = 6


@dataclass(frozen=True, slots=True)
class Bar:
    """A show: from when its gear is wanted to the first night, to the last, to the day all is back."""

    code: str
    venue: str
    start: float
    opens: float
    closes: float
    end: float
    goes_on: bool


@dataclass(frozen=True, slots=True)
class Block:
    """Days on which it is short: where, how much in the unit of its line."""

    x: float
    y: float
    width: float
    height: float
    short: float
    is_labelled: bool


@dataclass(frozen=True, slots=True)
class Line:
    """One thing: what is wanted as a filled outline, what there is as a line, where it is short."""

    tag: str
    kind: str
    unit: str
    most: float
    there: float
    area: str
    edge: str
    there_path: str
    there_y: float
    blocks: Sequence[Block]


@dataclass(frozen=True, slots=True)
class Chart:
    """`months`: (x, a day in it) where each begins. `today_x`: where today stands."""

    months: Sequence[tuple[float, date]]
    bars: Sequence[Bar]
    lines: Sequence[Line]
    today_x: float
    width: int = WIDTH
    room: float = ROOM


def chart(season: Season, titles: Sequence[str] | None = None) -> Chart | None:
    """The drawing of the season from a little before today to its last day; None where no show is to come."""
    coming = [show for show in season.shows.values() if show.window.needed_to >= season.today]
    if not coming:
        return None
    first = season.today - BEFORE
    last = max(show.window.needed_to for show in coming) + AFTER
    scale = _Scale(first, last)
    bars = [_bar(show, scale) for show in sorted(coming, key=lambda s: (s.window.needed_from, s.code))]
    lines = [_line(item, scale) for item in _worth_drawing(season, titles)]
    return Chart(list(_months(scale)), bars, lines, scale.x(season.today))


@dataclass(frozen=True, slots=True)
class _Scale:
    first: date
    last: date

    def x(self, day: date) -> float:
        inside = min(max(day, self.first), self.last)
        return round(WIDTH * (inside - self.first).days / max(1, (self.last - self.first).days), 1)


def _bar(show: Show, scale: _Scale) -> Bar:
    opens = show.first_preview or show.window.load_in
    return Bar(
        show.code,
        show.venue,
        scale.x(show.window.needed_from),
        scale.x(opens),
        scale.x(show.closing + timedelta(days=1)),
        scale.x(show.window.needed_to + timedelta(days=1)),
        show.window.needed_from < scale.first,
    )


def _worth_drawing(season: Season, tags: Sequence[str] | None) -> list[Item]:
    """The things named; else those that run short, the earliest first."""
    known = {item.tag: item for item in season.items.values() if item.kind not in ("lot", "reel")}
    if tags is not None:
        return [known[tag] for tag in tags if tag in known]
    short = []
    for item in known.values():
        found = shortages(item.line(season.today))
        if found:
            short.append((found[0].from_on, item.tag, item))
    return [item for *_, item in sorted(short, key=lambda one: one[:2])[:MOST_LINES]]


def _months(scale: _Scale) -> Sequence[tuple[float, date]]:
    day = scale.first.replace(day=1)
    found = []
    while day <= scale.last:
        if day >= scale.first or (scale.first - day).days < 20:
            found.append((scale.x(day), day))
        day = (day + timedelta(days=32)).replace(day=1)
    return found


def _line(item: Item, scale: _Scale) -> Line:
    steps = [s for s in item.line(scale.first) if s.from_on < scale.last]
    top = max([1, *(max(s.wanted, s.usable + s.due) for s in steps)]) * 1.12

    def y(quantity: float) -> float:
        return round(ROOM - ROOM * quantity / top, 1)

    wanted = [(scale.x(s.from_on), scale.x(s.until_on), y(s.wanted)) for s in steps]
    there = [(scale.x(s.from_on), scale.x(s.until_on), y(s.usable + s.due)) for s in steps]
    worst = least_free(steps)
    return Line(
        item.tag,
        item.kind,
        item.unit,
        item.figure(max(s.wanted for s in steps)),
        item.figure(worst.usable + worst.due),
        _path(wanted) + f"V{ROOM:g}H{wanted[0][0]:g}Z",
        _path(wanted),
        _path(there),
        there[-1][2],
        _blocks(item, steps, scale, y),
    )


def _path(spans: Sequence[tuple[float, float, float]]) -> str:
    """
    >>> _path([(0, 10, 5), (10, 20, 8)])
    'M0 5H10V8H20'
    """
    start = f"M{spans[0][0]:g} {spans[0][2]:g}H{spans[0][1]:g}"
    return start + "".join(f"V{y:g}H{end:g}" for _, end, y in spans[1:])


def _blocks(item: Item, steps: Sequence[Step], scale: _Scale, y: Callable[[float], float]) -> list[Block]:
    short = [step for step in steps if step.short]
    labelled = _labelled([(scale.x(step.from_on), step.short) for step in short], FIGURE_ROOM[item.unit])
    found = []
    for number, step in enumerate(short):
        x, end = scale.x(step.from_on), scale.x(step.until_on)
        high, low = y(step.wanted), y(step.usable + step.due)
        found.append(
            Block(
                x, high, max(1.0, end - x), low - high,
                short=item.figure(step.short),
                is_labelled=number in labelled,
            )
        )  # fmt: skip
    return found


def _labelled(places: Sequence[tuple[float, int]], room: float) -> list[int]:
    """Which of (x, how much) have their figure written, the largest first: of those too near, the largest.

    >>> _labelled([(0, 3), (45, 4), (150, 2)], 82), _labelled([(0, 1), (60, 1)], 82)
    ([1, 2], [0])
    """
    order = sorted(range(len(places)), key=lambda one: (-places[one][1], places[one][0]))
    found: list[int] = []
    for number in order:
        if all(abs(places[number][0] - places[other][0]) >= room for other in found):
            found.append(number)
    return found
