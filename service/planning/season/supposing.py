"""The season thought of otherwise, in memory: shows on other days, other quantities, gear that is back."""

from dataclasses import replace
from datetime import date, timedelta

from service.errors import BadRequest, NotFound
from service.planning.season.asking import find_code, in_order, season_shortages
from service.planning.season.clashing import clashes
from service.planning.season.items import Item, Named, Season, Show
from service.planning.season.reading import find_item
from service.planning.season.schemas import (
    ClashOut,
    ItemChange,
    MovedDates,
    OtherQuantity,
    SeasonQuestion,
    SeasonSupposed,
    ShortageOut,
)
from service.planning.season.telling import DAY
from service.season.lines import FAR, Need, least_free
from service.season.moves import Window, moved
from service.store.base import tag_key


def season_what_if(season: Season, ask: SeasonQuestion, day: date) -> SeasonSupposed:
    """What would follow from `day` on. Raises NotFound, BadRequest."""
    then, said = season, []
    for move in ask.moves:
        then, words = _on_other_days(then, move)
        said.append(words)
    for other in ask.quantities:
        then, words = _otherwise(then, other)
        said.append(words)
    for tag in ask.back:
        then, words = _back(then, tag)
        said.append(words)
    days = (day, FAR)
    before, after = season_shortages(season, days), season_shortages(then, days)
    clashes_before, clashes_after = clashes(season, days), clashes(then, days)
    gone = [row for row in before if _short_key(row) not in {_short_key(other) for other in after}]
    left = {_clash_key(row) for row in clashes_after}
    clashes_gone = [row for row in clashes_before if _clash_key(row) not in left]
    return SeasonSupposed(
        as_of=day,
        said=said,
        verdict=_verdict(before, after, clashes_before, clashes_after),
        items=[change for item in in_order(season) if (change := _change(item, then, day))],
        shortages=after,
        gone=gone,
        clashes=clashes_after,
        clashes_gone=clashes_gone,
    )


def _on_other_days(season: Season, ask: MovedDates) -> tuple[Season, str]:
    show = season.shows[find_code(season, ask.production)]
    if ask.later_by_days is not None:
        return _shifted(season, show, timedelta(days=ask.later_by_days))
    window = show.window
    first, last = ask.needed_from or window.needed_from, ask.needed_to or window.needed_to
    if first > window.load_in:
        raise BadRequest(
            f"{show.code} loads in on {window.load_in}: it cannot want its gear from {first} only",
            "Choose a day up to load-in, or move the whole show.",
        )
    if last < window.strike_end:
        raise BadRequest(
            f"the strike of {show.code} ends on {window.strike_end}: its gear is not back by {last}",
            "Choose a day from the end of strike on, or move the whole show.",
        )
    new = replace(window, needed_from=first, needed_to=last)
    items = {
        key: replace(item, needs=moved(item.needs, window, first, last if item.is_lent else None))
        for key, item in season.items.items()
    }
    named = tuple(_renamed(one, window, new) for one in season.named)
    words = f"{show.code} wants its gear from {first} to {last}, not from {window.needed_from} to "
    return _with(season, items, named, replace(show, window=new)), words + str(window.needed_to)


def _renamed(one: Named, before: Window, after: Window) -> Named:
    """What begins or ends with its show goes on doing so."""
    if one.who != before.who or one.due_on is not None:
        return one
    if one.from_on == before.needed_from:
        one = replace(one, from_on=after.needed_from)
    if one.until_on == before.needed_to + DAY:
        one = replace(one, until_on=after.needed_to + DAY)
    return one


def _shifted(season: Season, show: Show, by: timedelta) -> tuple[Season, str]:
    """Everything that the show wants so much later; what is overdue from it stays so."""
    window = show.window
    if window.needed_to < season.today:
        raise BadRequest(f"{show.code} is over", "Only shows that still want gear can be moved.")
    new = Window(
        window.who,
        window.needed_from + by,
        window.needed_to + by,
        window.load_in + by,
        window.strike_end + by,
    )
    items = {
        key: replace(
            item, needs=tuple(_later(need, by) if need.who == show.code else need for need in item.needs)
        )
        for key, item in season.items.items()
    }
    named = tuple(
        replace(one, from_on=one.from_on + by, until_on=_end(one.until_on, by))
        if one.who == show.code and one.due_on is None
        else one
        for one in season.named
    )
    words = f"{show.code} {abs(by.days)} days {'later' if by.days > 0 else 'sooner'}, load-in {new.load_in}"
    return _with(season, items, named, replace(show, window=new)), words


