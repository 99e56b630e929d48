"""`wattwright receive`: what came of an order line is taken into stock."""

from typing import Any

import click

from service.api.lists import row_shape
from service.api.season.deliveries import received
from service.cli.house import BY, asking, database_option, json_option, opened, server_option, settings_for
from service.cli.season.reels import read_ask
from service.cli.terminal.show import print_json
from service.config import Settings
from service.kinds import actions
from service.kinds.actions import Hand
from service.kinds.receiving.deliveries import DELIVERIES
from service.season.receiving.queries import DELIVERIES as LISTING
from service.season.receiving.schemas import DeliveryAsk
from service.store.listing import Row


@click.command()
@click.argument("order", required=False)
@click.argument("line", type=click.IntRange(1), required=False)
@click.argument("quantity", type=click.IntRange(1), required=False)
@click.option("--note-number", "number", metavar="NUMBER", help="Number of the delivery note.")
@click.option("--on", "received_on", metavar="DAY", help="The day it came; today if not given.")
@click.option("--lot", metavar="LOT", help="Lot on the reels; the one asked for if not given.")
@click.option("--place", metavar="TAG", help="Their bin; else where the last sealed reel or unit lies.")
@click.option("--tag", "tags", multiple=True, metavar="TAG", help="A tag for each; may be repeated.")
@click.option("--note", metavar="TEXT", help="Anything to know.")
@click.option("--undo", type=click.IntRange(1), metavar="DELIVERY", help="Undo the delivery of that id.")
@database_option
@server_option
@json_option
def command(undo: int | None, database: str | None, server: str | None, as_json: bool, **said: Any) -> None:
    """Take QUANTITY of the LINE of an ORDER into stock, by the number of its delivery note.

    \b
    receive PO-2611-1 1 2 --note-number DN-118 --lot C-26F
    receive --undo 7      while nothing of it was used; list deliveries tells the id

    A note that was received before, with the same, changes nothing.
    """
    settings = settings_for(database, server=server)
    if undo is not None:
        if any(value for value in said.values()):
            raise click.UsageError("Give --undo alone.")
        row = _undone(settings, undo)
        print_json(row) if as_json else click.echo(f"{row['number']} for {_line(row)} is undone")
        return
    missing = [name for name in ("order", "line", "quantity") if said[name] is None]
    if missing or not said["number"]:
        raise click.UsageError(f"Give {', '.join(missing) or '--note-number'}: see --help.")
    values = {name: value for name, value in said.items() if value not in (None, ())}
    ask = read_ask(DeliveryAsk, values | ({"tags": list(said["tags"])} if said["tags"] else {}))
    row, is_repeat = _received(settings, ask)
    if as_json:
        print_json(row)
        return
    came = " ".join(one["tag"] for one in (*row["reels"], *row["units"]))
    before = " was received before" if is_repeat else ""
    click.echo(f"{row['number']} for {_line(row)}{before}: {row['quantity']} {row['what']}: {came}")


def _line(row: Row) -> str:
    return f"{row['order_number']} line {row['line']}"


def _received(settings: Settings, ask: DeliveryAsk) -> tuple[Row, bool]:
    if settings.server is not None:
        with asking(settings) as client:
            answer = client.ask("POST", "/deliveries", json=ask.model_dump(mode="json", exclude_unset=True))
            return answer.json(), answer.status_code == 200
    with opened(settings) as store:
        hand = Hand(BY, settings.as_of())
        row, is_repeat = store.write(lambda session: received(session, ask, hand), by=BY)
    return _plain(row), is_repeat


def _undone(settings: Settings, key: int) -> Row:
    if settings.server is not None:
        with asking(settings) as client:
            return client.retire("deliveries", key).row
    with opened(settings) as store:
        hand = Hand(BY, settings.as_of())
        row, _ = store.write(lambda s: actions.retire(s, DELIVERIES, key, None, hand), by=BY)
    return _plain(row)


def _plain(row: Row) -> Row:
    shape = row_shape(LISTING)
    return dict(shape.dump_python(shape.validate_python(row), mode="json"))
