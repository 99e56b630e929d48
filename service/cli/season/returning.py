"""`wattwright return`: units that come back, by tag."""

from typing import Any

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
from service.client import Wattwright
from service.config import Settings
from service.planning.issuing.books import Hand
from service.planning.issuing.returning import Back, bring_back, set_missing
from service.planning.issuing.schemas import Missing, Returned, Undone
from service.planning.issuing.undoing import undo
from service.stock.gear import UnitState


@click.command()
@click.argument("tags", nargs=-1, required=True, metavar="TAG...")
@click.option(
    "--bad", metavar="TEXT", help="What was found: they are set aside as faulty, with a fault each."
)
@click.option("--suspect", is_flag=True, help="With --bad: set aside as suspect instead.")
@click.option("--place", metavar="TAG", help="Where they are put; else the bin of each.")
@click.option("--missing", metavar="TEXT", help="They cannot be found; what is known of it, or ''.")
@on_option("came back")
@each_option
@click.option(
    "--undo", "is_undone", is_flag=True, help="Take their last return back, or that they are missing."
)
@as_of_option
@database_option
@server_option
@json_option
def command(tags: tuple[str, ...], **how: Any) -> int:
    """Units TAG... come back from their shows: wattwright return PS-02 dc-03.

    Each goes to its bin, or is set aside with what was found (--bad "fan does not turn"). What is missing
    and turns up is found again. What was not out is refused, with where the book has it. All of them or none,
    unless --each; with --each it ends with 1 where some are left as they are.
    """
    _refuse_mixtures(how)
    settings = settings_for(how["database"], how["as_of"], server=how["server"])
    if settings.server:
        with asking(settings) as client:
            found = _far(client, settings, tags, how)
    else:
        found = _here(settings, tags, how)
    return tell(found, how["as_json"], _print_missing if how["missing"] is not None else _print_returned)


def _refuse_mixtures(how: dict[str, Any]) -> None:
    if how["suspect"] and not how["bad"]:
        raise click.UsageError("--suspect goes with --bad, which says what was found.")
    about = [name for name in ("bad", "place", "on") if how[name] is not None]
    if how["missing"] is not None and (about or how["is_undone"]):
        raise click.UsageError("--missing stands alone: what is missing did not come back.")
    if how["is_undone"] and about:
        raise click.UsageError(f"--undo takes no --{about[0]}.")
    if how["bad"] is not None and not how["bad"].strip():
        raise click.UsageError("--bad says what was found: give it in words.")
    for name in ("bad", "missing"):
        if len(how[name] or "") > 400:
            raise click.UsageError(f"--{name} takes at most 400 letters.")


def _far(
    client: Wattwright, settings: Settings, tags: tuple[str, ...], how: dict[str, Any]
) -> Returned | Missing | Undone:
    asked: dict[str, Any] = {"tags": list(tags), "each": how["each"]}
    if how["is_undone"]:
        return send(client, "/returns/undo", asked, Undone)
    if how["missing"] is not None:
        return send(client, "/missing", asked | {"what": how["missing"]}, Missing)
    state = "suspect" if how["suspect"] else None
    more = {
        "found": how["bad"],
        "state": state,
        "place": how["place"],
        "on": day_of(how["on"]) or settings.today,
    }
    return send(client, "/returns", asked | more, Returned)


def _here(settings: Settings, tags: tuple[str, ...], how: dict[str, Any]) -> Returned | Missing | Undone:
    today = settings.as_of()
    hand = Hand(BY, day_of(how["on"]) or today, how["each"])
    with opened(settings) as store:
        if how["is_undone"]:
            return store.write(lambda session: undo(session, "return", tags, hand), by=BY)
        if how["missing"] is not None:
            return store.write(
                lambda session: set_missing(session, tags, how["missing"].strip(), hand), by=BY
            )
        state = UnitState.SUSPECT if how["suspect"] else None
        back = Back((how["bad"] or "").strip(), state, how["place"])
        return store.write(lambda session: bring_back(session, tags, back, hand, today), by=BY)


def _print_returned(found: Any) -> None:
    heads = ["tag", "from", "hold", "back", "days late", "state", "is at", "fault"]
    rows = [
        [r.tag, r.production or "found", r.hold, r.returned_on, r.days_late or "", r.state, r.place, r.fault]
        for r in found.done
    ]
    show(table("Came back", heads, rows, right=[4]))


def _print_missing(found: Any) -> None:
    rows = [[r.tag, r.production, r.what] for r in found.done]
    show(table("Missing", ["tag", "last with", "what is known"], rows))
