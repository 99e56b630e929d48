"""`wattwright stocktake`: a place counted against the book."""

from collections.abc import Callable, Sequence
from typing import Any, TypeVar
from urllib.parse import quote

import click

from service.cli.house import (
    BY,
    as_of_option,
    asking,
    database_option,
    json_option,
    opened,
    server_option,
    settings_for,
)
from service.cli.terminal.refusals import REFUSED, here
from service.cli.terminal.show import print_json, show, table
from service.config import Settings
from service.errors import BadQuantity
from service.season.counting.records import Outcome
from service.season.counting.schemas import CountedOut, StocktakeLineOut, StocktakeOut
from service.season.counting.settling import Settled, accept, look_for
from service.season.counting.taking import Counted, Hand, begin, close, count, find_stocktake
from service.season.counting.telling import counted_out, lines_out, stocktakes_out
from service.season.counting.undoing import undo
from service.units import to_um

F = TypeVar("F", bound=Callable[..., object])
T = TypeVar("T")
OPEN = (Outcome.TO_COUNT, Outcome.DIFFERS, Outcome.TO_LOOK_FOR)


def _where(command: F) -> F:
    for option in (json_option, server_option, database_option, as_of_option):
        command = option(command)
    return command


def _settings(how: dict[str, Any]) -> Settings:
    return settings_for(how["database"], how["as_of"], server=how["server"])


def _path(name: str, act: str) -> str:
    return f"/stocktakes/{quote(name, safe='')}/{act}"


@click.group()
def command() -> None:
    """Count a place against the book. NAME is the number of a stocktake, or the place that is open.

    \b
    stocktake begin B1                  from what the book has there
    stocktake count B1 PS-31 dc-05      found, as the book has them
    stocktake count B1 PS-32 --not-found
    stocktake count B1 R-118 --length "900 mm"
    stocktake show B1                   what is left to count, and what differs
    stocktake accept B1 PS-32           put the book right; or look-for B1 PS-32
    stocktake undo B1 PS-32             what was accepted by mistake
    stocktake close B1
    """


@command.command("begin")
@click.argument("place")
@click.option("--note", default="", help="Anything to know.")
@_where
def begin_one(place: str, note: str, **how: Any) -> None:
    """Begin to count PLACE and the places inside it."""
    settings = _settings(how)
    if settings.server:
        with asking(settings) as client:
            said = client.ask("POST", "/stocktakes", json={"place": place, "note": note}).json()
        found = StocktakeOut.model_validate(said)
    else:
        hand = Hand(BY, settings.as_of())
        found = _written(settings, lambda s: stocktakes_out(s, [begin(s, place, hand, note.strip())])[0])
    _tell(found, how["as_json"])


@command.command("count")
@click.argument("name")
@click.argument("tags", nargs=-1, required=True, metavar="TAG...")
@click.option("--not-found", is_flag=True, help="They are not there.")
@click.option("--state", default="", help="The state they are in, if not that of the book.")
@click.option("--length", metavar="LENGTH", help='Tape left on a reel, such as "900 mm".')
@click.option("--pitches", type=click.IntRange(0, 10_000_000), help="The same in cut pitches.")
@click.option("--note", default="", help="What was seen.")
@_where
def count_some(name: str, tags: tuple[str, ...], **how: Any) -> None:
    """Count the units and reels TAG... in the stocktake NAME."""
    settings, length_mm = _settings(how), _length_mm(how["length"])
    if how["not_found"] and (how["state"] or length_mm is not None or how["pitches"] is not None):
        raise click.UsageError("--not-found says nothing of a state or a length.")
    counts = [
        Counted(
            tag, not how["not_found"], how["state"].strip().lower(), length_mm, how["pitches"], how["note"]
        )
        for tag in tags
    ]
    if settings.server:
        body = [
            {"tag": one.tag, "found": one.is_found, "state": one.state, "length_mm": one.length_mm,
             "pitches": one.pitches, "note": one.note}
            for one in counts
        ]  # fmt: skip
        with asking(settings) as client:
            said = client.ask("POST", _path(name, "counts"), json={"counts": body}).json()
        found = CountedOut.model_validate(said)
    else:
        hand = Hand(BY, settings.as_of())
        found = _written(
            settings, lambda s: _after(s, name, Settled(tuple(count(s, name, counts, hand)), ()), hand)
        )
    _tell_lines(found, how["as_json"])


def _length_mm(length: str | None) -> float | None:
    if length is None:
        return None
    try:
        return to_um(length) / 1000
    except BadQuantity as error:
        raise click.UsageError(f"--length: {error.message}. {error.mend}") from error


@command.command("show")
@click.argument("name")
@click.option("--all", "everything", is_flag=True, help="Also what agrees or was accepted.")
@_where
def show_one(name: str, everything: bool, **how: Any) -> None:
    """Say how far the stocktake NAME is: what is left to count, and what differs from the book."""
    settings = _settings(how)
    if settings.server:
        with asking(settings) as client:
            rows = client.ask("GET", _path(name, "lines")).json()
        lines = [StocktakeLineOut.model_validate(row) for row in rows]
    else:
        with opened(settings) as store, store.reading() as session:
            lines = lines_out(session, [find_stocktake(session, name)], settings.as_of())
    if not everything:
        lines = [line for line in lines if line.outcome in {outcome.value for outcome in OPEN}]
    if how["as_json"]:
        print_json([line.model_dump(mode="json") for line in lines])
    else:
        _print_lines(lines)


