"""`wattwright reel`: what is done to reels, row by row in their ledger, and the life of each."""

from collections.abc import Callable
from typing import Any, TypeVar
from urllib.parse import quote

import click
from pydantic import BaseModel, ValidationError

from service.cli.house import BY, asking, database_option, json_option, opened, server_option, settings_for
from service.cli.terminal.show import print_json, show, table
from service.errors import BadRequest
from service.shows.ledger import doing
from service.shows.ledger.doing import Doer
from service.shows.ledger.history import history as history_of
from service.shows.ledger.schemas import (
    Act,
    BackAsk,
    CutAsk,
    DoneOut,
    HistoryOut,
    JoinAsk,
    OffcutAsk,
    OpenAsk,
    RecountAsk,
    RecoverAsk,
    ScrapAsk,
    SettleAsk,
)

F = TypeVar("F", bound=Callable[..., object])
A = TypeVar("A", bound=Act)
M = TypeVar("M", bound=BaseModel)
Doing = Callable[[Any, str, A, Doer], DoneOut]


def _where(command: F) -> F:
    for option in (json_option, server_option, database_option):
        command = option(command)
    return command


def _entered(command: F) -> F:
    """When it was done, anything to know, and where it is entered."""
    command = click.option("--note", metavar="TEXT", help="Anything to know.")(command)
    command = click.option("--on", metavar="DAY", help="The day it was done; today if not given.")(command)
    return _where(command)


def _placed(command: F) -> F:
    command = click.option("--place", metavar="TAG", help="Its bin.")(command)
    return click.option("--tag", "new_tag", metavar="TAG", help="Its tag; the next free one if not given.")(
        command
    )


@click.group()
def command() -> None:
    """Cut, join, scrap and count reels, each act a row in the ledger of its reel.

    \b
    reel history R-118                    every row, what was left, where each length is now
    reel cut R-121 --for SQ-10 --piece 1  a piece, as long as it is drawn
    reel cut R-121 "1300 mm" --for SQ-10  the same, as long as is said
    reel offcut R-121 "600 mm"            a length becomes a reel of its own
    reel join R-130 R-131                 R-131 is joined on to R-130, outside
    reel recount R-121 "3.2 m"            the length that was measured
    reel settle K-074 --void --note "entered twice"
    """


@command.command()
@click.argument("tag")
@_where
def history(tag: str, **how: Any) -> None:
    """Tell the life of the reel TAG: its rows, joints, where it came from and what became of it."""
    settings = settings_for(how["database"], server=how["server"])
    if settings.server is not None:
        with asking(settings) as client:
            found = HistoryOut.model_validate(
                client.ask("GET", f"/reels/{quote(tag, safe='')}/ledger").json()
            )
    else:
        with opened(settings) as store, store.reading() as session:
            found = history_of(session, tag)
    print_json(found.model_dump(mode="json")) if how["as_json"] else print_history(found)


@command.command("open")
@click.argument("tag")
@_entered
def open_reel(tag: str, **how: Any) -> None:
    """Open the sealed reel TAG."""
    _do("reels/{}/open", tag, doing.open_reel, OpenAsk, how)


@command.command()
@click.argument("tag")
@click.argument("length", required=False)
@click.option("--for", "element", metavar="TAG", help="The element it is for.")
@click.option("--piece", metavar="PIECE", help="Piece of it; 1a, 1b where it has a join. 1 if not given.")
@click.option("--kind", type=click.Choice(["piece", "scrap"]), help="What it becomes.")
@_entered
def cut(tag: str, length: str | None, **how: Any) -> None:
    """Cut LENGTH off the reel TAG: a piece of an element, as it is drawn if no length is given, or scrap."""
    given = {"length_m": length, "element": how["element"], "piece": how["piece"], "kind": how["kind"]}
    _do("reels/{}/cuts", tag, doing.cut, CutAsk, how, **given)


@command.command()
@click.argument("tag")
@click.argument("length")
@_placed
@_entered
def offcut(tag: str, length: str, **how: Any) -> None:
    """Make LENGTH of the reel TAG a reel of its own."""
    given = {"length_m": length, "tag": how["new_tag"], "place": how["place"]}
    _do("reels/{}/offcuts", tag, doing.make_offcut, OffcutAsk, how, **given)


@command.command()
@click.argument("tag")
@click.argument("other")
@_entered
def join(tag: str, other: str, **how: Any) -> None:
    """Join the reel OTHER on to the reel TAG; both of one tape and one lot."""
    _do("reels/{}/joins", tag, doing.join, JoinAsk, how, other=other)


@command.command()
@click.argument("tag")
@click.argument("length", required=False)
@_entered
def scrap(tag: str, length: str | None, **how: Any) -> None:
    """Scrap LENGTH of the reel TAG, or all that is left of it."""
    _do("reels/{}/scrap", tag, doing.scrap, ScrapAsk, how, length_m=length)


