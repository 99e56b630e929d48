"""Units that two shows have by tag on the same days, and units that are overdue."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import combinations

from service.planning.season.asking import Days, find_code
from service.planning.season.items import Named, Season
from service.planning.season.schemas import ClashOut
from service.planning.season.telling import best_move, last_day, move_fields, move_words
from service.season.lines import FAR, Need, Shortage, Stock, shortages, step_line


@dataclass(frozen=True, slots=True)
class _Both:
    """Two shows with the same unit; `first` has it first."""

    first: Named
    second: Named
    from_on: date
    until_on: date


def clashes(season: Season, days: Days, production: str | None = None) -> list[ClashOut]:
    """Those of any of these days, the earliest first; of one show where it is named. Raises NotFound."""
    code = None if production is None else find_code(season, production)
    by_unit: dict[str, list[Named]] = defaultdict(list)
    for one in season.named:
        if one.from_on < days[1] and one.until_on > days[0]:
            by_unit[one.tag].append(one)
    twice: dict[tuple[str, str], list[_Both]] = defaultdict(list)
    overdue: dict[tuple[str, str, date, date], list[_Both]] = defaultdict(list)
    for of_unit in by_unit.values():
        for both in _pairs(of_unit, days):
            who = both.first.who, both.second.who
            if both.first.due_on is None:
                twice[who].append(both)
            else:
                overdue[*who, both.from_on, both.first.due_on].append(both)
    found = [out for group in twice.values() for out in _twice(season, group)]
    found += [_overdue(season, group) for group in overdue.values()]
    found += list(_hurting_nobody(season))
    rows = [row for row in found if code in (None, row.production, row.other)]
    return sorted(
        rows, key=lambda row: (row.from_on or date.max, row.kind, row.other, row.production, row.tags)
    )


def _pairs(of_unit: list[Named], days: Days) -> Iterator[_Both]:
    in_turn = sorted(of_unit, key=lambda one: (one.due_on is None, one.from_on, one.who))
    for first, second in combinations(in_turn, 2):
        from_on = max(first.from_on, second.from_on, days[0])
        until_on = min(first.until_on, second.until_on)
        if first.who != second.who and from_on < min(until_on, days[1]):
            yield _Both(first, second, from_on, until_on)


def _twice(season: Season, group: list[_Both]) -> Iterator[ClashOut]:
    """One row for all units that the two shows share on the same days; the move frees all they share."""
    shorts: list[tuple[Shortage, tuple[Need, ...]]] = []
    for both in group:
        needs = tuple(Need(n.who, n.from_on, n.until_on, used=1) for n in (both.first, both.second))
        line = step_line(needs, [Stock(date.min, sound=1)], season.today)
        shorts += [(short, needs) for short in shortages(line)]
    move = best_move(season, shorts)
    said = "" if move is None else move_words(move, season.windows[move.who])
    if move is not None and move.remains:
        said += f"; {len(move.remains)} of {len(shorts)} units still clash"
    by_days: dict[tuple[date, date], list[str]] = defaultdict(list)
    for both in group:
        by_days[both.from_on, both.until_on].append(both.first.tag)
    for (from_on, until_on), tags in sorted(by_days.items()):
        yield ClashOut(
            kind="twice",
            production=group[0].second.who,
            other=group[0].first.who,
            tags=sorted(tags),
            from_on=from_on,
            to_on=last_day(until_on),
            days=None if until_on == FAR else (until_on - from_on).days,
            clears_on=None if until_on == FAR else until_on,
            overdue_days=None,
            in_days=(from_on - season.today).days,
            **move_fields(move, said),
        )


def _overdue(season: Season, group: list[_Both]) -> ClashOut:
    """Units that are not back and that another show has asked for."""
    first, from_on = group[0].first, group[0].from_on
    assert first.due_on is not None
    return ClashOut(
        kind="overdue",
        production=group[0].second.who,
        other=first.who,
        tags=sorted(both.first.tag for both in group),
        from_on=from_on,
        to_on=None,
        days=None,
        clears_on=None,
        overdue_days=(season.today - first.due_on).days,
        in_days=(from_on - season.today).days,
    )


def _hurting_nobody(season: Season) -> Iterator[ClashOut]:
    """Overdue units that no other show has by tag."""
    asked = {one.tag for one in season.named if one.due_on is None and one.until_on > season.today}
    groups: dict[tuple[str, date], list[str]] = defaultdict(list)
    for one in season.named:
        if one.due_on is not None and one.tag not in asked:
            groups[one.who, one.due_on].append(one.tag)
    for (who, due_on), tags in sorted(groups.items()):
        yield ClashOut(
            kind="overdue",
            production="",
            other=who,
            tags=sorted(tags),
            from_on=None,
            to_on=None,
            days=None,
            clears_on=None,
            overdue_days=(season.today - due_on).days,
            in_days=None,
        )
