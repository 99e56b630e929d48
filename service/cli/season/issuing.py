"""`wattwright issue`: units that go out to a show, by tag."""

from typing import Any
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
from service.cli.season.moving import day_of, each_option, on_option, send, tell
from service.cli.terminal.show import show, table
from service.planning.issuing.books import Hand
from service.planning.issuing.issuing import issue
from service.planning.issuing.schemas import Issued, Undone
from service.planning.issuing.undoing import undo


@click.command()
@click.argument("code")
@click.argument("tags", nargs=-1, required=True, metavar="TAG...")
@on_option("went out")
@each_option
@click.option("--undo", "is_undone", is_flag=True, help="Take the last issue of these units back.")
@as_of_option
@database_option
@server_option
@json_option
def command(code: str, tags: tuple[str, ...], is_undone: bool, **how: Any) -> int:
    """Units TAG... go out to the show CODE: wattwright issue TL PS-11 dc-09.

    Each goes on its own hold, else on one drawn from what the show was promised of its model, else on a new
    one where nobody else is to have it. All of them go or none, unless --each; with --each it ends with 1
    where some stay.
    """
    settings = settings_for(how["database"], how["as_of"], server=how["server"])
    on = day_of(how["on"])
    address = f"/productions/{quote(code, safe='')}/issue" + ("/undo" if is_undone else "")
    shape: type[Undone] | type[Issued] = Undone if is_undone else Issued
    if settings.server:
        with asking(settings) as client:
            asked: dict[str, Any] = {"tags": list(tags), "each": how["each"]}
            asked |= {} if is_undone else {"on": on or settings.today}
            found = send(client, address, asked, shape)
    else:
        today = settings.as_of()
        with opened(settings) as store:
            if is_undone:
                hand = Hand(BY, today, how["each"])
                found = store.write(lambda session: undo(session, "issue", tags, hand, code), by=BY)
            else:
                hand = Hand(BY, on or today, how["each"])
                found = store.write(lambda session: issue(session, code, tags, hand, today), by=BY)
    return tell(found, how["as_json"], _print_issued)


def _print_issued(found: Any) -> None:
    heads = ["tag", "model", "show", "hold", "how", "out", "due back", "goes to"]
    rows = [
        [r.tag, r.model, r.production, r.hold, f"drawn from {r.drawn_from}" if r.drawn_from else r.how,
         r.issued_on, r.due_on, r.goes_to]
        for r in found.done
    ]  # fmt: skip
    show(table("Went out", heads, rows))