@command.command()
@click.argument("tag")
@click.argument("length")
@_entered
def recount(tag: str, length: str, **how: Any) -> None:
    """Say that LENGTH was measured on the reel TAG; the difference becomes a row."""
    _do("reels/{}/recount", tag, doing.recount, RecountAsk, how, length_m=length)


@command.command()
@click.argument("number")
@_entered
def undo(number: str, **how: Any) -> None:
    """Take back the ledger row NUMBER: what was cut is on its reel again."""
    _do("cuts/{}/undo", number, doing.take_back, BackAsk, how)


@command.command()
@click.argument("number")
@click.option("--count/--void", "counts", default=None, help="Counted after all, or void for good.")
@_entered
def settle(number: str, counts: bool | None, **how: Any) -> None:
    """Settle the disputed ledger row NUMBER; to void it, say why with --note."""
    if counts is None:
        raise click.UsageError("Say --count or --void.")
    _do("cuts/{}/settle", number, doing.settle, SettleAsk, how, counts=counts)


@command.command()
@click.argument("element")
@click.argument("piece", required=False)
@click.option("--length", metavar="LENGTH", help="What is left of it; all of it if not given.")
@_placed
@_entered
def recover(element: str, piece: str | None, **how: Any) -> None:
    """Bring a PIECE of the struck ELEMENT back as an offcut of the reel that it was cut from."""
    given = {"piece": piece, "length_m": how["length"], "tag": how["new_tag"], "place": how["place"]}
    _do("elements/{}/recovered", element, doing.recover, RecoverAsk, how, **given)


def _do(path: str, key: str, do: Doing[A], shape: type[A], how: dict[str, Any], **given: Any) -> None:
    """One act, here or by a service, and what it did."""
    said = {"on": how["on"], "note": how["note"], **given}
    ask = read_ask(shape, {name: value for name, value in said.items() if value is not None})
    settings = settings_for(how["database"], server=how["server"])
    if settings.server is not None:
        with asking(settings) as client:
            body = ask.model_dump(mode="json", exclude_unset=True)
            answer = client.ask("POST", "/" + path.format(quote(key, safe="")), json=body)
            done = DoneOut.model_validate(answer.json())
    else:
        with opened(settings) as store:
            doer = Doer(BY, settings.as_of())
            done = store.write(lambda session: do(session, key, ask, doer), by=BY)
    if how["as_json"]:
        print_json(done.model_dump(mode="json"))
        return
    click.echo(done.said)
    click.secho(done.caution, dim=True)


def read_ask(shape: type[M], values: dict[str, Any]) -> M:
    """What was typed, as the service would take it. Raises BadRequest."""
    try:
        return shape.model_validate(values)
    except ValidationError as error:
        first = error.errors()[0]
        where = str(first["loc"][0]).removesuffix("_m").replace("_", " ") if first["loc"] else "it"
        message, _, mend = first["msg"].removeprefix("Value error, ").partition(". ")
        raise BadRequest(f"{where}: {message}", mend or "See the command's --help.") from error


def print_history(life: HistoryOut) -> None:
    reel = life.reel
    lot, place = f", lot {reel.lot}" if reel.lot else "", f", at {reel.place}" if reel.place else ""
    click.secho(f"{reel.tag}: {reel.tape}{lot}{place}; {reel.state}, {reel.left_m:g} m left", bold=True)
    if life.above:
        click.echo("cut off " + ", which was cut off ".join(kin.tag for kin in life.above))
    rows = [
        [
            row.number, row.cut_on.isoformat(), f"{row.kind} (disputed)" if row.is_disputed else row.kind,
            f"{row.change_m:+.3f}", f"{row.left_m:.3f}", _where_now(row), row.entered_by, row.note,
        ]
        for row in life.rows
    ]  # fmt: skip
    heads = ["number", "day", "kind", "m", "left m", "where it is", "who", "note"]
    show(table("", heads, rows, right=[3, 4]))
    for joint in life.joints:
        gone = "" if joint.is_there else "; the cuts have passed it"
        click.echo(f"joint ({joint.kind}) {joint.from_hub_m:g} m from the hub{gone}")
    for kin in life.below:
        click.echo(f"{kin.tag} was cut off {kin.parent}: {kin.state}, {kin.left_m:g} m left")


def _where_now(row: Any) -> str:
    if row.undone_by or row.undoes:
        return f"taken back by {row.undone_by}" if row.undone_by else f"takes back {row.undoes}"
    if row.element is not None:
        at = f" at {row.element_place}" if row.element_place else ""
        back = f", back as {row.came_back_as}" if row.came_back_as else ""
        return f"{row.element} run {row.run} piece {row.piece}, {row.element_status}{at}{back}"
    return row.other or ""