@command.command("accept")
@click.argument("name")
@click.argument("tags", nargs=-1, metavar="[TAG]...")
@click.option("--each", is_flag=True, help="Accept what can be, and name the rest.")
@_where
def accept_some(name: str, tags: tuple[str, ...], **how: Any) -> int:
    """Put the book right by the differences of TAG..., or by all that are not settled.

    Refused for what changed since it was counted: count it again.
    """
    return _settle(name, tags, how, "accept", lambda s, hand: accept(s, name, tags, hand, how["each"]))


@command.command("look-for")
@click.argument("name")
@click.argument("tags", nargs=-1, metavar="[TAG]...")
@click.option("--each", is_flag=True, help="Take what can be, and name the rest.")
@_where
def look_for_some(name: str, tags: tuple[str, ...], **how: Any) -> int:
    """Leave the differences of TAG..., or all that are not settled, to look for; the book stays."""
    return _settle(name, tags, how, "look-for", lambda s, _hand: look_for(s, name, tags, how["each"]))


@command.command("undo")
@click.argument("name")
@click.argument("tags", nargs=-1, required=True, metavar="TAG...")
@click.option("--each", is_flag=True, help="Take back what can be, and name the rest.")
@_where
def undo_some(name: str, tags: tuple[str, ...], **how: Any) -> int:
    """Take back that the differences of TAG... were accepted: the book is as it was before.

    Refused for what changed since: count it again.
    """
    return _settle(name, tags, how, "undo", lambda s, hand: undo(s, name, tags, hand, how["each"]))


@command.command("close")
@click.argument("name")
@click.option("--abandon", is_flag=True, help="Give it up instead; what was counted stays on record.")
@_where
def close_one(name: str, abandon: bool, **how: Any) -> None:
    """Close the stocktake NAME, in which nothing is left to count or to settle."""
    settings = _settings(how)
    if settings.server:
        act = "abandon" if abandon else "close"
        with asking(settings) as client:
            said = client.ask("POST", _path(name, act), headers={"If-Match": "*"}).json()
        found = StocktakeOut.model_validate(said)
    else:
        hand = Hand(BY, settings.as_of())
        found = _written(settings, lambda s: stocktakes_out(s, [close(s, name, hand, None, abandon)])[0])
    _tell(found, how["as_json"])


def _settle(
    name: str,
    tags: Sequence[str],
    how: dict[str, Any],
    act: str,
    settle: Callable[[Any, Hand], Settled],
) -> int:
    settings = _settings(how)
    if settings.server:
        with asking(settings) as client:
            said = client.ask("POST", _path(name, act), json={"tags": list(tags), "each": how["each"]}).json()
        found = CountedOut.model_validate(said)
    else:
        hand = Hand(BY, settings.as_of())
        found = _written(settings, lambda s: _after(s, name, settle(s, hand), hand))
    _tell_lines(found, how["as_json"])
    return REFUSED if found.refused else 0


def _written(settings: Settings, act: Callable[[Any], T]) -> T:
    with opened(settings) as store:
        return store.write(act, by=BY)


def _after(session: Any, name: str, done: Settled, hand: Hand) -> CountedOut:
    return counted_out(session, find_stocktake(session, name), done.lines, hand.day, done.refused)


def _tell(found: StocktakeOut, as_json: bool) -> None:
    if as_json:
        print_json(found.model_dump(mode="json"))
        return
    click.secho(f"{found.number}, {found.place}: {found.status}", bold=True)
    click.echo(_in_figures(found))


def _in_figures(found: StocktakeOut) -> str:
    said = (
        (found.to_count, "to count"), (found.agrees, "agree"), (found.differs, "differ"),
        (found.accepted, "accepted"), (found.to_look_for, "to look for"),
    )  # fmt: skip
    return ", ".join(f"{number} {what}" for number, what in said)


def _tell_lines(found: CountedOut, as_json: bool) -> None:
    if as_json:
        print_json(found.model_dump(mode="json"))
        return
    _print_lines(found.lines)
    for left in found.refused:
        click.secho(left.message, fg="red")
        click.echo(f"  {here(left.mend)}")
    click.echo(f"{found.stocktake.number}: {_in_figures(found.stocktake)}")


def _print_lines(lines: Sequence[StocktakeLineOut]) -> None:
    heads = ["tag", "item", "at", "state", "book m", "found m", "outcome", "differs", "counted by", "note"]
    rows = [
        [line.tag, line.item, line.book_place, line.book_state, line.book_m, line.found_m, line.outcome,
         "; ".join(line.differences), line.counted_by, line.note]
        for line in lines
    ]  # fmt: skip
    if rows:
        show(table("", heads, rows, right=[4, 5]))
    else:
        click.echo("nothing")