def _later(need: Need, by: timedelta) -> Need:
    return need._replace(from_on=need.from_on + by, until_on=_end(need.until_on, by))


def _end(until_on: date, by: timedelta) -> date:
    return FAR if until_on == FAR else until_on + by


def _with(season: Season, items: dict[str, Item], named: tuple[Named, ...], show: Show) -> Season:
    return replace(season, items=items, named=named, shows={**season.shows, show.code: show})


def _otherwise(season: Season, ask: OtherQuantity) -> tuple[Season, str]:
    """The show wants that much in all, on the days it wants any now, else on its own."""
    show = season.shows[find_code(season, ask.production)]
    item = find_item(season, ask.item)
    quantity = _quantity(item, ask.quantity)
    mine = [need for need in item.needs if need.who == show.code]
    days = (
        min([need.from_on for need in mine], default=show.window.needed_from),
        max([need.until_on for need in mine], default=show.window.needed_to + DAY if item.is_lent else FAR),
    )
    before = max((step.wanted for step in replace(item, needs=tuple(mine)).line(days[0])), default=0)
    others = tuple(need for need in item.needs if need.who != show.code)
    needs = (*others, Need(show.code, *days, promised=quantity)) if quantity else others
    words = f"{show.code} wants {item.figure(quantity):g} {_counted(item)}, not {item.figure(before):g}"
    key = next(key for key, known in season.items.items() if known is item)
    return season.with_items({key: replace(item, needs=needs)}), words


def _quantity(item: Item, said: float) -> int:
    """Pieces, or whole pitches, rounded up as a promise is."""
    if item.pitch_um is None:
        if said != int(said):
            raise BadRequest(f"{said:g} of {item.tag}: it comes in whole pieces", "Give a whole number.")
        return int(said)
    return -(-round(said * 1e6) // item.pitch_um)


def _counted(item: Item) -> str:
    return item.tag if item.is_lent else f"m of {item.tag}"


def _back(season: Season, tag: str) -> tuple[Season, str]:
    """An overdue unit is on the shelf."""
    wanted = tag_key(tag)
    out = [one for one in season.named if tag_key(one.tag) == wanted and one.due_on is not None]
    if not out:
        raise NotFound(f"{tag} is not overdue", "Ask for the clashes to see what is.")
    named = tuple(one for one in season.named if one not in out)
    key = out[0].item
    changed = {}
    if key in season.items:
        item = season.items[key]
        changed[key] = item.with_back([one for one in item.missing if tag_key(one.tag) == wanted])
    return replace(season.with_items(changed), named=named), f"{out[0].tag} is back from {out[0].who}"


def _change(item: Item, then: Season, day: date) -> ItemChange | None:
    """None where there would be as much to spare as there is."""
    other = next(i for i in then.items.values() if (i.kind, i.tag, i.lot) == (item.kind, item.tag, item.lot))
    if other.needs == item.needs and other.stocks == item.stocks:
        return None
    before, after = least_free(item.line(day)), least_free(other.line(day))
    if (before.short, before.free) == (after.short, after.free):
        return None
    return ItemChange(
        kind=item.kind,
        item=item.tag,
        unit=item.unit,
        short_before=item.figure(before.short),
        short_after=item.figure(after.short),
        worst_before=before.from_on,
        worst_after=after.from_on,
        free_before=item.figure(before.free),
        free_after=item.figure(after.free),
    )


def _short_key(row: ShortageOut) -> tuple[str, date, float]:
    return row.item, row.from_on, row.short


def _clash_key(row: ClashOut) -> tuple[str, str, str, tuple[str, ...], date | None]:
    return row.kind, row.other, row.production, tuple(row.tags), row.from_on


def _verdict(
    before: list[ShortageOut],
    after: list[ShortageOut],
    clashes_before: list[ClashOut],
    clashes_after: list[ClashOut],
) -> str:
    """The whole in one line."""
    shared = [sum(len(c.tags) for c in rows if c.kind == "twice") for rows in (clashes_before, clashes_after)]
    items = [{row.item for row in rows} for rows in (before, after)]
    new, gone = sorted(items[1] - items[0]), sorted(items[0] - items[1])
    parts = [f"{len(items[1])} things would be short, {len(items[0])} are"]
    if gone:
        parts.append(f"enough then: {', '.join(gone[:8])}")
    if new:
        parts.append(f"short then: {', '.join(new[:8])}")
    parts.append(f"{shared[1]} units would be named twice, {shared[0]} are")
    return "; ".join(parts)
