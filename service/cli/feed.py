"""`wattwright feed`: from a tag to what feeds it, or to what it feeds."""

from collections.abc import Callable
from contextlib import suppress
from typing import Any
from urllib.parse import quote

import click

from service.cli.house import asking, database_option, json_option, opened, server_option, settings_for
from service.cli.terminal.show import length, print_json, show, table
from service.client.wattwright import FEEDING
from service.config import Settings
from service.errors import NotFound
from service.limits.basis import NOMINAL
from service.planning.queries import dark_if_pulled, fed_by_outlet, fed_by_unit, feed_of
from service.planning.schemas import DarkOut, FedOut, FeedOut, whole_etag
from service.planning.serving.asking import show_on
from service.reports.loads import weigh_boxed
from service.stock.gear import GearKind

UNITS = (GearKind.SUPPLY, GearKind.BATTERY, GearKind.DECODER)


@click.command()
@click.argument("tag")
@database_option
@server_option
@json_option
def command(tag: str, database: str | None, server: str | None, as_json: bool) -> None:
    """Say what feeds the element TAG: wall, supply, output, decoder, channels, address, lead.

    Given a supply, battery, decoder or outlet, say what hangs on it and goes dark without it.
    """
    settings = settings_for(database, server=server)
    found, today = _far(settings, tag) if settings.server else _here(settings, tag)
    if as_json:
        print_json(found)
    elif "runs" in found:
        _print_feed(found, settings.units.value.lower())
    else:
        _print_dark(found, today)


def _here(settings: Settings, tag: str) -> tuple[dict[str, Any], str]:
    """The element's feed, else what hangs on the unit or the outlet of that tag; and the day it is."""
    today = settings.as_of()
    with opened(settings) as store, store.reading() as session:
        connection = session.connection()
        with suppress(NotFound):
            feed = feed_of(connection, tag)
            weigh_boxed(feed, lambda code: show_on(session, code, today, today).around)
            said = FeedOut(**feed)
            etag = whole_etag(feed["etag"], said.model_dump_json().encode())
            return said.model_dump(mode="json") | {"etag": etag}, str(today)
        ways: tuple[Callable[[], list[dict[str, Any]]], ...] = (
            lambda: fed_by_unit(connection, tag, UNITS),
            lambda: fed_by_outlet(connection, tag),
        )
        for way in ways:
            with suppress(NotFound):
                fed = way()
                dark = dark_if_pulled(connection, fed)
                found = {
                    "tag": tag,
                    "feeds": [FedOut(**row).model_dump(mode="json") for row in fed],
                    "dark": [DarkOut(**row).model_dump(mode="json") for row in dark],
                }
                return found, str(today)
    raise _nothing(tag)


def _far(settings: Settings, tag: str) -> tuple[dict[str, Any], str]:
    """The same from a service; the day is the service's own unless one is set here."""
    with asking(settings) as house:
        try:
            plural, printed = house.where(tag)
        except NotFound:
            raise _nothing(tag) from None
        address = f"/{plural}/{quote(printed, safe='')}"
        if plural == "elements":
            answer = house.ask("GET", f"{address}/feed")
            found = answer.json() | {"etag": answer.headers["ETag"].strip('"')}
        elif plural in FEEDING:
            fed = house.ask("GET", f"{address}/feeds").json()
            found = {"tag": tag, "feeds": fed, "dark": house.ask("GET", f"{address}/dark").json()}
        else:
            raise _nothing(tag)
        today = settings.today or house.ask("GET", "/api/v1").json()["as_of"]
    return found, str(today)


def _nothing(tag: str) -> NotFound:
    return NotFound(
        f"no element, supply, battery, decoder or outlet has the tag {tag!r}", "Look at the tag on the thing."
    )


