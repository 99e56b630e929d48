"""Questions about the season: the line of a thing, what is short, what clashes, who has what."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, timedelta

from service.errors import BadRequest, NotFound
from service.planning.season.items import Item, Named, Season
from service.planning.season.reading import find_item
from service.planning.season.schemas import CommitmentOut, SeasonLineOut, ShortageOut
from service.planning.season.telling import last_day, shortage_out, step_out
from service.season.lines import FAR, Need, Step, least_free, shortages, step_line
from service.store.base import tag_key

Days = tuple[date, date]
_ORDER = {"supply": 0, "decoder": 1, "battery": 2, "tape": 3, "lot": 4, "reel": 5}


def days_of(from_on: date | None, to_on: date | None, day: date) -> Days:
    """Half-open days from `day` on unless told otherwise, without an end unless told. Raises BadRequest."""
    first = from_on or day
    if first < day:
        raise BadRequest(
            f"{first} is before {day}, the day the question is asked for",
            f"Ask as of {first}, or leave the first day out.",
        )
    if to_on is not None and to_on < first:
        raise BadRequest(f"{to_on} comes before {first}", "Swap the two days.")
    return first, FAR if to_on is None else to_on + timedelta(days=1)


def in_order(season: Season) -> list[Item]:
    """Every item, gear before tape, each kind by tag."""
    return sorted(season.items.values(), key=lambda i: (_ORDER[i.kind], i.tag, i.lot))


def find_code(season: Season, code: str) -> str:
    """The show of that code in any letter case. Raises NotFound."""
    found = next((known for known in season.shows if tag_key(known) == tag_key(code)), None)
    if found is None:
        raise NotFound(f"no production has the code {code!r}", "List the productions to see their codes.")
    return found


def season_line(season: Season, tag: str, lot: str | None, days: Days) -> SeasonLineOut:
    """One thing through those days. Raises NotFound."""
    item = find_item(season, tag, lot)
    whole = item.line(days[0])
    line = within(whole, days[1])
    found = shortages(whole, days[1])
    worst = least_free(line)
    late = [one for one in season.late if one.item == item.tag and not item.lot]
    return SeasonLineOut(
        kind=item.kind,
        item=item.tag,
        lot=item.lot,
        unit=item.unit,
        from_on=days[0],
        to_on=last_day(days[1]),
        first_short_on=found[0].from_on if found else None,
        short=item.figure(worst.short),
        worst_on=worst.from_on,
        free=item.figure(worst.free),
        late_orders=[
            f"{one.order} line {one.line}: {item.figure(one.quantity):g} {item.unit}, "
            + (f"due {one.due_on}" if one.due_on else "no day given")
            for one in late
        ],
        shortages=[shortage_out(season, item, short) for short in found],
        steps=[step_out(item, step) for step in line],
    )


def within(line: Sequence[Step], until_on: date) -> tuple[Step, ...]:
    """The steps before that day, the last one cut short at it."""
    return tuple(
        step if step.until_on <= until_on else step._replace(until_on=until_on)
        for step in line
        if step.from_on < until_on
    )


def season_shortages(season: Season, days: Days, production: str | None = None) -> list[ShortageOut]:
    """What is short on any of those days, the earliest first; of one show: what it wants a part of.

    A lot is short where its reels are, which are told instead.
    """
    code = None if production is None else find_code(season, production)
    found: list[tuple[date, int, ShortageOut]] = []
    for place, item in enumerate(in_order(season)):
        if item.kind == "lot":
            continue
        for short in shortages(item.line(days[0]), days[1]):
            wanting = {who for step in short.steps for who, _ in step.wanted_by}
            if code is None or code in wanting:
                found.append((short.from_on, place, shortage_out(season, item, short)))
    return [out for _, _, out in sorted(found, key=lambda one: one[:2])]


def commitments(season: Season, days: Days, production: str | None = None) -> list[CommitmentOut]:
    """What each show has of each thing on any of those days, show by show."""
    code = None if production is None else find_code(season, production)
    named: dict[tuple[str, str], list[Named]] = defaultdict(list)
    for one in season.named:
        named[one.item, one.who].append(one)
    rows = [
        row
        for item in in_order(season)
        if item.kind != "lot"
        for row in _committed(season, item, days, named)
    ]
    turn = {known: n for n, known in enumerate(season.shows)}
    rows.sort(key=lambda row: turn[row.production])
    return [row for row in rows if code in (None, row.production)]


def _committed(
    season: Season, item: Item, days: Days, named: Mapping[tuple[str, str], Sequence[Named]]
) -> Iterator[CommitmentOut]:
    line = within(item.line(days[0]), days[1])
    for who in sorted({need.who for need in item.needs}):
        mine = [need for need in item.needs if need.who == who]
        steps = [step for step in step_line(mine, (), *days) if step.wanted]
        if not steps:
            continue
        first, last = steps[0].from_on, steps[-1].until_on
        overlap = [step for step in line if step.from_on < last and step.until_on > first]
        tags = {
            one.tag for one in named.get((item.tag, who), ()) if one.from_on < last and one.until_on > first
        }
        yield CommitmentOut(
            production=who,
            venue=season.shows[who].venue,
            kind=item.kind,
            item=item.tag,
            lot=item.lot,
            unit=item.unit,
            held=item.figure(_most(mine, days, lambda need: need.promised)),
            used=item.figure(_most(mine, days, lambda need: need.used)),
            wanted=item.figure(max(step.wanted for step in steps)),
            from_on=first,
            to_on=last_day(last),
            short=item.figure(max(step.short for step in overlap)),
            tags=sorted(tags),
        )


def _most(needs: Sequence[Need], days: Days, figure: Callable[[Need], int]) -> int:
    """The most on any of those days: it is first reached on one on which some need begins."""
    starts = {max(need.from_on, days[0]) for need in needs if need.from_on < days[1]}
    return max(sum(figure(need) for need in needs if need.from_on <= day < need.until_on) for day in starts)
