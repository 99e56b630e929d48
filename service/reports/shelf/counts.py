"""What there is of each model and tape today, with whom the rest is, and the day with the least to spare."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.planning.season.asking import in_order
from service.planning.season.items import Item, Season
from service.planning.season.reading import read_season
from service.reports.stock_use import for_good
from service.season.lines import Step, least_free, shortages
from service.stock.gear import BatteryModel, DecoderModel, SupplyModel
from service.stock.records import Tape

# The list in which the record of each kind stands.
PLURALS = {
    "supply": "supply-models",
    "decoder": "decoder-models",
    "battery": "battery-models",
    "tape": "tapes",
}
Figures = tuple[tuple[float, str], ...]


@dataclass(frozen=True, slots=True)
class Made:
    """What a model or tape is: figures with their units, and a word where there is one."""

    figures: Figures = ()
    word: str = ""
    channels: int = 0


@dataclass(frozen=True, slots=True)
class Least:
    """The first day with the least to spare: `free` then, or how much it is `short`, who has it or wants it
    (the most first) and the first day on which it is short no more."""

    on: date
    free: float
    short: float
    wanted_by: tuple[tuple[str, float], ...]
    clears_on: date | None


@dataclass(frozen=True, slots=True)
class Count:
    """One model (in pieces) or one tape (in m). `owned`: in the house and not hired; `out`: with which show
    how many are, overdue ones included; `free`: not out and not wanted today, of tape ever. `beyond`: of
    tape, how much more than there is shows will want in all. `line`: from a day up to but not on the next,
    what is wanted and what there is, what is due in counted."""

    kind: str
    item: str
    made: Made
    unit: str
    owned: float
    sound: float
    out: tuple[tuple[str, int], ...]
    overdue: float
    free: float
    short: float
    beyond: float
    due_in: float
    least: Least
    line: tuple[tuple[date, date, float, float], ...]

    @property
    def plural(self) -> str:
        return PLURALS[self.kind]

    @property
    def is_short(self) -> bool:
        return self.short > 0 or self.least.short > 0


@dataclass(frozen=True, slots=True)
class Shelf:
    """`short`: how many of them run short on some day that is known."""

    counts: tuple[Count, ...]

    @property
    def short(self) -> int:
        return sum(count.is_short for count in self.counts)

    @property
    def short_today(self) -> int:
        return sum(count.short > 0 for count in self.counts)


def counted(session: Session, today: date) -> Shelf:
    """Every model and tape in use, gear before tape. A number of statements that does not grow."""
    season = read_season(session, today)
    made, out = _made(session), _out(season)
    items = [item for item in in_order(season) if item.kind in PLURALS]
    return Shelf(tuple(_count(item, season, made.get(item.tag, Made()), out) for item in items))


def _count(item: Item, season: Season, made: Made, out: Mapping[str, Counter[str]]) -> Count:
    line = item.line(season.today)
    now = line[0] if item.is_lent else for_good(line)
    late = sum(one.quantity for one in season.late if one.item == item.tag)
    return Count(
        kind=item.kind,
        item=item.tag,
        made=made,
        unit=item.unit,
        owned=item.figure(now.owned),
        sound=item.figure(now.sound),
        out=tuple(sorted(out.get(item.tag, Counter()).items(), key=lambda one: (-one[1], one[0]))),
        overdue=item.figure(now.late),
        free=item.figure(now.free),
        short=item.figure(now.short if item.is_lent else line[0].short),
        beyond=0.0 if item.is_lent else item.figure(now.short),
        due_in=item.figure(sum(stock.due for stock in item.stocks) + late),
        least=_least(item, line),
        line=tuple(
            (s.from_on, s.until_on, item.figure(s.wanted), item.figure(s.usable + s.due)) for s in line
        ),
    )


def _least(item: Item, line: Sequence[Step]) -> Least:
    worst = least_free(line)
    clears = next((s.clears_on for s in shortages(line) if worst in s.steps), None)
    most_first = sorted(worst.wanted_by, key=lambda one: (-one[1], one[0]))
    return Least(
        worst.from_on,
        item.figure(worst.free),
        item.figure(worst.short),
        tuple((who, item.figure(quantity)) for who, quantity in most_first),
        clears,
    )


def _out(season: Season) -> dict[str, Counter[str]]:
    """By model: how many units each show has today. A unit that two have by tag counts with each."""
    found: dict[str, Counter[str]] = defaultdict(Counter)
    seen: set[tuple[str, str]] = set()
    for one in season.named:
        if one.item and one.from_on <= season.today < one.until_on and (one.tag, one.who) not in seen:
            seen.add((one.tag, one.who))
            found[one.item][one.who] += 1
    return found


def _made(session: Session) -> dict[str, Made]:
    found: dict[str, Made] = {}
    for tag, volts, colour in session.execute(select(Tape.tag, Tape.nominal_v, Tape.colour)):
        found[tag] = Made(((volts, "V"),), colour)
    for tag, volts, watts in session.execute(
        select(SupplyModel.tag, SupplyModel.output_v, SupplyModel.rated_w)
    ):
        found[tag] = Made(_known((volts, "V"), (watts, "W")))
    for tag, channels, amps in session.execute(
        select(DecoderModel.tag, DecoderModel.channels, DecoderModel.channel_a)
    ):
        found[tag] = Made(_known((amps, "A")), channels=channels)
    for tag, volts, hours in session.execute(
        select(BatteryModel.tag, BatteryModel.nominal_v, BatteryModel.capacity_ah)
    ):
        found[tag] = Made(_known((volts, "V"), (hours, "Ah")))
    return found


def _known(*figures: tuple[float | None, str]) -> Figures:
    return tuple((value, unit) for value, unit in figures if value is not None)