def _print_feed(feed: dict[str, Any], system: str) -> None:
    place = ", ".join(filter(None, (feed["scenic_unit"], feed["place_name"] or feed["place"])))
    click.secho(f"{feed['element']}  {feed['name']}", bold=True)
    click.echo(f"{feed['production']} · {place or 'no place'} · {feed['status']} · {feed['load_w']:.2f} W")
    sources = {source["supply"]: source for source in feed["sources"]}
    rows = [_run_row(run, sources.get(run["supply"], {}), system) for run in feed["runs"]]
    heads = ["run", "outlet", "supply", "output", "in", "decoder", "channel", "slot", "lead", "W", "A"]
    show(table("", heads, rows, right=[9, 10]))
    if feed["plan"] is None:
        click.echo(
            f"No plan of {feed['production']} is kept: wattwright allocate {feed['production']} --keep"
        )
    for run in feed["runs"]:
        if run["unfed_because"]:
            click.echo(f"run {run['run']} is dark: {run['unfed_because']}")
            if run["unfed_mend"]:
                click.echo(f"  mend: {run['unfed_mend']}")
    if feed.get("load_basis") not in (None, NOMINAL):
        click.echo(f"W and A: {feed['load_basis']}")
    for line in _whereabouts(feed):
        click.echo(line)
    for source in feed["sources"]:
        pct = "" if source["load_pct"] is None else f" = {source['load_pct']:.1f} %"
        limit = "not known" if source["limit_w"] is None else f"{source['limit_w']:.2f} W"
        click.echo(f"{source['supply']} carries {source['load_w']:.2f} W of {limit}{pct}")
    for suspect in feed["suspects"]:
        click.echo(suspect)


def _whereabouts(feed: dict[str, Any]) -> list[str]:
    """Where each supply and decoder stands, and what is wrong with it if anything is."""
    gear = [(s["supply"], s["place_name"], s["place"], s["state"], s["note"]) for s in feed["sources"]]
    gear += [
        (r["decoder"], r["decoder_place_name"], r["decoder_place"], r["decoder_state"], r["decoder_note"])
        for r in feed["runs"]
        if r["decoder_state"]
    ]
    lines = []
    for tag, name, place, state, note in dict.fromkeys(gear):
        where = f"{name} ({place})" if name and place else place or "nobody wrote down where"
        wrong = "" if state == "good" else f", {state.upper()}" + (f": {note}" if note else "")
        lines.append(f"{tag} stands at {where}{wrong}")
    return lines


def _run_row(run: dict[str, Any], source: dict[str, Any], system: str) -> list[Any]:
    slots = [slot for slot in run["slots"] if slot["slot"] is not None]
    where = f"U{slots[0]['universe']}/{_span([slot['slot'] for slot in slots])}" if slots else ""
    lead = "" if run["lead_m"] is None else length(run["lead_m"], system)
    decoder = run["decoder"] or ("straight on" if run["supply"] else "")
    return [
        run["run"],
        " ".join(filter(None, (source.get("outlet"), source.get("outlet_kind")))),
        run["supply"] or "no feed",
        run["output"],
        source.get("enclosure"),
        decoder,
        _span([slot["channel"] for slot in run["slots"]]),
        where,
        " ".join(filter(None, ("" if run["leads"] == 1 else f"{run['leads']} ×", lead, run["lead_gauge"]))),
        run["load_w"],
        run["load_a"],
    ]


def _span(numbers: list[int]) -> str:
    if not numbers:
        return ""
    return str(numbers[0]) if len(numbers) == 1 else f"{numbers[0]}–{numbers[-1]}"


def _print_dark(found: dict[str, Any], today: str) -> None:
    """What goes dark, tonight's first: a unit that is kept for two shows darkens one of them at a time."""
    if not found["dark"]:
        click.echo(f"{found['tag']} feeds nothing in a kept plan")
        return
    dark = sorted(found["dark"], key=lambda d: (not d["from_on"] <= today <= d["to_on"], d["from_on"]))
    rows = [
        [
            f"{d['production']} {'now' if d['from_on'] <= today <= d['to_on'] else ''}".strip(),
            f"{d['from_on']} to {d['to_on']}",
            d["element"],
            d["name"],
            d["runs"],
            "all" if d["whole"] else "part",
            d["load_w"],
        ]
        for d in dark
    ]
    heads = ["show", "days", "element", "name", "runs", "loses", "W"]
    show(table(f"Dark without {found['tag']}", heads, rows, right=[6]))
